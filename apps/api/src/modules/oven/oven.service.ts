import { Injectable } from '@nestjs/common';
import { constantMass, type ConstantMassResult } from '#libs/leaf-water';
import { InputError, parseDecimal } from '#libs/quantity';
import type { StartOvenCycleInput, UnloadOvenCycleInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds, rowsWhere } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { Weighing } from '../bench/bench.entity.js';
import { missingDiscs } from '../bench/bench.repository.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { requireInstrument } from '../instrument/instrument.service.js';
import { balanceTerms } from '../water/handling.js';
import { OvenCycle, OvenUnloading } from './oven.entity.js';

/** Leaf tissue chars above this; common practice, no source. */
const MOST_TEMPERATURE_C = 150;

export interface DiscConstantMass {
  readonly discId: string;
  readonly lastMassMg: string | null;
  readonly result: ConstantMassResult | null;
}

/** Check weighings of a cycle that stand, in order of time. */
export const checkWeighings = (tx: Tx, ovenCycleId: string): Promise<Weighing[]> =>
  rowsWhere(tx, Weighing, `oven_cycle_id = $2 AND state = 'DRY' AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = weighing.id)`, [ovenCycleId], 'ORDER BY observed_at, id');

/** The constant-mass rule for each disc of a cycle. */
export async function constantMasses(tx: Tx, cycle: Pick<OvenCycle, 'id' | 'discIds'>): Promise<DiscConstantMass[]> {
  const checks = await checkWeighings(tx, cycle.id);
  const balances = new Map((await rowsByIds(tx, Instrument, [...new Set(checks.flatMap(({ balanceId }) => balanceId ?? []))])).map((row) => [row.id, row]));
  return cycle.discIds.map((discId) => {
    const own = checks.filter((check) => check.discId === discId);
    const last = own.at(-1);
    if (!last) return { discId, lastMassMg: null, result: null };
    const balance = balances.get(last.balanceId ?? '');
    if (!balance) return { discId, lastMassMg: last.massMg, result: null };
    const result = constantMass({
      checks: own.map(({ massMg, observedAt }) => ({ massMg: Number(massMg), atMs: observedAt.getTime() })),
      resolutionMg: balanceTerms(balance).resolutionMg,
    });
    return { discId, lastMassMg: last.massMg, result };
  });
}

/** Oven cycles: discs in, check weighings, discs out. */
@Injectable()
export class OvenService {
  constructor(private readonly recorder: Recorder) {}

  start(tx: Tx, actor: Actor, input: StartOvenCycleInput): Promise<Written<OvenCycle>> {
    const { at, offsetMin } = parseMoment('startedAt', input.startedAt);
    const temperature = parseDecimal(input.setTemperatureC, { field: 'setTemperatureC' });
    const given = {
      id: input.id,
      label: requireText('label', input.label),
      ovenId: input.ovenId,
      setTemperatureC: temperature.decimal,
      discIds: input.discIds,
      startedAt: at,
      startedOffsetMin: offsetMin,
    };
    return this.recorder.record(tx, actor, OvenCycle, given, async () => {
      if (temperature.value < 30 || temperature.value > MOST_TEMPERATURE_C) {
        throw new InputError('OUT_OF_RANGE', 'setTemperatureC', `is ${temperature.text} degrees Celsius`, `Give 30 to ${MOST_TEMPERATURE_C}; 60 to 80 is usual for leaves.`);
      }
      if (input.discIds.length === 0) throw new InputError('MISSING', 'discIds', 'names no disc', 'Choose at least one disc.');
      if ((await missingDiscs(tx, input.discIds)).length > 0) throw notFound('discIds', 'One of the discs');
      await requireInstrument(tx, 'ovenId', input.ovenId, 'OVEN');
      return {
        uses: [{ kind: 'instrument', id: input.ovenId, role: 'with' }, ...input.discIds.map((id): Use => ({ kind: 'disc', id, role: 'of' }))],
      };
    });
  }

  unload(tx: Tx, actor: Actor, input: UnloadOvenCycleInput): Promise<Written<OvenUnloading>> {
    const { at, offsetMin } = parseMoment('unloadedAt', input.unloadedAt);
    const given = { id: input.id, ovenCycleId: input.ovenCycleId, unloadedAt: at, unloadedOffsetMin: offsetMin, reason: optionalText(input.reason) };
    return this.recorder.record(tx, actor, OvenUnloading, given, async () => {
      const cycle = await rowById(tx, OvenCycle, input.ovenCycleId);
      if (!cycle) throw notFound('ovenCycleId', 'The oven cycle');
      const open = (await constantMasses(tx, cycle)).filter(({ result }) => !result?.constant);
      if (open.length > 0 && !given.reason) {
        throw new ProblemError('STATE', 'reason', `${open.length} of ${cycle.discIds.length} discs have not reached constant mass.`, 'Go on drying and weigh again, or give the reason for taking them out now.');
      }
      return { uses: [{ kind: 'oven_cycle', id: cycle.id, role: 'of' }], action: 'unload', reason: given.reason };
    });
  }
}
