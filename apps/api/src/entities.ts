import { Account, Lab, Membership, Session } from './platform/identity/account.entity.js';
import type { KeptEntity } from './platform/database/rows.js';
import { Amendment } from './modules/amendment/amendment.entity.js';
import { DryingRun, DryingRunStep, MeterReading, Preflight, Weighing } from './modules/bench/bench.entity.js';
import { Calibration, CalibrationVersion } from './modules/calibration/calibration.entity.js';
import { CalibrationScope } from './modules/calibration-scope/calibration-scope.entity.js';
import { CertificateBatch, CertificateRefusal, LightReference, ThresholdCertificate } from './modules/certificate/certificate.entity.js';
import { BiasSweep, BiasThresholdCurve, DeviceLot, DeviceUnit, TripTest } from './modules/device/device.entity.js';
import { DryingImport } from './modules/drying-import/drying-import.entity.js';
import { Decision, DecisionOutcome, FieldCheck, FieldReport, Installation, InstallationEnd, LatchReset, Trip } from './modules/field/field.entity.js';
import { Hydration, HydrationEnd } from './modules/hydration/hydration.entity.js';
import { Instrument, InstrumentCalibration, InstrumentCheck, Rig } from './modules/instrument/instrument.entity.js';
import { LineFormat } from './modules/line/line.entity.js';
import { AbsorptionBand, ChoppedRun, CycleCount, LotAcceptance, ResetPulse, TemperatureRun, UnitRetirement } from './modules/passport/passport.entity.js';
import { OvenCooling, OvenCycle, OvenTemperature, OvenUnloading } from './modules/oven/oven.entity.js';
import { LabelPrint } from './modules/label/label.entity.js';
import { Custody, Place } from './modules/place/place.entity.js';
import { Crop, Disc, Leaf, Plant, SampleAmendment, SampleLoss } from './modules/sample/sample.entity.js';
import { Protocol } from './modules/protocol/protocol.entity.js';
import { CalibrationComment } from './modules/share/comment.entity.js';
import { CalibrationAdoption, CalibrationShare, ShareGrant, ShareGrantWithdrawal } from './modules/share/share.entity.js';
import { Signature } from './modules/signature/signature.entity.js';
import { StoredFile } from './modules/stored-file/stored-file.entity.js';
import { Rain, SitePlan, ZoneAdvice, ZoneRule } from './modules/zone/zone.entity.js';
import { Spectrum } from './modules/spectrum/spectrum.entity.js';
import { TransferStudy } from './modules/transfer/transfer.entity.js';
import { AccessToken, AccessTokenRevocation } from './modules/token/token.entity.js';
import { RwcSeries } from './modules/water/rwc-series.entity.js';

/** Everything written once: facts and results. */
export const keptEntities: readonly KeptEntity[] = [
  Crop, Plant, Leaf, Disc, SampleAmendment, SampleLoss, Place, Custody, LabelPrint,
  Instrument, InstrumentCheck, InstrumentCalibration, Rig, LineFormat,
  Protocol, Hydration, HydrationEnd, DryingRun, Preflight, DryingRunStep, Weighing, MeterReading, OvenCycle, OvenTemperature, OvenCooling, OvenUnloading, DryingImport,
  RwcSeries, Calibration, CalibrationVersion, CalibrationScope, TransferStudy, Spectrum, CalibrationShare, ShareGrant, ShareGrantWithdrawal, CalibrationAdoption, CalibrationComment,
  DeviceLot, DeviceUnit, BiasSweep, TripTest, BiasThresholdCurve, LightReference, CertificateBatch, ThresholdCertificate, CertificateRefusal,
  AbsorptionBand, ChoppedRun, ResetPulse, TemperatureRun, CycleCount, UnitRetirement, LotAcceptance,
  Installation, Trip, FieldReport, LatchReset, InstallationEnd, FieldCheck, Decision, DecisionOutcome,
  Rain, ZoneRule, ZoneAdvice, SitePlan,
  Amendment, Signature, StoredFile,
  AccessToken, AccessTokenRevocation,
];

export const entities = [Account, Lab, Membership, Session, ...keptEntities];
