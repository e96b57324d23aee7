import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useNavigate } from 'react-router';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, TextField } from '../../../ui/fields.js';
import { DiscChoice } from '../../../ui/disc-choice.js';
import { Back, Page, Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { CheckMark } from '../../../ui/state.js';
import { Caution, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { OpenDryingRun, OpenRunChoices, OpenRunDiscs } from '../documents.js';

const empty = { label: '', protocolId: '', rigId: '', balanceId: '', rhythmMin: '5', discIds: [] as readonly string[] };
const none: readonly never[] = [];

/** Rig, balance and discs of a new run. */
export function OpenRunScreen() {
  const { data, error, refetch } = useQuery(OpenRunChoices);
  return (
    <Page title="Open a drying run" margin={<Back to="/bench">Bench</Back>}>
      <Section title="Before you start">
        <Caution title="Lamp.">The lamp and its housing are hot, and most of its light cannot be seen. Do not look into the beam; keep paper and solvent away; let it cool before changing it.</Caution>
        <Caution title="Blade and punch.">Cut away from the hand on a firm board.</Caution>
      </Section>
      <Section title="The run">
        {!data && error ? <Failed what="rigs and balances" again={() => void refetch()} /> : null}
        {!data && !error ? <Waiting what="rigs and balances" /> : null}
        {data && data.rigs.length === 0 ? <Empty title="There is no rig yet."><Link to="/instruments">Register a power meter and a rig</Link></Empty> : null}
        {data && data.rigs.length > 0 ? <OpenRunEntry rigs={data.rigs} balances={data.instruments} protocols={data.protocols.flatMap(({ versions }) => versions).filter(({ state }) => state === 'APPROVED')} /> : null}
      </Section>
    </Page>
  );
}

type Choices = { readonly rigs: readonly { readonly id: string; readonly label: string; readonly version: number; readonly bandCentreNm: string }[] };
type Balances = { readonly balances: readonly { readonly id: string; readonly label: string; readonly checkStatus: 'IN_CHECK' | 'OVERDUE' | 'FAILED' | 'UNCHECKED' }[] };

interface Protocols {
  readonly protocols: readonly {
    readonly id: string; readonly name: string; readonly version: number;
    readonly parameters: { readonly rhythmMin: number; readonly discDiameterMm: number; readonly discsPerLeaf: number };
  }[];
}

function OpenRunEntry({ rigs, balances, protocols }: Choices & Balances & Protocols) {
  const send = usePayload();
  const navigate = useNavigate();
  const [search, setSearch] = useState('');
  const found = useQuery(OpenRunDiscs, { variables: { search: search.trim() || null } });
  const [initial] = useState(() => {
    const [only] = protocols.length === 1 ? protocols : [];
    return { ...empty, protocolId: only?.id ?? '', rhythmMin: String(only?.parameters.rhythmMin ?? empty.rhythmMin) };
  });
  const entry = useEntry({
    initial,
    send: ({ label, rhythmMin, discIds, protocolId, ...values }, id, at) => {
      const minutes = Number(rhythmMin.trim());
      if (!Number.isInteger(minutes) || minutes < 1) {
        return Promise.resolve({ outcome: 'refused', payload: null, problem: { code: 'INPUT', field: 'rhythmMin', message: `“${rhythmMin}” is not a whole number of minutes.`, remedy: 'Type 1 or more, without a unit.' } } as const);
      }
      return send(OpenDryingRun, { input: { id, label: label.trim(), ...values, protocolId: protocolId || null, discIds: [...discIds], rhythmMin: minutes, openedAt: at } });
    },
    onRecorded: ({ dryingRun }) => {
      if (dryingRun) void navigate(`/bench/${dryingRun.id}`);
    },
  });
  const offered = (found.data ?? found.previousData)?.discs;
  const protocol = protocols.find(({ id }) => id === entry.values.protocolId);
  const choose = (protocolId: string) => {
    entry.set('protocolId', protocolId);
    const chosen = protocols.find(({ id }) => id === protocolId);
    if (chosen) entry.set('rhythmMin', String(chosen.parameters.rhythmMin));
  };
  const balance = balances.find(({ id }) => id === entry.values.balanceId);
  return (
    <EntryForm entry={entry} action="Open run">
      <TextField {...entry.field('label')} label="Label of the run" hint="What you will call it, for example R-18" />
      <ChoiceField {...entry.field('protocolId')} onChange={choose} label="Protocol" none="None: the house’s own parameters" choices={protocols.map(({ id, name, version }) => ({ value: id, label: `${name}, version ${version}` }))}
        hint={protocol ? `Discs of ${protocol.parameters.discDiameterMm} mm, ${protocol.parameters.discsPerLeaf} of a leaf` : <>Only approved ones are offered. <Link to="/lab/protocols">Protocols</Link></>} />
      <NumberField {...entry.field('rhythmMin')} label="Minutes between readings" hint="Of one and the same disc" inputMode="numeric" />
      <ChoiceField {...entry.field('rigId')} label="Rig" none="Choose a rig" choices={rigs.map((rig) => ({ value: rig.id, label: `${rig.label}, version ${rig.version}, ${rig.bandCentreNm} nm` }))} />
      <ChoiceField {...entry.field('balanceId')} label="Balance" none="Choose a balance" choices={balances.map(({ id, label }) => ({ value: id, label }))}
        hint={balance ? <CheckMark status={balance.checkStatus} /> : 'The same one for turgid, drying and dry mass: a common offset then cancels'} />
      {balance && balance.checkStatus !== 'IN_CHECK' ? (
        <div style={{ gridColumn: '1 / -1' }}><Notice tone="ask" title={`${balance.label} is not in check.`}><Link to={`/instruments/${balance.id}`}>Record a check with a check weight</Link> before you weigh with it.</Notice></div>
      ) : null}
      <DiscChoice binding={entry.field('discIds')} label="Discs of the run" offered={offered?.nodes ?? none} totalCount={offered?.totalCount ?? 0} search={search} onSearch={setSearch}
        empty={<Empty title="No disc fits."><Link to="/samples">Record discs under Samples</Link></Empty>} />
    </EntryForm>
  );
}
