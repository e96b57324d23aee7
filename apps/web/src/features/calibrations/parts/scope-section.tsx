import { useState } from 'react';
import { useHasRole } from '../../../app/session.js';
import type { CalibrationVersionPageQuery, LeafSide, ScopeEnd } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, MomentField, NumberField, TextField, TicksField } from '../../../ui/fields.js';
import { Facts, Section } from '../../../ui/page.js';
import { fractionOfPercent } from '../../../ui/percent-text.js';
import { rwcInterval } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { Moment, momentFromInput } from '../../../ui/time.js';
import { Action, Flags, Notice } from '../../../ui/words.js';
import { RecordCalibrationScope } from '../documents.js';

type Version = NonNullable<CalibrationVersionPageQuery['calibrationVersion']>;
type Scope = NonNullable<Version['scope']>;

const sides: Readonly<Record<LeafSide, string>> = { ADAXIAL_UP: 'upper side up (adaxial)', ABAXIAL_UP: 'lower side up (abaxial)' };
const ends: Readonly<Record<ScopeEnd, { label: string; beside: string }>> = {
  LAMP_CHANGED: { label: 'The rig is changed', beside: 'lamp, filter, diffuser or aperture: a newer version of the rig' },
  REFERENCE_OUT: { label: 'Its meter fails a check', beside: 'after the version was made' },
  FAILED_CHECK: { label: 'One of its balances fails a check', beside: 'after the version was made' },
};

const listed = (values: readonly string[], all: string): string => (values.length === 0 ? all : values.join(', '));

/** For what a version may be used, and what ends it; stated before it is approved. */
export function ScopeSection({ version, again }: { readonly version: Version; readonly again: () => void }) {
  const mayState = useHasRole('RESEARCHER', 'MANAGER') && (version.state === 'DRAFT' || version.state === 'REVIEWED');
  const [stating, setStating] = useState(false);
  const { scope, calibration, rig, findings } = version;
  const against = findings.filter(({ severity }) => severity === 'ASK');
  return (
    <Section title="Scope" lead={`For ${calibration.crop.name} on ${rig.label} version ${rig.version}. A use outside is stopped, or carried by a reason that shows in the Thread.`}
      actions={mayState && !stating ? <Action kind="plain" onClick={() => setStating(true)}>{scope ? 'State it anew' : 'State its scope'}</Action> : null}>
      {against.length > 0 ? <Notice tone="alarm" title="Something stands against using this version: each use needs a reason."><Flags flags={against} /></Notice> : null}
      <Flags flags={findings.filter(({ severity }) => severity !== 'ASK')} />
      {scope ? <ScopeFacts scope={scope} /> : <p>No scope is stated: its crop, its rig and RWC {rwcInterval(version.rwcMin, version.rwcMax)} count, without an end.</p>}
      {stating ? <ScopeForm version={version} onDone={() => { setStating(false); again(); }} onCancel={() => setStating(false)} /> : null}
    </Section>
  );
}

function ScopeFacts({ scope }: { readonly scope: Scope }) {
  const { bandFromNm, bandToNm, validUntil, leafSide } = scope;
  return (
    <Facts rows={[
      { name: 'RWC', value: rwcInterval(scope.rwcMin, scope.rwcMax) },
      { name: 'Cultivars', value: listed(scope.cultivars, 'all') },
      { name: 'Growth stages', value: listed(scope.growthStages, 'all') },
      { name: 'Leaf', value: leafSide ? sides[leafSide] : 'either side up' },
      { name: 'Band', value: bandFromNm || bandToNm ? `${bandFromNm ?? '…'} to ${bandToNm ?? '…'} nm` : 'not restricted' },
      { name: 'Valid until', value: validUntil ? <Moment at={validUntil} /> : 'no date' },
      { name: 'Ends when', value: scope.endsOn.length > 0 ? scope.endsOn.map((end) => ends[end].label.toLowerCase()).join('; ') : 'nothing but its date' },
      scope.note ? { name: 'Note', value: scope.note } : null,
      { name: 'Stated', value: <><Moment at={scope.recordedAt} />, {scope.recordedBy.displayName}</> },
    ]} />
  );
}

const split = (text: string): string[] => text.split(',').map((one) => one.trim()).filter((one) => one !== '');
const percentText = (fraction: number): string => (100 * fraction).toFixed(1);

function ScopeForm({ version, onDone, onCancel }: { readonly version: Version; readonly onDone: () => void; readonly onCancel: () => void }) {
  const send = usePayload();
  const [initial] = useState({
    rwcMin: percentText(version.rwcMin), rwcMax: percentText(version.rwcMax), cultivars: '', growthStages: '', leafSide: '', bandFromNm: '', bandToNm: '', validUntil: '',
    endsOn: ['LAMP_CHANGED', 'REFERENCE_OUT', 'FAILED_CHECK'] as readonly string[], note: '',
  });
  const entry = useEntry({
    initial,
    send: (values, id) => send(RecordCalibrationScope, { input: {
      id, calibrationVersionId: version.id, rwcMin: fractionOfPercent(values.rwcMin), rwcMax: fractionOfPercent(values.rwcMax),
      cultivars: split(values.cultivars), growthStages: split(values.growthStages), leafSide: (values.leafSide || null) as LeafSide | null,
      bandFromNm: orNull(decimalText(values.bandFromNm)), bandToNm: orNull(decimalText(values.bandToNm)),
      validUntil: values.validUntil ? momentFromInput(values.validUntil) : null, endsOn: values.endsOn as ScopeEnd[], note: orNull(values.note),
    } }),
    onRecorded: onDone,
  });
  return (
    <EntryForm entry={entry} action="State the scope" label="State the scope" onCancel={onCancel}>
      <NumberField {...entry.field('rwcMin')} label="RWC from, %" />
      <NumberField {...entry.field('rwcMax')} label="RWC to, %" />
      <TextField {...entry.field('cultivars')} label="Cultivars" hint="Separated by commas; empty: all" optional />
      <TextField {...entry.field('growthStages')} label="Growth stages" hint="Separated by commas; empty: all" optional />
      <ChoiceField {...entry.field('leafSide')} label="Leaf side" choices={Object.entries(sides).map(([value, label]) => ({ value, label }))} none="Either side up" />
      <NumberField {...entry.field('bandFromNm')} label="Band from, nm" hint="Centre of the device’s band" optional />
      <NumberField {...entry.field('bandToNm')} label="Band to, nm" optional />
      <MomentField {...entry.field('validUntil')} label="Valid until" hint="Empty: no date" optional />
      <TicksField {...entry.field('endsOn')} label="It ends when" empty={null} choices={Object.entries(ends).map(([value, each]) => ({ value, ...each }))} />
      <TextField {...entry.field('note')} label="Note" optional wide />
    </EntryForm>
  );
}
