import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo, useState } from 'react';
import { Link, useParams } from 'react-router';
import { formatNumber } from '#libs/quantity';
import type { CalibrationVersionPageQuery } from '../../../generated/graphql.js';
import { useHasRole } from '../../../app/session.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { recordPath, threadPath } from '../../../ui/paths.js';
import { Rwc, rwcInterval, Uncertain } from '../../../ui/quantity.js';
import { SignatureList, SignForm } from '../../../ui/signatures.js';
import { ApprovalMark, InstallationMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Flags, Notice, Waiting } from '../../../ui/words.js';
import { CalibrationVersionPage } from '../documents.js';
import { Credits } from './credits.js';
import { families, parameterWord, whyNotTried } from './families.js';
import { ReadBackPart } from './read-back.js';
import type { ReadBackSeen } from './read-back.js';
import { SaveTables } from './save-tables.js';
import { ScopeSection } from './scope-section.js';
import { SharingSections } from './share-section.js';
import { TransferStudiesSection } from './transfer-studies.js';
import { NewLeaf } from './version-columns.js';

type Version = NonNullable<CalibrationVersionPageQuery['calibrationVersion']>;
type Certificate = Version['certificates'][number];
type Installation = Version['installations'][number];

const CalibrationPlot = lazy(async () => ({ default: (await import('../../../plots/calibration-plot.js')).CalibrationPlot }));
const ResidualPlot = lazy(async () => ({ default: (await import('../../../plots/residual-plot.js')).ResidualPlot }));

/** One fit, frozen: how far it holds, what it was made from, who stands for it. */
export function VersionScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(CalibrationVersionPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['signature', 'amendment', 'threshold_certificate', 'calibration_scope', 'installation', 'instrument_check', 'rig', 'notice'].includes(kind));
  const back = <Back to="/calibrations">Calibrations</Back>;
  if (!data) return <Page title="Calibration version" margin={back}><Strip>{error ? <Failed what="this calibration version" again={() => void refetch()} /> : <Waiting what="the calibration version" />}</Strip></Page>;
  if (!data.calibrationVersion) return <Page title="Calibration version" margin={back}><Strip><Empty title="No calibration version of this lab has this address." /></Strip></Page>;
  return <OneVersion version={data.calibrationVersion} again={() => void refetch()} />;
}

