import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { LabelPrintsQuery, LabelSubject, LabelSymbology, PrintLabelsMutation } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, NumberField } from '../../../ui/fields.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Line, Lines, Page, Section } from '../../../ui/page.js';
import { useInAddress } from '../../../ui/search.js';
import { usePayload } from '../../../ui/send.js';
import { Moment } from '../../../ui/time.js';
import { Empty, Notice } from '../../../ui/words.js';
import { LabelPrints, LabelsOf, PrintLabels } from '../documents.js';
import { measures, roll, stocks, type Stock } from './label-stocks.js';
import styles from './samples.module.css';

type Print = LabelPrintsQuery['labelPrints'][number];
type Made = NonNullable<PrintLabelsMutation['printLabels']['labelPrint']>;

const symbologies: readonly { readonly value: LabelSymbology; readonly label: string }[] = [
  { value: 'DATA_MATRIX', label: 'Data Matrix, the smallest' }, { value: 'QR', label: 'QR, read by any phone' }, { value: 'CODE_128', label: 'Code 128, bars for envelopes' },
];
const symbologyWord: Readonly<Record<LabelSymbology, string>> = { DATA_MATRIX: 'Data Matrix', QR: 'QR', CODE_128: 'Code 128' };
const nounOf = (kind: string, count: number): string => ({ PLANT: ['plant', 'plants'], LEAF: ['leaf', 'leaves'], DISC: ['disc', 'discs'], PLACE: ['place', 'places'], DEVICE_UNIT: ['unit', 'units'] })[kind]?.[count === 1 ? 0 : 1] ?? kind;

/** Labels of what was chosen elsewhere, and those printed before. */
export function LabelsScreen() {
  const mayPrint = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER');
  const [kind] = useInAddress('kind');
  const [idText] = useInAddress('ids');
  const ids = idText === '' ? [] : idText.split(',');
  const [made, setMade] = useState<Made | null>(null);
  const { data, refetch } = useQuery(LabelPrints, { variables: { subjectId: ids.length === 1 ? ids[0]! : null } });
  useLive(() => refetch(), ofKind('label_print'));
  const prints = data?.labelPrints ?? [];
  return (
    <Page title="Labels" margin={<Back to="/samples">Samples</Back>} lead="Each label carries a code with a check character, the same in letters, and what a person calls the thing.">
      {ids.length > 0 && mayPrint ? (
        <Section title={`Print labels of ${ids.length} ${nounOf(kind, ids.length)}`}>
          <PrintEntry kind={kind as LabelSubject} ids={ids} onMade={(print) => { setMade(print); void refetch(); }} />
          {made ? <MadeLabels print={made} /> : null}
        </Section>
      ) : null}
      <Section title={ids.length === 1 ? 'Printed before' : 'Lately printed'}>
        {prints.length === 0 ? <Empty title="No label has been printed yet.">{ids.length === 0 ? <p>Choose discs in <Link to="/samples">Samples</Link>, or open a plant, a leaf or a place.</p> : null}</Empty> : (
          <Lines label="Prints">{prints.map((print) => <PrintLine key={print.id} print={print} />)}</Lines>
        )}
      </Section>
    </Page>
  );
}

function PrintLine({ print }: { readonly print: Print }) {
  const { recordedAt, recordedBy, subjectKind, count, symbology, reason } = print;
  return (
    <Line margin={<Moment at={recordedAt} />}>
      <span>{count} {nounOf(subjectKind, count)}, {symbologyWord[symbology]}, {recordedBy.displayName}{reason ? `. Printed again: ${reason}` : ''}</span>
      <Files print={print} />
    </Line>
  );
}

const Files = ({ print }: { readonly print: Pick<Print, 'pdfUrl' | 'svgUrl' | 'pngUrl' | 'count'> }) => (
  <span><a href={print.pdfUrl} target="_blank" rel="noreferrer">PDF</a>, <a href={print.svgUrl} target="_blank" rel="noreferrer">SVG</a>, <a href={print.pngUrl} target="_blank" rel="noreferrer">{print.count === 1 ? 'PNG' : 'PNG of each, in a ZIP'}</a></span>
);

function MadeLabels({ print }: { readonly print: Made }) {
  return (
    <Notice tone="calm" title={print.pages === 1 ? 'The labels are ready, on one page.' : `The labels are ready, on ${print.pages} pages.`}>
      <p><Files print={print} />. Print at full size, without fitting to the page.</p>
      <img className={styles.preview} src={print.svgUrl} alt="The first page of labels" />
    </Notice>
  );
}

const own = roll(30, 15);
const emptyReason = { symbology: 'DATA_MATRIX', stock: 'roll-30-15', firstPlace: '1', reason: '', ...Object.fromEntries(measures.map(([name]) => [name, String(own[name])])) } as Record<string, string>;

function PrintEntry({ kind, ids, onMade }: { readonly kind: LabelSubject; readonly ids: readonly string[]; readonly onMade: (print: Made) => void }) {
  const send = usePayload();
  const counts = useQuery(LabelsOf, { variables: { subjectIds: [...ids] } });
  const again = (counts.data?.labelPrintCounts ?? []).filter((count) => count > 0).length;
  const entry = useEntry({
    initial: emptyReason,
    keep: true,
    send: (values, id) => send(PrintLabels, {
      input: {
        id, subjectKind: kind, subjectIds: [...ids], symbology: values['symbology'] as LabelSymbology, stock: stockOf(values), firstPlace: Number(values['firstPlace'] || '1') - 1, reason: orNull(values['reason'] ?? ''),
      },
    }),
    onRecorded: ({ labelPrint }) => {
      void counts.refetch();
      if (labelPrint) onMade(labelPrint);
    },
  });
  const bound = (name: string) => ({ ...entry.field(name), value: entry.values[name] ?? '' });
  const stock = stocks.find(({ value }) => value === entry.values['stock']);
  const { columns, rows } = stockOf(entry.values);
  return (
    <EntryForm entry={entry} action="Make the labels">
      <ChoiceField {...bound('symbology')} label="Code" choices={symbologies} />
      <ChoiceField {...bound('stock')} label="Stock" choices={stocks} hint="Try one label wet, at oven temperature and in the desiccator before you rely on it." />
      {stock?.stock === null ? measures.map(([name, title]) => <NumberField key={name} {...bound(name)} label={title} />) : null}
      {columns * rows > 1 ? <NumberField {...bound('firstPlace')} label="First free label on the sheet" hint={`1 to ${columns * rows}, along the rows: for a sheet begun before`} inputMode="numeric" /> : null}
      {again > 0 ? (
        <AreaField {...bound('reason')} label="Why they are printed again" rows={2} hint={`${again === 1 ? 'One of these labels was' : `${again} of these labels were`} printed before. The new one says so; destroy the old one.`} />
      ) : null}
    </EntryForm>
  );
}

function stockOf(values: Readonly<Record<string, string>>): Stock {
  const named = stocks.find(({ value }) => value === values['stock'])?.stock;
  return named ?? (Object.fromEntries(measures.map(([name]) => [name, Number(decimalText(values[name] ?? ''))])) as unknown as Stock);
}
