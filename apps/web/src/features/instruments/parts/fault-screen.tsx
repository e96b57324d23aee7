import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useParams, useSearchParams } from 'react-router';
import { decimalText } from '../../../ui/entry.js';
import { MomentField, NumberField } from '../../../ui/fields.js';
import { localInput, momentFromInput } from '../../../ui/time.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { unitText } from '../../../ui/quantity.js';
import { Action, Empty, Failed, Waiting } from '../../../ui/words.js';
import { InstrumentPage } from '../documents.js';
import { calledBy } from './kinds.js';
import { Reach, type Asked } from './fault-reach.js';
import styles from './fault.module.css';

const DAY_MS = 24 * 3_600_000;

/** The instruments whose showing can be corrected by an offset and a span. */
const SHOWS = ['BALANCE', 'POWER_METER'];

/** What a fault of one instrument in a span of time reaches, and how far it moves each result. What is asked stands in the address. */
export function FaultScreen() {
  const { id = '' } = useParams();
  const [address, setAddress] = useSearchParams();
  const { data, error, refetch } = useQuery(InstrumentPage, { variables: { id } });
  const back = <Back to={`/instruments/${id}`}>The instrument</Back>;
  if (!data) return <Page title="What a fault reaches" margin={back}><Strip>{error ? <Failed what="this instrument" again={() => void refetch()} /> : <Waiting what="the instrument" />}</Strip></Page>;
  const { instrument } = data;
  if (!instrument) return <Page title="What a fault reaches" margin={back}><Strip><Empty title="No instrument of this lab has this address." /></Strip></Page>;
  const [from, to] = [address.get('from'), address.get('to')];
  const asked: Asked | null = from && to ? { from, to, offset: address.get('offset'), span: address.get('span') } : null;
  const lastPassed = instrument.checks.find(({ passed }) => passed)?.observedAt;
  return (
    <Page title={`What a fault of ${calledBy(instrument.kind, instrument.label)} reaches`} margin={back}
      lead="For a span of time in which it may have been wrong: all results, certificates, installations, trips and decisions that rest on what it showed then, each computed again. Nothing is written.">
      <Section title="The fault">
        <FaultForm asked={asked} since={lastPassed ?? null} unit={unitText(instrument.unit)} shows={SHOWS.includes(instrument.kind)}
          onAsk={(next) => setAddress(Object.entries(next).filter((entry): entry is [string, string] => entry[1] !== null))} />
      </Section>
      {asked ? <Reach key={JSON.stringify(asked)} instrumentId={instrument.id} asked={asked} /> : null}
    </Page>
  );
}

interface FaultFormProps {
  readonly asked: Asked | null;
  /** When it last passed a check: the fault cannot be older, as far as anybody knows. */
  readonly since: string | null;
  readonly unit: string;
  readonly shows: boolean;
  readonly onAsk: (asked: Asked) => void;
}

function FaultForm({ asked, since, unit, shows, onAsk }: FaultFormProps) {
  const [now] = useState(Date.now);
  const [from, setFrom] = useState(localInput(new Date(asked?.from ?? since ?? now - 30 * DAY_MS)));
  const [to, setTo] = useState(localInput(new Date(asked?.to ?? now)));
  const [offset, setOffset] = useState(asked?.offset ?? '');
  const [span, setSpan] = useState(asked?.span ?? '');
  const typed = (text: string) => (text.trim() === '' ? null : decimalText(text));
  return (
    <form className={styles.form} aria-label="The fault" onSubmit={(event) => {
      event.preventDefault();
      onAsk({ from: momentFromInput(from), to: momentFromInput(to), offset: typed(offset), span: typed(span) });
    }}>
      <div className={styles.fields}>
        <MomentField name="from" label="From" hint={since && !asked ? 'Filled in: its last passed check' : undefined} value={from} onChange={setFrom} problem={null} />
        <MomentField name="to" label="Until" value={to} onChange={setTo} problem={null} />
        {shows ? <NumberField name="offset" label={`Offset, ${unit}`} hint="How much too high it showed; negative for too low" value={offset} onChange={setOffset} problem={null} optional /> : null}
        {shows ? <NumberField name="span" label="Span" hint="What it showed for each unit of the true value, such as 1.002" value={span} onChange={setSpan} problem={null} optional /> : null}
      </div>
      <div><Action type="submit">Show what it reaches</Action></div>
    </form>
  );
}
