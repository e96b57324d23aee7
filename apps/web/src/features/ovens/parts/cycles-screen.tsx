import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { CycleTableQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Line, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { DoneMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CycleTable } from '../documents.js';

type Cycle = CycleTableQuery['ovenCycles'][number];

const concerns = ofKind('oven_cycle', 'oven_unloading', 'oven_cooling', 'sample_loss', 'weighing', 'amendment');

/** Oven cycles: those in the oven first, then those unloaded. */
export function CyclesScreen() {
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(CycleTable, { variables: { first: 100 } });
  useLive(() => refetch(), concerns);
  const cycles = data?.ovenCycles ?? [];
  const parts = [
    { title: 'In the oven', cycles: cycles.filter(({ unloadedAt }) => !unloadedAt) },
    { title: 'Unloaded', cycles: cycles.filter(({ unloadedAt }) => unloadedAt) },
  ].filter((part) => part.cycles.length > 0);
  return (
    <Page title="Ovens" lead="Dry discs until two checks, as far apart as the protocol wants, agree: then it is the dry mass." actions={mayRecord ? <ActionLink to="/ovens/start" kind="strong">Load an oven</ActionLink> : null}>
      {!data ? <Strip>{error ? <Failed what="the oven cycles" again={() => void refetch()} /> : <Waiting what="the oven cycles" />}</Strip> : null}
      {data && cycles.length === 0 ? <Strip><Empty title="No oven has been loaded yet."><p>After a drying run its discs go to the oven, for their dry mass.</p></Empty></Strip> : null}
      {parts.map((part) => (
        <Section key={part.title} title={part.title}>
          <Lines label={part.title}>{part.cycles.map((cycle) => <CycleLine key={cycle.id} cycle={cycle} />)}</Lines>
        </Section>
      ))}
    </Page>
  );
}

function CycleLine({ cycle }: { readonly cycle: Cycle }) {
  const reached = cycle.constantMass.filter((each) => each.reached).length;
  const next = cycle.nextCheckAt;
  return (
    <Line margin={cycle.unloadedAt ? <DoneMark done word="unloaded" /> : <DoneMark done={false} word="drying" />}>
      <span><Link to={`/ovens/${cycle.id}`}><strong>{cycle.label}</strong></Link>, {cycle.oven.label} at {cycle.setTemperatureC} °C since <Moment at={cycle.startedAt} relative /></span>
      <span>Constant mass: {reached} of {cycle.discs.length} {cycle.discs.length === 1 ? 'disc' : 'discs'}{reached === cycle.discs.length && !cycle.unloadedAt ? ': ready to be unloaded' : ''}</span>
      {cycle.unloadedAt ? <span>Unloaded <Moment at={cycle.unloadedAt} /></span> : null}
      {next && !cycle.unloadedAt ? <span>Next check that can count: <Moment at={next} relative /></span> : null}
    </Line>
  );
}
