import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useNavigate, useSearchParams } from 'react-router';
import type { OutOfCheck, ProtocolParametersInput } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import type { Entry, EntryValues } from '../../../ui/entry.js';
import { AreaField, NumberField, SegmentField, TextField, TicksField } from '../../../ui/fields.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { fractionOfPercent } from '../../../ui/percent-text.js';
import { usePayload } from '../../../ui/send.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { ProtocolStart, RecordProtocol } from './documents.js';
import { flagWords, parameterGroups } from './parameter-words.js';
import type { ParameterWord, Parameters } from './parameter-words.js';

const NOBODY = '00000000-0000-0000-0000-000000000000';

/** A new protocol, or the next version of one: starts from what is there, never changes it. */
export function WriteProtocolScreen() {
  const [search] = useSearchParams();
  const from = search.get('from');
  const { data, error, refetch } = useQuery(ProtocolStart, { variables: { id: from ?? NOBODY, fromVersion: from !== null } });
  const title = from && data?.protocol ? `Next version of ${data.protocol.name}` : 'Write a protocol';
  const before = data?.protocol ?? null;
  return (
    <Page title={title} margin={<Back to={from ? `/lab/protocols/${from}` : '/lab/protocols'}>Back</Back>} lead="What you write holds once a manager who did not write it has approved it.">
      {!data ? <Strip>{error ? <Failed what="the parameters" again={() => void refetch()} /> : <Waiting what="the parameters" />}</Strip> : null}
      {data ? <Section title="Parameters" lead={before ? `They start as in version ${before.version}.` : 'They start as the house’s own, which are common practice: change what your lab does otherwise.'}>
        <ProtocolEntry name={before?.name ?? null} start={before?.parameters ?? data.houseParameters} />
      </Section> : null}
    </Page>
  );
}

type Values = EntryValues & { readonly name: string; readonly changedBecause: string; readonly asks: readonly string[] };

const words = parameterGroups.flatMap((group) => group.words);

function typed({ name, percent }: ParameterWord, start: Parameters): string {
  const value = start[name];
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'number') return String(percent ? Number((value * 100).toPrecision(12)) : value);
  return value === null || value === undefined ? '' : String(value);
}

/** A number as the contract takes it; null where the text is none. */
function numberOf({ percent }: ParameterWord, text: string): number | null {
  const value = percent ? fractionOfPercent(text) : text.trim() === '' ? Number.NaN : Number(decimalText(text));
  return Number.isFinite(value) ? value : null;
}

const isNumber = ({ name }: ParameterWord): boolean => !['blottingPaper', 'scanFirst', 'outOfCheck'].includes(name);

/** Whole numbers in the contract: a fraction of one is said here, because the contract would refuse the whole form. */
const WHOLE = ['discsPerLeaf', 'blottingCount', 'constantMassSteps', 'rhythmMin', 'bracketMin', 'ratioLeastDiscs'];

function ProtocolEntry({ name, start }: { readonly name: string | null; readonly start: Parameters }) {
  const send = usePayload();
  const navigate = useNavigate();
  const [initial] = useState((): Values => ({
    name: name ?? '', changedBecause: '', asks: start.asks, ...Object.fromEntries(words.map((word) => [word.name, typed(word, start)])),
  }));
  const entry = useEntry({
    initial,
    keep: true,
    send: (values, id) => {
      const wrong = words.find((word) => isNumber(word) && !(word.optional && values[word.name] === '')
        && !(WHOLE.includes(word.name) ? Number.isInteger(numberOf(word, values[word.name] as string)) : numberOf(word, values[word.name] as string) !== null));
      if (wrong) {
        return Promise.resolve({ outcome: 'refused', payload: null, problem: { code: 'INPUT', field: wrong.name, message: `“${String(values[wrong.name])}” is not a ${WHOLE.includes(wrong.name) ? 'whole ' : ''}number.`, remedy: 'Type digits, without the unit.' } } as const);
      }
      const numbers = Object.fromEntries(words.filter(isNumber).map((word) => [word.name, numberOf(word, values[word.name] as string)]));
      const parameters = {
        ...numbers, blottingPaper: values['blottingPaper'] as string, scanFirst: values['scanFirst'] === 'yes', outOfCheck: values['outOfCheck'] as OutOfCheck, asks: [...values.asks],
      } as ProtocolParametersInput;
      return send(RecordProtocol, { input: { id, name: values.name.trim(), changedBecause: orNull(values.changedBecause), parameters } });
    },
    onRecorded: ({ protocol }) => {
      if (protocol) void navigate(`/lab/protocols/${protocol.id}`);
    },
  });
  return (
    <EntryForm entry={entry} action={name ? 'Record this version' : 'Record protocol'}>
      {name ? <AreaField {...entry.field('changedBecause')} label="Why it changes" hint="So that somebody understands it in six years" rows={2} />
        : <TextField {...entry.field('name')} label="Name of the protocol" hint="For example: discs of 18 mm, two hours of water" wide />}
      {parameterGroups.map(({ title, words: group }) => (
        <Group key={title} title={title}>{group.map((word) => <ParameterField key={word.name} word={word} entry={entry} />)}</Group>
      ))}
      <TicksField {...entry.field('asks')} label="What asks" hint="A weighing with one of these wants an answer before it is kept; the others are only remarks." empty={<Empty title="No flag is known." />}
        choices={Object.entries(flagWords).map(([value, label]) => ({ value, label }))} />
    </EntryForm>
  );
}

/** A heading between fields, across the whole form. */
function Group({ title, children }: { readonly title: string; readonly children: React.ReactNode }) {
  return <><h3 style={{ gridColumn: '1 / -1', margin: '0.75rem 0 0' }}>{title}</h3>{children}</>;
}

function ParameterField({ word, entry }: { readonly word: ParameterWord; readonly entry: Entry<Values> }) {
  const { name, label, unit, hint, optional } = word;
  const binding = entry.field(name) as ReturnType<typeof entry.field<'name'>>;
  if (name === 'scanFirst') return <SegmentField {...binding} label={label} choices={[{ value: 'yes', label: 'Yes' }, { value: 'no', label: 'No' }]} />;
  if (name === 'outOfCheck') return <SegmentField {...binding} label={label} choices={[{ value: 'ASK', label: 'Asks for a reason' }, { value: 'REFUSE', label: 'Is not taken' }]} />;
  if (name === 'blottingPaper') return <TextField {...binding} label={label} hint={hint} />;
  return <NumberField {...binding} label={unit ? `${label}, ${unit}` : label} hint={hint} optional={optional ?? false} />;
}
