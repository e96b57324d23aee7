import { Injectable } from '@nestjs/common';
import { CONSTANT_MASS_RULES } from '#libs/leaf-water';
import { InputError, parseDecimal } from '#libs/quantity';
import type { RecordOvenCoolingInput, RecordOvenTemperatureInput, StartOvenCycleInput, UnloadOvenCycleInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds, rowsWhere } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { missingDiscs } from '../bench/bench.repository.js';
import { requireInstrument } from '../instrument/instrument.service.js';
import { Disc } from '../sample/sample.entity.js';
import { constantMasses, type DiscConstantMass } from './constant-mass.js';
import { OvenCooling, OvenCycle, OvenTemperature, OvenUnloading, type TrayPlace } from './oven.entity.js';

/** Leaf tissue chars above this; common practice, no source. */
const MOST_TEMPERATURE_C = 150;

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
      trayRows: input.trayRows ?? null,
      trayColumns: input.trayColumns ?? null,
      trayMap: input.trayMap?.map(({ discId, row, column }) => ({ discId, row, column })) ?? null,
      constantMassRule: input.constantMassRule ?? null,
    };
    return this.recorder.record(tx, actor, OvenCycle, given, async () => {
      if (temperature.value < 30 || temperature.value > MOST_TEMPERATURE_C) {
        throw new InputError('OUT_OF_RANGE', 'setTemperatureC', `is ${temperature.text} degrees Celsius`, `Give 30 to ${MOST_TEMPERATURE_C}; 60 to 80 is usual for leaves.`);
      }
      if (input.discIds.length === 0) throw new InputError('MISSING', 'discIds', 'names no disc', 'Choose at least one disc.');
      if ((await missingDiscs(tx, input.discIds)).length > 0) throw notFound('discIds', 'One of the discs');
      requireTray(given);
      if (given.constantMassRule !== null && !(given.constantMassRule in CONSTANT_MASS_RULES)) throw new InputError('UNKNOWN', 'constantMassRule', `is ${given.constantMassRule}`, 'Choose one of the list.');
      await requireInstrument(tx, 'ovenId', input.ovenId, 'OVEN');
      return {
        uses: [{ kind: 'instrument', id: input.ovenId, role: 'with' }, ...input.discIds.map((id): Use => ({ kind: 'disc', id, role: 'of' }))],
      };
    });
  }

  unload(tx: Tx, actor: Actor, input: UnloadOvenCycleInput): Promise<Written<OvenUnloading>> {
    const { at, offsetMin } = parseMoment('unloadedAt', input.unloadedAt);
    const given = { id: input.id, ovenCycleId: input.ovenCycleId, unloadedAt: at, unloadedOffsetMin: offsetMin, reason: optionalText(input.reason), scannedDiscIds: input.scannedDiscIds ?? null };
    return this.recorder.record(tx, actor, OvenUnloading, given, async () => {
      const cycle = await rowById(tx, OvenCycle, input.ovenCycleId);
      if (!cycle) throw notFound('ovenCycleId', 'The oven cycle');
      const masses = (await constantMasses(tx, [cycle])).get(cycle.id)!;
      if (given.scannedDiscIds) await requireAllOut(tx, masses, given.scannedDiscIds);
      const open = masses.filter(({ result, gone }) => !result?.constant && !gone);
      if (open.length > 0 && !given.reason) {
        throw new ProblemError('STATE', 'reason', `${open.length} of ${cycle.discIds.length} discs have not reached constant mass.`, 'Go on drying and weigh again, or give the reason for taking them out now.');
      }
      return { uses: [{ kind: 'oven_cycle', id: cycle.id, role: 'of' }], action: 'unload', reason: given.reason };
    });
  }

  recordTemperature(tx: Tx, actor: Actor, input: RecordOvenTemperatureInput): Promise<Written<OvenTemperature>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const temperature = parseDecimal(input.temperatureC, { field: 'temperatureC' });
    const given = { id: input.id, ovenCycleId: input.ovenCycleId, observedAt: at, observedOffsetMin: offsetMin, temperatureC: temperature.decimal, note: optionalText(input.note) };
    return this.recorder.record(tx, actor, OvenTemperature, given, async () => {
      if (temperature.value < -20 || temperature.value > 300) throw new InputError('OUT_OF_RANGE', 'temperatureC', `is ${temperature.text} degrees Celsius`, 'Read the thermometer again.');
      const cycle = await this.requireLoaded(tx, input.ovenCycleId);
      return { uses: [{ kind: 'oven_cycle', id: cycle.id, role: 'of' }] };
    });
  }

  recordCooling(tx: Tx, actor: Actor, input: RecordOvenCoolingInput): Promise<Written<OvenCooling>> {
    const { at, offsetMin } = parseMoment('takenOutAt', input.takenOutAt);
    const given = { id: input.id, ovenCycleId: input.ovenCycleId, takenOutAt: at, takenOutOffsetMin: offsetMin, coolingMin: input.coolingMin, vessel: optionalText(input.vessel) };
    return this.recorder.record(tx, actor, OvenCooling, given, async () => {
      if (input.coolingMin < 1 || input.coolingMin > 24 * 60) throw new InputError('OUT_OF_RANGE', 'coolingMin', `is ${input.coolingMin} min`, 'Give minutes: 15 to 30 in foil or tubes, 60 in glass.');
      const cycle = await this.requireLoaded(tx, input.ovenCycleId);
      return { uses: [{ kind: 'oven_cycle', id: cycle.id, role: 'of' }], action: 'cool' };
    });
  }

  private async requireLoaded(tx: Tx, id: string): Promise<OvenCycle> {
    const cycle = await rowById(tx, OvenCycle, id);
    if (!cycle) throw notFound('ovenCycleId', 'The oven cycle');
    const unloaded = await rowsWhere(tx, OvenUnloading, `oven_cycle_id = $2 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = oven_unloading.id)`, [id]);
    if (unloaded.length > 0) throw new ProblemError('STATE', 'ovenCycleId', `Oven cycle ${cycle.label} is unloaded.`, 'Reload to see its present state.');
    return cycle;
  }
}

