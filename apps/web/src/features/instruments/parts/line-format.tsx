import { useMemo, useState } from 'react';
import { readLine, requireLineFormat, type LineFormat, type LineRead } from '#libs/instrument-line';
import { InputError, isUnit, unitSymbol } from '#libs/quantity';
import type { InstrumentPageQuery } from '../../../generated/graphql.js';
import { useHasRole } from '../../../app/session.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, TextField, TickField } from '../../../ui/fields.js';
import { Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { Notice, RawLine } from '../../../ui/words.js';
import { SetLineFormat } from '../documents.js';

type Instrument = NonNullable<InstrumentPageQuery['instrument']>;

const wordsOf = (text: string): string[] => text.split(';').map((word) => word.trim()).filter((word) => word !== '');

const decimalMarks = [{ value: 'EITHER', label: 'Point or comma' }, { value: 'POINT', label: 'Point' }, { value: 'COMMA', label: 'Comma' }] as const;
const terminators = [{ value: 'CRLF', label: 'CR LF' }, { value: 'CR', label: 'CR' }, { value: 'LF', label: 'LF' }] as const;
const parities = [{ value: 'NONE', label: 'None' }, { value: 'EVEN', label: 'Even' }, { value: 'ODD', label: 'Odd' }] as const;
const rates = ['1200', '2400', '4800', '9600', '19200', '38400', '57600', '115200'].map((value) => ({ value, label: value }));

/** How the instrument writes its lines: set by who may, tried by anybody on pasted lines. */
export function LineFormatSection({ instrument, onSet }: { readonly instrument: Instrument; readonly onSet: () => void }) {
  const maySet = useHasRole('RESEARCHER', 'MANAGER');
  const [lines, setLines] = useState('');
  const { lineFormat: now } = instrument;
  const [initial] = useState({
    pattern: now?.pattern ?? '{mark} {value} {unit}', stableMarks: (now?.stableMarks ?? ['ST']).join('; '), movingMarks: (now?.movingMarks ?? ['US']).join('; '),
    netMarks: (now?.netMarks ?? []).join('; '), grossMarks: (now?.grossMarks ?? []).join('; '), decimalMark: (now?.decimalMark ?? 'EITHER') as string, unitOnlyWhenStable: now?.unitOnlyWhenStable ?? false,
    baudRate: String(now?.baudRate ?? 9600), dataBits: String(now?.dataBits ?? 8), parity: (now?.parity ?? 'NONE') as string, stopBits: String(now?.stopBits ?? 1), terminator: (now?.terminator ?? 'CRLF') as string,
  });
  const send = usePayload();
  const entry = useEntry({
    initial,
    keep: true,
    send: (values, id) => send(SetLineFormat, { input: {
      id, instrumentId: instrument.id, pattern: values.pattern, stableMarks: wordsOf(values.stableMarks), movingMarks: wordsOf(values.movingMarks), netMarks: wordsOf(values.netMarks), grossMarks: wordsOf(values.grossMarks),
      decimalMark: values.decimalMark as LineFormat['decimalMark'], unit: instrument.unit, unitWords: now?.unitWords.map(({ written, unit }) => ({ written, unit })) ?? [], unitOnlyWhenStable: values.unitOnlyWhenStable,
      baudRate: Number(values.baudRate), dataBits: Number(values.dataBits), parity: values.parity as 'NONE', stopBits: Number(values.stopBits), terminator: values.terminator as 'CRLF',
    } }),
    onRecorded: onSet,
  });
  const { values } = entry;
  const format = useMemo((): LineFormat | null => (isUnit(instrument.unit) ? {
    pattern: values.pattern, stableMarks: wordsOf(values.stableMarks), movingMarks: wordsOf(values.movingMarks), netMarks: wordsOf(values.netMarks), grossMarks: wordsOf(values.grossMarks),
    decimalMark: values.decimalMark as LineFormat['decimalMark'], unit: instrument.unit, unitWords: (now?.unitWords ?? []).flatMap(({ written, unit }) => (isUnit(unit) ? [{ written, unit }] : [])), unitOnlyWhenStable: values.unitOnlyWhenStable,
  } : null), [instrument.unit, now, values]);
  return (
    <Section title="Line format" margin={now ? null : 'not set yet'}
      lead="How it writes a line when it speaks by itself: the line as it looks, with {value}, {unit}, {mark} (stable or moving), {load} (net or gross), {word} and {any} where its parts stand. Only stable lines are taken.">
      <EntryForm entry={entry} action="Set the line format" label="Line format" disabled={!maySet}>
        <TextField {...entry.field('pattern')} label="Pattern" hint="A space stands for any white space" wide />
        <TextField {...entry.field('stableMarks')} label="Marks of a stable line" hint="Several with ; between" optional />
        <TextField {...entry.field('movingMarks')} label="Marks of a moving line" optional />
        <TextField {...entry.field('netMarks')} label="Marks of a net load" optional />
        <TextField {...entry.field('grossMarks')} label="Marks of a gross load" optional />
        <ChoiceField {...entry.field('decimalMark')} label="Decimal mark" choices={decimalMarks} />
        <TickField {...entry.field('unitOnlyWhenStable')} label="The unit is written only when stable" />
        <ChoiceField {...entry.field('baudRate')} label="Baud rate" choices={rates} />
        <ChoiceField {...entry.field('dataBits')} label="Data bits" choices={[{ value: '8', label: '8' }, { value: '7', label: '7' }]} />
        <ChoiceField {...entry.field('parity')} label="Parity" choices={parities} />
        <ChoiceField {...entry.field('stopBits')} label="Stop bits" choices={[{ value: '1', label: '1' }, { value: '2', label: '2' }]} />
        <ChoiceField {...entry.field('terminator')} label="A line ends with" choices={terminators} />
      </EntryForm>
      <AreaField name="lines" label="Lines to try" hint="Paste what the instrument wrote; nothing of it is recorded" value={lines} onChange={setLines} problem={null} unmarked raw />
      {format && lines.trim() !== '' ? <TriedLines format={format} lines={lines.split(/\r\n|\r|\n/).filter((line) => line !== '').slice(0, 100)} /> : null}
    </Section>
  );
}

const outcomes = { stable: 'stable: taken', moving: 'moving: not taken', unread: 'not read' } as const;

function TriedLines({ format, lines }: { readonly format: LineFormat; readonly lines: readonly string[] }) {
  const problem = problemOf(format);
  if (problem) return <Notice tone="ask" title={`The format cannot be used: ${problem.field} ${problem.problem}.`}>{problem.remedy}</Notice>;
  const rows = lines.map((line, n) => ({ line, n, read: readLine(line, format) }));
  return (
    <Table caption="What is read from each line" rows={rows} keyOf={({ n }) => String(n)} columns={[
      { head: 'Line', cell: ({ line }) => <RawLine>{line}</RawLine> },
      { head: 'Read as', cell: ({ read }) => <strong>{outcomes[read.outcome]}</strong> },
      { head: 'Value', cell: ({ read }) => saidBy(read) },
    ]} />
  );
}

function saidBy(read: LineRead): string {
  if (read.outcome === 'unread') return read.why;
  const load = read.load ? `, ${read.load.toLowerCase()}` : '';
  return `${read.valueText} ${unitSymbol(read.unit)}${load}${read.zero ? ', zero: an empty pan, or just tared' : ''}`;
}

function problemOf(format: LineFormat): InputError | null {
  try {
    requireLineFormat(format);
    return null;
  } catch (error) {
    if (error instanceof InputError) return error;
    throw error;
  }
}
