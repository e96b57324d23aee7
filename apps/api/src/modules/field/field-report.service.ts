import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal, requirePositive } from '#libs/quantity';
import type { EndInstallationInput, RecordDecisionOutcomeInput, RecordFieldReportInput, RecordLatchResetInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Completion, type Written } from '../../platform/ledger/recorder.js';
import { Decision, DecisionOutcome, FieldReport, Installation, InstallationEnd, LatchReset } from './field.entity.js';
import { requireNotAhead } from './moments.js';

/** What is heard of units under their leaves, what ends an installation, and how decisions turned out. */
@Injectable()
export class FieldReportService {
  constructor(private readonly recorder: Recorder) {}

  recordFieldReport(tx: Tx, actor: Actor, input: RecordFieldReportInput): Promise<Written<FieldReport>> {
    const observed = parseMoment('observedAt', input.observedAt);
    const light = input.lightPowerNw ? parseDecimal(input.lightPowerNw, { field: 'lightPowerNw' }) : null;
    if (light) requirePositive('lightPowerNw', light.value);
    const bias = input.biasReadbackV ? parseDecimal(input.biasReadbackV, { field: 'biasReadbackV' }) : null;
    const given = {
      id: input.id, ...observedAtInstallation(input.installationId, observed), latched: input.latched, source: input.source,
      lightPowerNw: light?.decimal ?? null, biasReadbackV: bias?.decimal ?? null, rawLine: input.rawLine ?? null, note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, FieldReport, given, () => standsThere<FieldReport>(tx, given));
  }

  recordLatchReset(tx: Tx, actor: Actor, input: RecordLatchResetInput): Promise<Written<LatchReset>> {
    const given = {
      id: input.id, ...observedAtInstallation(input.installationId, parseMoment('observedAt', input.observedAt)), opened: input.opened, note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, LatchReset, given, () => standsThere<LatchReset>(tx, given));
  }

  endInstallation(tx: Tx, actor: Actor, input: EndInstallationInput): Promise<Written<InstallationEnd>> {
    const given = {
      id: input.id, ...observedAtInstallation(input.installationId, parseMoment('observedAt', input.observedAt)), reason: requireText('reason', input.reason),
    };
    return this.recorder.record(tx, actor, InstallationEnd, given, async () => ({ ...(await standsThere<InstallationEnd>(tx, given)), reason: given.reason }));
  }

  recordDecisionOutcome(tx: Tx, actor: Actor, input: RecordDecisionOutcomeInput): Promise<Written<DecisionOutcome>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const given = { id: input.id, decisionId: input.decisionId, observedAt: at, observedOffsetMin: offsetMin, verdict: input.verdict, seen: requireText('seen', input.seen) };
    return this.recorder.record(tx, actor, DecisionOutcome, given, async () => {
      const decision = await rowById(tx, Decision, input.decisionId);
      if (!decision) throw notFound('decisionId', 'The decision');
      if (at < decision.decidedAt) throw new InputError('BEFORE_DECISION', 'observedAt', 'lies before the decision', 'Check the moment and its offset.');
      return { uses: [{ kind: 'decision', id: decision.id, role: 'of' }] };
    });
  }
}

const observedAtInstallation = (installationId: string, { at, offsetMin }: { at: Date; offsetMin: number }) => ({ installationId, observedAt: at, observedOffsetMin: offsetMin });

async function standsThere<E extends FieldReport | LatchReset | InstallationEnd>(tx: Tx, { installationId, observedAt }: { installationId: string; observedAt: Date }): Promise<Completion<E>> {
  const installation = await rowById(tx, Installation, installationId);
  if (!installation) throw notFound('installationId', 'The installation');
  if (observedAt < installation.armedAt) throw new InputError('BEFORE_ARMED', 'observedAt', 'lies before the unit was armed', 'Check the clock and its offset, or the installation.');
  requireNotAhead('observedAt', observedAt);
  return { uses: [{ kind: 'installation', id: installation.id, role: 'of' }] };
}
