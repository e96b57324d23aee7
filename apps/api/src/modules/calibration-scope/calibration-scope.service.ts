import { Injectable } from '@nestjs/common';
import { InputError, formatPercentPlain, parseDecimal } from '#libs/quantity';
import type { RecordCalibrationScopeInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill } from '../amendment/amendment.repository.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { approvalStates } from '../signature/signature.repository.js';
import { CalibrationScope } from './calibration-scope.entity.js';

/** For what a calibration version may be used, stated before it is approved. */
@Injectable()
export class CalibrationScopeService {
  constructor(private readonly recorder: Recorder) {}

  record(tx: Tx, actor: Actor, input: RecordCalibrationScopeInput): Promise<Written<CalibrationScope>> {
    const nm = (field: string, text: string | null | undefined): string | null => (text?.trim() ? parseDecimal(text, { field }).decimal : null);
    const given = {
      id: input.id,
      calibrationVersionId: input.calibrationVersionId,
      cultivars: (input.cultivars ?? []).map((text, i) => requireText(`cultivars.${i}`, text)),
      growthStages: (input.growthStages ?? []).map((text, i) => requireText(`growthStages.${i}`, text)),
      leafSide: input.leafSide ?? null,
      bandFromNm: nm('bandFromNm', input.bandFromNm),
      bandToNm: nm('bandToNm', input.bandToNm),
      rwcMin: input.rwcMin,
      rwcMax: input.rwcMax,
      validUntil: input.validUntil ? parseMoment('validUntil', input.validUntil).at : null,
      endsOn: input.endsOn ?? [],
      note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, CalibrationScope, given, async () => {
      await holdFactsStill(tx);
      const version = await rowById(tx, CalibrationVersion, input.calibrationVersionId);
      if (!version) throw notFound('calibrationVersionId', 'The calibration version');
      const state = (await approvalStates(tx, 'calibration_version', [version.id])).get(version.id);
      if (state !== 'DRAFT' && state !== 'REVIEWED') {
        throw new ProblemError('STATE', 'calibrationVersionId', `The version is ${state?.toLowerCase()}: its scope stands.`, 'Fit a new version to state another scope.');
      }
      const { rwcMin, rwcMax } = version.document;
      if (!(input.rwcMin < input.rwcMax)) throw new InputError('OUT_OF_RANGE', 'rwcMin', 'is not below the upper end', 'Give the lower end first.');
      for (const [field, value] of [['rwcMin', input.rwcMin], ['rwcMax', input.rwcMax]] as const) {
        // A scope stated in whole points may round the range it was fitted over.
        if (value < rwcMin - ROUNDING || value > rwcMax + ROUNDING) {
          throw new InputError('OUT_OF_RANGE', field, `is outside the RWC the version was fitted over, ${formatPercentPlain(rwcMin, 1)} to ${formatPercentPlain(rwcMax, 1)}`, 'A scope may be narrower than the readings, not wider.');
        }
      }
      if (given.bandFromNm && given.bandToNm && Number(given.bandFromNm) > Number(given.bandToNm)) throw new InputError('OUT_OF_RANGE', 'bandToNm', 'is below the lower end of the band', 'Give the lower end first.');
      return { uses: [{ kind: 'calibration_version', id: version.id, role: 'scope of' }], reason: given.note };
    });
  }
}

const ROUNDING = 0.005;
