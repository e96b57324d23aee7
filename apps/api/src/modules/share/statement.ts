import { InputError } from '#libs/quantity';
import { leafIntervalAt, leaveOneLeafOut, refitLeaves } from '#libs/regression';
import type { ApprovalState, CalibrationFamily, Flag, LeafSide, SignatureMeaning } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsBy } from '../../platform/database/rows.js';
import { peopleByIds } from '../../platform/identity/account.repository.js';
import type { CalibrationDocument, FrozenFit } from '../calibration/calibration-document.js';
import { Calibration, type CalibrationVersion } from '../calibration/calibration.entity.js';
import { fitOf, withoutReadings, type CalibrationFit } from '../calibration/compute.js';
import type { CalibrationScope } from '../calibration-scope/calibration-scope.entity.js';
import { Rig } from '../instrument/instrument.entity.js';
import { labName } from '../ledger/ledger.repository.js';
import { Crop } from '../sample/sample.entity.js';
import type { Signature } from '../signature/signature.entity.js';

/** Another lab's calibration that a version rests on, with the terms under which it was taken over. */
export interface Credit {
  readonly labName: string;
  readonly label: string;
  readonly version: number;
  readonly licence: string;
  readonly citation: string;
}

/**
 * What a lab states about a version for others, frozen and entered in its ledger: everything needed to read RWC by it and
 * to judge how far it holds, and no reading.
 */
export interface Statement {
  readonly labName: string;
  readonly versionContentHash: string;
  readonly label: string;
  readonly version: number;
  readonly cropName: string;
  readonly scientificName: string | null;
  /** Of the scope; empty where none is stated. */
  readonly cultivars: readonly string[];
  readonly family: CalibrationFamily;
  readonly codeVersion: string;
  readonly fittedAt: string;
  /** Label of the version that it was adjusted from; null for one fitted to its own leaves alone. */
  readonly adjustedFrom: string | null;
  /** Label of the version whose readings it began with. */
  readonly refitOf?: string;
  /** Of other labs, below it; left out where there is none. */
  readonly credits?: readonly Credit[];
  readonly rigText: string;
  readonly bandCentreNm: string;
  readonly bandWidthNm: string;
  readonly fit: Omit<CalibrationDocument, 'points' | 'dryingRunIds' | 'frozen' | 'adjustedFrom' | 'refitOf'>;
  readonly frozen: FrozenFit;
  readonly readingCount: number;
  readonly leftOutCount: number;
  readonly validation: Validation;
  readonly scope: StatedScope | null;
  readonly state: ApprovalState;
  readonly signatures: readonly { readonly meaning: SignatureMeaning; readonly by: string; readonly at: string; readonly statement: string | null }[];
}

export interface Validation {
  readonly atRwc: number;
  readonly meanHalfWidthPoints: number | null;
  readonly newLeafHalfWidthPoints: number | null;
  readonly leaveOneLeafOutPoints: number | null;
}

interface StatedScope {
  readonly cultivars: readonly string[];
  readonly growthStages: readonly string[];
  readonly leafSide: LeafSide | null;
  readonly bandFromNm: string | null;
  readonly bandToNm: string | null;
  readonly rwcMin: number;
  readonly rwcMax: number;
  readonly validUntil: string | null;
  readonly note: string | null;
}

export interface Stated {
  readonly version: CalibrationVersion;
  readonly scope: CalibrationScope | null;
  readonly signatures: readonly Signature[];
  readonly state: ApprovalState;
  readonly credits: readonly Credit[];
}

export async function statementOf(tx: Tx, { version, scope, signatures, state, credits }: Stated): Promise<Statement> {
  const calibration = (await rowById(tx, Calibration, version.calibrationId))!;
  const crop = (await rowById(tx, Crop, calibration.cropId))!;
  const rig = (await rowById(tx, Rig, version.rigId))!;
  const people = new Map((await peopleByIds(tx, signatures.map(({ recordedBy }) => recordedBy))).map(({ id, displayName }) => [id, displayName]));
  const { points, dryingRunIds: _runs, frozen: _frozen, adjustedFrom, refitOf, ...fit } = version.document;
  const used = points.filter((point) => point.used);
  const result = fitOf(version.family, version.document);
  return {
    labName: await labName(tx),
    versionContentHash: version.contentHash.toString('hex'),
    label: calibration.label,
    version: version.version,
    cropName: crop.name,
    scientificName: crop.scientificName,
    cultivars: scope?.cultivars ?? [],
    family: version.family,
    codeVersion: version.codeVersion,
    fittedAt: version.recordedAt.toISOString(),
    adjustedFrom: adjustedFrom?.label ?? null,
    ...(refitOf ? { refitOf: refitOf.label } : {}),
    ...(credits.length > 0 ? { credits } : {}),
    rigText: [`${rig.label} version ${rig.version}: ${rig.source}`, rig.diffuser, rig.apertureMm && `aperture ${Number(rig.apertureMm)} mm`].filter(Boolean).join(', '),
    bandCentreNm: rig.bandCentreNm,
    bandWidthNm: rig.bandWidthNm,
    // A remark may name a leaf; the readings themselves are not in it.
    fit: { ...fit, remarks: fit.remarks.map(({ code, severity, message }): Flag => ({ code, severity, message })) },
    frozen: withoutReadings(result),
    readingCount: used.length,
    leftOutCount: points.length - used.length,
    validation: validationOf(result, fit),
    scope: scope && {
      cultivars: scope.cultivars, growthStages: scope.growthStages, leafSide: scope.leafSide, bandFromNm: scope.bandFromNm, bandToNm: scope.bandToNm,
      rwcMin: scope.rwcMin, rwcMax: scope.rwcMax, validUntil: scope.validUntil?.toISOString() ?? null, note: scope.note,
    },
    state,
    signatures: signatures.map(({ meaning, recordedBy, recordedAt, statement }) => ({ meaning, by: people.get(recordedBy) ?? 'unknown', at: recordedAt.toISOString(), statement })),
  };
}

/** At the middle of the range, where a calibration is at its best. */
function validationOf(result: CalibrationFit, { rwcMin, rwcMax }: Pick<CalibrationDocument, 'rwcMin' | 'rwcMax'>): Validation {
  const atRwc = (rwcMin + rwcMax) / 2;
  if (result.kind === 'curve') return { atRwc, meanHalfWidthPoints: null, newLeafHalfWidthPoints: null, leaveOneLeafOutPoints: null };
  const { line, points } = result;
  return {
    atRwc,
    meanHalfWidthPoints: leafIntervalAt(line, 'confidence', atRwc).halfWidthPoints,
    newLeafHalfWidthPoints: leafIntervalAt(line, 'prediction', atRwc).halfWidthPoints,
    leaveOneLeafOutPoints: leavingOut(() => leaveOneLeafOut(points, (rest) => refitLeaves(line, rest)).rmsPoints),
  };
}

/** Null where a fit without one of the leaves is refused. */
function leavingOut(compute: () => number): number | null {
  try {
    return compute();
  } catch (error) {
    if (error instanceof InputError) return null;
    throw error;
  }
}

/** The document of a version made from a statement; with its readings where they came along. */
export const documentFrom = ({ fit, frozen }: Statement, points: CalibrationDocument['points'] | null): CalibrationDocument =>
  points ? { ...fit, points, dryingRunIds: [] } : { ...fit, points: [], dryingRunIds: [], frozen };

export const signaturesOnVersion = (tx: Tx, signature: new () => Signature, versionId: string): Promise<Signature[]> => rowsBy(tx, signature, 'subjectId', [versionId], 'recorded_at');
