import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import { chopSummaryOf, thermalOf } from './compute.js';
import type { AbsorptionBand, ChoppedRun, CycleCount, LotAcceptance, ResetPulse, TemperatureRun, UnitFact, UnitRetirement } from './passport.entity.js';

type Observed = RecordView & { readonly observedAt: string };

const observed = (row: UnitFact | LotAcceptance | AbsorptionBand): Observed => ({ ...recordView(row), observedAt: formatMoment(row.observedAt, row.observedOffsetMin) });

export const toAbsorptionBand = (row: AbsorptionBand): Observed & Pick<AbsorptionBand, 'centreNm' | 'widthNm' | 'peakAbsorptance' | 'method' | 'storedFileId' | 'spectrumId'> => ({
  ...observed(row), centreNm: row.centreNm, widthNm: row.widthNm, peakAbsorptance: row.peakAbsorptance, method: row.method, storedFileId: row.storedFileId, spectrumId: row.spectrumId,
});

export const toChoppedRun = (row: ChoppedRun): Observed & Pick<ChoppedRun, 'biasV' | 'chopHz' | 'tripPowersNw' | 'note'> & ReturnType<typeof chopSummaryOf> => ({
  ...observed(row), biasV: row.biasV, chopHz: row.chopHz, tripPowersNw: row.tripPowersNw, note: row.note, ...chopSummaryOf(row),
});

export const toResetPulse = (row: ResetPulse): Observed & Pick<ResetPulse, 'pulseV' | 'pulseMs' | 'succeeded' | 'note'> => ({
  ...observed(row), pulseV: row.pulseV, pulseMs: row.pulseMs, succeeded: row.succeeded, note: row.note,
});

export const toTemperatureRun = (row: TemperatureRun): Observed & Pick<TemperatureRun, 'biasV' | 'steps' | 'note'> & ReturnType<typeof thermalOf> => ({
  ...observed(row), biasV: row.biasV, steps: row.steps, note: row.note, ...thermalOf(row),
});

export const toCycleCount = (row: CycleCount): Observed & Pick<CycleCount, 'cycles' | 'switching' | 'pullInV' | 'contactResistanceOhm' | 'note'> => ({
  ...observed(row), cycles: row.cycles, switching: row.switching, pullInV: row.pullInV, contactResistanceOhm: row.contactResistanceOhm, note: row.note,
});

export type RetirementView = Observed & Pick<UnitRetirement, 'cause' | 'reason'>;
export const toRetirement = (row: UnitRetirement): RetirementView => ({ ...observed(row), cause: row.cause, reason: row.reason });

export type LotAcceptanceView = Observed &
  Pick<LotAcceptance, 'criterion' | 'reliability' | 'confidence' | 'allowedFailures' | 'testedUnits' | 'failedUnits' | 'neededUnits' | 'shownReliability' | 'accepted' | 'note'>;

export const toLotAcceptance = (row: LotAcceptance): LotAcceptanceView => ({
  ...observed(row), criterion: row.criterion, reliability: row.reliability, confidence: row.confidence, allowedFailures: row.allowedFailures, testedUnits: row.testedUnits,
  failedUnits: row.failedUnits, neededUnits: row.neededUnits, shownReliability: row.shownReliability, accepted: row.accepted, note: row.note,
});
