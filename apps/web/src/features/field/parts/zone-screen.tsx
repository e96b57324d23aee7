import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useNavigate, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { ZonePageQuery } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { MomentField, NumberField, TextField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Back, Line, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { ApprovalMark } from '../../../ui/state.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { AdviseZone, RecordRain, ZonePage } from '../zone-documents.js';
import { Standing } from './advice.js';
import { IrrigationCaution, NoValve } from './field-words.js';

type Zone = NonNullable<ZonePageQuery['zone']>;

/** Words of the record after which a zone may stand otherwise. */
export const ZONE_KINDS: readonly string[] = [
  'installation', 'installation_end', 'trip', 'field_report', 'latch_reset', 'decision', 'rain', 'zone_rule', 'signature', 'amendment',
];

/** One zone: what its rule says now, the rules it has had, and rain. */
export function ZoneScreen() {
  const { name = '' } = useParams();
  const { data, error, refetch } = useQuery(ZonePage, { variables: { name } });
  useLive(() => refetch(), ({ kind }) => ZONE_KINDS.includes(kind));
  const back = <Back to="/field">Field</Back>;
  if (!data) return <Page title={`Zone ${name}`} margin={back}><Strip>{error ? <Failed what="this zone" again={() => void refetch()} /> : <Waiting what="the zone" />}</Strip></Page>;
  if (!data.zone) return <Page title={`Zone ${name}`} margin={back}><Strip><Empty title={`Nothing was ever installed in zone ${name}.`} /></Strip></Page>;
  return <OneZone zone={data.zone} />;
}

const counted = ({ installed, tripped, silent, site }: Zone): string =>
  `${site}: ${installed} ${installed === 1 ? 'unit' : 'units'} under leaves, ${tripped} tripped, ${silent} silent.`;

function OneZone({ zone }: { readonly zone: Zone }) {
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  return (
    <Page title={`Zone ${zone.name}`} margin={<Back to="/field">Field</Back>} lead={<><p>{counted(zone)}</p><NoValve /></>}
      actions={<ActionLink to={`/field?zone=${encodeURIComponent(zone.name)}`}>Its units</ActionLink>}>
      <Section title="What the rule says now">
        {zone.standing ? <Standing standing={zone.standing} rule={zone.rule ?? null} /> : (
          <Empty title="No approved rule speaks for this zone.">
            <p>Until one does, trips are looked at one by one. A rule is recorded, replayed on past data, reviewed and approved.</p>
          </Empty>
        )}
        {zone.standing && mayRecord ? <KeepAdvice zone={zone.name} /> : null}
      </Section>
      <Section title="Rules" actions={mayRecord ? <ActionLink to={`/field/zone/${encodeURIComponent(zone.name)}/rule`}>Record a rule</ActionLink> : null}>
        {zone.rules.length === 0 ? <Empty title="No rule was recorded yet." /> : (
          <Lines label="Rules of this zone, newest first">
            {zone.rules.map((rule) => (
              <Line key={rule.id} margin={<ApprovalMark state={rule.state} />}>
                <span><Link to={`/field/rule/${rule.id}`}><strong>Version {rule.version}</strong></Link>: {rule.needed} tripped {rule.needed === 1 ? 'unit' : 'units'}, {rule.windows} {rule.windows === 1 ? 'window' : 'windows'} of ± {rule.hoursAroundNoon} h around noon</span>
                <span>“{rule.basis}”, {rule.recordedBy.displayName}, <Moment at={rule.recordedAt} /></span>
              </Line>
            ))}
          </Lines>
        )}
      </Section>
      {mayRecord ? <Section title="Rain" lead="What the gauge holds since it was last emptied. The rule reads it."><RainEntry zone={zone.name} /></Section> : null}
      <Strip><IrrigationCaution /></Strip>
    </Page>
  );
}

const nothing = {};

/** Freezes the advice and goes on to the decision that rests on it. */
function KeepAdvice({ zone }: { readonly zone: string }) {
  const send = usePayload();
  const navigate = useNavigate();
  const entry = useEntry({
    initial: nothing,
    send: (_, id) => send(AdviseZone, { input: { id, zone } }),
    onRecorded: ({ zoneAdvice }) => void (zoneAdvice && navigate(`/field/decide?advice=${zoneAdvice.id}`)),
  });
  return <EntryForm entry={entry} action="Keep this advice and decide" label="Keep this advice">{null}</EntryForm>;
}

function RainEntry({ zone }: { readonly zone: string }) {
  const send = usePayload();
  const [told, setTold] = useState(false);
  const [initial] = useState(() => ({ observedAt: localInput(new Date()), depthMm: '', note: '' }));
  const entry = useEntry({
    initial,
    send: ({ observedAt, depthMm, note }, id) => send(RecordRain, { input: { id, zone, observedAt: momentFromInput(observedAt), depthMm: decimalText(depthMm), note: orNull(note) } }),
    onRecorded: () => setTold(true),
  });
  return (
    <>
      {told ? <Notice tone="calm" title="The rain is recorded." /> : null}
      <EntryForm entry={entry} action="Record rain">
        <NumberField {...entry.field('depthMm')} label="Depth, mm" />
        <MomentField {...entry.field('observedAt')} label="Read at" />
        <TextField {...entry.field('note')} label="Note" optional wide />
      </EntryForm>
    </>
  );
}
