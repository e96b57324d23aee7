import type { PointExclusionInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { requireText } from '../../platform/graphql/text.js';
import { staleAmong } from '../amendment/amendment.repository.js';
import { approvalStates } from '../signature/signature.repository.js';
import type { CalibrationDocument } from './calibration-document.js';
import { Calibration, CalibrationVersion } from './calibration.entity.js';
import type { SeriesForFit } from './calibration.repository.js';
import { pointsOf } from './points.js';

type Points = CalibrationDocument['points'];

/** A version whose readings another one begins with. */
export interface ParentVersion {
  readonly id: string;
  readonly label: string;
  readonly rigId: string;
  readonly cropId: string;
  readonly document: CalibrationDocument;
}

/** @param suppose another document to take for its own: see recompute/again.ts */
export async function parentVersion(tx: Tx, id: string, suppose: (id: string, document: CalibrationDocument) => CalibrationDocument | null = (_, own) => own): Promise<ParentVersion> {
  const version = await rowById(tx, CalibrationVersion, id);
  if (!version) throw notFound('refitOf', 'The calibration version');
  const document = suppose(id, version.document);
  if (!document) throw new ProblemError('COMPUTATION', 'refitOf', 'There is no calibration to refit.', 'Choose another one.');
  const { label, cropId } = (await rowById(tx, Calibration, version.calibrationId))!;
  return { id, label: `${label} version ${version.version}`, rigId: version.rigId, cropId, document };
}

/**
 * A parent that may be refitted now, into a calibration of this crop.
 *
 * @throws ProblemError `STATE` for one without readings, withdrawn or stale; `OUT_OF_SCOPE` for another crop
 */
export async function requireRefittable(tx: Tx, id: string, cropId: string): Promise<ParentVersion> {
  const parent = await parentVersion(tx, id);
  if (readingsOf(parent.document).length === 0) {
    throw new ProblemError('STATE', 'refitOf', `Of ${parent.label} only the fit is known here, not its readings.`, 'Ask the lab that made it to share it down to the raw lines, or use it as it is.');
  }
  if (parent.cropId !== cropId) throw new ProblemError('OUT_OF_SCOPE', 'refitOf', `${parent.label} serves another crop here than this calibration.`, 'Refit it within a calibration of its crop, or take it over anew for the other one.');
  if ((await approvalStates(tx, 'calibration_version', [id])).get(id) === 'WITHDRAWN') throw new ProblemError('STATE', 'refitOf', `${parent.label} was withdrawn.`, 'Choose a version that stands, or ask why it was withdrawn.');
  if ((await staleAmong(tx, [id])).size > 0) throw new ProblemError('STATE', 'refitOf', `A fact that ${parent.label} rests on was amended.`, 'Fit that one anew first, then refit.');
  return parent;
}

/** Own readings of the parent: what lay beside an adjusted one told of another crop. */
const readingsOf = ({ points }: CalibrationDocument): Points => points.filter(({ besideId }) => besideId === undefined);

/** Exclusions parted by whose readings they are of. */
export function partExclusions({ document }: ParentVersion, exclusions: readonly PointExclusionInput[]): { own: PointExclusionInput[]; parent: PointExclusionInput[] } {
  const theirs = new Set(readingsOf(document).map(({ meterReadingId }) => meterReadingId));
  return { own: exclusions.filter(({ meterReadingId }) => !theirs.has(meterReadingId)), parent: exclusions.filter(({ meterReadingId }) => theirs.has(meterReadingId)) };
}

/**
 * Readings of the parent, then those of own runs: all count alike. What the parent left out stays out, with its reason.
 *
 * @throws ProblemError `STATE` where an own run holds readings that the parent has already
 */
export function refitPoints({ id, label, document }: ParentVersion, series: readonly SeriesForFit[], exclusions: { readonly own: readonly PointExclusionInput[]; readonly parent: readonly PointExclusionInput[] }): Points {
  const left = new Map(exclusions.parent.map(({ meterReadingId, reason }) => [meterReadingId, requireText('exclusions', reason)]));
  const taken = readingsOf(document).map((point) => {
    const exclusionReason = point.exclusionReason ?? left.get(point.meterReadingId) ?? null;
    return { ...point, residual: null, used: exclusionReason === null, exclusionReason, parentId: id };
  });
  if (series.length === 0) return taken;
  const own = pointsOf(series, exclusions.own);
  const known = new Set(taken.map(({ meterReadingId }) => meterReadingId));
  if (own.some(({ meterReadingId }) => known.has(meterReadingId))) throw new ProblemError('STATE', 'dryingRunIds', `${label} was fitted to readings of these runs already.`, 'Choose runs that it has not seen.');
  return [...taken, ...own];
}

/** What a refit left out of its parent's readings, beyond what the parent did. */
export function exclusionsOfParent(points: Points, parent: Points): PointExclusionInput[] {
  const used = new Set(parent.filter((point) => point.used).map(({ meterReadingId }) => meterReadingId));
  return points.flatMap(({ parentId, meterReadingId, exclusionReason }) => (parentId !== undefined && exclusionReason !== null && used.has(meterReadingId) ? [{ meterReadingId, reason: exclusionReason }] : []));
}
