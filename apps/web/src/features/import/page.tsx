import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import type { DryingImportInput, ImportChoicesQuery } from '../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../ui/entry.js';
import { AreaField, ChoiceField, MomentField, TextField, TickField } from '../../ui/fields.js';
import { Page, Section, Strip } from '../../ui/page.js';
import { massUnits } from '../../ui/record-words.js';
import { usePayload } from '../../ui/send.js';
import { momentFromInput } from '../../ui/time.js';
import { Action, Empty, Failed, Waiting } from '../../ui/words.js';
import { ImportChoices, PreviewDryingImport } from './documents.js';
import { columnsOf } from './parts/columns.js';
import { FileChoice } from './parts/file-choice.js';
import { Preview } from './parts/preview.js';
import type { PreviewSeen } from './parts/preview.js';

type Choices = ImportChoicesQuery;
type Mapping = Choices['dryingImportMappings'][number];

/** Takes in a drying series from CSV or TSV: all rows or none, each fault told by its line. */
export function Screen() {
  const { data, error, refetch } = useQuery(ImportChoices);
  return (
    <Page title="Import" lead="A drying series from a CSV or TSV file: one row for each weighing. All rows are recorded, or none.">
      {!data ? <Strip>{error ? <Failed what="crops and mappings" again={() => void refetch()} /> : <Waiting what="crops and mappings" />}</Strip> : null}
      {data && data.crops.length === 0 ? <Strip><Empty title="There is no crop yet."><Link to="/samples/plants">Record the crop of the leaves first</Link></Empty></Strip> : null}
      {data && data.crops.length > 0 ? <ImportEntry choices={data} /> : null}
    </Page>
  );
}

const empty = {
  fileName: '', text: '', cropId: '', delimiter: '', decimalComma: false, massUnit: 'mg', discColumn: '', secondDiscColumn: '', timeColumn: '', timeUnit: 'min', startAt: '', utcOffset: '',
  massColumn: '', turgidMassColumn: '', dryMassColumn: '',
};

const delimiterChoices = [{ value: ',', label: 'Comma' }, { value: ';', label: 'Semicolon' }, { value: '\t', label: 'Tab' }, { value: '|', label: 'Bar' }] as const;
const timeUnits = [
  { value: 'min', label: 'Minutes since the start' }, { value: 'h', label: 'Hours since the start' }, { value: 's', label: 'Seconds since the start' },
  { value: 'moment', label: 'Date and time' },
] as const;

function inputOf(values: typeof empty): DryingImportInput {
  const { fileName, text, cropId, delimiter, discColumn, secondDiscColumn, startAt, utcOffset, turgidMassColumn, dryMassColumn, ...mapping } = values;
  const moments = mapping.timeUnit === 'moment';
  return {
    fileName: fileName || 'pasted.csv', text, cropId,
    mapping: {
      ...mapping, delimiter: delimiter || null, discColumn: [discColumn, secondDiscColumn].filter(Boolean).join('+'),
      startAt: moments || startAt === '' ? null : momentFromInput(startAt), utcOffset: moments ? orNull(utcOffset) : null,
      turgidMassColumn: turgidMassColumn || null, dryMassColumn: dryMassColumn || null,
    },
  };
}

function ImportEntry({ choices }: { readonly choices: Choices }) {
  const send = usePayload();
  const [seen, setSeen] = useState<{ readonly input: DryingImportInput; readonly preview: PreviewSeen } | null>(null);
  const entry = useEntry({
    initial: empty,
    keep: true,
    send: async (values) => {
      const input = inputOf(values);
      setSeen(null);
      const sent = await send(PreviewDryingImport, { input });
      if (sent.outcome === 'recorded') setSeen({ input, preview: sent.payload });
      return sent;
    },
  });
  const { values } = entry;
  const columns = columnsOf(values.text, values.delimiter || null);
  const columnChoices = columns.map((name) => ({ value: name, label: name }));
  const use = (mapping: Mapping) => {
    entry.set('delimiter', mapping.delimiter ?? '');
    entry.set('decimalComma', mapping.decimalComma);
    entry.set('massUnit', mapping.massUnit);
    entry.set('timeUnit', mapping.timeUnit);
    for (const name of ['timeColumn', 'massColumn'] as const) entry.set(name, mapping[name]);
    for (const name of ['utcOffset', 'turgidMassColumn', 'dryMassColumn'] as const) entry.set(name, mapping[name] ?? '');
    const [first = '', second = ''] = mapping.discColumn.split('+');
    entry.set('discColumn', first);
    entry.set('secondDiscColumn', second);
  };
  const fits = choices.dryingImportMappings.filter(({ discColumn, timeColumn, massColumn }) => [...discColumn.split('+'), timeColumn, massColumn].every((name) => columns.includes(name)));
  const changed = seen !== null && JSON.stringify(inputOf(values)) !== JSON.stringify(seen.input);
  return (
    <>
      <Section title="The file">
        <FileChoice onText={(fileName, text) => { entry.set('fileName', fileName); entry.set('text', text); }} />
        <AreaField {...entry.field('text')} label="Rows" hint={values.fileName ? `Read from ${values.fileName}. The first line names the columns.` : 'Or paste them here. The first line names the columns.'} rows={8} raw />
      </Section>
      {values.text.trim() === '' ? null : (
        <Section title="What the columns mean" actions={fits[0] ? <Action kind="plain" onClick={() => use(fits[0]!)}>Use the mapping of {fits[0].fileName}</Action> : null}>
          <EntryForm entry={entry} action="Preview" disabled={values.cropId === '' || values.discColumn === '' || values.timeColumn === '' || values.massColumn === ''}>
            <ChoiceField {...entry.field('cropId')} label="Crop" none="Choose a crop" choices={choices.crops.map(({ id, name }) => ({ value: id, label: name }))} />
            <ChoiceField {...entry.field('discColumn')} label="Column of the leaf or disc" none="Choose a column" choices={columnChoices} />
            <ChoiceField {...entry.field('secondDiscColumn')} label="Second column of its name" hint="Where only two columns together name one" none="None" choices={columnChoices} optional />
            <ChoiceField {...entry.field('timeColumn')} label="Column of the time" none="Choose a column" choices={columnChoices} />
            <ChoiceField {...entry.field('timeUnit')} label="The time is in" choices={timeUnits} />
            {values.timeUnit === 'moment'
              ? <TextField {...entry.field('utcOffset')} label="Offset of the times from UTC" hint="Where the rows tell none, for example +02:00" optional />
              : <MomentField {...entry.field('startAt')} label="Times count from" />}
            <ChoiceField {...entry.field('massColumn')} label="Column of the mass" none="Choose a column" choices={columnChoices} />
            <ChoiceField {...entry.field('massUnit')} label="Unit of the masses" choices={massUnits} />
            <ChoiceField {...entry.field('turgidMassColumn')} label="Column of the turgid mass" none="None" choices={columnChoices} optional />
            <ChoiceField {...entry.field('dryMassColumn')} label="Column of the dry mass" none="None" choices={columnChoices} optional />
            <ChoiceField {...entry.field('delimiter')} label="Columns are parted by" none="Find it" choices={delimiterChoices} unmarked />
            <TickField {...entry.field('decimalComma')} label="Numbers have a decimal comma" />
          </EntryForm>
        </Section>
      )}
      {seen ? <Preview key={JSON.stringify(seen.input.mapping) + seen.input.text.length} input={seen.input} preview={seen.preview} changed={changed} /> : null}
    </>
  );
}
