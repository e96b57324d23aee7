import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo } from 'react';
import { Link } from 'react-router';
import { formatNumber } from '#libs/quantity';
import type { CalibrationTableQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { rwcInterval } from '../../../ui/quantity.js';
import { NarrowField, SearchBar, SearchField, useInAddress } from '../../../ui/search.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { CalibrationTable } from '../documents.js';
import { SharedTable } from '../shared-documents.js';
import styles from './calibrations.module.css';
import { newLeafHalfWidth } from './half-width.js';
import type { SharedRow } from './shared-section.js';
import { NextCropSection } from './next-crop.js';
import { familyText, NewLeaf, VersionState } from './version-columns.js';

type Calibration = CalibrationTableQuery['calibrations'][number];
type Version = Calibration['versions'][number];

const SmallCalibrationPlot = lazy(async () => ({ default: (await import('../../../plots/study-plots.js')).SmallCalibrationPlot }));

/** One calibration, of this lab or shared with it, by what all of them are compared. */
interface Row {
  readonly id: string;
  readonly path: string;
  readonly title: string;
  readonly crop: string;
  /** The lab that shares it; null for one's own. */
  readonly giver: string | null;
  readonly below: string;
  readonly curve: Version['curve'];
  readonly state: Pick<Version, 'state' | 'stale'>;
  readonly findings: Version['findings'];
  readonly rwcMin: number;
  readonly rwcMax: number;
  readonly leafCount: number;
  readonly fittedAt: string;
  readonly certificates: number;
  readonly installations: number;
  readonly halfWidth: number | null;
  readonly slope: number | null;
}

const ownRow = ({ label, crop }: Calibration, version: Version): Row => ({
  id: version.id, path: `/calibrations/version/${version.id}`, title: `${label}, version ${version.version}`, crop: crop.name, giver: null,
  below: `${familyText(version)}, ${version.rig.label} version ${version.rig.version}`, curve: version.curve, state: version, findings: version.findings,
  rwcMin: version.rwcMin, rwcMax: version.rwcMax, leafCount: version.leafCount, fittedAt: version.recordedAt, certificates: version.certificates.length,
  installations: version.installations.length, halfWidth: newLeafHalfWidth(version.curve), slope: relativeSlope(version.curve),
});

const sharedRow = ({ id, giver, standing, statement, adopted }: SharedRow): Row => ({
  id, path: `/calibrations/shared/${id}`, title: `${statement.label}, version ${statement.version}`, crop: statement.cropName, giver: giver.name,
  below: familyText(statement), curve: statement.curve, state: standing, findings: [], rwcMin: statement.rwcMin, rwcMax: statement.rwcMax, leafCount: statement.leafCount,
  fittedAt: statement.fittedAt, certificates: adopted.reduce((sum, { certificates }) => sum + certificates.length, 0),
  installations: adopted.reduce((sum, { installations }) => sum + installations.length, 0), halfWidth: newLeafHalfWidth(statement.curve), slope: relativeSlope(statement.curve),
});

/** Relative slope at mid-range, 1/RWC: how strongly transmittance answers, on one ground for every family. */
function relativeSlope(curve: Row['curve']): number | null {
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
  range: { label: 'Widest RWC range', by: (a, b) => b.rwcMax - b.rwcMin - (a.rwcMax - a.rwcMin) },
  age: { label: 'Newest', by: (a, b) => b.fittedAt.localeCompare(a.fittedAt) },
  use: { label: 'Most used', by: (a, b) => b.certificates - a.certificates || b.installations - a.installations },
};

/** All calibrations one may see, across crops, side by side. */
export function CompareScreen() {
  const [search] = useInAddress('search');
  const [cropId] = useInAddress('crop');
  const [order] = useInAddress('order');
  const [whose] = useInAddress('whose');
  const { data: others, refetch: refetchOthers } = useQuery(SharedTable);
  useLive(() => refetchOthers(), ({ kind }) => kind === 'notice');
  const { data, error, refetch } = useQuery(CalibrationTable, { variables: { cropId: cropId || null } });
  useLive(() => refetch(), ({ kind }) => ['calibration', 'calibration_version', 'calibration_scope', 'signature', 'amendment', 'threshold_certificate', 'installation'].includes(kind));
  const rows = useMemo(() => {
    const own = (data?.calibrations ?? []).flatMap((calibration): Row[] => {
      const version = countingOf(calibration);
      return version ? [ownRow(calibration, version)] : [];
    });
    // A crop is chosen among one's own: those of other labs go by its name.
    const cropName = data?.crops.find(({ id }) => id === cropId)?.name;
    const shared = (others?.sharedCalibrations ?? []).map(sharedRow).filter(({ crop }) => !cropName || crop.toLowerCase() === cropName.toLowerCase());
    return [...(whose === 'others' ? [] : own), ...(whose === 'own' ? [] : shared)]
      .filter(({ title, crop, giver }) => `${title} ${crop} ${giver ?? ''}`.toLowerCase().includes(search.toLowerCase()))
      .sort((orders[order] ?? orders['']!).by);
  }, [data, others, search, order, whose, cropId]);
  const back = <Back to="/calibrations">Calibrations</Back>;
  return (
    <Page title="Compare calibrations" margin={back} lead="Across crops and labs: of each calibration its approved version, or the newest where none is approved, and what other labs share with yours.">
      <Strip>
        <SearchBar>
          <SearchField label="Search" hint="Calibration or crop" />
          <NarrowField name="crop" label="Crop" all="All crops" choices={(data?.crops ?? []).map(({ id, name }) => ({ value: id, label: name }))} />
          <NarrowField name="whose" label="Whose" all="Ours and shared with us" choices={[{ value: 'own', label: 'Ours' }, { value: 'others', label: 'Shared with us' }]} />
          <NarrowField name="order" label="Order" all={orders['']!.label} choices={Object.entries(orders).filter(([value]) => value !== '').map(([value, { label }]) => ({ value, label }))} />
        </SearchBar>
      </Strip>
      {!data ? <Strip>{error ? <Failed what="the calibrations" again={() => void refetch()} /> : <Waiting what="the calibrations" />}</Strip> : null}
      {data && rows.length === 0 ? <Strip><Empty title="No calibration with a version is like that." /></Strip> : null}
      {rows.length > 0 ? (
        <>
          <Section title="Side by side" lead="One new leaf: the 95 % half-width at mid-range, RWC points. Slope: relative change of transmittance per unit of RWC at mid-range."><Table caption="Calibrations side by side" columns={columns} rows={rows} keyOf={({ id }) => id} /></Section>
          <Section title="Curves" lead="All on the same scales, RWC in per cent against transmittance: the mean line, and the band for one new leaf."><Multiples rows={rows} /></Section>
          <NextCropSection />
        </>
      ) : null}
    </Page>
  );
}

const columns = [
  { head: 'Calibration', cell: ({ path, title, crop, below, giver }: Row) => <><Link to={path}>{title}</Link><br />{crop}, {below}{giver ? <><br />shared by {giver}</> : null}</> },
  { head: 'State', cell: ({ state, findings }: Row) => <><VersionState version={state} />{findings.length > 0 ? <><br />{findings.map(({ message }) => message).join(' ')}</> : null}</> },
  { head: 'One new leaf', number: true, cell: (row: Row) => <NewLeaf version={row} /> },
  { head: 'Slope', number: true, cell: ({ slope }: Row) => (slope === null ? '–' : formatNumber(slope, 2)) },
  { head: 'RWC range', number: true, cell: ({ rwcMin, rwcMax }: Row) => rwcInterval(rwcMin, rwcMax) },
  { head: 'Leaves', number: true, cell: ({ leafCount }: Row) => leafCount },
  { head: 'Fitted', cell: ({ fittedAt }: Row) => <Moment at={fittedAt} /> },
  { head: 'In use', number: true, cell: ({ certificates, installations }: Row) => `${counted(certificates, 'certificate')}, ${counted(installations, 'installation')}` },
] as const;

const counted = (count: number, word: string): string => `${count} ${word}${count === 1 ? '' : 's'}`;

const MULTIPLES_MOST = 24;

function Multiples({ rows }: { readonly rows: readonly Row[] }) {
  const shown = rows.slice(0, MULTIPLES_MOST);
  const { rwcs, transmittances } = useMemo(() => {
    const curves = rows.slice(0, MULTIPLES_MOST).flatMap(({ curve }) => curve);
    const span = (values: readonly number[]): [number, number] => [Math.min(...values), Math.max(...values)];
    return { rwcs: span(curves.map(({ rwc }) => rwc)), transmittances: span(curves.flatMap(({ transmittance, newLeafLow, newLeafHigh }) => [transmittance, newLeafLow ?? transmittance, newLeafHigh ?? transmittance])) };
  }, [rows]);
  return (
    <>
      <div className={styles.multiples}>
        {shown.map(({ id, crop, title, giver, curve }) => (
          <div key={id}>
            <h3>{crop}: {title}{giver ? `, ${giver}` : ''}</h3>
            <Suspense fallback={<Waiting what="the drawing" />}><SmallCalibrationPlot label={`${title}, transmittance against RWC`} curve={curve} rwcs={rwcs} transmittances={transmittances} /></Suspense>
          </div>
        ))}
      </div>
      {rows.length > MULTIPLES_MOST ? <p>The first {MULTIPLES_MOST} of {rows.length} are drawn.</p> : null}
    </>
  );
}
