import { RandomStream, createStream } from '#libs/numeric';
import type { DiscState, WeighingEvent } from './events.js';
import { balanceLine, shownMass } from './instruments.js';
import type { TrueLeaf } from './leaf.js';
import type { Calendar } from './moment.js';
import type { Scenario } from './scenario.js';

export const MINUTE = 60_000;

/** What every act at the bench needs: the scenario, its calendar, and a stream for each thing that varies, so that more of one never moves another. */
export interface BenchRoom {
  readonly scenario: Scenario;
  readonly calendar: Calendar;
  readonly population: RandomStream;
  readonly weighing: RandomStream;
  readonly optics: RandomStream;
}

export function benchRoom(seed: string, scenario: Scenario, calendar: Calendar): BenchRoom {
  return { scenario, calendar, population: createStream(seed, 1), weighing: createStream(seed, 2), optics: createStream(seed, 3) };
}

/** What is true of a disc and nobody in the lab sees. */
export interface TrueDisc {
  readonly leafKey: string;
  readonly turgidMassMg: number;
  readonly dryMassMg: number;
}

/** A disc on its way through the bench. */
export interface SampledDisc extends TrueDisc {
  readonly key: string;
  readonly leaf: TrueLeaf;
  readonly balanceKey: string;
}

const ANSWERS: Readonly<Record<DiscState, string>> = {
  fresh: 'Label read again: it is this disc, and it was dry on the surface.',
  turgid: 'Label read again: it is this disc, blotted as the protocol says.',
  drying: 'Label read again: it is this disc, and the balance was stable.',
  dry: 'Weighed twice from the desiccator; the difference is within the balance\'s repeatability.',
};

/** One weighing of a true mass; `part` tells it from the disc's other weighings. */
export function weigh(
  room: BenchRoom, disc: SampledDisc, state: DiscState, massMg: number, atMs: number, part: string, where: { readonly dryingRunKey?: string; readonly ovenCycleKey?: string } = {},
): WeighingEvent {
  const at = room.calendar.text(atMs);
  const massText = shownMass(room.scenario.balance, massMg, room.weighing);
  return {
    kind: 'weighing', key: `weighing/${disc.key}/${part}`, at, by: 'technician-1', discKey: disc.key, state, observedAt: at,
    massText, massUnit: 'mg', balanceKey: disc.balanceKey, ...where, entry: 'line', rawLine: balanceLine(massText), answerIfAsked: ANSWERS[state],
  };
}

/** The mass of a disc at an RWC. */
export function massAtRwc(disc: TrueDisc, rwc: number): number {
  return disc.dryMassMg + rwc * (disc.turgidMassMg - disc.dryMassMg);
}
