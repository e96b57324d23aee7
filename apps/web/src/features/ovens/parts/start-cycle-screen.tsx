import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useNavigate } from 'react-router';
import { DiscChoice } from '../../../ui/disc-choice.js';
import { decimalText, EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, TextField } from '../../../ui/fields.js';
import { Back, Page, Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { CheckMark } from '../../../ui/state.js';
import { Empty } from '../../../ui/words.js';
import { StartCycleChoices, StartOvenCycle } from '../documents.js';
import { OvenCaution } from './oven-caution.js';

const empty = { label: '', ovenId: '', setTemperatureC: '70', discIds: [] as readonly string[] };
const none: readonly never[] = [];

/** Loads discs into an oven. */
export function StartCycleScreen() {
  const send = usePayload();
  const navigate = useNavigate();
  const [search, setSearch] = useState('');
  const { data, previousData } = useQuery(StartCycleChoices, { variables: { search: search.trim() || null } });
  const choices = data ?? previousData;
  const ovens = choices?.instruments ?? [];
  const entry = useEntry({
    initial: empty,
    send: ({ label, ovenId, setTemperatureC, discIds }, id, at) =>
      send(StartOvenCycle, { input: { id, label: label.trim(), ovenId, setTemperatureC: decimalText(setTemperatureC), discIds: [...discIds], startedAt: at } }),
    onRecorded: ({ ovenCycle }) => {
      if (ovenCycle) void navigate(`/ovens/${ovenCycle.id}`);
    },
  });
  const oven = ovens.find(({ id }) => id === entry.values.ovenId);
  return (
    <Page title="Load an oven" margin={<Back to="/ovens">Ovens</Back>}>
      <Section title="The cycle">
        <OvenCaution />
        {data && ovens.length === 0 ? <Empty title="There is no oven yet."><Link to="/instruments">Register an oven</Link></Empty> : null}
        <EntryForm entry={entry} action="Start oven cycle">
          <TextField {...entry.field('label')} label="Label of the cycle" hint="For example O-4" />
          <ChoiceField {...entry.field('ovenId')} label="Oven" none="Choose an oven" choices={ovens.map(({ id, label }) => ({ value: id, label }))} hint={oven ? <CheckMark status={oven.checkStatus} /> : undefined} />
          <NumberField {...entry.field('setTemperatureC')} label="Set temperature, °C" hint="The same for all discs of one calibration" />
          <DiscChoice binding={entry.field('discIds')} label="Discs in the oven" offered={choices?.discs.nodes ?? none} totalCount={choices?.discs.totalCount ?? 0} search={search} onSearch={setSearch}
            empty={<Empty title="No disc fits."><Link to="/samples">Record discs under Samples</Link></Empty>} />
        </EntryForm>
      </Section>
    </Page>
  );
}
