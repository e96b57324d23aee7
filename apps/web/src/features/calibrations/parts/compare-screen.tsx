import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo } from 'react';
import { Link } from 'react-router';
import { formatNumber } from '#libs/quantity';
import type { CalibrationTableQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { NarrowField, SearchBar, SearchField, useInAddress } from '../../../ui/search.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { CalibrationTable } from '../documents.js';
import styles from './calibrations.module.css';
import { newLeafHalfWidth } from './half-width.js';
import { NextCropSection } from './next-crop.js';
import { familyText, NewLeaf, rangeText, VersionState } from './version-columns.js';

type Calibration = CalibrationTableQuery['calibrations'][number];
type Version = Calibration['versions'][number];

const SmallCalibrationPlot = lazy(async () => ({ default: (await import('../../../plots/study-plots.js')).SmallCalibrationPlot }));

interface Row {
  readonly calibration: Calibration;
  readonly version: Version;
  readonly halfWidth: number | null;
  readonly slope: number | null;
}

/** Relative slope at mid-range, 1/RWC: how strongly transmittance answers, on one ground for every family. */
function relativeSlope(curve: Version['curve']): number | null {
  const middle = Math.floor(curve.length / 2);
  const [before, at, after] = [curve[middle - 1], curve[middle], curve[middle + 1]];
  return before && at && after ? (after.transmittance - before.transmittance) / (after.rwc - before.rwc) / at.transmittance : null;
}

/** Of each calibration the version that counts: the newest approved one, else the newest that is not withdrawn, else the newest. */
const countingOf = ({ versions }: Calibration): Version | undefined =>
  versions.find(({ state }) => state === 'APPROVED') ?? versions.find(({ state }) => state !== 'WITHDRAWN') ?? versions[0];

const low = Number.POSITIVE_INFINITY;
const orders: Readonly<Record<string, { readonly label: string; readonly by: (a: Row, b: Row) => number }>> = {
  '': { label: 'Narrowest for a new leaf', by: (a, b) => (a.halfWidth ?? low) - (b.halfWidth ?? low) },
  slope: { label: 'Steepest', by: (a, b) => Math.abs(b.slope ?? 0) - Math.abs(a.slope ?? 0) },
  range: { label: 'Widest RWC range', by: (a, b) => b.version.rwcMax - b.version.rwcMin - (a.version.rwcMax - a.version.rwcMin) },
  age: { label: 'Newest', by: (a, b) => b.version.recordedAt.localeCompare(a.version.recordedAt) },
  use: { label: 'Most used', by: (a, b) => b.version.certificates.length - a.version.certificates.length || b.version.installations.length - a.version.installations.length },
};

/** All calibrations one may see, across crops, side by side. */
export function CompareScreen() {
  const [search] = useInAddress('search');
  const [cropId] = useInAddress('crop');
  const [order] = useInAddress('order');
  const { data, error, refetch } = useQuery(CalibrationTable, { variables: { cropId: cropId || null } });
  useLive(() => refetch(), ({ kind }) => ['calibration', 'calibration_version', 'calibration_scope', 'signature', 'amendment', 'threshold_certificate', 'installation'].includes(kind));
  const rows = useMemo(() => (data?.calibrations ?? []).flatMap((calibration): Row[] => {
    const version = countingOf(calibration);
    const words = `${calibration.label} ${calibration.crop.name}`.toLowerCase();
    return version && words.includes(search.toLowerCase()) ? [{ calibration, version, halfWidth: newLeafHalfWidth(version.curve), slope: relativeSlope(version.curve) }] : [];
  }).sort((orders[order] ?? orders['']!).by), [data, search, order]);
  const back = <Back to="/calibrations">Calibrations</Back>;
  return (
    <Page title="Compare calibrations" margin={back} lead="Across crops: of each calibration its approved version, or the newest where none is approved.">
      <Strip>
        <SearchBar>
          <SearchField label="Search" hint="Calibration or crop" />
          <NarrowField name="crop" label="Crop" all="All crops" choices={(data?.crops ?? []).map(({ id, name }) => ({ value: id, label: name }))} />
          <NarrowField name="order" label="Order" all={orders['']!.label} choices={Object.entries(orders).filter(([value]) => value !== '').map(([value, { label }]) => ({ value, label }))} />
        </SearchBar>
      </Strip>
      {!data ? <Strip>{error ? <Failed what="the calibrations" again={() => void refetch()} /> : <Waiting what="the calibrations" />}</Strip> : null}
      {data && rows.length === 0 ? <Strip><Empty title="No calibration with a version is like that." /></Strip> : null}
      {rows.length > 0 ? (
        <>
          <Section title="Side by side" lead="One new leaf: the 95 % half-width at mid-range, RWC points. Slope: relative change of transmittance per unit of RWC at mid-range."><Table caption="Calibrations side by side" columns={columns} rows={rows} keyOf={({ version }) => version.id} /></Section>
          <Section title="Curves" lead="All on the same scales, RWC in per cent against transmittance: the mean line, and the band for one new leaf."><Multiples rows={rows} /></Section>
          <NextCropSection />
        </>
      ) : null}
    </Page>
  );
}

const columns = [
  { head: 'Calibration', cell: ({ calibration, version }: Row) => <><Link to={`/calibrations/version/${version.id}`}>{calibration.label}, version {version.version}</Link><br />{calibration.crop.name}, {familyText(version)}, {version.rig.label} version {version.rig.version}</> },
  { head: 'State', cell: ({ version }: Row) => <><VersionState version={version} />{version.findings.length > 0 ? <><br />ended: {version.findings.map(({ message }) => message).join(' ')}</> : null}</> },
  { head: 'One new leaf', number: true, cell: ({ version }: Row) => <NewLeaf version={version} /> },
  { head: 'Slope', number: true, cell: ({ slope }: Row) => (slope === null ? '–' : formatNumber(slope, 2)) },
  { head: 'RWC range', number: true, cell: ({ version }: Row) => rangeText(version) },
  { head: 'Leaves', number: true, cell: ({ version }: Row) => version.leafCount },
  { head: 'Fitted', cell: ({ version }: Row) => <Moment at={version.recordedAt} /> },
  { head: 'In use', number: true, cell: ({ version }: Row) => `${counted(version.certificates.length, 'certificate')}, ${counted(version.installations.length, 'installation')}` },
] as const;

const counted = (count: number, word: string): string => `${count} ${word}${count === 1 ? '' : 's'}`;

const MULTIPLES_MOST = 24;

function Multiples({ rows }: { readonly rows: readonly Row[] }) {
  const shown = rows.slice(0, MULTIPLES_MOST);
  const { rwcs, transmittances } = useMemo(() => {
    const curves = rows.slice(0, MULTIPLES_MOST).flatMap(({ version }) => version.curve);
    const span = (values: readonly number[]): [number, number] => [Math.min(...values), Math.max(...values)];
    return { rwcs: span(curves.map(({ rwc }) => rwc)), transmittances: span(curves.flatMap(({ transmittance, newLeafLow, newLeafHigh }) => [transmittance, newLeafLow ?? transmittance, newLeafHigh ?? transmittance])) };
  }, [rows]);
  return (
    <>
      <div className={styles.multiples}>
        {shown.map(({ calibration, version }) => (
          <div key={version.id}>
            <h3>{calibration.crop.name}: {calibration.label}</h3>
            <Suspense fallback={<Waiting what="the drawing" />}><SmallCalibrationPlot label={`${calibration.label}, transmittance against RWC`} curve={version.curve} rwcs={rwcs} transmittances={transmittances} /></Suspense>
          </div>
        ))}
      </div>
      {rows.length > MULTIPLES_MOST ? <p>The first {MULTIPLES_MOST} of {rows.length} are drawn.</p> : null}
    </>
  );
}
