import { useQuery } from '@apollo/client/react';
import { Fragment, lazy, Suspense, useMemo, useState } from 'react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { DryingRunMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { RunPage } from '../documents.js';
import { useClockOffset } from '../../../offline/clock.js';
import { forOffline } from '../../../offline/stored-reads.js';
import { AsOf } from '../../../ui/as-of.js';
import { DiscBoard } from './disc-board.js';
import { NextStep } from './next-step.js';
import { PreflightPanel } from './preflight-panel.js';
import { PreflightTold } from './preflight-told.js';
import { Recorded } from './recorded.js';
import { ReleasedSeries } from './released-series.js';
import { liveTransmittance } from './run.js';
import type { Run } from './run.js';
import { CloseRunDialog, ReleaseRunDialog } from './run-steps.js';

const ByDiscPlot = lazy(async () => ({ default: (await import('../../../plots/by-disc-plot.js')).ByDiscPlot }));

/** Not told by the run they belong to, but shown on its page. */
const touchesRun = ofKind('amendment', 'protocol', 'drying_run_step', 'rwc_series', 'instrument_check');

/** One drying run: the rhythm while it is open, then what it gave. */
export function RunScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(RunPage, { variables: { id }, notifyOnNetworkStatusChange: false, context: forOffline });
  const again = useLive(() => refetch(), (event) => event.dryingRunId === id || touchesRun(event));
  const back = <Back to="/bench">Bench</Back>;
  if (!data) return <Page title="Drying run" margin={back}><Strip>{error ? <Failed what="this run" again={() => void refetch()} /> : <Waiting what="the run" />}</Strip></Page>;
  if (!data.dryingRun) return <Page title="Drying run" margin={back}><Strip><Empty title="No drying run of this lab has this address." /></Strip></Page>;
  return <OneRun run={data.dryingRun} again={again} />;
}

function OneRun({ run, again }: { readonly run: Run; readonly again: () => void }) {
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const mayRelease = useHasRole('RESEARCHER', 'MANAGER');
  const [asking, setAsking] = useState<'close' | 'release' | null>(null);
  const stepped = () => {
    setAsking(null);
    again();
  };
  const open = run.state === 'OPEN';
  const about = <>Opened <Moment at={run.openedAt} relative /> by {run.recordedBy.displayName}. {run.rig.label}, version {run.rig.version}, {run.rig.bandCentreNm} nm; weighed on <Link to={`/instruments/${run.balance.id}`}>{run.balance.label}</Link>; {run.protocol ? <>under <Link to={`/lab/protocols/${run.protocol.id}`}>{run.protocol.name}, version {run.protocol.version}</Link></> : 'under the house’s own parameters'}.</>;
  const actions = (
    <>
      <ActionLink to={threadPath('drying_run', run.id, 'up')}>Thread up</ActionLink>
      {open && mayRecord ? <Action kind="plain" onClick={() => setAsking('close')}>Close run</Action> : null}
      {run.state === 'CLOSED' && mayRelease ? <Action onClick={() => setAsking('release')}>Release run</Action> : null}
    </>
  );
  // While it is open the next act comes first, whole on a phone's screen; what the run is comes after it.
  const rhythm = open && mayRecord;
  const preflight = rhythm && run.protocol !== null && run.preflights.length === 0 && !run.meterReadings.some(({ lightPath, amendedBy }) => lightPath === 'READING' && !amendedBy);
  return (
    <Page title={`Run ${run.label}`} margin={<><Back to="/bench">Bench</Back><br /><DryingRunMark state={run.state} /></>}
      lead={rhythm ? null : about} actions={rhythm ? null : actions}>
      {rhythm ? null : <AsOf document={RunPage} variables={{ id: run.id }} />}
      {open && !preflight ? <ChecksNotice run={run} /> : null}
      {preflight ? <Section title="Before the first reading" lead="Each point once; a point that you skip asks for the reason."><PreflightPanel run={run} again={again} /></Section> : null}
      {rhythm && !preflight ? <Section title="Next"><ClockNotice run={run} /><NextStep run={run} onRecorded={again} /></Section> : null}
      {rhythm ? <AsOf document={RunPage} variables={{ id: run.id }} /> : null}
      {rhythm && !preflight ? <Section title="Discs"><DiscBoard run={run} /></Section> : null}
      {rhythm ? <Section title="This run" lead={about} actions={actions} /> : null}
      {run.preflights.length > 0 ? <Section title="Before the first reading"><PreflightTold run={run} /></Section> : null}
      {run.rwcSeries.length > 0 ? <Section title="RWC" lead="Computed on release, one series for each disc."><ReleasedSeries run={run} /></Section> : null}
      <LivePlots run={run} />
      <Section title="Recorded" margin={`${run.weighings.length + run.meterReadings.length} in all`} lead="Newest first, each with the line it came from.">
        <Recorded run={run} onAmended={mayRecord ? again : undefined} />
      </Section>
      <CloseRunDialog run={run} opened={asking === 'close'} onClose={() => setAsking(null)} onStepped={stepped} />
      <ReleaseRunDialog run={run} opened={asking === 'release'} onClose={() => setAsking(null)} onStepped={stepped} />
    </Page>
  );
}

/** An instrument that is not in check is said before the next mass, not after. */
function ChecksNotice({ run }: { readonly run: Run }) {
  const bad = [run.balance, run.rig.meter].filter(({ checkStatus }) => checkStatus !== 'IN_CHECK');
  if (bad.length === 0) return null;
  return (
    <Strip>
      <Notice tone="ask" title={`${bad.map(({ label }) => label).join(' and ')} ${bad.length > 1 ? 'are' : 'is'} not in check.`}>
        What is recorded says so for ever. Record a check of {bad.map(({ id, label }, i) => <Fragment key={id}>{i > 0 ? ' or ' : ''}<Link to={`/instruments/${id}`}>{label}</Link></Fragment>)}.
      </Notice>
    </Strip>
  );
}

/** A second device at the bench has no pre-flight of its own: its clock is told where it disagrees. */
function ClockNotice({ run }: { readonly run: Run }) {
  const { offset } = useClockOffset();
  if (!offset || Math.abs(offset.offsetMs) <= run.parameters.clockOffsetMostS * 1000) return null;
  const seconds = Math.round(Math.abs(offset.offsetMs) / 1000);
  return (
    <Notice tone="ask" title={`This device’s clock is ${seconds} s ${offset.offsetMs > 0 ? 'behind' : 'ahead of'} the server’s.`}>
      It is taken off when masses and readings are paired. Let the device set its clock by the network.
    </Notice>
  );
}

function LivePlots({ run }: { readonly run: Run }) {
  const masses = useMemo(() => run.weighings.filter(({ amendedBy, state }) => !amendedBy && state !== 'DRY').map(({ disc, observedAt, massMg }) => ({ disc: disc.label, at: observedAt, value: Number(massMg) })), [run.weighings]);
  const transmittances = useMemo(() => liveTransmittance(run.meterReadings).map((each) => ({ ...each, value: 100 * each.value })), [run.meterReadings]);
  if (masses.length === 0) return null;
  return (
    <Section title="By time">
      <Suspense fallback={<Waiting what="the drawing" />}>
        <ByDiscPlot label="Mass by time" quantity="mass, mg" startAt={run.openedAt} points={masses} />
        {transmittances.length > 0 ? (
          <ByDiscPlot label="Transmittance by time" quantity="transmittance, %" startAt={run.openedAt} points={transmittances}
            caption="Against the last dark and reference before each reading. On release the server takes the references on both sides and tells the uncertainty." />
        ) : null}
      </Suspense>
    </Section>
  );
}
