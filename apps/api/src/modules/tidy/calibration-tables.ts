import type { CalibrationDocument } from '../calibration/calibration-document.js';
import type { ReadingsDocument, ThicknessDocument } from '../transfer/transfer-document.js';
import { tidy, type Tidy, type TidyColumn } from './table.js';

type Point = CalibrationDocument['points'][number];
type StudyPoint = ReadingsDocument['points'][number];

const text = <R>(name: string, meaning: string, of: TidyColumn<R>['of']): TidyColumn<R> => ({ name, unit: null, type: 'string', meaning, of });
const number = <R>(name: string, unit: string, meaning: string, of: TidyColumn<R>['of']): TidyColumn<R> => ({ name, unit, type: 'number', meaning, of });
const count = <R>(name: string, meaning: string, of: TidyColumn<R>['of']): TidyColumn<R> => ({ name, unit: '1', type: 'integer', meaning, of });

const readingColumns = <R extends Omit<Point, 'residual'> | StudyPoint>(key: string, id: string): TidyColumn<R>[] => [
  text(key, 'Key of the one row above.', () => id),
  text('meter_reading_id', 'Key: the reading of the power meter.', ({ meterReadingId }) => meterReadingId),
  text('rwc_series_id', 'The RWC series of its disc.', ({ rwcSeriesId }) => rwcSeriesId),
  text('leaf_id', 'Key of leaves.csv.', ({ leafId }) => leafId),
  number('rwc', '1', 'Relative water content at the reading, a fraction.', ({ rwc }) => rwc),
  number('u_rwc', '1', 'Its standard uncertainty.', ({ uRwc }) => uRwc),
  number('transmittance', '1', 'Transmittance of the disc in the band of the rig, a fraction.', ({ transmittance }) => transmittance),
  number('u_transmittance', '1', 'Its standard uncertainty.', ({ uTransmittance }) => uTransmittance),
  { name: 'used', unit: null, type: 'boolean', meaning: 'Whether it took part in the fit.', of: ({ used }) => used },
  text('exclusion_reason', 'Why it was left out; empty where it was used.', ({ exclusionReason }) => exclusionReason),
];

interface VersionTold {
  readonly id: string;
  readonly label: string;
  readonly version: number;
  readonly family: string;
  readonly crop: string;
  readonly rig: string;
  readonly codeVersion: string;
  readonly contentHash: string;
}

/** A calibration version by level: the version, its parameters, its leaves, its readings. */
export function versionTables(told: VersionTold, document: CalibrationDocument): Tidy[] {
  const leaves = [...new Map(document.points.map((point) => [point.leafId, point]))].map(([, point]) => point);
  const of = (leafId: string): Point[] => document.points.filter((point) => point.leafId === leafId);
  return [
    tidy('version.csv', 'One row: the calibration version.', [told], [
      text<VersionTold>('calibration_version_id', 'Key.', ({ id }) => id),
      text('label', 'Name of the calibration.', ({ label }) => label),
      count('version', 'Its number within the calibration.', ({ version }) => version),
      text('family', 'LOG_LINEAR: ln T = a + c R. LINEAR: T = a + c R. EXPONENTIAL: T = f + a exp(c R). POWER: ln T = a + c ln R. LOGISTIC: T = f + s / (1 + exp(k (R - m))).', ({ family }) => family),
      text('crop', 'Crop of the leaves.', ({ crop }) => crop),
      text('rig', 'Rig that read them.', ({ rig }) => rig),
      count('leaf_count', 'Leaves used.', () => document.leafCount),
      number('rwc_min', '1', 'Least RWC it speaks of.', () => document.rwcMin),
      number('rwc_max', '1', 'Largest RWC it speaks of.', () => document.rwcMax),
      number('residual_sd', '1', 'Residual standard deviation on the fitted scale (ln T for LOG_LINEAR and POWER).', () => document.residualSd),
      number('between_leaf_sd_rwc', '1', 'SD between leaves as RWC; empty with fewer than three leaves.', () => document.betweenLeafSdRwc),
      text('code_version', 'Code that computed it.', ({ codeVersion }) => codeVersion),
      text('content_sha256', 'SHA-256 of its content, hex: proves which version this is.', ({ contentHash }) => contentHash),
    ]),
    tidy('parameters.csv', 'One row for each parameter of the mean line.', document.parameters, [
      text<(typeof document.parameters)[number]>('calibration_version_id', 'Key of version.csv.', () => told.id),
      text('name', 'Key: name in the formula of the family.', ({ name }) => name),
      number('value', '1', 'Estimate; a slope is per unit of RWC.', ({ value }) => value),
      number('standard_error', '1', 'Its standard error.', ({ standardError }) => standardError),
    ]),
    tidy('leaves.csv', 'One row for each leaf.', leaves, [
      text<Point>('calibration_version_id', 'Key of version.csv.', () => told.id),
      text('leaf_id', 'Key.', ({ leafId }) => leafId),
      text('leaf', 'Label of the leaf.', ({ leafLabel }) => leafLabel),
      count('reading_count', 'Readings of it that were used.', ({ leafId }) => of(leafId).filter(({ used }) => used).length),
      { name: 'beside', unit: null, type: 'boolean', meaning: 'Of the calibration that an adjusted version came from: tells slope and spread, not height.', of: ({ besideId }) => besideId !== undefined },
    ]),
    tidy('readings.csv', 'One row for each reading.', document.points, [
      ...readingColumns<Point>('calibration_version_id', told.id),
      { name: 'of_parent', unit: null, type: 'boolean', meaning: 'Taken from the version that this one was refitted from.', of: ({ parentId }) => parentId !== undefined },
      number('residual', '1', 'Residual on the fitted scale once the leaf’s own effect is off; empty where not used.', ({ residual }) => residual),
    ]),
  ];
}

