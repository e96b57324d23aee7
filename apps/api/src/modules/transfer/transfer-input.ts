import type { Flag } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import type { Weighing } from '../bench/bench.entity.js';
import { DryingRun } from '../bench/bench.entity.js';
import type { CalibrationDocument } from '../calibration/calibration-document.js';
import { Calibration, CalibrationVersion } from '../calibration/calibration.entity.js';
import { seriesByIds, type SeriesForFit } from '../calibration/calibration.repository.js';
import { Instrument, Rig } from '../instrument/instrument.entity.js';
import { Crop } from '../sample/sample.entity.js';
import { balanceFromDecimals, balanceTerms, uWeighingMg } from '../water/handling.js';
import { lineOf, thicknessPoints } from './compute.js';
import type { Given, ThicknessPoint, WeighedDisc } from './transfer-document.js';

/** A calibration to be judged, as it stands, with what a study needs beside its frozen line. */
export interface GivenVersion {
  readonly given: Given;
  readonly cropId: string;
  readonly rigId: string;
  readonly document: CalibrationDocument;
}

/** @param suppose another document to take for its own: see recompute/again.ts */
export async function givenVersion(tx: Tx, id: string, suppose: (id: string, document: CalibrationDocument) => CalibrationDocument | null = (_, own) => own): Promise<GivenVersion> {
  const version = await rowById(tx, CalibrationVersion, id);
  if (!version) throw notFound('calibrationVersionId', 'The calibration version');
  const document = suppose(id, version.document);
  if (!document) throw new ProblemError('COMPUTATION', 'calibrationVersionId', 'There is no calibration to judge.', 'Choose another one.');
  const calibration = (await rowById(tx, Calibration, version.calibrationId))!;
  const crop = (await rowById(tx, Crop, calibration.cropId))!;
  const rig = (await rowById(tx, Rig, version.rigId))!;
  return {
    given: {
      kind: 'calibration_version', id, label: `${calibration.label} version ${version.version}`, crop: crop.name, rig: `${rig.label} version ${rig.version}`,
      family: version.family, line: lineOf(version.family, document),
    },
    cropId: crop.id, rigId: rig.id, document,
  };
}

/** What a reader must know of own leaves before the verdict: other crop or rig, one plant, one day. */
export async function remarksOn(tx: Tx, { given, cropId, rigId }: GivenVersion, ownCropId: string, series: readonly SeriesForFit[]): Promise<Flag[]> {
  const found: Flag[] = [];
  const warn = (code: string, message: string): void => { found.push({ code, severity: 'WARN', message }); };
  if (cropId !== ownCropId) warn('OTHER_CROP', `The calibration is of ${given.crop}, the leaves are of ${(await rowById(tx, Crop, ownCropId))?.name ?? 'another crop'}.`);
  const runs = await rowsByIds(tx, DryingRun, [...new Set(series.map(({ dryingRunId }) => dryingRunId))]);
  const [run] = runs;
  if (run && run.rigId !== rigId) {
    const rig = (await rowById(tx, Rig, run.rigId))!;
    warn('OTHER_RIG', `The calibration was made on ${given.rig}, the leaves were read on ${rig.label} version ${rig.version}: an offset has the rigs in it.`);
  }
  if (new Set(series.map(({ leafId }) => leafId)).size > 1 && new Set(series.map(({ plantId }) => plantId)).size === 1) {
    warn('ONE_PLANT', 'All own leaves are of one plant: they count as many here and may stand for one.');
  }
  const days = new Set(series.flatMap(({ document }) => document.readings.map(({ at }) => at.slice(0, 10))));
  if (days.size === 1) warn('ONE_DAY', 'All own readings are of one day: what differs from day to day is not in them.');
  return found;
}

/** Diameter of each disc as it is described now, mm. */
export async function diametersOf(tx: Tx, discIds: readonly string[]): Promise<Map<string, number>> {
  const rows = await tx.query<{ id: string; diameterMm: number }>(
    'SELECT id, diameter_mm::float8 AS "diameterMm" FROM disc_as_amended WHERE lab_id = $1 AND id = ANY($2::uuid[]) AND diameter_mm IS NOT NULL', [tx.labId, discIds],
  );
  return new Map(rows.map(({ id, diameterMm }) => [id, diameterMm]));
}

