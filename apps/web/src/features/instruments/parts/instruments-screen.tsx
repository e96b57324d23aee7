import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { InstrumentKind, InstrumentTableQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Line, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { CheckMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Action, Empty, Failed, Waiting } from '../../../ui/words.js';
import { InstrumentTable } from '../documents.js';
import { kinds } from './kinds.js';
import { RegisterInstrumentDialog, RegisterRigDialog } from './register.js';

type Instrument = InstrumentTableQuery['instruments'][number];
type Rig = InstrumentTableQuery['rigs'][number];

const urgency = { FAILED: 0, OVERDUE: 1, UNCHECKED: 2, IN_CHECK: 3 } as const;

const concerns = ofKind('instrument', 'instrument_check', 'rig');

/** Instruments by kind, those that may not be trusted first; rigs below. */
export function InstrumentsScreen() {
  const mayRegister = useHasRole('MANAGER');
  const mayRegisterRig = useHasRole('RESEARCHER', 'MANAGER');
  const [opened, setOpened] = useState<'instrument' | 'rig' | null>(null);
  const { data, error, refetch } = useQuery(InstrumentTable);
  useLive(() => refetch(), concerns);
  const close = () => {
    setOpened(null);
    void refetch();
  };
  const instruments = [...(data?.instruments ?? [])].sort((a, b) => urgency[a.checkStatus] - urgency[b.checkStatus] || a.label.localeCompare(b.label));
  const groups = (Object.keys(kinds) as InstrumentKind[]).map((kind) => ({ kind, group: instruments.filter((each) => each.kind === kind) })).filter(({ group }) => group.length > 0);
  return (
    <Page title="Instruments" lead="A weighing or reading keeps for ever whether its instrument was in check at that moment." actions={mayRegister ? <Action onClick={() => setOpened('instrument')}>Register an instrument</Action> : null}>
      {!data ? <Strip>{error ? <Failed what="the instruments" again={() => void refetch()} /> : <Waiting what="the instruments" />}</Strip> : null}
      {data && instruments.length === 0 ? <Strip><Empty title="No instrument is registered yet."><p>A lab needs at least one balance; for readings also a power meter and a rig. A manager registers them.</p></Empty></Strip> : null}
      {groups.map(({ kind, group }) => (
        <Section key={kind} title={kinds[kind].many}>
          <Lines label={kinds[kind].many}>{group.map((instrument) => <InstrumentLine key={instrument.id} instrument={instrument} />)}</Lines>
        </Section>
      ))}
      {data ? (
        <Section title="Rigs" lead="A change of lamp, filter, diffuser, aperture or meter makes a new version." actions={mayRegisterRig ? <Action kind="plain" onClick={() => setOpened('rig')}>Register a rig</Action> : null}>
          {data.rigs.length === 0 ? <Empty title="No rig is registered yet."><p>Register its power meter first.</p></Empty> : <Table caption="Rigs" columns={rigColumns} rows={data.rigs} keyOf={({ id }) => id} />}
        </Section>
      ) : null}
      <RegisterInstrumentDialog opened={opened === 'instrument'} onClose={close} />
      <RegisterRigDialog opened={opened === 'rig'} onClose={close} meters={instruments.filter(({ kind }) => kind === 'POWER_METER')} rigs={data?.rigs ?? []} />
    </Page>
  );
}

function InstrumentLine({ instrument }: { readonly instrument: Instrument }) {
  const { checkStatus, checkDueAt } = instrument;
  return (
    <Line margin={<CheckMark status={checkStatus} />}>
      <span><Link to={`/instruments/${instrument.id}`}><strong>{instrument.label}</strong></Link>{[instrument.location, instrument.serialNumber ? `serial number ${instrument.serialNumber}` : null].filter(Boolean).map((fact) => `, ${fact}`)}</span>
      {checkDueAt ? <span>{checkStatus === 'OVERDUE' ? 'Its check or calibration ran out' : 'Its check is good until'} <Moment at={checkDueAt} relative /></span> : null}
    </Line>
  );
}

const rigColumns = [
  { head: 'Rig', cell: (rig: Rig) => <Link to={`/instruments/rig/${rig.id}`}>{rig.label}, version {rig.version}</Link> },
  { head: 'Source', cell: (rig: Rig) => rig.source },
  { head: 'Band, nm', number: true, cell: (rig: Rig) => `${rig.bandCentreNm}, ${rig.bandWidthNm} wide` },
  { head: 'Diffuser', cell: (rig: Rig) => rig.diffuser ?? 'not told' },
  { head: 'Aperture, mm', number: true, cell: (rig: Rig) => rig.apertureMm ?? 'not told' },
  { head: 'Meter', cell: (rig: Rig) => <Link to={`/instruments/${rig.meter.id}`}>{rig.meter.label}</Link> },
] as const;
