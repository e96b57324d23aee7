import type { Flag } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { Calibration, CalibrationVersion } from '../calibration/calibration.entity.js';
import { Rig } from '../instrument/instrument.entity.js';
import { Crop } from '../sample/sample.entity.js';
import { approvalStates } from '../signature/signature.repository.js';
import { CalibrationAdoption } from './share.entity.js';
import { isGrantedStill, standingsOf } from './share.repository.js';

/**
 * What stands against using a version that was taken over, for what happened at its origin since, and for how its origin
 * differs from here. One withdrawn there is withdrawn here: its state says so. Of a refit, what stands against its parent.
 */
export async function originFindings(tx: Tx, version: CalibrationVersion): Promise<Flag[]> {
  if (version.document.refitOf) return parentFindings(tx, version.document.refitOf);
  if (!version.calibrationAdoptionId) return [];
  const adoption = (await rowById(tx, CalibrationAdoption, version.calibrationAdoptionId))!;
  const { originLab, originLabId, shareId, document: stated } = adoption;
  const found: Flag[] = [];
  const tell = (code: string, severity: Flag['severity'], message: string): void => { found.push({ code, severity, message }); };
  const standing = (await standingsOf(tx, [shareId])).get(shareId);
  if (adoption.source === 'SERVER' && standing?.labId === originLabId) {
    const { stale, state, reason, since } = standing;
    if (stale) tell('ORIGIN_STALE', 'ASK', `At ${originLab} a fact that this calibration version rests on was amended on ${day(since)}${reason ? `: “${reason}”` : ''}.`);
    if (state === 'SUPERSEDED') tell('ORIGIN_SUPERSEDED', 'WARN', `${originLab} has approved a newer version since.`);
    if (!(await isGrantedStill(tx, originLabId, shareId))) tell('ORIGIN_GRANT_ENDED', 'ASK', `${originLab} shares this calibration version no longer: look whether its licence still covers the use. ${adoption.licence}`);
  }
  const rig = (await rowById(tx, Rig, version.rigId))!;
  const apart = Math.abs(Number(rig.bandCentreNm) - Number(stated.bandCentreNm));
  if (apart > Number(stated.bandWidthNm) / 2) {
    tell('ORIGIN_BAND', 'ASK', `It was made at ${originLab} in a band centred at ${Number(stated.bandCentreNm)} nm, ${rig.label} reads at ${Number(rig.bandCentreNm)} nm: transmittance there is another.`);
  }
  const calibration = (await rowById(tx, Calibration, version.calibrationId))!;
  const crop = (await rowById(tx, Crop, calibration.cropId))!;
  if (!sameCrop(crop, stated)) tell('ORIGIN_CROP', 'WARN', `It was made at ${originLab} for ${stated.cropName}, and serves ${crop.name} here: a few leaves of one’s own tell whether it holds.`);
  return found;
}

/** A refit stands on its own readings and judgement too: what befell its parent asks for a reason, and ends nothing. */
async function parentFindings(tx: Tx, { id, label }: { readonly id: string; readonly label: string }): Promise<Flag[]> {
  const parent = (await rowById(tx, CalibrationVersion, id))!;
  const state = (await approvalStates(tx, 'calibration_version', [id])).get(id);
  const withdrawn: Flag[] = state === 'WITHDRAWN' ? [{ code: 'PARENT_WITHDRAWN', severity: 'ASK', message: `${label}, whose readings this version began with, was withdrawn.` }] : [];
  return [...withdrawn, ...(await originFindings(tx, parent))];
}

const day = (moment: Date): string => moment.toISOString().slice(0, 10);

const sameCrop = (own: Crop, { cropName, scientificName }: { readonly cropName: string; readonly scientificName: string | null }): boolean =>
  own.scientificName && scientificName ? own.scientificName.toLowerCase() === scientificName.toLowerCase() : own.name.toLowerCase() === cropName.toLowerCase();
