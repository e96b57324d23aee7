import { formatPercentPlain } from '#libs/quantity';
import type { Flag, LeafSide } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { Calibration, type CalibrationVersion } from '../calibration/calibration.entity.js';
import { Rig } from '../instrument/instrument.entity.js';
import { Crop } from '../sample/sample.entity.js';
import { originFindings } from '../share/origin-findings.js';
import type { CalibrationScope } from './calibration-scope.entity.js';
import { failedChecksSince, newestRigVersions, newestScope, newestScopes, type CheckFailed } from './calibration-scope.repository.js';

/** What a calibration version is to be used for. Whatever is not given is not asked about. */
export interface CalibrationUse {
  /** When: usually now. */
  readonly at: Date;
  /** Until when, where the use lasts. */
  readonly until?: Date | null;
  readonly cropId?: string | null;
  readonly cultivar?: string | null;
  readonly growthStage?: string | null;
  readonly leafSide?: LeafSide | null;
  readonly rigId?: string | null;
  /** Of whatever reads the leaf, nm. */
  readonly bandCentreNm?: number | null;
  /** Fraction. */
  readonly rwc?: number | null;
}

/**
 * What stands against using a version: each finding is to be mended or overridden with a reason. Whether it is approved,
 * withdrawn or stale is asked elsewhere. Without a stated scope, crop, rig and RWC range of the version itself count.
 */
export async function scopeFindings(tx: Tx, version: CalibrationVersion, use: CalibrationUse): Promise<Flag[]> {
  const scope = await newestScope(tx, version.id);
  const seen = await instrumentsSince(tx, scope && scope.endsOn.length > 0 ? [version] : []);
  return [...(await originFindings(tx, version)), ...endings(version, scope, use, seen), ...(await outside(tx, version, scope, use))];
}

const finding = (code: string, message: string): Flag => ({ code, severity: 'ASK', message });
const day = (moment: Date): string => moment.toISOString().slice(0, 10);

/** What stands against using each of many versions today, whatever for: as many statements for one as for fifty. */
export async function findingsToday(tx: Tx, versions: readonly CalibrationVersion[], at: Date): Promise<Map<string, Flag[]>> {
  const scopes = await newestScopes(tx, versions.map(({ id }) => id));
  const seen = await instrumentsSince(tx, versions.filter(({ id }) => (scopes.get(id)?.endsOn.length ?? 0) > 0));
  const found = new Map<string, Flag[]>();
  for (const version of versions) {
    // Of versions that were not taken over from elsewhere this asks nothing.
    found.set(version.id, [...(await originFindings(tx, version)), ...endings(version, scopes.get(version.id) ?? null, { at }, seen)]);
  }
  return found;
}

interface InstrumentsSeen {
  readonly rigs: ReadonlyMap<string, Rig>;
  readonly newest: ReadonlyMap<string, number>;
  readonly failed: readonly CheckFailed[];
}

async function instrumentsSince(tx: Tx, versions: readonly CalibrationVersion[]): Promise<InstrumentsSeen> {
  if (versions.length === 0) return { rigs: new Map(), newest: new Map(), failed: [] };
  const rigs = new Map((await rowsByIds(tx, Rig, [...new Set(versions.map(({ rigId }) => rigId))])).map((rig) => [rig.id, rig]));
  return {
    rigs,
    newest: await newestRigVersions(tx, [...new Set([...rigs.values()].map(({ label }) => label))]),
    failed: await failedChecksSince(tx, versions.map(({ id, rigId, document, recordedAt }) => ({ id, rigId, runIds: document.dryingRunIds, since: recordedAt }))),
  };
}

