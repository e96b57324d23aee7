import { Link } from 'react-router';
import { formatNumber } from '#libs/quantity';
import type { CalibrationVersionSummaryFragment } from '../../../generated/graphql.js';
import { rwcInterval } from '../../../ui/quantity.js';
import { ApprovalMark, StaleMark } from '../../../ui/state.js';
import { families } from './families.js';
import { newLeafHalfWidth } from './half-width.js';

export type VersionSummary = CalibrationVersionSummaryFragment;

/** "± 19 points", in RWC points; what a reader should look at first. */
export function NewLeaf({ version }: { readonly version: Pick<VersionSummary, 'curve'> }) {
  const half = newLeafHalfWidth(version.curve);
  return half === null ? <>not known: under three leaves</> : <>± {formatNumber(100 * half, half < 0.1 ? 1 : 0)} points</>;
}

export const VersionState = ({ version }: { readonly version: Pick<VersionSummary, 'state' | 'stale'> }) => <><ApprovalMark state={version.state} />{version.stale ? <><br /><StaleMark /></> : null}</>;

export const VersionLink = ({ version }: { readonly version: VersionSummary }) => <Link to={`/calibrations/version/${version.id}`}>version {version.version}</Link>;

export const rangeText = (version: VersionSummary): string => rwcInterval(version.rwcMin, version.rwcMax);

export const familyText = (version: Pick<VersionSummary, 'family'>): string => families[version.family].word;
