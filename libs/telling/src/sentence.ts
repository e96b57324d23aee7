/** One clause of the sentence from decision to mass: the kinds of record it speaks of, and how it is read either way. */
export interface Clause {
  readonly kinds: readonly string[];
  /** Read downwards: from the decision to the masses. */
  readonly down: string;
  /** Read upwards: from a fact to what was decided. */
  readonly up: string;
}

/** Masses and readings: the raw facts at the lower end. */
export const rawFacts: readonly string[] = ['weighing', 'meter_reading'];

export const rawFactsTitle = { down: '… from these masses and readings', up: '… in these masses and readings' } as const;

/** What is said of records of the chain and is no link of it: it comes last both ways. */
export const beside: Clause = { kinds: ['amendment', 'signature'], down: 'With these signatures and amendments', up: '… with these signatures and amendments' };

/** The sentence from decision to mass, in the order it is read down. A kind that is not named follows at the end. */
export const sentence: readonly Clause[] = [
  { kinds: ['decision'], down: 'It was decided', up: '… after which it was decided' },
  { kinds: ['trip'], down: '… after a unit had tripped', up: '… which tripped' },
  { kinds: ['installation', 'field_check'], down: '… where it was installed', up: '… which an installation was set by' },
  { kinds: ['threshold_certificate'], down: '… with the bias of a certificate', up: '… which a certificate rests on' },
  { kinds: ['calibration_version', 'calibration'], down: '… which reads a calibration', up: '… to which a calibration was fitted' },
  { kinds: ['rwc_series', ...rawFacts], down: '… fitted to the RWC of leaves, from their masses', up: '… from which RWC was computed' },
  { kinds: ['bias_threshold_curve'], down: '… and the unit’s bias-threshold curve', up: '… to which a bias-threshold curve was fitted' },
  { kinds: ['trip_test', 'bias_sweep'], down: '… drawn through its trip tests', up: '… with which it was tested' },
  { kinds: ['light_reference'], down: '… and the light at the site', up: '… under this light' },
  { kinds: ['drying_run', 'preflight', 'drying_run_step', 'oven_cycle', 'oven_unloading', 'drying_import'], down: 'Made in these runs', up: '… in these runs' },
  { kinds: ['protocol'], down: 'Under this protocol', up: '… under this protocol' },
  { kinds: ['device_unit', 'device_lot'], down: 'With this unit', up: '… with this unit' },
  { kinds: ['disc', 'leaf', 'plant', 'crop'], down: 'On this tissue', up: '… on this tissue' },
  { kinds: ['rig', 'instrument', 'instrument_check'], down: 'With these instruments', up: '… with these instruments' },
  beside,
];

/** Clauses for records of these kinds in the order of reading, with one at the end for kinds the sentence does not name. */
export function clausesFor(kinds: Iterable<string>, direction: 'down' | 'up'): readonly Clause[] {
  const known = new Set(sentence.flatMap((clause) => clause.kinds));
  const others: Clause = { kinds: [...new Set(kinds)].filter((kind) => !known.has(kind)), down: 'And with it', up: '… and with it' };
  const chain = sentence.filter((clause) => clause !== beside);
  return [...(direction === 'down' ? chain : chain.reverse()), ...(others.kinds.length > 0 ? [others] : []), beside];
}