function OneVersion({ version, again }: { readonly version: Version; readonly again: () => void }) {
  const { calibration, rig, family } = version;
  const mayStudy = useHasRole('RESEARCHER', 'MANAGER');
  const [read, setRead] = useState<ReadBackSeen | null>(null);
  const title = `${calibration.label}, version ${version.version}`;
  const points = useMemo(() => version.points.filter(({ beside }) => !beside).map(({ leaf, ...point }) => ({ ...point, leaf: leaf.label })), [version.points]);
  const residuals = useMemo(() => points.flatMap(({ leaf, residual }) => (residual == null ? [] : [{ leaf, residual }])), [points]);
  const parentLeaves = new Set(version.points.filter(({ used, ofParent }) => used && ofParent).map(({ leaf }) => leaf.id)).size;
  const whyNot = whyNotTried(version);
  const subject = { ...version, kind: 'calibration_version' as const, word: 'calibration version' };
  return (
    <Page title={title} margin={<><Back to={`/calibrations/${calibration.id}`}>{calibration.label}</Back><br /><ApprovalMark state={version.state} /></>}
      lead={<>{calibration.crop.name}, {families[family].word} ({families[family].formula}), {version.leafCount} leaves, RWC {rwcInterval(version.rwcMin, version.rwcMax)}.</>}
      actions={<>{mayStudy && !whyNot ? <ActionLink to={`/calibrations/version/${version.id}/transfer`}>Try it on other leaves</ActionLink> : null}<SaveTables kind="calibration_version" id={version.id} /><ActionLink to={threadPath('calibration_version', version.id)}>Follow the thread</ActionLink><ActionLink to={threadPath('calibration_version', version.id, 'up')}>What rests on it</ActionLink></>}>
      {version.state === 'WITHDRAWN' ? (
        <Strip><Notice tone="alarm" title="This version is withdrawn: no new certificate can rest on it.">{version.signatures.some(({ meaning }) => meaning === 'WITHDRAWN') ? 'The reason stands at its signatures.' : 'The lab it was taken over from withdrew it; the reason stands where it comes from.'} What rests on it is listed below.</Notice></Strip>
      ) : null}
      {version.stale ? (
        <Strip><Notice tone="ask" title="This version is stale: a fact it rests on was amended since."><Link to={`${threadPath('calibration_version', version.id)}&only=exceptions`}>See in its thread what was amended</Link>, compute the RWC anew where it changed, and fit a new version.</Notice></Strip>
      ) : null}
      <Section title="How far it holds" lead="The narrow band is the mean line; the wide one is where a new leaf may lie. A trip point is set for one leaf: the wide band is the one that counts.">
        <Suspense fallback={<Waiting what="the drawing" />}><CalibrationPlot label={`Transmittance against RWC, ${title}`} points={points} curve={version.curve} readBack={read} /></Suspense>
        <Facts rows={[
          { name: 'One new leaf, 95 %, mid-range', value: <NewLeaf version={version} /> },
          { name: 'SD between leaves', value: version.betweenLeafSdRwc == null ? 'not known: under three leaves' : `${formatNumber(100 * version.betweenLeafSdRwc, 1)} RWC points` },
          { name: `Residual SD, on ${families[family].scale}`, value: formatNumber(version.residualSd, 5) },
          { name: 'Degrees of freedom', value: formatNumber(version.degreesOfFreedom, 1) },
          ...version.parameters.map(({ name, value, standardError }) => ({ name: parameterWord(name), value: <Uncertain value={value} u={standardError} unit="" /> })),
        ]} />
        {version.adjustedFrom.length > 0 ? (
          <p>Adjusted to own leaves: from {version.adjustedFrom.map(({ kind, id, label }, i) => <span key={id}>{i > 0 ? ' and ' : ''}<Link to={recordPath(kind, id)}>{label}</Link></span>)}. Readings of the {version.besideLeafCount} leaves of the calibration it came from carry its slope and spread; they are not drawn.</p>
        ) : null}
        {version.refitOf ? (
          <p>Refitted from <Link to={recordPath(version.refitOf.kind, version.refitOf.id)}>{version.refitOf.label}</Link>: it began with {parentLeaves} {parentLeaves === 1 ? 'leaf' : 'leaves'} of that version, which count as the own ones do.</p>
        ) : null}
        <Flags flags={version.remarks} />
      </Section>
      {version.credits.length > 0 && (version.refitOf || points.length > 0) ? <Section title="On whose work it rests" lead="These terms hold for this version too, and go along when it is shared."
        actions={mayStudy && points.length > 0 && version.state !== 'WITHDRAWN' ? <ActionLink to={`/calibrations/${calibration.id}/fit?refit=${version.id}`}>Refit it with own readings</ActionLink> : null}><Credits credits={version.credits} /></Section> : null}
      <Section title="Read RWC back" lead="What a transmittance would mean by this version."><ReadBackPart versionId={version.id} onRead={setRead} /></Section>
      {points.length === 0 ? <Section title="Readings"><p>The lab that made it keeps them: what was taken over is the fit, with how leaves differ.</p></Section> : <Section title="Residuals by leaf" lead="Each leaf’s own effect is taken off: this is the scatter within leaves.">
        <Suspense fallback={<Waiting what="the drawing" />}><ResidualPlot label={`Residuals by leaf, ${title}`} scale={families[family].scale} points={residuals} /></Suspense>
        <PointTables version={version} />
      </Section>}
      <TransferStudiesSection versionId={version.id} mayStudy={mayStudy} whyNot={whyNot} />
      <ScopeSection version={version} again={again} />
      <Section title="Signatures"><SignatureList subject={subject} /><SignForm subject={subject} onSigned={again} /></Section>
      <SharingSections version={version} />
      <Section title="Certificates that rest on it">
        {version.certificates.length === 0 ? <Empty title="No certificate rests on this version." /> : <Table caption={`Certificates that rest on ${title}`} columns={certificateColumns} rows={version.certificates} keyOf={({ id }) => id} />}
      </Section>
      <Section title="Installations that rest on it" lead="A withdrawal of this version is told to everybody who made or signed what stands here and above.">
        {version.installations.length === 0 ? <Empty title="No installation rests on this version." /> : <Table caption={`Installations that rest on ${title}`} columns={installationColumns} rows={version.installations} keyOf={({ id }) => id} />}
      </Section>
      <Section title="What it was made with">
        <Facts rows={[
          { name: 'Rig', value: `${rig.label}, version ${rig.version}` },
          { name: 'Light', value: `${rig.source}, ${rig.bandCentreNm} nm, ${rig.bandWidthNm} nm wide` },
          { name: 'Code version', value: <code>{version.codeVersion}</code> },
          { name: 'Content, SHA-256', value: <code>{version.contentHash}</code> },
        ]} />
      </Section>
    </Page>
  );
}