/** Its date, and what happened to its instruments since it was made. */
function endings(version: CalibrationVersion, scope: CalibrationScope | null, { at, until }: CalibrationUse, { rigs, newest, failed }: InstrumentsSeen): Flag[] {
  if (!scope) return [];
  const found: Flag[] = [];
  const { validUntil, endsOn } = scope;
  if (validUntil && at > validUntil) found.push(finding('SCOPE_EXPIRED', `The calibration version was valid until ${day(validUntil)}.`));
  else if (validUntil && until && until > validUntil) found.push(finding('SCOPE_EXPIRES', `The calibration version is valid until ${day(validUntil)} only, the use lasts to ${day(until)}.`));
  if (endsOn.includes('LAMP_CHANGED')) {
    const rig = rigs.get(version.rigId)!;
    const now = newest.get(rig.label)!;
    if (now > rig.version) found.push(finding('SCOPE_LAMP_CHANGED', `Rig ${rig.label} was changed since: the calibration version was made on version ${rig.version}, now it is ${now}.`));
  }
  if (endsOn.includes('REFERENCE_OUT') || endsOn.includes('FAILED_CHECK')) {
    for (const { instrument, kind, observedAt } of failed.filter(({ versionId }) => versionId === version.id)) {
      const end = kind === 'BALANCE' ? 'FAILED_CHECK' : 'REFERENCE_OUT';
      if (endsOn.includes(end)) found.push(finding(`SCOPE_${end}`, `${instrument} failed its check on ${day(observedAt)}, after the calibration version was made with it.`));
    }
  }
  return found;
}

async function outside(tx: Tx, version: CalibrationVersion, scope: CalibrationScope | null, use: CalibrationUse): Promise<Flag[]> {
  const found: Flag[] = [];
  const object = (code: string, message: string): void => { found.push(finding(code, message)); };
  if (use.cropId) {
    const { cropId } = (await rowById(tx, Calibration, version.calibrationId))!;
    if (cropId !== use.cropId) object('SCOPE_CROP', `The calibration is for ${(await rowById(tx, Crop, cropId))!.name}, not for ${(await rowById(tx, Crop, use.cropId))?.name ?? 'that crop'}.`);
  }
  const unlisted = (listed: readonly string[] | undefined, given: string | null | undefined): given is string =>
    Boolean(given && listed?.length && !listed.some((one) => one.toLowerCase() === given.toLowerCase()));
  if (unlisted(scope?.cultivars, use.cultivar)) object('SCOPE_CULTIVAR', `Cultivar ${use.cultivar} is not among those of the scope: ${scope!.cultivars.join(', ')}.`);
  if (unlisted(scope?.growthStages, use.growthStage)) object('SCOPE_STAGE', `Growth stage ${use.growthStage} is not among those of the scope: ${scope!.growthStages.join(', ')}.`);
  if (scope?.leafSide && use.leafSide && scope.leafSide !== use.leafSide) object('SCOPE_LEAF_SIDE', `The calibration is for the ${sideWord(scope.leafSide)} side up, the use has the ${sideWord(use.leafSide)} side up.`);
  if (use.rigId && use.rigId !== version.rigId) {
    const [own, other] = [(await rowById(tx, Rig, version.rigId))!, await rowById(tx, Rig, use.rigId)];
    object('SCOPE_RIG', `The calibration was made on ${own.label} version ${own.version}, not on ${other ? `${other.label} version ${other.version}` : 'that rig'}.`);
  }
  const { bandCentreNm, rwc } = use;
  if (scope && bandCentreNm != null && ((scope.bandFromNm && bandCentreNm < Number(scope.bandFromNm)) || (scope.bandToNm && bandCentreNm > Number(scope.bandToNm)))) {
    object('SCOPE_BAND', `A band centred at ${bandCentreNm} nm lies outside the scope, ${scope.bandFromNm ?? '…'} to ${scope.bandToNm ?? '…'} nm.`);
  }
  const [low, high] = [scope?.rwcMin ?? version.document.rwcMin, scope?.rwcMax ?? version.document.rwcMax];
  if (rwc != null && (rwc < low || rwc > high)) object('SCOPE_RWC', `RWC ${formatPercentPlain(rwc, 1)} lies outside the scope, ${formatPercentPlain(low, 1)} to ${formatPercentPlain(high, 1)}.`);
  return found;
}

const sideWord = (side: LeafSide): string => (side === 'ADAXIAL_UP' ? 'upper (adaxial)' : 'lower (abaxial)');
