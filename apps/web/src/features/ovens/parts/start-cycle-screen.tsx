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
import { LoadTray, useTray } from './load-tray.js';
import { OvenCaution } from './oven-caution.js';

const empty = { label: '', ovenId: '', setTemperatureC: '70', constantMassRule: 'disc', trayRows: '4', trayColumns: '6', discIds: [] as readonly string[] };
const none: readonly never[] = [];

/** Loads discs into an oven. */
export function StartCycleScreen() {
  const send = usePayload();
  const navigate = useNavigate();
  const [search, setSearch] = useState('');
  const { data, previousData } = useQuery(StartCycleChoices, { variables: { search: search.trim() || null } });
  const choices = data ?? previousData;
  const ovens = choices?.instruments ?? [];
  const tray = useTray();
  const entry = useEntry({
    initial: empty,
    send: ({ label, ovenId, setTemperatureC, constantMassRule, trayRows, trayColumns, discIds }, id, at) => send(StartOvenCycle, {
      input: {
        id, label: label.trim(), ovenId, setTemperatureC: decimalText(setTemperatureC), constantMassRule, startedAt: at,
        discIds: [...new Set([...tray.loaded.map(({ discId }) => discId), ...discIds])],
        ...(tray.loaded.length > 0 ? { trayRows: Number(trayRows) || 1, trayColumns: Number(trayColumns) || 1, trayMap: tray.loaded.map(({ discId, row, column }) => ({ discId, row, column })) } : {}),
      },
    }),
    onRecorded: ({ ovenCycle }) => {
      tray.clear();
      if (ovenCycle) void navigate(`/ovens/${ovenCycle.id}`);
    },
  });
  const rows = Number(entry.values.trayRows) || 1;
  const columns = Number(entry.values.trayColumns) || 1;
  const rule = choices?.constantMassRules.find(({ key }) => key === entry.values.constantMassRule);
  const oven = ovens.find(({ id }) => id === entry.values.ovenId);
  return (
    <Page title="Load an oven" margin={<Back to="/ovens">Ovens</Back>}>
      <Section title="Load the tray by scan" margin={tray.loaded.length === 1 ? '1 disc' : `${tray.loaded.length} discs`} lead="Scan each disc as you lay it down: it takes the next free place, row by row from the door’s left. What is scanned is kept on this computer until the cycle is started.">
        <OvenCaution />
        <LoadTray tray={tray} rows={rows} columns={columns} />
      </Section>
      <Section title="The cycle">
        {data && ovens.length === 0 ? <Empty title="There is no oven yet."><Link to="/instruments">Register an oven</Link></Empty> : null}
        <EntryForm entry={entry} action="Start oven cycle" disabled={tray.loaded.length + entry.values.discIds.length === 0}>
          <TextField {...entry.field('label')} label="Label of the cycle" hint="For example O-4" />
          <ChoiceField {...entry.field('ovenId')} label="Oven" none="Choose an oven" choices={ovens.map(({ id, label }) => ({ value: id, label }))} hint={oven ? <CheckMark status={oven.checkStatus} /> : undefined} />
          <NumberField {...entry.field('setTemperatureC')} label="Set temperature, °C" hint="The same for all discs of one calibration" />
          <ChoiceField {...entry.field('constantMassRule')} label="Dry when" choices={(choices?.constantMassRules ?? []).map(({ key, name, intervalMin }) => ({ value: key, label: `${name}: checks ${intervalMin} min apart` }))} hint={<>Discs whose run is under a protocol are judged by that one. {rule ? `This one: ${rule.source}.` : ''}</>} />
          <NumberField {...entry.field('trayRows')} label="Rows of the tray" inputMode="numeric" />
          <NumberField {...entry.field('trayColumns')} label="Columns of the tray" inputMode="numeric" />
          <DiscChoice binding={entry.field('discIds')} label="Discs without a place on the tray" offered={choices?.discs.nodes ?? none} totalCount={choices?.discs.totalCount ?? 0} search={search} onSearch={setSearch}
            empty={<Empty title="No disc fits."><Link to="/samples">Record discs under Samples</Link></Empty>} />
        </EntryForm>
      </Section>
    </Page>
  );
}
