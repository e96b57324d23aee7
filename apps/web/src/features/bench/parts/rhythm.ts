/** What was done at the rig, as far as the rhythm needs to know it. */
export type Done =
  | { readonly kind: 'weighing'; readonly atMs: number; readonly discId: string; readonly state: 'TURGID' | 'FRESH' | 'DRYING' | 'DRY' }
  | { readonly kind: 'reading'; readonly atMs: number; readonly discId: string }
  | { readonly kind: 'dark' | 'reference'; readonly atMs: number };

/** all: one person weighs and reads; weighing and meter: each has a device of their own. */
export type Part = 'all' | 'weighing' | 'meter';

/** The next act of the hand. `dueMs` is null where it should simply be done now. */
export type Step =
  | { readonly kind: 'dark' | 'reference'; readonly dueMs: number | null; readonly why: string }
  | { readonly kind: 'reading'; readonly dueMs: number | null; readonly discId: string; readonly why: string }
  | { readonly kind: 'weighing'; readonly dueMs: number | null; readonly discId: string; readonly state: 'TURGID' | 'DRYING'; readonly why: string };

export interface Rhythm {
  readonly discIds: readonly string[];
  /** Minutes between readings of one disc. */
  readonly rhythmMin: number;
  /** Minutes after which the lamp is asked for a new reference; 30 is common practice, no source. */
  readonly bracketMin?: number;
  /** What the hands at this device do, where two people share the bench. */
  readonly part?: Part;
  readonly done: readonly Done[];
}

const MINUTE_MS = 60_000;

const latest = (done: readonly Done[], fits: (each: Done) => boolean): number => Math.max(-Infinity, ...done.filter(fits).map(({ atMs }) => atMs));

/**
 * The rhythm of a drying run: dark and reference first, then each disc turgid, then round after round the disc that has
 * waited longest; after each weighing the same disc's reading, and a new reference when the last is old.
 * With two people at the bench each gets the next act of their part: who weighs goes on to the next disc at once, who reads
 * follows in the order of weighing.
 * Null when there is no disc. A person may always do something else.
 */
export function nextStep({ discIds, rhythmMin, bracketMin = 30, part = 'all', done }: Rhythm): Step | null {
  if (discIds.length === 0) return null;
  const darkMs = latest(done, ({ kind }) => kind === 'dark');
  const referenceMs = latest(done, ({ kind }) => kind === 'reference');
  const atMeter = part !== 'weighing';
  if (atMeter && darkMs === -Infinity) return { kind: 'dark', dueMs: null, why: 'Every reading has the dark taken off.' };
  if (atMeter && referenceMs === -Infinity) return { kind: 'reference', dueMs: null, why: 'Readings stand between two references.' };

  const weighedMs = (discId: string) => latest(done, (each) => each.kind === 'weighing' && each.state !== 'DRY' && each.discId === discId);
  const readMs = (discId: string) => latest(done, (each) => each.kind === 'reading' && each.discId === discId);

  // One pair of hands holds the disc it weighed last; a second pair takes them in turn.
  const byWeighing = (a: string, b: string): number => (part === 'meter' ? 1 : -1) * (weighedMs(a) - weighedMs(b));
  const unread = discIds.filter((discId) => weighedMs(discId) > readMs(discId)).sort(byWeighing)[0];
  if (atMeter && unread !== undefined) return { kind: 'reading', discId: unread, dueMs: null, why: 'A reading follows the weighing of the same disc.' };

  const nowMs = latest(done, () => true);
  if (atMeter && nowMs - referenceMs >= bracketMin * MINUTE_MS) return { kind: 'reference', dueMs: null, why: `The last reference is more than ${bracketMin} min old.` };

  const longest = [...discIds].sort((a, b) => weighedMs(a) - weighedMs(b))[0]!;
  const sinceMs = weighedMs(longest);
  if (part === 'meter') {
    // By what was read, not by what was weighed: without a network the other's weighings are not heard of.
    const next = [...discIds].sort((a, b) => readMs(a) - readMs(b))[0]!;
    return { kind: 'reading', discId: next, dueMs: weighedMs(next) === -Infinity ? null : weighedMs(next) + rhythmMin * MINUTE_MS, why: 'Once it has been weighed.' };
  }
  if (sinceMs === -Infinity) return { kind: 'weighing', discId: longest, state: 'TURGID', dueMs: null, why: 'Each disc starts turgid: blot it, then weigh it.' };
  return { kind: 'weighing', discId: longest, state: 'DRYING', dueMs: sinceMs + rhythmMin * MINUTE_MS, why: `Every ${rhythmMin} min.` };
}
