import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import { formatPercentPlain } from '#libs/quantity';
import type { AgreementGroup, AgreementPageQuery, AgreementVerdict } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { recordPath } from '../../../ui/paths.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import { NarrowField, SearchBar, useInAddress } from '../../../ui/search.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { AgreementPage } from '../zone-documents.js';

type Agreement = AgreementPageQuery['fieldAgreement'][number];

const groups: readonly { readonly value: AgreementGroup; readonly label: string }[] = [
  { value: 'UNIT', label: 'By unit' }, { value: 'LOT', label: 'By lot' }, { value: 'CALIBRATION', label: 'By calibration' }, { value: 'LIGHT', label: 'By light reference' }, { value: 'CROP', label: 'By crop' },
];

const verdicts: Readonly<Record<AgreementVerdict, { readonly tone: 'calm' | 'ask' | 'alarm'; readonly title: string; readonly todo: string }>> = {
  HOLDS: { tone: 'calm', title: 'What was stated holds so far.', todo: 'Go on checking: one field check a unit and season keeps it so.' },
  OFF: { tone: 'ask', title: 'The units trip elsewhere than stated, on average.', todo: 'Measure the light reference anew first, then the calibration on leaves of this crop: irradiance moves the trip point more than anything else.' },
  DOES_NOT_COVER: { tone: 'alarm', title: 'Too few checks lie in their stated intervals.', todo: 'Do not issue further certificates on this ground. Look at the spread of the light reference and at how many leaves the calibration rests on, and redo what falls short.' },
  TOO_FEW: { tone: 'ask', title: 'Too few checks to tell.', todo: 'Take discs at the next trips and weigh them on the Bench.' },
};

const points = (fraction: number): string => `${fraction > 0 ? '+' : fraction < 0 ? '−' : ''}${Math.abs(fraction * 100).toFixed(1)} points`;

/** What certificates stated against what field checks found. */
export function AgreementScreen() {
  const [by] = useInAddress('by');
  const group = (groups.find(({ value }) => value === by)?.value ?? 'ALL') as AgreementGroup;
  const { data, previousData, error, refetch } = useQuery(AgreementPage, { variables: { by: group }, fetchPolicy: 'cache-and-network' });
  useLive(() => refetch(), ({ kind }) => ['field_check', 'rwc_series', 'trip', 'amendment'].includes(kind));
  const found = (data ?? previousData)?.fieldAgreement;
  return (
    <Page title="Stated and realised" margin={<Back to="/field">Field</Back>} lead="Discs taken after a trip and weighed on the Bench tell where the leaf really stood. That comes back here, beside what the certificate said of the trip.">
      <Strip><SearchBar><NarrowField name="by" label="Grouped" all="All together" choices={groups} /></SearchBar></Strip>
      {!found ? <Strip>{error ? <Failed what="the field checks" again={() => void refetch()} /> : <Waiting what="the field checks" />}</Strip> : null}
      {found?.length === 0 ? <Strip><Empty title="No field check after a trip has its RWC yet."><p>Record a field check at an installation, then weigh its discs fresh, turgid and dry.</p></Empty></Strip> : null}
      {found?.map((each) => <OneAgreement key={each.subject?.id ?? 'all'} found={each} />)}
    </Page>
  );
}

function OneAgreement({ found }: { readonly found: Agreement }) {
  const { subject, verdict, count, inside } = found;
  const { tone, title, todo } = verdicts[verdict];
  return (
    <Section title={subject?.label ?? 'All field checks'} margin={`${count} ${count === 1 ? 'check' : 'checks'}`} actions={subject ? <Link to={recordPath(subject.kind, subject.id) ?? '/field'}>See it</Link> : null}>
      <Notice tone={tone} title={title}>{todo}</Notice>
      <p>
        The leaves stood {points(found.bias)} from what was stated, on average{found.biasLow != null && found.biasHigh != null ? ` (95 % between ${points(found.biasLow)} and ${points(found.biasHigh)})` : ''}; {inside} of {count} in the stated 95 % interval
        {inside < count ? `, which would happen by chance in ${formatPercentPlain(found.tail, 1)} of cases if the intervals covered as stated` : ''}.
      </p>
      <Table caption={`Field checks, ${subject?.label ?? 'all'}`} rows={found.checks} keyOf={({ fieldCheck }) => fieldCheck.id} columns={[
        { head: 'Unit', cell: ({ trip }) => <Link to={`/field/${trip.installation.id}`}>{trip.installation.deviceUnit.label}, zone {trip.installation.zone}</Link> },
        { head: 'Discs taken', cell: ({ fieldCheck, discCount }) => <><Moment at={fieldCheck.observedAt} />, {discCount}</> },
        { head: 'Stated', number: true, cell: ({ predictedRwc, low, high }) => <><Rwc value={predictedRwc} /><br /><small>{rwcInterval(low, high)}</small></> },
        { head: 'Realised', number: true, cell: ({ realisedRwc }) => <Rwc value={realisedRwc} /> },
        { head: 'In the interval', cell: ({ realisedRwc, low, high }) => (realisedRwc >= low && realisedRwc <= high ? 'yes' : 'no') },
      ]} />
    </Section>
  );
}
