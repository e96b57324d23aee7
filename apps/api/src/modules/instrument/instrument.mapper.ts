import { compareDecimals, subtractDecimals } from '#libs/quantity';
import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Instrument, InstrumentCalibration, InstrumentCheck, Rig } from './instrument.entity.js';

export type InstrumentView = RecordView &
  Pick<Instrument, 'kind' | 'label' | 'serialNumber' | 'location' | 'resolution' | 'repeatability' | 'linearity' | 'driftPerYear' | 'unit' | 'checkEveryHours'>;

export const toInstrument = (row: Instrument): InstrumentView => ({
  ...recordView(row),
  kind: row.kind,
  label: row.label,
  serialNumber: row.serialNumber,
  location: row.location,
  resolution: row.resolution,
  repeatability: row.repeatability,
  linearity: row.linearity,
  driftPerYear: row.driftPerYear,
  unit: row.unit,
  checkEveryHours: row.checkEveryHours,
});

/** A check passes when what was shown lies within the tolerance of the nominal value; exact decimals, no rounding. */
export function checkPassed({ nominal, shown, tolerance }: Pick<InstrumentCheck, 'nominal' | 'shown' | 'tolerance'>): boolean {
  const deviation = subtractDecimals(shown, nominal).replace(/^-/, '');
  return compareDecimals(deviation, tolerance) <= 0;
}

export type InstrumentCheckView = RecordView &
  Pick<InstrumentCheck, 'instrumentId' | 'nominal' | 'shown' | 'tolerance' | 'note'> & { observedAt: string; passed: boolean };

export const toInstrumentCheck = (row: InstrumentCheck): InstrumentCheckView => ({
  ...recordView(row),
  instrumentId: row.instrumentId,
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
  nominal: row.nominal,
  shown: row.shown,
  tolerance: row.tolerance,
  passed: checkPassed(row),
  note: row.note,
});

export type InstrumentCalibrationView = RecordView &
  Pick<InstrumentCalibration, 'instrumentId' | 'calibratedBy' | 'certificateNumber' | 'certificateFileId' | 'largestError' | 'expandedUncertainty' | 'note'> & { calibratedAt: string; dueAt: string };

export const toInstrumentCalibration = (row: InstrumentCalibration): InstrumentCalibrationView => ({
  ...recordView(row),
  instrumentId: row.instrumentId,
  calibratedAt: formatMoment(row.calibratedAt, row.calibratedOffsetMin),
  dueAt: formatMoment(row.dueAt, row.dueOffsetMin),
  calibratedBy: row.calibratedBy,
  certificateNumber: row.certificateNumber,
  certificateFileId: row.certificateFileId,
  largestError: row.largestError,
  expandedUncertainty: row.expandedUncertainty,
  note: row.note,
});

export type RigView = RecordView &
  Pick<Rig, 'label' | 'version' | 'source' | 'bandCentreNm' | 'bandWidthNm' | 'diffuser' | 'diffuserTransmittance' | 'uDiffuserTransmittance' | 'apertureMm' | 'meterId'>;

export const toRig = (row: Rig): RigView => ({
  ...recordView(row),
  label: row.label,
  version: row.version,
  source: row.source,
  bandCentreNm: row.bandCentreNm,
  bandWidthNm: row.bandWidthNm,
  diffuser: row.diffuser,
  diffuserTransmittance: row.diffuserTransmittance,
  uDiffuserTransmittance: row.uDiffuserTransmittance,
  apertureMm: row.apertureMm,
  meterId: row.meterId,
});
