import { rwcInterval } from '../../../ui/quantity.js';

/**
 * The band that RWC lies in while its dry mass is only expected from other discs of the crop: two standard uncertainties to
 * both sides, about 95 %. Told as a band, so that nobody takes its middle for a result.
 */
export const provisionalBand = (rwc: number, u: number): string => rwcInterval(rwc - 2 * u, rwc + 2 * u);
