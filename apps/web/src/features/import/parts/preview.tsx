import { useState } from 'react';
import { Link } from 'react-router';
import type { DryingImportInput, ImportDryingSeriesMutation, PreviewDryingImportMutation } from '../../../generated/graphql.js';
import { EntryOutcome, useEntry } from '../../../ui/entry.js';
import { Section } from '../../../ui/page.js';
import { Rwc } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Action, Notice } from '../../../ui/words.js';
import { ImportDryingSeries } from '../documents.js';

export type PreviewSeen = PreviewDryingImportMutation['previewDryingImport'];
type Imported = ImportDryingSeriesMutation['importDryingSeries'];
type RowError = PreviewSeen['errors'][number];

interface PreviewProps {
  readonly input: DryingImportInput;
  readonly preview: PreviewSeen;
  /** The rows or their meaning were changed since this preview. */
  readonly changed: boolean;
}

const nothing = {};

/** What would be recorded, row by row, and what stands against it; then the import itself. */
export function Preview({ input, preview, changed }: PreviewProps) {
  const send = usePayload();
  const [imported, setImported] = useState<Imported | null>(null);
  const [errors, setErrors] = useState<readonly RowError[]>(preview.errors);
  const entry = useEntry({
    initial: nothing,
    send: () => send(ImportDryingSeries, { input }),
    onRecorded: (payload) => (payload.errors.length > 0 ? setErrors(payload.errors) : setImported(payload)),
    onRefused: (_problem, payload) => setErrors(payload?.errors ?? preview.errors),
  });
  if (imported) return <Section title="Imported"><Done imported={imported} /></Section>;
  return (
    <Section title="Preview" margin={`${preview.rowCount} rows, ${preview.discCount} ${preview.discCount === 1 ? 'disc' : 'discs'}`}>
      {preview.alreadyImported ? <Notice tone="ask" title="This file was imported before, with the same mapping.">Importing it again changes nothing.</Notice> : null}
      {errors.length > 0 ? <Errors errors={errors} /> : null}
      {preview.flags.length > 0 ? (
        <>
          <h3>To look at: {preview.flags.length === 1 ? 'one row' : `${preview.flags.length} rows`}</h3>
          <p>These do not stop the import; the flags are kept with the weighings.</p>
          <Table caption="Rows with flags" rows={preview.flags.slice(0, 50)} keyOf={({ line, flag }) => `${line} ${flag.code}`} columns={[
            { head: 'Line', cell: ({ line }) => line },
            { head: 'What', cell: ({ flag }) => flag.message },
          ]} />
        </>
      ) : null}
      {preview.rows.length > 0 ? (
        <>
          <h3>First rows, as they would be recorded</h3>
          <Table caption="First rows as they would be recorded" rows={preview.rows} keyOf={({ line }) => String(line)} columns={[
            { head: 'Line', cell: ({ line }) => line },
            { head: 'Disc', cell: ({ disc }) => disc },
            { head: 'At', cell: ({ at }) => <Moment at={at} /> },
            { head: 'Mass, mg', number: true, cell: ({ massMg }) => massMg },
            { head: 'RWC', number: true, cell: ({ rwc }) => (rwc === null || rwc === undefined ? 'not known' : <Rwc value={rwc} />) },
          ]} />
        </>
      ) : null}
      <EntryOutcome entry={entry} />
      {changed ? <Notice tone="ask" title="You changed the rows or their meaning since this preview.">Press Preview again before you import.</Notice> : null}
      <div><Action onClick={() => void entry.submit()} waiting={entry.sending} disabled={changed || errors.length > 0}>{entry.notSent ? 'Send again' : `Import ${preview.rowCount} rows`}</Action></div>
    </Section>
  );
}

function Errors({ errors }: { readonly errors: readonly RowError[] }) {
  return (
    <>
      <Notice tone="alarm" title={errors.length === 1 ? 'One row cannot be read: nothing is imported.' : `${errors.length} rows cannot be read: nothing is imported.`}>Mend them in the rows above, or in the file and choose it again.</Notice>
      <Table caption="Rows that cannot be read" rows={errors.slice(0, 100)} keyOf={({ line, column, message }) => `${line} ${column ?? ''} ${message}`} columns={[
        { head: 'Line', cell: ({ line }) => line },
        { head: 'Column', cell: ({ column }) => column ?? 'the whole row' },
        { head: 'What is wrong', cell: ({ message }) => message },
        { head: 'What to do', cell: ({ remedy }) => remedy },
      ]} />
    </>
  );
}

function Done({ imported }: { readonly imported: Imported }) {
  if (imported.alreadyImported) return <Notice tone="calm" title="This file had been imported before: nothing was changed." />;
  return (
    <>
      <Notice tone="calm" title={`${imported.discCount} ${imported.discCount === 1 ? 'disc' : 'discs'} and ${imported.weighingCount} weighings are recorded.`}>The mapping is remembered for the next file with these columns.</Notice>
      {imported.rwcSeries.length > 0 ? (
        <Table caption="RWC series computed from the import" rows={imported.rwcSeries} keyOf={({ id }) => id} columns={[
          { head: 'Disc', cell: ({ disc }) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
          { head: 'Points', number: true, cell: ({ points }) => points.length },
          { head: 'RWC, first to last', number: true, cell: ({ points }) => { const [first, last] = [points[0], points.at(-1)]; return first && last ? <><Rwc value={first.rwc} /> to <Rwc value={last.rwc} /></> : 'none'; } },
        ]} />
      ) : null}
      <p><Link to="/samples">See the discs under Samples</Link></p>
    </>
  );
}
