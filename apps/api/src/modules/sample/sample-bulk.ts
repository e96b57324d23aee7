import { createHash } from 'node:crypto';
import { numbered } from '#libs/label';
import { InputError } from '#libs/quantity';
import type { RecordSamplesInput } from '../../generated/schema.js';

/** Of one bulk recording; they are written one after another in one transaction. */
export const MOST_SAMPLES = 2_000;

export interface PlannedSample {
  readonly id: string;
  readonly label: string;
  /** Id of the plant of a leaf, or the leaf of a disc. */
  readonly ofId: string;
}

export interface SamplePlan {
  readonly plants: readonly Omit<PlannedSample, 'ofId'>[];
  readonly leaves: readonly PlannedSample[];
  readonly discs: readonly PlannedSample[];
}

/** What stands already and gets leaves or discs. */
export interface Standing {
  readonly id: string;
  readonly label: string;
}

/**
 * Ids that follow from one id: UUIDv7 of the same millisecond, in order, so that the same bulk recording has the same ids
 * however often it is sent. At most 4096.
 */
export function* idsFrom(id: string): Generator<string, never> {
  for (let n = 0; ; n += 1) {
    const hash = createHash('sha256').update(`${id} ${n}`).digest('hex');
    const variant = '89ab'[Number.parseInt(hash[0]!, 16) % 4]!;
    yield `${id.slice(0, 13)}-7${n.toString(16).padStart(3, '0')}-${variant}${hash.slice(1, 4)}-${hash.slice(4, 16)}`;
  }
}

const count = (field: string, value: number | null | undefined, fallback: number): number => {
  const whole = value ?? fallback;
  if (!Number.isInteger(whole) || whole < 0) throw new InputError('COUNT', field, `is ${whole}`, 'Give a whole number, 0 or more.');
  return whole;
};

/**
 * What a bulk recording makes: plants × leaves × discs with their labels, nothing looked up and nothing written.
 *
 * @param plants the plants behind plantIds, in order
 * @param leaves the leaves behind leafIds, in order
 * @throws InputError for patterns and numbers that make nothing, or more than {@link MOST_SAMPLES}
 */
export function planSamples(input: RecordSamplesInput, plants: readonly Standing[], leaves: readonly Standing[]): SamplePlan {
  const ways = [input.newPlants, input.plantIds, input.leafIds].filter((way) => way !== null && way !== undefined).length;
  if (ways !== 1) throw new InputError('ONE_OF', 'newPlants', `${ways} of newPlants, plantIds and leafIds are given`, 'Give one of them.');
  const leavesPerPlant = input.leafIds ? 0 : count('leavesPerPlant', input.leavesPerPlant, 0);
  const discsPerLeaf = count('discsPerLeaf', input.discsPerLeaf, 0);
  const newPlants = count('newPlants', input.newPlants, 0);
  const leafCount = input.leafIds ? leaves.length : (newPlants + plants.length) * leavesPerPlant;
  const total = newPlants + (input.leafIds ? 0 : leafCount) + leafCount * discsPerLeaf;
  if (total === 0) throw new InputError('NOTHING', input.leafIds ? 'discsPerLeaf' : 'newPlants', 'makes no sample', 'Give a number of plants, leaves or discs.');
  if (total > MOST_SAMPLES) throw new InputError('TOO_MANY', 'newPlants', `would make ${total} samples at once`, `Make at most ${MOST_SAMPLES}; the rest in a second go.`);
  const ids = idsFrom(input.id);
  const next = (): string => ids.next().value;
  const made = newPlants === 0 ? [] : numbered(input.plantPattern ?? '', input.firstPlant ?? 1, newPlants, 'plantPattern').map((label) => ({ id: next(), label }));
  const below = (of: readonly Standing[], pattern: string, first: number, each: number, field: string): PlannedSample[] =>
    of.flatMap(({ id: ofId, label }) => numbered(pattern, first, each, field).map((own) => ({ id: next(), label: label + own, ofId })));
  const madeLeaves = below([...made, ...plants], input.leafPattern ?? '-L#', input.firstLeaf ?? 1, leavesPerPlant, 'leafPattern');
  const discs = below(input.leafIds ? leaves : madeLeaves, input.discPattern ?? '-D#', input.firstDisc ?? 1, discsPerLeaf, 'discPattern');
  return { plants: made, leaves: madeLeaves, discs };
}