const certificateColumns = [
  { head: 'Certificate', cell: ({ id, deviceUnit }: Certificate) => <Link to={recordPath('threshold_certificate', id)}>unit {deviceUnit.label}</Link> },
  { head: 'State', cell: ({ state }: Certificate) => <ApprovalMark state={state} /> },
  { head: 'Target RWC', number: true, cell: ({ targetRwc }: Certificate) => <Rwc value={targetRwc} /> },
  { head: 'Bias, V', number: true, cell: ({ biasV }: Certificate) => biasV },
  { head: 'Valid until', cell: ({ validUntil }: Certificate) => <Moment at={validUntil} /> },
] as const;

const installationColumns = [
  { head: 'Installation', cell: ({ id, deviceUnit }: Installation) => <Link to={recordPath('installation', id)}>unit {deviceUnit.label}</Link> },
  { head: 'State', cell: ({ state }: Installation) => <InstallationMark state={state} /> },
  { head: 'Where', cell: ({ site, zone }: Installation) => `${site}, zone ${zone}` },
  { head: 'Armed', cell: ({ armedAt }: Installation) => <Moment at={armedAt} /> },
] as const;

interface LeafRow {
  readonly id: string;
  readonly label: string;
  /** Of another lab: it has no page here. */
  readonly foreign: boolean;
  readonly points: Version['points'];
}

const spread = (points: Version['points']): string => {
  const rwc = points.map((point) => point.rwc);
  return rwcInterval(Math.min(...rwc), Math.max(...rwc));
};

const leafColumns = [
  { head: 'Leaf', cell: ({ id, label, foreign }: LeafRow) => (foreign ? label : <Link to={recordPath('leaf', id)}>{label}</Link>) },
  { head: 'Readings used', number: true, cell: ({ points }: LeafRow) => points.filter(({ used }) => used).length },
  { head: 'Left out', number: true, cell: ({ points }: LeafRow) => points.filter(({ used }) => !used).length },
  { head: 'RWC range', number: true, cell: ({ points }: LeafRow) => spread(points) },
] as const;

/** Taken over from another lab, itself or with the version that this one was refitted from. */
const isForeign = ({ credits, refitOf, adjustedFrom }: Version, { ofParent }: Version['points'][number]): boolean =>
  credits.length > 0 && (refitOf ? ofParent : adjustedFrom.length === 0);

/** The same in numbers: leaf by leaf, and every point that was left out with its reason. */
function PointTables({ version }: { readonly version: Version }) {
  const own = version.points.filter(({ beside }) => !beside);
  const leaves = [...new Map(own.map(({ leaf }) => [leaf.id, leaf.label]))].map(([id, label]): LeafRow => ({ id, label, foreign: isForeign(version, own.find(({ leaf }) => leaf.id === id)!), points: own.filter(({ leaf }) => leaf.id === id) }));
  const out = version.points.filter(({ used }) => !used);
  return (
    <>
      <Table caption="Readings by leaf" columns={leafColumns} rows={leaves} keyOf={({ id }) => id} />
      {out.length === 0 ? <p>No reading was left out.</p> : (
        <>
          <h3>Left out</h3>
          <Table caption="Readings left out, with the reason" rows={out} keyOf={({ meterReadingId }) => meterReadingId} columns={[
            { head: 'Leaf', cell: (point: Version['points'][number]) => (isForeign(version, point) ? point.leaf.label : <Link to={recordPath('leaf', point.leaf.id)}>{point.leaf.label}</Link>) },
            { head: 'RWC', number: true, cell: ({ rwc, uRwc }: Version['points'][number]) => <Rwc value={rwc} u={uRwc} /> },
            { head: 'Transmittance', number: true, cell: ({ transmittance, uTransmittance }: Version['points'][number]) => <Uncertain value={transmittance} u={uTransmittance} unit="" /> },
            { head: 'Reason', cell: ({ exclusionReason }: Version['points'][number]) => exclusionReason ?? '' },
            { head: 'Reading', cell: (point: Version['points'][number]) => (isForeign(version, point) ? 'of the lab it came from' : <Link to={threadPath('meter_reading', point.meterReadingId, 'up')}>Thread up</Link>) },
          ]} />
        </>
      )}
    </>
  );
}
