import { bandShift, bellBand } from '#libs/optics';
import { formatPercentPlain } from '#libs/quantity';
import type { Flag } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import type { CalibrationVersion } from '../calibration/calibration.entity.js';
import type { LightReference } from '../certificate/certificate.entity.js';
import { Rig } from '../instrument/instrument.entity.js';
import { Spectrum } from '../spectrum/spectrum.entity.js';
import { waterOverlapOf } from '../spectrum/weighting.js';
import type { AbsorptionBand } from './passport.entity.js';

/** A trip moved by so much by the band alone is told, and asks for an answer. Common practice, no source. */
const TOLD_RWC = 0.01;
const ASKED_RWC = 0.05;

/** What the band of a unit says against a calibration and a light reference made for another one. */
export async function bandObjections(
  tx: Tx, band: AbsorptionBand, calibration: Pick<CalibrationVersion, 'rigId'>, light: Pick<LightReference, 'bandCentreNm'>, targetRwc: number,
): Promise<Flag[]> {
  const rig = await rowById(tx, Rig, calibration.rigId);
  const objections: Flag[] = [];
  const whose = band.deviceLotId ? 'the units of the lot take' : 'the unit takes';
  for (const [what, centre] of [['The calibration’s rig', rig?.bandCentreNm], ['The light reference', light.bandCentreNm]] as const) {
    if (centre && Math.abs(Number(centre) - Number(band.centreNm)) > Number(band.widthNm) / 2) {
      objections.push({ code: 'BAND_MISMATCH', severity: 'ASK', message: `${what} is for ${Number(centre)} nm, but ${whose} light up at ${Number(band.centreNm)} nm ± ${Number(band.widthNm) / 2} nm: transmittance there is another.` });
    }
  }
  const spectrum = band.spectrumId ? await rowById(tx, Spectrum, band.spectrumId) : null;
  if (spectrum && rig) objections.push(...shiftOf(spectrum, rig, targetRwc));
  return objections;
}

/** A whole spectrum tells more than its centre: how far the unit trips off, looking through its own band at a leaf that was calibrated through the rig's. */
function shiftOf({ label, points }: Spectrum, rig: Rig, targetRwc: number): Flag[] {
  const shift = bandShift(points, bellBand(Number(rig.bandCentreNm), Number(rig.bandWidthNm)), targetRwc);
  if (!shift || Math.abs(shift.shiftRwc) < TOLD_RWC) return [];
  const water = waterOverlapOf(points);
  return [{
    code: 'BAND_MOVES_TRIP',
    severity: Math.abs(shift.shiftRwc) < ASKED_RWC ? 'WARN' : 'ASK',
    message: `Through its own band (${label}) a model leaf lets ${formatPercentPlain(Math.abs(shift.ratio - 1), 1)} ${shift.ratio > 1 ? 'more' : 'less'} light through than through the band of rig ${rig.label}: by that alone the unit would trip ${formatPercentPlain(Math.abs(shift.shiftRwc), 1).replace(/ %$/, '')} points of RWC ${shift.shiftRwc > 0 ? 'wetter' : 'drier'} than certified.${water === null ? '' : ` Its band lies over that of water by ${formatPercentPlain(water, 0)}.`}`,
  }];
}
