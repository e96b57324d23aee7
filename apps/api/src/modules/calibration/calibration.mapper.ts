import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { CalibrationDocument } from './calibration-document.js';
import type { Calibration, CalibrationVersion } from './calibration.entity.js';
import { hasLeafEffects } from './compute.js';

export type CalibrationView = RecordView & Pick<Calibration, 'label' | 'cropId'>;

export const toCalibration = (row: Calibration): CalibrationView => ({ ...recordView(row), label: row.label, cropId: row.cropId });

export type CalibrationVersionView = RecordView &
  Omit<CalibrationDocument, 'points'> &
  Pick<CalibrationVersion, 'codeVersion' | 'calibrationId' | 'version' | 'family' | 'rigId' | 'document' | 'calibrationAdoptionId'> & { points: object[]; hasLeafEffects: boolean };

export const toCalibrationVersion = (row: CalibrationVersion): CalibrationVersionView => ({
  ...row.document,
  ...recordView(row),
  points: row.document.points.map(({ leafId, leafLabel, besideId, parentId, ...point }) => ({ ...point, beside: besideId !== undefined, ofParent: parentId !== undefined, leaf: { kind: 'leaf', id: leafId, label: leafLabel } })),
  hasLeafEffects: hasLeafEffects(row.family, row.document),
  codeVersion: row.codeVersion,
  calibrationId: row.calibrationId,
  version: row.version,
  family: row.family,
  rigId: row.rigId,
  document: row.document,
  calibrationAdoptionId: row.calibrationAdoptionId,
});
