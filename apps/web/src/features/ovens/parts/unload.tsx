import { Fragment, useState } from 'react';
import { Link } from 'react-router';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, TickField } from '../../../ui/fields.js';
import { ScanField } from '../../../ui/scan-field.js';
import { usePayload } from '../../../ui/send.js';
import { Dialog, Notice } from '../../../ui/words.js';
import { UnloadOvenCycle } from '../documents.js';
import type { Cycle } from './cycle.js';
import { OvenCaution } from './oven-caution.js';

interface UnloadProps {
  readonly cycle: Cycle;
  readonly opened: boolean;
  readonly onClose: () => void;
  readonly onUnloaded: () => void;
}

/** Takes the discs out by scan, after constant mass or with a reason. */
export function UnloadDialog({ cycle, opened, onClose, onUnloaded }: UnloadProps) {
  return (
    <Dialog title={`Unload cycle ${cycle.label}`} opened={opened} onClose={onClose}>
      <OvenCaution />
      <UnloadEntry cycle={cycle} onClose={onClose} onUnloaded={onUnloaded} />
    </Dialog>
  );
}

const empty = { reason: '', unscanned: false };

function UnloadEntry({ cycle, onClose, onUnloaded }: Omit<UnloadProps, 'opened'>) {
  const send = usePayload();
  const [scanned, setScanned] = useState<readonly string[]>([]);
  const [asks, setAsks] = useState<string | null>(null);
  const open = cycle.constantMass.filter(({ reached, disc }) => !reached && !disc.loss).map(({ disc }) => disc.label);
  const here = cycle.discs.filter(({ loss }) => !loss);
  const gone = cycle.discs.filter(({ loss }) => loss);
  const left = here.filter(({ id }) => !scanned.includes(id));
  const entry = useEntry({
    initial: empty,
    keep: true,
    send: ({ reason, unscanned }, id, at) => send(UnloadOvenCycle, { input: { id, ovenCycleId: cycle.id, unloadedAt: at, reason: orNull(reason), scannedDiscIds: unscanned ? null : [...scanned] } }),
    onRecorded: onUnloaded,
  });
  const out = ({ id, label }: { readonly id: string; readonly label: string }) => {
    if (!cycle.discs.some((disc) => disc.id === id)) return setAsks(`${label} is not in this cycle: look which one it belongs to.`);
    setAsks(null);
    setScanned((before) => (before.includes(id) ? before : [...before, id]));
  };
  return (
    <>
      <ScanField label="Scan each disc as it comes out" kinds={['disc']} onFound={out} />
      {asks ? <Notice tone="alarm" title={asks} /> : null}
      <p role="status"><strong>{here.length - left.length} of {here.length} scanned.</strong> {left.length > 0 ? <>Still in: {left.map(({ id, label }, i) => <Fragment key={id}>{i > 0 ? ', ' : ''}<Link to={`/samples/disc/${id}`}>{label}</Link></Fragment>)}. One that is gone is told to be lost or destroyed on its own page.</> : 'All are out.'}{gone.length > 0 ? ` ${gone.map(({ label, loss }) => `${label} was ${loss!.outcome.toLowerCase()}`).join(', ')}.` : ''}</p>
      <EntryForm entry={entry} action="Unload" onCancel={onClose} disabled={left.length > 0 && !entry.values.unscanned}>
        {open.length > 0 ? <div style={{ gridColumn: '1 / -1' }}><Notice tone="ask" title={`Constant mass is not reached for ${open.join(', ')}.`}>Unloading now wants a reason, which stays with the cycle.</Notice></div> : null}
        <TickField {...entry.field('unscanned')} label="Unload without scanning" hint="No label, or no scanner at hand" wide />
        <AreaField {...entry.field('reason')} label="Reason" optional={open.length === 0} />
      </EntryForm>
    </>
  );
}
