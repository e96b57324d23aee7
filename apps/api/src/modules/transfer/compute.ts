import { InputError } from '#libs/quantity';
import { ewtCm } from '#libs/leaf-water';
import {
  fitFamily, fitOwnLeaves, promisedAt, readerOf, responseOf, sharedFitOf, studyTransfer, transferByThickness, transmittanceOf,
  type FamilyName, type LeafLine, type SharedFit,
} from '#libs/regression';
import type { Flag, LeafEffects } from '../../generated/schema.js';
import type { CalibrationDocument } from '../calibration/calibration-document.js';
import { effectsTold, familyName, fitOf, LEAVES_FOR_SLOPES } from '../calibration/compute.js';
import type { Given, ReadingsDocument, ReadingsRequest, ThicknessDocument, ThicknessPoint, ThicknessRequest, TransferPoint, WeighedDisc } from './transfer-document.js';

const CURVE_STEPS = 40;
/** Standard uncertainty of a punched disc's diameter, mm. Common practice, no source. */
const U_DIAMETER_MM = 0.05;

type OwnPoint = Omit<TransferPoint, 'readRwc'>;

/** The line or curve of a calibration, to be taken elsewhere. Without leaf effects it promises nothing of another leaf. */
export function lineOf(family: Given['family'], document: CalibrationDocument): SharedFit {
  const result = fitOf(family, document);
  if (result.kind !== 'curve') return sharedFitOf(result.line);
  throw new InputError(
    'NO_LEAF_EFFECTS', 'calibrationVersionId',
    document.leafCount < 3 ? `rests on ${document.leafCount} leaves, which tell nothing of how leaves differ` : 'is a curve from before curves had leaf effects, of which no new leaf can be promised',
    document.leafCount < 3 ? 'Choose a version of three leaves or more.' : 'Fit its readings anew as a version, or choose another one.',
  );
}

/** The same points give the same document: it is computed here for the study and again whenever it is recomputed. */
export function studyReadings(given: Given, own: readonly OwnPoint[], request: ReadingsRequest, remarks: readonly Flag[]): ReadingsDocument {
  const { line } = given;
  const readings = own.filter(({ used }) => used).map(({ leafId, rwc, transmittance }) => ({ leafId, rwc, transmittance }));
  if (readings.length === 0) throw new InputError('NO_READINGS', 'dryingRunIds', 'leaves no reading in use', 'Choose runs with readings of this crop, or put some back.');
  const { effect, slope } = ownEffect(line, readings, request.leafEffects);
  const outcome = studyTransfer(line, readings, {
    marginPoints: request.marginPoints, alpha: request.alpha, level: request.level, leafEffect: effect, ...(request.rwcRange ? { rwcRange: request.rwcRange } : {}),
  });
  const reader = readerOf(line);
  return {
    basis: 'READINGS', given, request,
    points: own.map((point) => ({ ...point, readRwc: point.used ? reader.rwcAt(responseOf(reader.responseScale, point.transmittance), point.rwc) : null })),
    leafEffects: effectsTold[effect],
    ownSlope: slope,
    outcome,
    drawn: drawnOf(line, request, readings.map(({ rwc }) => rwc)),
    remarks: [...remarks, ...outcome.notes.map((message): Flag => ({ code: 'RANGE', severity: 'WARN', message }))],
  };
}

/** Own slope per unit of RWC: of a curve where its range is half through. */
function ownSlope(shared: SharedFit, own: LeafLine): number {
  return 'family' in shared ? own.slope * slopeOfGiven(shared) : own.slope;
}

/** Of a curve where its range is half through. */
export const slopeOfGiven = (shared: SharedFit): number => readerOf(shared).slopeAt((shared.rwcRange.from + shared.rwcRange.to) / 2);

