import { useQuery } from '@apollo/client/react';
import { useMemo } from 'react';
import { useNavigate, useParams } from 'react-router';
import type { ZonePageQuery } from '../../../generated/graphql.js';
import { decimalText, EntryForm, useEntry } from '../../../ui/entry.js';
import { AreaField, NumberField } from '../../../ui/fields.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Failed, Waiting } from '../../../ui/words.js';
import { RecordZoneRule, ZonePage } from '../zone-documents.js';
import { NoValve } from './field-words.js';

type Rule = NonNullable<ZonePageQuery['zone']>['rules'][number];

/** A new version begins as the one before; the first one empty, because k, n and windows are the agronomist's to choose. */
const beginning = (before: Rule | undefined) => ({
  latitude: before?.latitude ?? '', longitude: before?.longitude ?? '', needed: before ? String(before.needed) : '', windows: before ? String(before.windows) : '1',
  hoursAroundNoon: before?.hoursAroundNoon ?? '', maxAgeHours: before?.maxAgeHours ?? '', silentAfterHours: before?.silentAfterHours ?? '', minHealthy: before ? String(before.minHealthy) : '',
  lockoutHours: before?.lockoutHours ?? '', rainHoldMm: before?.rainHoldMm ?? '', rainHoldHours: before?.rainHoldHours ?? '', basis: '',
});

/** A new version of a zone's rule. */
export function NewRuleScreen() {
  const { name = '' } = useParams();
  const { data, error, refetch } = useQuery(ZonePage, { variables: { name } });
  return (
    <Page title={`Record a rule for zone ${name}`} margin={<Back to={`/field/zone/${encodeURIComponent(name)}`}>Zone {name}</Back>} lead={<NoValve />}>
      {data ? <Section title="When its trips ask for water"><RuleEntry zone={name} before={data.zone?.rules[0]} /></Section> : <Strip>{error ? <Failed what="this zone" again={() => void refetch()} /> : <Waiting what="the zone" />}</Strip>}
    </Page>
  );
}

const whole = (text: string): number => (/^\d+$/.test(text.trim()) ? Number(text) : 0);

function RuleEntry({ zone, before }: { readonly zone: string; readonly before: Rule | undefined }) {
  const send = usePayload();
  const navigate = useNavigate();
  const initial = useMemo(() => beginning(before), [before]);
  const entry = useEntry({
    initial,
    keep: true,
    send: ({ needed, windows, minHealthy, basis, ...decimals }, id) => send(RecordZoneRule, {
      input: {
        id, zone, needed: whole(needed), windows: whole(windows), minHealthy: whole(minHealthy), basis: basis.trim(),
        latitude: decimalText(decimals.latitude), longitude: decimalText(decimals.longitude), hoursAroundNoon: decimalText(decimals.hoursAroundNoon), maxAgeHours: decimalText(decimals.maxAgeHours),
        silentAfterHours: decimalText(decimals.silentAfterHours), lockoutHours: decimalText(decimals.lockoutHours), rainHoldMm: decimalText(decimals.rainHoldMm), rainHoldHours: decimalText(decimals.rainHoldHours),
      },
    }),
    onRecorded: ({ zoneRule }) => void (zoneRule && navigate(`/field/rule/${zoneRule.id}`)),
  });
  return (
    <EntryForm entry={entry} action="Record rule">
      <NumberField {...entry.field('needed')} label="Tripped units needed" hint="Of all units under leaves in the zone" inputMode="numeric" />
      <NumberField {...entry.field('windows')} label="Windows in a row" hint="Noons one after another at which so many stand tripped" inputMode="numeric" />
      <NumberField {...entry.field('hoursAroundNoon')} label="Half width of the window, h" hint="Around solar noon: outside of it the light is not the certificate’s" />
      <NumberField {...entry.field('maxAgeHours')} label="A trip counts for, h" />
      <NumberField {...entry.field('silentAfterHours')} label="A unit is silent after, h" />
      <NumberField {...entry.field('minHealthy')} label="Units that must be heard of" hint="With fewer, few votes mean: go and look" inputMode="numeric" />
      <NumberField {...entry.field('lockoutHours')} label="Wait after irrigation, h" />
      <NumberField {...entry.field('rainHoldMm')} label="Rain that holds it back, mm" />
      <NumberField {...entry.field('rainHoldHours')} label="Rain fallen within, h" />
      <NumberField {...entry.field('latitude')} label="Latitude of the zone, degrees" hint="For solar noon" />
      <NumberField {...entry.field('longitude')} label="Longitude of the zone, degrees" />
      <AreaField {...entry.field('basis')} label="What the rule rests on" hint="A source, a trial, an agronomist’s word: for this crop and stage" />
    </EntryForm>
  );
}
