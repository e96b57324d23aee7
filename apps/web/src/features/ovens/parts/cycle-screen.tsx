import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { Plain } from '../../../ui/quantity.js';
import { CheckMark, DoneMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { WeighingList } from '../../../ui/weighing.js';
import { CyclePage } from '../documents.js';
import { CheckWeighingEntry } from './check-weighing.js';
import { criteriaOf } from './cycle.js';
import type { ConstantMass, Cycle } from './cycle.js';
import { NextStep, Temperatures } from './next-step.js';
import { TrayMap } from './tray-map.js';
import { UnloadDialog } from './unload.js';

const concerns = ofKind('oven_cycle', 'oven_unloading', 'oven_temperature', 'oven_cooling', 'sample_loss', 'weighing', 'amendment');

/** One oven cycle: how far each disc is from constant mass, and the check weighings that say so. */
export function CycleScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(CyclePage, { variables: { id } });
  useLive(() => refetch(), concerns);
  const back = <Back to="/ovens">Ovens</Back>;
  if (!data) return <Page title="Oven cycle" margin={back}><Strip>{error ? <Failed what="this oven cycle" again={() => void refetch()} /> : <Waiting what="the oven cycle" />}</Strip></Page>;
  if (!data.ovenCycle) return <Page title="Oven cycle" margin={back}><Strip><Empty title="No oven cycle of this lab has this address." /></Strip></Page>;
  return <OneCycle cycle={data.ovenCycle} again={() => void refetch()} />;
}

function OneCycle({ cycle, again }: { readonly cycle: Cycle; readonly again: () => void }) {
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const [unloading, setUnloading] = useState(false);
  const drying = !cycle.unloadedAt;
  return (
    <Page title={`Oven cycle ${cycle.label}`} margin={<><Back to="/ovens">Ovens</Back><br />{drying ? <DoneMark done={false} word="drying" /> : <DoneMark done word="unloaded" />}</>}
      lead={
        <>
          <Link to={`/instruments/${cycle.oven.id}`}>{cycle.oven.label}</Link> (<CheckMark status={cycle.oven.checkStatus} />) at {cycle.setTemperatureC} °C, loaded <Moment at={cycle.startedAt} relative /> by {cycle.recordedBy.displayName}.
          {cycle.unloadedAt ? <> Unloaded <Moment at={cycle.unloadedAt} />{cycle.unloadReason ? `: “${cycle.unloadReason}”` : ''}.</> : null}
        </>
      }
      actions={
        <>
          <ActionLink to={threadPath('oven_cycle', cycle.id, 'up')}>Thread up</ActionLink>
          {drying && mayRecord ? <Action kind="plain" onClick={() => setUnloading(true)}>Unload</Action> : null}
        </>
      }>
      {drying ? <NextStep cycle={cycle} mayRecord={mayRecord} again={again} /> : null}
      <Section title="Constant mass" lead="Two successive checks far enough apart that agree within the tolerance.">
        <Criteria cycle={cycle} />
        <Table caption={`Constant mass of the discs of cycle ${cycle.label}`} columns={columns} rows={cycle.constantMass} keyOf={({ disc }) => disc.id} />
      </Section>
      {cycle.trayMap.length > 0 ? <Section title="Tray" lead="Rows and columns count from the door’s left."><TrayMap cycle={cycle} /></Section> : null}
      {drying && mayRecord ? <Section title="Check weighing" lead="Let the disc cool in a desiccator first: a warm disc reads light."><CheckWeighingEntry cycle={cycle} onRecorded={again} /></Section> : null}
      <Section title="Check weighings" margin={`${cycle.checkWeighings.length} in all`}>
        {cycle.checkWeighings.length === 0 ? <Empty title="No check has been weighed in this cycle yet." /> : (
          <WeighingList label="Check weighings in order of time" weighings={cycle.checkWeighings} withDisc onAmended={mayRecord ? again : undefined} />
        )}
      </Section>
      <Temperatures cycle={cycle} mayRecord={drying && mayRecord} again={again} />
      <UnloadDialog cycle={cycle} opened={unloading} onClose={() => setUnloading(false)} onUnloaded={() => { setUnloading(false); again(); }} />
    </Page>
  );
}

/** By what the discs are judged: as a rule one sentence, more where discs of several protocols lie in one oven. */
function Criteria({ cycle }: { readonly cycle: Cycle }) {
  return criteriaOf(cycle).map(({ rule, protocol, labels }) => (
    <p key={protocol?.id ?? rule.key}>
      {labels ? <><strong>{labels.join(', ')}:</strong> </> : null}
      {labels ? 'by' : 'By'} {protocol ? <>{cycle.discs.length === 1 || labels?.length === 1 ? 'its' : 'their'} protocol, <Link to={`/lab/protocols/${protocol.id}`}>{protocol.name}, version {protocol.version}</Link></> : <>the criterion “{rule.name}” ({rule.source})</>}, checks at least {rule.intervalMin} min apart.
    </p>
  ));
}

const limbs = { RELATIVE: 'share of the mass', ABSOLUTE: 'fixed mass', RESOLUTION: 'steps of the balance’s display' } as const;

const columns = [
  { head: 'Disc', cell: ({ disc }: ConstantMass) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
  { head: 'Constant mass', cell: ({ reached, disc, message }: ConstantMass) => <><DoneMark done={reached} word={disc.loss ? disc.loss.outcome.toLowerCase() : reached ? 'reached' : 'not yet'} />{message ? <><br /><small>{message}</small></> : null}</> },
  { head: 'Last mass, mg', number: true, cell: ({ lastMassMg }: ConstantMass) => lastMassMg ?? 'not weighed' },
  { head: 'Loss, mg', number: true, cell: ({ lossMg }: ConstantMass) => (lossMg === null || lossMg === undefined ? 'needs two checks' : <Plain value={lossMg} places={3} />) },
  { head: 'Tolerance, mg', number: true, cell: ({ toleranceMg }: ConstantMass) => (toleranceMg === null || toleranceMg === undefined ? 'not set yet' : <Plain value={toleranceMg} places={3} />) },
  { head: 'Set by', cell: ({ limb }: ConstantMass) => (limb ? limbs[limb] : 'not set yet') },
  { head: 'Next check', cell: ({ reached, nextCheckAt }: ConstantMass) => (nextCheckAt ? <Moment at={nextCheckAt} relative /> : reached ? 'none needed' : 'any time') },
] as const;