function ownEffect(line: SharedFit, readings: readonly { leafId: string; rwc: number; transmittance: number }[], wish: LeafEffects): { effect: 'intercept' | 'intercept-and-slope'; slope: number | null } {
  const leaves = new Set(readings.map(({ leafId }) => leafId)).size;
  if (wish === 'HEIGHT_AND_SLOPE_APART') throw new InputError('NOT_FROZEN', 'leafEffects', 'lets height and slope differ independently, which holds at one water content only', 'Choose height, or height and slope.');
  if (leaves < 3) return { effect: 'intercept', slope: null };
  const fitWith = (leafEffect: 'intercept' | 'intercept-and-slope') => fitOwnLeaves(line, readings, leafEffect);
  if (wish === 'HEIGHT_AND_SLOPE') return { effect: 'intercept-and-slope', slope: ownSlope(line, fitWith('intercept-and-slope')) };
  const plain = fitWith('intercept');
  if (wish === 'HEIGHT' || leaves < LEAVES_FOR_SLOPES) return { effect: 'intercept', slope: ownSlope(line, plain) };
  const sloped = fitWith('intercept-and-slope');
  return sloped.fit.convergence.converged && sloped.fit.aic < plain.fit.aic ? { effect: 'intercept-and-slope', slope: ownSlope(line, sloped) } : { effect: 'intercept', slope: ownSlope(line, plain) };
}

/** The given curve where either was read, with what it promises and with the margin to either side. */
function drawnOf(line: SharedFit, { marginPoints, level }: ReadingsRequest, ownRwc: readonly number[]): ReadingsDocument['drawn'] {
  const from = Math.min(line.rwcRange.from, ...ownRwc);
  const to = Math.max(line.rwcRange.to, ...ownRwc);
  const { responseScale, responseAt } = readerOf(line);
  const at = (rwc: number): number => transmittanceOf(responseScale, responseAt(rwc));
  return Array.from({ length: CURVE_STEPS + 1 }, (_, i) => {
    const rwc = from + ((to - from) * i) / CURVE_STEPS;
    const { transmittance, lower, upper } = promisedAt(line, rwc, level);
    const [marginLow, marginHigh] = [at(rwc - marginPoints / 100), at(rwc + marginPoints / 100)].sort((a, b) => a - b) as [number, number];
    return { rwc, transmittance, newLeafLow: lower, newLeafHigh: upper, marginLow, marginHigh };
  });
}

const areaCm2 = (diameterMm: number): number => (Math.PI * (diameterMm / 20) ** 2);

/** Readings of a calibration with the water thickness at each: mass less dry mass, over the area punched. */
export function thicknessPoints(
  points: CalibrationDocument['points'],
  readings: ReadonlyMap<string, { readonly massMg: number; readonly dryMassMg: number; readonly diameterMm: number }>,
): ThicknessPoint[] {
  return points.flatMap(({ used, meterReadingId, rwc, transmittance, leafId }) => {
    const known = used ? readings.get(meterReadingId) : undefined;
    if (!known) return [];
    const { value } = ewtCm({ freshMassMg: known.massMg, dryMassMg: known.dryMassMg, uFreshMg: 0, uDryMg: 0, areaCm2: areaCm2(known.diameterMm), uAreaCm2: 0, waterDensityGPerCm3: 1 });
    return [{ rwc, ewtUm: 1e4 * value, transmittance, leafId }];
  });
}

export function studyThickness(
  given: Given, points: readonly ThicknessPoint[], givenDiameters: Readonly<Record<string, number>>, discs: readonly WeighedDisc[], request: ThicknessRequest, remarks: readonly Flag[],
): ThicknessDocument {
  const family: FamilyName = familyName[given.family];
  const fit = fitFamily(family, points, { predictor: 'ewt' });
  const turgid = discs.map(({ leafId, turgidMassMg, dryMassMg, uTurgidMg, uDryMg, diameterMm }) => ({
    leafId, turgidMassMg, dryMassMg, uTurgidMg, uDryMg, areaCm2: areaCm2(diameterMm), uAreaCm2: (areaCm2(diameterMm) * 2 * U_DIAMETER_MM) / diameterMm,
  }));
  const { from, to } = given.line.rwcRange;
  const outcome = transferByThickness(fit, turgid, { ...request, rwc: Array.from({ length: CURVE_STEPS + 1 }, (_, i) => from + ((to - from) * i) / CURVE_STEPS) });
  return {
    basis: 'WATER_THICKNESS', given, request, discs, givenDiameters,
    fit: { readings: points.length, leaves: new Set(points.map(({ leafId }) => leafId)).size, ewtFromUm: fit.range.from, ewtToUm: fit.range.to },
    outcome, remarks,
  };
}