/** Readings of the given calibration by water thickness. @param diameters by RWC series; null: as the discs are described now */
export async function givenThickness(tx: Tx, { document, given }: GivenVersion, diameters: Readonly<Record<string, number>> | null): Promise<{ points: ThicknessPoint[]; diameters: Record<string, number> }> {
  const own = document.points.filter(({ besideId }) => besideId === undefined);
  const series = await seriesByIds(tx, [...new Set(own.map(({ rwcSeriesId }) => rwcSeriesId))]);
  const described = diameters ? null : await diametersOf(tx, series.map(({ discId }) => discId));
  const used: Record<string, number> = {};
  for (const { id, discId } of series) {
    const diameterMm = diameters ? diameters[id] : described!.get(discId);
    if (diameterMm !== undefined) used[id] = diameterMm;
  }
  const readings = new Map(series.flatMap(({ id, document: rwc }) =>
    (used[id] === undefined ? [] : rwc.readings.map(({ meterReadingId, massMg }) => [meterReadingId, { massMg, dryMassMg: rwc.dryMassMg, diameterMm: used[id]! }] as const))));
  const points = thicknessPoints(own, readings);
  if (points.length === 0) {
    throw new ProblemError('STATE', 'calibrationVersionId', `No disc of ${given.label} has a diameter, so nothing tells its water thickness.`, 'Enter the diameters of its discs, or study by readings.');
  }
  return { points, diameters: used };
}

/** Newest standing turgid and dry weighing of each disc of a crop that has both and a diameter. */
export async function weighedDiscs(tx: Tx, cropId: string, discIds: readonly string[] | null): Promise<{ discs: Omit<WeighedDisc, 'turgidMassMg' | 'dryMassMg' | 'uTurgidMg' | 'uDryMg'>[]; weighingIds: string[] }> {
  const rows = await tx.query<{ discId: string; discLabel: string; leafId: string; leafLabel: string; diameterMm: number; turgidId: string; dryId: string }>(
    `SELECT disc.id AS "discId", disc.label AS "discLabel", leaf.id AS "leafId", leaf.label AS "leafLabel", described.diameter_mm::float8 AS "diameterMm", turgid.id AS "turgidId", dry.id AS "dryId"
     FROM disc JOIN disc_as_amended described ON described.lab_id = $1 AND described.id = disc.id
       JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
       CROSS JOIN LATERAL (SELECT w.id FROM weighing w WHERE w.lab_id = $1 AND w.disc_id = disc.id AND w.state = 'TURGID' AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = w.id) ORDER BY w.observed_at DESC, w.id DESC LIMIT 1) turgid
       CROSS JOIN LATERAL (SELECT w.id FROM weighing w WHERE w.lab_id = $1 AND w.disc_id = disc.id AND w.state = 'DRY' AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = w.id) ORDER BY w.observed_at DESC, w.id DESC LIMIT 1) dry
     WHERE disc.lab_id = $1 AND plant.crop_id = $2 AND described.diameter_mm IS NOT NULL AND ($3::uuid[] IS NULL OR disc.id = ANY($3::uuid[])) ORDER BY disc.id LIMIT 2000`,
    [tx.labId, cropId, discIds],
  );
  return { discs: rows.map(({ turgidId: _, dryId: __, ...disc }) => disc), weighingIds: rows.flatMap(({ turgidId, dryId }) => [turgidId, dryId]) };
}

/** Discs with the masses of these weighings, a turgid and a dry one each. */
export async function withMasses(tx: Tx, discs: readonly Omit<WeighedDisc, 'turgidMassMg' | 'dryMassMg' | 'uTurgidMg' | 'uDryMg'>[], weighings: readonly Weighing[]): Promise<WeighedDisc[]> {
  const balances = await rowsByIds(tx, Instrument, [...new Set(weighings.flatMap(({ balanceId }) => balanceId ?? []))]);
  const terms = new Map(balances.map((balance) => [balance.id, balanceTerms(balance)]));
  const massOf = ({ massMg, massText, massUnit, state, balanceId }: Weighing): { mass: number; u: number } => {
    const balance = balanceId ? terms.get(balanceId)! : balanceFromDecimals([massText], massUnit as Parameters<typeof balanceFromDecimals>[1]);
    return { mass: Number(massMg), u: uWeighingMg(balance, state, Number(massMg)) };
  };
  return discs.flatMap((disc) => {
    const of = (state: Weighing['state']): Weighing | undefined => weighings.find((one) => one.discId === disc.discId && one.state === state);
    const [turgid, dry] = [of('TURGID'), of('DRY')];
    if (!turgid || !dry) return [];
    const [wet, end] = [massOf(turgid), massOf(dry)];
    return [{ ...disc, turgidMassMg: wet.mass, dryMassMg: end.mass, uTurgidMg: wet.u, uDryMg: end.u }];
  });
}
