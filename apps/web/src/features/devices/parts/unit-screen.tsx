import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo } from 'react';
import { Link, useParams } from 'react-router';
import { formatNumber } from '#libs/quantity';
import { useHasRole } from '../../../app/session.js';
import type { DeviceUnitPageQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { AsEntered, Rwc, rwcInterval, Uncertain } from '../../../ui/quantity.js';
import { AmendedMark, ApprovalMark, DeviceUnitMark, InstallationMark, StaleMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Flags, Notice, RawLine, Waiting } from '../../../ui/words.js';
import { DeviceUnitPage } from '../documents.js';
import { BiasCaution } from './bias-caution.js';
import { FileLink } from './file-link.js';
import { Folded } from './folded.js';
import { ExponentTable, PassportParts, SweepsTogether } from './passport-parts.js';
import { RetireEntry, retirementWord } from './record-passport.js';
import { FitCurve, SweepEntry, TripTestEntry } from './record-tests.js';

type Unit = NonNullable<DeviceUnitPageQuery['deviceUnit']>;
type TripTest = Unit['tripTests'][number];
type Certificate = Unit['certificates'][number];
type Installation = Unit['installations'][number];
type Curve = NonNullable<Unit['curve']>;

const SweepPlot = lazy(async () => ({ default: (await import('../../../plots/sweep-plot.js')).SweepPlot }));
const ThresholdPlot = lazy(async () => ({ default: (await import('../../../plots/threshold-plot.js')).ThresholdPlot }));

/** The passport of one unit: its tests, its curve, its certificates, where it is. */
export function UnitScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(DeviceUnitPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['bias_sweep', 'trip_test', 'bias_threshold_curve', 'threshold_certificate', 'installation', 'signature', 'amendment', 'unit_retirement', 'reset_pulse', 'cycle_count', 'chopped_run', 'temperature_run'].includes(kind));
  const back = <Back to="/devices">Devices</Back>;
  if (!data) return <Page title="Unit" margin={back}><Strip>{error ? <Failed what="this unit" again={() => void refetch()} /> : <Waiting what="the unit" />}</Strip></Page>;
  if (!data.deviceUnit) return <Page title="Unit" margin={back}><Strip><Empty title="No unit of this lab has this address." /></Strip></Page>;
  return <OneUnit unit={data.deviceUnit} again={() => void refetch()} />;
}

