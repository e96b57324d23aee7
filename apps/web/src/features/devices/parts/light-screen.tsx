import { useQuery } from '@apollo/client/react';
import { lazy, Suspense } from 'react';
import { Link } from 'react-router';
import { formatPercentPlain } from '#libs/quantity';
import { useHasRole } from '../../../app/session.js';
import type { LightBasis, LightReferenceTableQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { AsEntered } from '../../../ui/quantity.js';
import { AmendedMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { LightReferenceTable } from '../documents.js';
import { Folded } from './folded.js';
import { clockText, LightEntry, spreadCauseWord } from './light-entry.js';

type Light = LightReferenceTableQuery['lightReferences'][number];

const LightPlot = lazy(async () => ({ default: (await import('../../../plots/light-plot.js')).LightPlot }));
const SkyHelper = lazy(async () => ({ default: (await import('./sky-helper.js')).SkyHelper }));

export const basisWord = (basis: LightBasis): string => (basis === 'MEASURED' ? 'measured' : 'assumed');

const days = ({ days: count }: Light): string => (count == null ? '' : ` on ${count} ${count === 1 ? 'day' : 'days'}`);

const columns = [
  { head: 'Light reference', cell: ({ label, amendedBy }: Light) => <>{label}{amendedBy ? <><br /><AmendedMark /> {amendedBy.reason}</> : null}</> },
  { head: 'Site', cell: ({ site }: Light) => site },
  { head: 'Power', number: true, cell: ({ powerText, powerUnit, powerNw }: Light) => <AsEntered text={powerText} unit={powerUnit} exact={powerNw} exactUnit="nW" /> },
  { head: 'Spread, 1 SD', number: true, cell: ({ relativeSd }: Light) => formatPercentPlain(Number(relativeSd), 1) },
  { head: 'Basis', cell: (light: Light) => <>{basisWord(light.basis)}{days(light)}{light.note ? `: ${light.note}` : ''}</> },
  { head: 'When', cell: ({ observedAt, recordedBy }: Light) => <><Moment at={observedAt} />, {recordedBy.displayName}</> },
  { head: 'Thread', cell: ({ id }: Light) => <Link to={threadPath('light_reference', id, 'up')}>up</Link> },
] as const;

/** How much light of the band reaches the sensor's plane in the field, and how it spreads. */
export function LightScreen() {
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(LightReferenceTable);
  useLive(() => refetch(), ({ kind }) => kind === 'light_reference' || kind === 'amendment');
  const lights = data?.lightReferences ?? [];
  const told = lights.filter(({ series, spreadParts, bandCentreNm, armedFromMin }) => series || spreadParts || bandCentreNm || armedFromMin != null);
  return (
    <Page title="Light references" margin={<Back to="/devices">Devices</Back>} lead="The light moves the trip point more than anything else: measure it where the unit will sit, over the hours it will be armed. A power that was not measured is recorded as assumed, with what it rests on.">
      <Section title="On record">
        {!data ? (error ? <Failed what="the light references" again={() => void refetch()} /> : <Waiting what="the light references" />) : null}
        {data && lights.length === 0 ? <Empty title="No light reference is recorded yet." /> : null}
        {lights.length > 0 ? <Table caption="Light references" columns={columns} rows={lights} keyOf={({ id }) => id} struck={({ amendedBy }) => amendedBy != null} /> : null}
        {told.map((light) => <Folded key={light.id} title={`How ${light.label} was ${basisWord(light.basis)}`}><LightDetail light={light} /></Folded>)}
      </Section>
      <Section title="How far the light moves the trip" lead="Before you trust a reference, or choose the hours of arming: what hour, season, vapour, cloud and tilt do to a unit’s trip.">
        <Suspense fallback={<Waiting what="the sky" />}><SkyHelper lights={lights} /></Suspense>
      </Section>
      {mayRecord ? <Section title="Record a light reference"><LightEntry onRecorded={() => void refetch()} /></Section> : null}
    </Page>
  );
}

function LightDetail({ light }: { readonly light: Light }) {
  const { series, dailyMaxima, spreadParts } = light;
  return (
    <>
      {series && dailyMaxima ? (
        <Suspense fallback={<Waiting what="the drawing" />}><LightPlot label={`Light at ${light.site}: ${light.label}`} readings={series} maxima={dailyMaxima} powerNw={Number(light.powerNw)} relativeSd={Number(light.relativeSd)} /></Suspense>
      ) : null}
      <Facts rows={[
        series && { name: 'Readings', value: `${series.length}; the brightest armed one of each day counts, because a latch keeps the maximum` },
        light.armedFromMin != null && light.armedUntilMin != null && { name: 'Armed', value: `${clockText(light.armedFromMin)} to ${clockText(light.armedUntilMin)}, by the clock of the place` },
        light.bandCentreNm && light.bandWidthNm ? { name: 'Band', value: `${light.bandCentreNm} nm, full width at half maximum ${light.bandWidthNm} nm` } : null,
        light.diffuser ? { name: 'Diffuser', value: `${light.diffuser}${light.tiltDeg ? `, tilted ${light.tiltDeg}°` : ''}` } : null,
        light.meter ? { name: 'Meter', value: <Link to={`/instruments/${light.meter.id}`}>{light.meter.label}</Link> } : null,
        light.latitude && light.longitude ? { name: 'Place', value: `${light.latitude}° N, ${light.longitude}° E` } : null,
        ...(spreadParts ?? []).map(({ cause, relativeSd, reason }) => ({ name: `Spread from ${spreadCauseWord(cause)}`, value: `${formatPercentPlain(relativeSd, 1)}: ${reason}` })),
      ]} />
    </>
  );
}
