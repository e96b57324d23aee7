import { Injectable } from '@nestjs/common';
import type { PreflightStandingInput, RecordPreflightInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { lastCheckAt, standingsAt } from '../instrument/instrument.repository.js';
import { parametersOf } from '../protocol/protocol.repository.js';
import { DryingRun, Preflight, type MeterReading } from './bench.entity.js';
import { standingMeterReadings, statesOfRuns } from './bench.repository.js';
import { preflightStanding, type PointStanding, type PreflightEvidence } from './preflight.js';

interface Looked {
  readonly run: DryingRun;
  readonly evidence: PreflightEvidence;
  readonly points: readonly PointStanding[];
  readonly dark: MeterReading | undefined;
  readonly reference: MeterReading | undefined;
}

/** What is looked at before the first reading of a run. */
@Injectable()
export class PreflightService {
  constructor(private readonly recorder: Recorder) {}

  async standing(tx: Tx, input: PreflightStandingInput): Promise<readonly PointStanding[]> {
    return (await look(tx, input)).points;
  }

  /** @throws ProblemError `STATE` naming the first point that is neither met nor skipped with a reason */
  record(tx: Tx, actor: Actor, input: RecordPreflightInput): Promise<Written<Preflight>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const lamp = input.lampOnSince ? parseMoment('lampOnSince', input.lampOnSince) : null;
    const given = {
      id: input.id,
      dryingRunId: input.dryingRunId,
      observedAt: at,
      observedOffsetMin: offsetMin,
      lampOnSince: lamp?.at ?? null,
      lampOnOffsetMin: lamp?.offsetMin ?? null,
      clockOffsetMs: input.clockOffsetMs ?? null,
      clockRoundTripMs: input.clockRoundTripMs ?? null,
      skipped: input.skipped.map(({ point, reason }) => ({ point, reason: requireText('skipped', reason) })),
    };
    return this.recorder.record(tx, actor, Preflight, given, async () => {
      const { run, evidence, points, dark, reference } = await look(tx, input);
      if ((await statesOfRuns(tx, [run.id])).get(run.id) !== 'OPEN') {
        throw new ProblemError('STATE', 'dryingRunId', `Run ${run.label} is closed.`, 'A pre-flight comes before the first reading.');
      }
      for (const { point, met, told, remedy, skippable } of points) {
        const reason = given.skipped.find((each) => each.point === point);
        if (met || (reason && skippable)) continue;
        throw new ProblemError(point === 'BALANCE' && !skippable ? 'INSTRUMENT' : 'STATE', point.toLowerCase(), told, `${remedy} ${skippable ? 'Or skip it and say why.' : 'The protocol does not let it be skipped.'}`);
      }
      return {
        derived: { balanceStatus: evidence.balanceStatus, balanceCheckedAt: evidence.balanceCheckedAt, darkId: dark?.id ?? null, referenceId: reference?.id ?? null },
        uses: [
          { kind: 'drying_run', id: run.id, role: 'of' },
          { kind: 'instrument', id: run.balanceId, role: 'looked at' },
          ...(dark ? [{ kind: 'meter_reading', id: dark.id, role: 'dark' } satisfies Use] : []),
          ...(reference ? [{ kind: 'meter_reading', id: reference.id, role: 'reference' } satisfies Use] : []),
        ],
        reason: given.skipped.length === 0 ? null : given.skipped.map(({ point, reason }) => `${point.toLowerCase()} skipped: ${reason}`).join('; '),
      };
    });
  }
}

async function look(tx: Tx, input: PreflightStandingInput): Promise<Looked> {
  const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
  const run = await rowById(tx, DryingRun, input.dryingRunId);
  if (!run) throw notFound('dryingRunId', 'The drying run');
  const balance = (await rowById(tx, Instrument, run.balanceId))!;
  const [standing] = await standingsAt(tx, [{ instrumentId: balance.id, at }]);
  const readings = await standingMeterReadings(tx, run.id);
  const dark = readings.findLast(({ lightPath }) => lightPath === 'DARK');
  const reference = readings.findLast(({ lightPath }) => lightPath === 'REFERENCE');
  const evidence: PreflightEvidence = {
    at,
    offsetMin,
    balanceLabel: balance.label,
    balanceStatus: standing!.status,
    balanceCheckedAt: await lastCheckAt(tx, balance.id, at),
    lampOnSince: input.lampOnSince ? parseMoment('lampOnSince', input.lampOnSince).at : null,
    hasDark: dark !== undefined,
    hasReference: reference !== undefined,
    clockOffsetMs: input.clockOffsetMs ?? null,
  };
  return { run, evidence, points: preflightStanding(evidence, await parametersOf(tx, run.protocolId)), dark, reference };
}