function OneUnit({ unit, again }: { readonly unit: Unit; readonly again: () => void }) {
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  return (
    <Page title={`Unit ${unit.label}`} margin={<><Back to="/devices">Devices</Back><br /><DeviceUnitMark state={unit.state} /></>} lead={<>Passport of a unit of <Link to={`/devices/lot/${unit.lot.id}`}>{unit.lot.label}</Link>. Registered <Moment at={unit.recordedAt} /> by {unit.recordedBy.displayName}.</>}
      actions={<>{mayRecord && unit.curve && !unit.retirement ? <ActionLink kind="strong" to={`/devices/${unit.id}/certify`}>Issue a certificate</ActionLink> : null}<ActionLink to={threadPath('device_unit', unit.id, 'up')}>What rests on it</ActionLink><ActionLink to={`/samples/labels?kind=DEVICE_UNIT&ids=${unit.id}`}>Print label</ActionLink><Action kind="plain" onClick={() => window.print()}>Print</Action><a href={`/papers/passport/${unit.id}`} target="_blank" rel="noreferrer">Passport as PDF</a></>}>
      {unit.retirement ? (
        <Strip><Notice tone="alarm" title={`Retired: ${retirementWord(unit.retirement.cause)}.`}><p>“{unit.retirement.reason}” <Moment at={unit.retirement.observedAt} />, {unit.retirement.recordedBy.displayName}. <Link to={threadPath('unit_retirement', unit.retirement.id)}>Its thread</Link></p></Notice></Strip>
      ) : null}
      {unit.passportRemarks.length > 0 ? <Strip><Notice tone="ask" title="Look at this before using the unit:"><Flags flags={unit.passportRemarks} /></Notice></Strip> : null}
      <Section title="Bias-threshold curve" lead="The light power at which it trips, for each bias: P = P0 · (1 − (V / V pull-in)ⁿ).">
        {unit.curve ? <><CurvePart unit={unit} curve={unit.curve} /><ExponentTable exponents={unit.curve.exponents} unit={unit.label} /></> : <Empty title="No curve has been fitted yet."><p>It takes trip tests at three biases or more; a bias sweep gives the pull-in voltage.</p></Empty>}
        {mayRecord && unit.tripTests.length > 0 ? <FitCurve unitId={unit.id} again={unit.curve !== null} onRecorded={again} /> : null}
      </Section>
      <Section title="Trip tests" lead="At one bias the light was raised until the unit tripped.">
        {unit.tripTests.length === 0 ? <Empty title="No trip test yet." /> : <Table caption={`Trip tests of ${unit.label}`} columns={testColumns} rows={unit.tripTests} keyOf={({ id }) => id} struck={({ amendedBy }) => amendedBy != null} brief />}
        {mayRecord ? <Folded title="Record a trip test"><BiasCaution /><TripTestEntry unitId={unit.id} onRecorded={again} /></Folded> : null}
      </Section>
      <Section title="Bias sweeps" lead="With the light shut, the bias raised or lowered in steps: where the current jumps, it pulls in.">
        {unit.biasSweeps.length === 0 ? <Empty title="No bias sweep yet." /> : unit.biasSweeps.map((sweep) => <Sweep key={sweep.id} sweep={sweep} unit={unit.label} />)}
        {unit.sweepSummary ? <SweepsTogether summary={unit.sweepSummary} /> : null}
        {mayRecord ? <Folded title="Record a bias sweep"><BiasCaution /><SweepEntry unitId={unit.id} onRecorded={again} /></Folded> : null}
      </Section>
      <PassportParts unitId={unit.id} label={unit.label} mayRecord={mayRecord && !unit.retirement} />
      <Section title="Certificates">
        {unit.certificates.length === 0 ? <Empty title="No certificate has been issued for this unit." /> : <Table caption={`Certificates of ${unit.label}`} columns={certificateColumns} rows={unit.certificates} keyOf={({ id }) => id} />}
      </Section>
      <Section title="Installations">
        {unit.installations.length === 0 ? <Empty title="It has not been installed." /> : <Table caption={`Installations of ${unit.label}`} columns={installationColumns} rows={unit.installations} keyOf={({ id }) => id} />}
      </Section>
      {mayRecord && !unit.retirement ? <Section title="Out of service"><RetireEntry unitId={unit.id} onRecorded={again} /></Section> : null}
    </Page>
  );
}

/** Standard uncertainties from the covariance of p0Nw, pullInV, exponent. */
const uOf = ({ covariance }: Curve, index: number): number => Math.sqrt(Math.max(0, covariance[index]?.[index] ?? 0));

function Parameter({ curve, index, value, unit }: { readonly curve: Curve; readonly index: number; readonly value: number; readonly unit: string }) {
  const u = uOf(curve, index);
  return u > 0 ? <Uncertain value={value} u={u} unit={unit} /> : <>{formatNumber(value, 4)} {unit}</>;
}

function CurvePart({ unit, curve }: { readonly unit: Unit; readonly curve: Curve }) {
  const fitted = useMemo(() => new Set(curve.tripTests.map(({ id }) => id)), [curve]);
  const tests = useMemo(() => unit.tripTests.filter(({ id }) => fitted.has(id)).map(({ biasV, tripPowerNw }) => ({ biasV: Number(biasV), powerNw: Number(tripPowerNw) })), [unit.tripTests, fitted]);
  const testedV = useMemo(() => [curve.biasMinV, curve.biasMaxV] as const, [curve]);
  return (
    <>
      {curve.stale ? <p><StaleMark /></p> : null}
      <Suspense fallback={<Waiting what="the drawing" />}><ThresholdPlot label={`Threshold power against bias, unit ${unit.label}`} line={curve.line} tests={tests} testedV={testedV} /></Suspense>
      <Facts rows={[
        { name: 'Power at zero bias, P0', value: <Parameter curve={curve} index={0} value={curve.p0Nw} unit="nW" /> },
        { name: 'Pull-in voltage', value: <Parameter curve={curve} index={1} value={curve.pullInV} unit="V" /> },
        { name: curve.exponentFree ? 'Exponent n, fitted' : 'Exponent n, held', value: <Parameter curve={curve} index={2} value={curve.exponent} unit="" /> },
        { name: 'Residual SD', value: `${formatNumber(curve.residualSdNw, 2)} nW; trip powers scatter ${curve.scatter === 'PROPORTIONAL' ? 'in proportion to the threshold' : 'alike at every bias'}` },
        curve.holdV != null && { name: 'Holds above', value: `${formatNumber(curve.holdV, 2)} V: below it a tripped unit lets go` },
        { name: 'Tested range', value: `${formatNumber(curve.biasMinV, 2)} V to ${formatNumber(curve.biasMaxV, 2)} V` },
        { name: 'Trip tests', value: `${curve.tripTests.length}, ${formatNumber(curve.degreesOfFreedom, 0)} degrees of freedom` },
        { name: 'Fitted', value: <><Moment at={curve.recordedAt} /> by {curve.recordedBy.displayName}, code {curve.codeVersion}</> },
      ]} />
      <p><Link to={threadPath('bias_threshold_curve', curve.id)}>Follow the curve’s thread</Link></p>
    </>
  );
}