/** A transfer study by readings, by level: the study, the own leaves, their readings. */
export function studyTables(id: string, { given, request, outcome, points }: ReadingsDocument): Tidy[] {
  const { performance, comparison } = outcome;
  const labels = new Map(points.map(({ leafId, leafLabel }) => [leafId, leafLabel]));
  type Leaf = (typeof performance.leaves)[number];
  return [
    tidy('study.csv', 'One row: the transfer study.', [outcome], [
      text<typeof outcome>('transfer_study_id', 'Key.', () => id),
      text('given', 'The calibration that was judged.', () => given.label),
      text('verdict', 'holds, holds with offset, does not hold, not enough data.', ({ verdict }) => verdict),
      number('margin_points', '1', 'How far off a reading may be, RWC points (0.01 of RWC), stated beforehand.', () => request.marginPoints),
      number('bias_points', '1', 'Mean over leaves of RWC read less true, RWC points.', () => performance.biasPoints),
      number('rms_points', '1', 'Root mean square error of single readings, RWC points.', () => performance.rmsPoints),
      number('offset_points', '1', 'Read less true in the middle of the range, RWC points; empty with fewer than three leaves.', () => comparison?.offsetPoints ?? null),
      number('slope_ratio', '1', 'Own slope over the given one.', () => comparison?.slopeRatio ?? null),
      number('worst_points', '1', 'Largest error not excluded over the range, RWC points.', () => comparison?.worstPoints ?? null),
      number('worst_after_offset_points', '1', 'The same once the offset is off.', () => comparison?.worstAfterOffsetPoints ?? null),
      number('common_line_p', '1', 'p of the F test of one common line.', () => comparison?.commonLine.pValue ?? null),
      count('inside_leaves', 'Own leaves inside the interval promised for a new leaf.', () => performance.coverage.inside),
      count('leaf_count', 'Own leaves.', ({ leaves }) => leaves),
    ]),
    tidy('leaves.csv', 'One row for each own leaf.', performance.leaves, [
      text<Leaf>('transfer_study_id', 'Key of study.csv.', () => id),
      text('leaf_id', 'Key.', ({ leafId }) => leafId),
      text('leaf', 'Label of the leaf.', ({ leafId }) => labels.get(leafId) ?? ''),
      count('reading_count', 'Readings of it that were used.', ({ readings }) => readings),
      number('bias_points', '1', 'Mean of RWC read less true, RWC points.', ({ biasPoints }) => biasPoints),
      number('promised_half_width_points', '1', 'Half of the interval promised for as many readings of a new leaf, RWC points.', ({ promisedHalfWidthPoints }) => promisedHalfWidthPoints),
      { name: 'inside', unit: null, type: 'boolean', meaning: 'Whether the mean lies inside it.', of: ({ inside }) => inside },
    ]),
    tidy('readings.csv', 'One row for each reading of own leaves.', points, [
      ...readingColumns<StudyPoint>('transfer_study_id', id),
      number('read_rwc', '1', 'RWC that the given calibration reads; empty where not used.', ({ readRwc }) => readRwc),
    ]),
  ];
}

/** A study by water thickness: the discs weighed, and the curve to expect. */
export function thicknessTables(id: string, { discs, outcome }: ThicknessDocument): Tidy[] {
  type Disc = (typeof discs)[number];
  type At = (typeof outcome.curve)[number];
  return [
    tidy('discs.csv', 'One row for each disc weighed.', discs, [
      text<Disc>('transfer_study_id', 'The study.', () => id),
      text('disc_id', 'Key.', ({ discId }) => discId),
      text('disc', 'Label of the disc.', ({ discLabel }) => discLabel),
      text('leaf', 'Label of its leaf.', ({ leafLabel }) => leafLabel),
      number('turgid_mass', 'mg', 'Mass at full turgor.', ({ turgidMassMg }) => turgidMassMg),
      number('dry_mass', 'mg', 'Oven-dry mass.', ({ dryMassMg }) => dryMassMg),
      number('diameter', 'mm', 'Diameter it was punched with.', ({ diameterMm }) => diameterMm),
    ]),
    tidy('expected.csv', 'One row for each RWC of the expected curve.', outcome.curve, [
      text<At>('transfer_study_id', 'The study.', () => id),
      number('rwc', '1', 'Relative water content, a fraction.', ({ rwc }) => rwc),
      number('ewt', 'um', 'Water thickness there.', ({ ewtUm }) => ewtUm),
      number('transmittance', '1', 'Expected of the average leaf, a fraction.', ({ transmittance }) => transmittance),
      number('u_ln', '1', 'Standard uncertainty of ln T of the average leaf.', ({ uLn }) => uLn),
      number('u_ln_new_leaf', '1', 'The same of one new leaf.', ({ uLnNewLeaf }) => uLnNewLeaf),
      { name: 'extrapolated', unit: null, type: 'boolean', meaning: 'Outside the water thickness that the calibration saw.', of: ({ extrapolated }) => extrapolated },
    ]),
  ];
}
