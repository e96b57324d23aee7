import { useState } from 'react';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { NumberField, TextField } from '../../../ui/fields.js';
import { Line, Lines, Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Countdown, Moment, useNow } from '../../../ui/time.js';
import { Action, Dialog, Empty, Notice } from '../../../ui/words.js';
import { RecordOvenCooling, RecordOvenTemperature } from '../documents.js';
import { coolingOf, otherTemperatures } from './cycle.js';
import type { Cycle } from './cycle.js';
import { OvenCaution } from './oven-caution.js';
import styles from './ovens.module.css';

interface StepProps {
  readonly cycle: Cycle;
  readonly mayRecord: boolean;
  readonly again: () => void;
}

/** What comes next in a cycle, in one sentence, with its countdown: cool, weigh, dry on, or unload. */
export function NextStep({ cycle, mayRecord, again }: StepProps) {
  const now = useNow(1);
  const [cooling, setCooling] = useState(false);
  const open = cycle.constantMass.filter(({ reached, disc }) => !reached && !disc.loss);
  const newest = cycle.coolings.at(-1);
  const weighedSince = cycle.checkWeighings.some(({ observedAt }) => newest && Date.parse(observedAt) >= Date.parse(newest.cooledAt));
  const cools = newest && Date.parse(newest.cooledAt) > now;
  return (
    <Section title="Next step">
      <OvenCaution />
      {otherTemperatures(cycle).map(({ id, name, version, parameters }) => (
        <Notice key={id} tone="ask" title={`The oven was set to ${cycle.setTemperatureC} °C; ${name}, version ${version}, wants ${parameters.ovenTemperatureC} °C.`}>
          Look at the oven, and record the temperature you read. Dry masses of one calibration belong to one temperature.
        </Notice>
      ))}
      {open.length === 0 ? <Notice tone="calm" title="Every disc is at constant mass, or told to be gone.">Unload the cycle, scanning each disc.</Notice> : null}
      {open.length > 0 && cools ? <Notice tone="ask" title="Cooling"><p className={styles.wait}>Weighing <Countdown to={newest.cooledAt} /></p><p>{newest.coolingMin} min{newest.vessel ? ` in ${newest.vessel}` : ''} since <Moment at={newest.takenOutAt} />, {newest.recordedBy.displayName}. A warm disc reads light.</p></Notice> : null}
      {open.length > 0 && newest && !cools && !weighedSince ? <Notice tone="ask" title={`They have cooled. Weigh ${open.length === 1 ? 'the disc' : `the ${open.length} discs`} now, each with the lid open for as short as you can.`} /> : null}
      {open.length > 0 && (!newest || weighedSince) ? (
        <Notice tone="calm" title={cycle.checkWeighings.length === 0 ? 'Drying. The first check is usual after 24 h.' : `Drying. ${open.length === 1 ? 'One disc is' : `${open.length} discs are`} not dry yet.`}>
          {cycle.nextCheckAt ? <p>The next weighing that can decide: <Moment at={cycle.nextCheckAt} relative /></p> : null}
        </Notice>
      ) : null}
      {mayRecord && open.length > 0 && !cools ? <div><Action kind="plain" onClick={() => setCooling(true)}>Taken out to cool</Action></div> : null}
      <Dialog title="Taken out to cool" opened={cooling} onClose={() => setCooling(false)}>
        <OvenCaution />
        <CoolingEntry cycle={cycle} onClose={() => setCooling(false)} onRecorded={() => { setCooling(false); again(); }} />
      </Dialog>
    </Section>
  );
}

function CoolingEntry({ cycle, onClose, onRecorded }: { readonly cycle: Cycle; readonly onClose: () => void; readonly onRecorded: () => void }) {
  const send = usePayload();
  const [initial] = useState(() => ({ coolingMin: String(coolingOf(cycle)), vessel: '' }));
  const entry = useEntry({
    initial,
    send: ({ coolingMin, vessel }, id, at) => send(RecordOvenCooling, { input: { id, ovenCycleId: cycle.id, takenOutAt: at, coolingMin: Math.round(Number(decimalText(coolingMin))) || 0, vessel: orNull(vessel) } }),
    onRecorded,
  });
  return (
    <EntryForm entry={entry} action="Start cooling" onCancel={onClose}>
      <NumberField {...entry.field('coolingMin')} label="Cooling time, min" hint="To room temperature, as the protocol says; else 15 to 30 in foil or tubes, an hour in glass (common practice)" inputMode="numeric" />
      <TextField {...entry.field('vessel')} label="Where it cools" hint="The desiccator’s label" optional />
    </EntryForm>
  );
}

const emptyTemperature = { temperatureC: '', note: '' };

/** The temperature it was set to, and those read in it. */
export function Temperatures({ cycle, mayRecord, again }: StepProps) {
  const send = usePayload();
  const entry = useEntry({
    initial: emptyTemperature,
    send: ({ temperatureC, note }, id, at) => send(RecordOvenTemperature, { input: { id, ovenCycleId: cycle.id, observedAt: at, temperatureC: decimalText(temperatureC), note: orNull(note) } }),
    onRecorded: again,
  });
  return (
    <Section title="Temperature" margin={`set to ${cycle.setTemperatureC} °C`}>
      {mayRecord ? (
        <EntryForm entry={entry} action="Record temperature" disabled={entry.values.temperatureC.trim() === ''}>
          <NumberField {...entry.field('temperatureC')} label="Temperature read, °C" />
          <TextField {...entry.field('note')} label="Where or how it was read" optional />
        </EntryForm>
      ) : null}
      {cycle.temperatures.length === 0 ? <Empty title="No temperature has been read in this cycle." /> : (
        <Lines label="Temperatures read">
          {cycle.temperatures.map(({ id, observedAt, temperatureC, note, recordedBy }) => (
            <Line key={id} margin={<Moment at={observedAt} />}><span><strong>{temperatureC} °C</strong>{note ? `, ${note}` : ''}, {recordedBy.displayName}</span></Line>
          ))}
        </Lines>
      )}
    </Section>
  );
}