const testColumns = [
  { head: 'Bias', number: true, cell: ({ biasV }: TripTest) => `${biasV} V` },
  { head: 'Tripped at', number: true, cell: ({ tripPowerText, tripPowerUnit, tripPowerNw }: TripTest) => <AsEntered text={tripPowerText} unit={tripPowerUnit} exact={tripPowerNw} exactUnit="nW" /> },
  { head: 'Current', number: true, cell: ({ decades }: TripTest) => (decades == null ? 'not measured' : `${formatNumber(decades, 1)} decades`) },
  { head: 'When', cell: ({ observedAt }: TripTest) => <Moment at={observedAt} /> },
  { head: 'Line', cell: ({ rawLine, file }: TripTest) => <><RawLine>{rawLine}</RawLine> <FileLink file={file ?? null} /></> },
  { head: 'By', cell: ({ recordedBy, amendedBy }: TripTest) => <>{recordedBy.displayName}{amendedBy ? <><br /><AmendedMark /> {amendedBy.reason}</> : null}</> },
  { head: 'Thread', cell: ({ id }: TripTest) => <Link to={threadPath('trip_test', id, 'up')}>up</Link> },
] as const;

const certificateColumns = [
  { head: 'Certificate', cell: ({ id, recordedAt }: Certificate) => <Link to={`/devices/certificate/${id}`}>of <Moment at={recordedAt} /></Link> },
  { head: 'State', cell: ({ state, stale }: Certificate) => <><ApprovalMark state={state} />{stale ? <><br /><StaleMark /></> : null}</> },
  { head: 'Target RWC', number: true, cell: ({ targetRwc }: Certificate) => <Rwc value={targetRwc} /> },
  { head: 'Trips at RWC, 95 %', number: true, cell: ({ tripRwcLow, tripRwcHigh }: Certificate) => rwcInterval(tripRwcLow, tripRwcHigh) },
  { head: 'Bias, V', number: true, cell: ({ biasV }: Certificate) => biasV },
  { head: 'Valid until', cell: ({ validUntil }: Certificate) => <Moment at={validUntil} /> },
] as const;

const installationColumns = [
  { head: 'Where', cell: ({ id, site, zone }: Installation) => <Link to={`/field/${id}`}>{site}, zone {zone}</Link> },
  { head: 'State', cell: ({ state }: Installation) => <InstallationMark state={state} /> },
  { head: 'Armed', cell: ({ armedAt }: Installation) => <Moment at={armedAt} /> },
] as const;

function Sweep({ sweep, unit }: { readonly sweep: Unit['biasSweeps'][number]; readonly unit: string }) {
  const { pullInV, uPullInV, releaseV, steps, temperatureC, voltsPerS, file } = sweep;
  return (
    <div>
      <h3>{sweep.direction === 'UP' ? 'Bias raised' : 'Bias lowered'}, {sweep.polarity === 'POSITIVE' ? 'positive' : 'negative'}, <Moment at={sweep.observedAt} /></h3>
      {sweep.amendedBy ? <p><AmendedMark /> {sweep.amendedBy.reason}</p> : null}
      <Suspense fallback={<Waiting what="the drawing" />}><SweepPlot label={`Current against bias of a sweep of unit ${unit}`} steps={steps} pullInV={pullInV ?? null} /></Suspense>
      <p>{steps.length} steps, by {sweep.recordedBy.displayName}. {temperatureC ? ` At ${temperatureC} °C.` : ''}{voltsPerS ? ` ${voltsPerS} V/s.` : ''} {pullInV == null ? (releaseV == null ? 'No jump of the current was found.' : `The contact opened at ${releaseV} V.`) : <>Pull-in at {uPullInV ? <Uncertain value={pullInV} u={uPullInV} unit="V" /> : `${pullInV} V`}.</>} <FileLink file={file ?? null} /> <Link to={threadPath('bias_sweep', sweep.id, 'up')}>Thread up</Link></p>
    </div>
  );
}
