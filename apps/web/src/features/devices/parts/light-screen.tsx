import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { formatPercentPlain } from '#libs/quantity';
import { useHasRole } from '../../../app/session.js';
import type { LightBasis, LightReferenceTableQuery } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { fractionTextOfPercent } from '../../../ui/percent-text.js';
import { AsEntered } from '../../../ui/quantity.js';
import { powerUnits } from '../../../ui/record-words.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { LightReferenceTable, RecordLightReference } from '../documents.js';

type Light = LightReferenceTableQuery['lightReferences'][number];

export const basisWord = (basis: LightBasis): string => (basis === 'MEASURED' ? 'measured' : 'assumed');

const columns = [
  { head: 'Light reference', cell: ({ label }: Light) => label },
  { head: 'Site', cell: ({ site }: Light) => site },
  { head: 'Power', number: true, cell: ({ powerText, powerUnit, powerNw }: Light) => <AsEntered text={powerText} unit={powerUnit} exact={powerNw} exactUnit="nW" /> },
  { head: 'Spread, 1 SD', number: true, cell: ({ relativeSd }: Light) => formatPercentPlain(Number(relativeSd), 1) },
  { head: 'Basis', cell: ({ basis, note }: Light) => <>{basisWord(basis)}{note ? `: ${note}` : ''}</> },
  { head: 'When', cell: ({ observedAt, recordedBy }: Light) => <><Moment at={observedAt} />, {recordedBy.displayName}</> },
  { head: 'Thread', cell: ({ id }: Light) => <Link to={threadPath('light_reference', id, 'up')}>up</Link> },
] as const;

/** How much light of the band reaches the sensor's plane in the field, and how it spreads. */
export function LightScreen() {
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(LightReferenceTable);
  useLive(() => refetch(), ({ kind }) => kind === 'light_reference');
  return (
    <Page title="Light references" margin={<Back to="/devices">Devices</Back>} lead="The light moves the trip point more than anything else: measure it where the unit will sit, over the hours it will be armed. A power that was not measured is recorded as assumed, with what it rests on.">
      <Section title="On record">
        {!data ? (error ? <Failed what="the light references" again={() => void refetch()} /> : <Waiting what="the light references" />) : null}
        {data?.lightReferences.length === 0 ? <Empty title="No light reference is recorded yet." /> : null}
        {data && data.lightReferences.length > 0 ? <Table caption="Light references" columns={columns} rows={data.lightReferences} keyOf={({ id }) => id} /> : null}
      </Section>
      {mayRecord ? <Section title="Record a light reference"><LightEntry onRecorded={() => void refetch()} /></Section> : null}
    </Page>
  );
}

const bases = [{ value: 'MEASURED', label: 'Measured' }, { value: 'ASSUMED', label: 'Assumed' }];

function LightEntry({ onRecorded }: { readonly onRecorded: () => void }) {
  const send = usePayload();
  const [initial] = useState(() => ({ label: '', site: '', basis: 'MEASURED', powerText: '', powerUnit: 'nW', relativeSd: '', observedAt: localInput(new Date()), note: '' }));
  const entry = useEntry({
    initial,
    send: (values, id) => send(RecordLightReference, {
      input: {
        id, label: values.label.trim(), site: values.site.trim(), basis: values.basis as LightBasis, powerText: values.powerText.trim(), powerUnit: values.powerUnit,
        relativeSd: fractionTextOfPercent(values.relativeSd), observedAt: momentFromInput(values.observedAt), note: orNull(values.note),
      },
    }),
    onRecorded,
  });
  const assumed = entry.values.basis === 'ASSUMED';
  return (
    <EntryForm entry={entry} action="Record light reference">
      <SegmentField {...entry.field('basis')} label="Basis" choices={bases} wide />
      <TextField {...entry.field('label')} label="Label" hint="Place and hour, for example" />
      <TextField {...entry.field('site')} label="Site" />
      <NumberField {...entry.field('powerText')} label="Power in the band at the sensor’s plane" hint="Without a leaf" />
      <ChoiceField {...entry.field('powerUnit')} label="Unit of power" choices={powerUnits} />
      <NumberField {...entry.field('relativeSd')} label="Spread over the armed hours, % (1 SD)" hint="Standard deviation over mean" />
      <MomentField {...entry.field('observedAt')} label={assumed ? 'Assumed at' : 'Measured at'} />
      <TextField {...entry.field('note')} label={assumed ? 'What the assumption rests on' : 'Note'} optional={!assumed} wide />
    </EntryForm>
  );
}