/** Each disc of the cycle on a place of its own. */
function requireTray({ discIds, trayRows, trayColumns, trayMap }: { readonly discIds: readonly string[]; readonly trayRows: number | null; readonly trayColumns: number | null; readonly trayMap: readonly TrayPlace[] | null }): void {
  if (!trayMap) return;
  if (!trayRows || !trayColumns || trayRows < 1 || trayColumns < 1) throw new InputError('MISSING', 'trayRows', 'are not told', 'Give the rows and columns of the tray.');
  const places = new Set<string>();
  const discs = new Set<string>();
  for (const { discId, row, column } of trayMap) {
    if (!discIds.includes(discId) || discs.has(discId)) throw new InputError('TRAY', 'trayMap', 'names a disc twice, or one that is not in the cycle', 'Give each disc of the cycle one place.');
    if (!Number.isInteger(row) || !Number.isInteger(column) || row < 1 || column < 1 || row > trayRows || column > trayColumns) throw new InputError('TRAY', 'trayMap', `has no row ${row}, column ${column}`, `Rows count from 1 to ${trayRows}, columns from 1 to ${trayColumns}.`);
    if (places.has(`${row} ${column}`)) throw new InputError('TRAY', 'trayMap', `has two discs in row ${row}, column ${column}`, 'Give each disc a place of its own.');
    places.add(`${row} ${column}`);
    discs.add(discId);
  }
}

/** One that was neither scanned nor told to be lost may lie in the oven still. */
async function requireAllOut(tx: Tx, masses: readonly DiscConstantMass[], scanned: readonly string[]): Promise<void> {
  const strange = scanned.filter((id) => !masses.some(({ discId }) => discId === id));
  if (strange.length > 0) throw new InputError('STRANGE', 'scannedDiscIds', `${strange.length} of the scanned discs are not of this cycle`, 'Look which cycle they belong to.');
  const missing = masses.filter(({ discId, gone }) => !gone && !scanned.includes(discId)).map(({ discId }) => discId);
  if (missing.length === 0) return;
  const labels = (await rowsByIds(tx, Disc, missing)).map(({ label }) => label).sort();
  throw new ProblemError('STATE', 'scannedDiscIds', `${labels.join(', ')} ${labels.length === 1 ? 'was' : 'were'} not scanned.`, 'Scan it, or tell that it is lost or destroyed, with the reason.');
}
