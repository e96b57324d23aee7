import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal } from '#libs/quantity';
import type { EndHydrationInput, StartHydrationInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { missingDiscs } from '../bench/bench.repository.js';
import type { Parameters } from '../protocol/protocol-parameters.js';
import { parametersOf, requireApprovedProtocol } from '../protocol/protocol.repository.js';
import { Hydration, HydrationEnd } from './hydration.entity.js';
import { endsOf } from './hydration.repository.js';

const MINUTE_MS = 60_000;

/** When the discs may be taken out, and by when they must. */
export const windowOf = (startedAt: Date, { hydrationLeastMin, hydrationMostMin }: Parameters): { from: Date; by: Date } => ({
  from: new Date(startedAt.getTime() + hydrationLeastMin * MINUTE_MS),
  by: new Date(startedAt.getTime() + hydrationMostMin * MINUTE_MS),
});

function waterOf(text: string | null | undefined): string | null {
  if (!text) return null;
  const water = parseDecimal(text, { field: 'waterC' });
  if (water.value < 0 || water.value > 60) throw new InputError('OUT_OF_RANGE', 'waterC', `is ${text} degrees Celsius`, 'Read the thermometer again.');
  return water.decimal;
}

/** Discs on water until they are turgid. */
@Injectable()
export class HydrationService {
  constructor(private readonly recorder: Recorder) {}

  start(tx: Tx, actor: Actor, input: StartHydrationInput): Promise<Written<Hydration>> {
    const { at, offsetMin } = parseMoment('startedAt', input.startedAt);
    const given = {
      id: input.id, label: requireText('label', input.label), discIds: input.discIds, protocolId: input.protocolId ?? null,
      startedAt: at, startedOffsetMin: offsetMin, waterC: waterOf(input.waterC), note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, Hydration, given, async () => {
      if (input.discIds.length === 0) throw new InputError('MISSING', 'discIds', 'names no disc', 'Choose at least one disc.');
      if (new Set(input.discIds).size !== input.discIds.length) throw new InputError('REPEATED', 'discIds', 'names a disc twice', 'Name each disc once.');
      if ((await missingDiscs(tx, input.discIds)).length > 0) throw notFound('discIds', 'One of the discs');
      if (given.protocolId) await requireApprovedProtocol(tx, 'protocolId', given.protocolId);
      return { uses: [...input.discIds.map((id): Use => ({ kind: 'disc', id, role: 'of' })), ...(given.protocolId ? [{ kind: 'protocol', id: given.protocolId, role: 'under' }] : [])] };
    });
  }

  /** @throws ProblemError `STATE` at `overrideReason` where it was done otherwise than the protocol says */
  end(tx: Tx, actor: Actor, input: EndHydrationInput): Promise<Written<HydrationEnd>> {
    const { at, offsetMin } = parseMoment('takenOutAt', input.takenOutAt);
    const given = {
      id: input.id, hydrationId: input.hydrationId, takenOutAt: at, takenOutOffsetMin: offsetMin, waterC: waterOf(input.waterC),
      blotted: input.blotted, overrideReason: optionalText(input.overrideReason),
    };
    return this.recorder.record(tx, actor, HydrationEnd, given, async () => {
      const hydration = await rowById(tx, Hydration, input.hydrationId);
      if (!hydration) throw notFound('hydrationId', 'The hydration');
      if ((await endsOf(tx, [hydration.id])).length > 0) throw new ProblemError('STATE', 'hydrationId', `The discs of ${hydration.label} were taken out already.`, 'Reload to see it.');
      if (at < hydration.startedAt) throw new InputError('OUT_OF_RANGE', 'takenOutAt', 'lies before the discs were laid on water', 'Look at the two moments.');
      const otherwise = deviations(hydration, given, await parametersOf(tx, hydration.protocolId));
      if (otherwise.length > 0 && !given.overrideReason) {
        throw new ProblemError('STATE', 'overrideReason', otherwise.join(' '), 'Leave them on the water if it is too early; else say why it was done so.');
      }
      return { uses: [{ kind: 'hydration', id: hydration.id, role: 'of' }], action: 'end', reason: given.overrideReason };
    });
  }
}

/** What was done otherwise than the protocol says, each in a sentence. */
function deviations(hydration: Hydration, { takenOutAt, waterC, blotted }: Pick<HydrationEnd, 'takenOutAt' | 'waterC' | 'blotted'>, parameters: Parameters): string[] {
  const minutes = Math.round((takenOutAt.getTime() - hydration.startedAt.getTime()) / MINUTE_MS);
  const { from, by } = windowOf(hydration.startedAt, parameters);
  const waters = [hydration.waterC, waterC].flatMap((text) => (text === null ? [] : Number(text)));
  const { hydrationLeastMin, hydrationMostMin, hydrationLeastC, hydrationMostC, blottingCount, blottingSeconds, blottingPaper } = parameters;
  return [
    ...(takenOutAt < from ? [`Taken out after ${minutes} min; at least ${hydrationLeastMin} are wanted: the turgid mass reads low.`] : []),
    ...(takenOutAt > by ? [`Taken out after ${minutes} min; at most ${hydrationMostMin} are wanted: tissue takes up water beyond its turgor.`] : []),
    ...(waters.some((each) => each < hydrationLeastC || each > hydrationMostC) ? [`The water had ${waters.join(' and ')} °C; ${hydrationLeastC} to ${hydrationMostC} are wanted.`] : []),
    ...(blotted ? [] : [`Not blotted as wanted: ${blottingCount} times ${blottingSeconds} s on ${blottingPaper}.`]),
  ];
}
