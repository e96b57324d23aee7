/** What is checked of a pack, in the order in which it is told. */
export type CheckName =
  | 'form' | 'files' | 'seal' | 'checkpoint' | 'key' | 'kept checkpoint' | 'entries' | 'records' | 'lineage' | 'tables'
  | 'provenance' | 'reading';

/**
 * One thing that a verifier found.
 *
 * `holds`: proven by the pack and what the auditor holds. `fails`: shown to be wrong, or not shown though a true pack
 * shows it. `unproven`: nothing speaks against it and nothing proves it; the auditor must know it otherwise.
 */
export interface Finding {
  readonly check: CheckName;
  readonly status: 'holds' | 'fails' | 'unproven';
  /** The file, record or entry in question. */
  readonly about: string;
  /** A sentence or two in plain words. */
  readonly says: string;
}

/** True when nothing failed. It does not make anything proven that is told to be `unproven`. */
export function packHolds(findings: readonly Finding[]): boolean {
  return findings.length > 0 && findings.every(({ status }) => status !== 'fails');
}

/** Failures told one by one at most; of ten thousand broken records the first few and the number say enough. */
const MOST_TOLD = 20;

/** One thing wrong, before it is told under its check. */
export type Failure = Pick<Finding, 'about' | 'says'>;

/** The failures of one check, or else the sentence that it holds. */
export function verdictOf(check: CheckName, about: string, failures: readonly Failure[], holds: string): Finding[] {
  if (failures.length === 0) return [{ check, status: 'holds', about, says: holds }];
  const told: Finding[] = failures.slice(0, MOST_TOLD).map((failure) => ({ check, status: 'fails', ...failure }));
  const more = failures.length - told.length;
  return more === 0 ? told : [...told, { check, status: 'fails', about, says: `And ${more} more like these.` }];
}
