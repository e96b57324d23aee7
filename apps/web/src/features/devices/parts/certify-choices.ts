import { formatPercentPlain } from '#libs/quantity';
import type { CertifyChoicesQuery } from '../../../generated/graphql.js';
import { decimalText } from '../../../ui/entry.js';
import type { Choice } from '../../../ui/fields.js';
import { fractionOfPercent } from '../../../ui/percent-text.js';
import { rwcInterval, unitText } from '../../../ui/quantity.js';

/** Approved and fresh ones first: they need no override. */
export function versionChoices(calibrations: CertifyChoicesQuery['calibrations']): Choice[] {
  return calibrations
    .flatMap(({ label, crop, versions }) => versions.map((version) => ({ ...version, ready: version.state === 'APPROVED' && !version.stale, name: `${label}, version ${version.version} (${crop.name}, RWC ${rwcInterval(version.rwcMin, version.rwcMax)}): ${version.state.toLowerCase()}${version.stale ? ', stale' : ''}` })))
    .filter(({ state }) => state !== 'WITHDRAWN')
    .sort((a, b) => Number(b.ready) - Number(a.ready))
    .map(({ id, name }) => ({ value: id, label: name }));
}

type Light = Pick<CertifyChoicesQuery['lightReferences'][number], 'id' | 'label' | 'site' | 'basis' | 'powerText' | 'powerUnit' | 'relativeSd' | 'days'>;

export const lightChoices = (lights: readonly Light[]): Choice[] => lights.map((light) => ({
  value: light.id,
  label: `${light.label}, ${light.site}: ${light.powerText} ${unitText(light.powerUnit)} ± ${formatPercentPlain(Number(light.relativeSd), 1)}, ${light.basis === 'MEASURED' ? 'measured' : 'assumed'}${light.days == null ? '' : ` on ${light.days} ${light.days === 1 ? 'day' : 'days'}`}`,
}));

export const sourceChoices = (sources: readonly { readonly id: string; readonly label: string; readonly resolution?: string | null; readonly unit: string }[]): Choice[] =>
  sources.map(({ id, label, resolution, unit }) => ({ value: id, label: `${label}${resolution ? `, steps of ${resolution} ${unit}` : ''}` }));

/** No number goes as zero, which the server refuses at its field with the remedy: JSON knows no NaN. */
export const fractionOrZero = (percent: string): number => {
  const fraction = fractionOfPercent(percent);
  return Number.isFinite(fraction) ? fraction : 0;
};

export const optionalFraction = (percent: string): number | null => (percent.trim() === '' ? null : fractionOrZero(percent));

export const stepOrNull = (text: string): number | null => {
  if (text.trim() === '') return null;
  const step = Number(decimalText(text));
  return Number.isFinite(step) ? step : 0;
};
