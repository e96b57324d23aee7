import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useState } from 'react';
import { Link, useParams } from 'react-router';
import { formatNumber, formatPercentPlain } from '#libs/quantity';
import { useHasRole } from '../../../app/session.js';
import type { DeviceLotPageQuery } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { MomentField, NumberField, TextField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { fractionOfPercent, fractionTextOfPercent } from '../../../ui/percent-text.js';
import { Rwc } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { DeviceUnitMark, DoneMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { AcceptancePlanOf, DeviceLotPage, RecordLotAcceptance } from '../documents.js';
import { AbsorptionBands } from './absorption-bands.js';
import { Folded } from './folded.js';
import { validityWord } from './validity.js';

type Lot = NonNullable<DeviceLotPageQuery['deviceLot']>;
type LotUnit = Lot['units'][number];
type Acceptance = Lot['acceptances'][number];
type Spread = Lot['statistics']['pullIn'];
type Chart = Lot['statistics']['pullInChart'];

const ControlPlot = lazy(async () => ({ default: (await import('../../../plots/control-plot.js')).ControlPlot }));

const unitColumns = [
  { head: 'Unit', cell: ({ id, label }: LotUnit) => <Link to={`/devices/${id}`}>{label}</Link> },
  { head: 'State', cell: ({ state }: LotUnit) => <DeviceUnitMark state={state} /> },
  { head: 'Pull-in, V', number: true, cell: ({ curve }: LotUnit) => (curve ? formatNumber(curve.pullInV, 2) : '') },
  { head: 'Power at zero bias, nW', number: true, cell: ({ curve }: LotUnit) => (curve ? formatNumber(curve.p0Nw, 0) : 'no curve') },
  { head: 'Certificate', cell: ({ certificates: [newest] }: LotUnit) => (newest ? <><Link to={`/devices/certificate/${newest.id}`}>{newest.biasV} V for <Rwc value={newest.targetRwc} /></Link>, {validityWord(newest.validity)}</> : 'none') },
] as const;

const acceptanceColumns = [
  { head: 'Claim', cell: ({ reliability, confidence, criterion }: Acceptance) => `${formatPercentPlain(Number(reliability), 0)} of units at ${formatPercentPlain(Number(confidence), 0)} confidence: ${criterion}` },
  { head: 'Tested', number: true, cell: ({ testedUnits, failedUnits, neededUnits, allowedFailures }: Acceptance) => `${testedUnits}, ${failedUnits} failed; the plan wants ${neededUnits} with at most ${allowedFailures}` },
  { head: 'Shown', number: true, cell: ({ shownReliability, confidence }: Acceptance) => `at least ${formatPercentPlain(shownReliability, 1)} at ${formatPercentPlain(Number(confidence), 0)}` },
  { head: 'Outcome', cell: ({ accepted }: Acceptance) => <DoneMark done={accepted} word={accepted ? 'accepted' : 'not accepted'} /> },
  { head: 'By', cell: ({ recordedBy, observedAt, note }: Acceptance) => <>{recordedBy.displayName}, <Moment at={observedAt} />{note ? `: ${note}` : ''}</> },
] as const;

/** What the units of a lot have in common, by how much they differ, and what may be claimed of it. */
export function LotScreen() {
  const { id = '' } = useParams();
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(DeviceLotPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['device_unit', 'bias_sweep', 'chopped_run', 'absorption_band', 'bias_threshold_curve', 'unit_retirement', 'lot_acceptance', 'threshold_certificate', 'signature', 'amendment'].includes(kind));
  const back = <Back to="/devices">Devices</Back>;
  if (!data) return <Page title="Lot" margin={back}><Strip>{error ? <Failed what="this lot" again={() => void refetch()} /> : <Waiting what="the lot" />}</Strip></Page>;
  if (!data.deviceLot) return <Page title="Lot" margin={back}><Strip><Empty title="No lot of this lab has this address." /></Strip></Page>;
  const { deviceLot: lot } = data;
  const { statistics } = lot;
  return (
    <Page title={`Lot ${lot.label}`} margin={back} lead={<>{statistics.units} units, {statistics.characterised} with a curve, {statistics.retired} retired. Registered <Moment at={lot.recordedAt} /> by {lot.recordedBy.displayName}.</>}
      actions={mayRecord && statistics.characterised > 0 ? <ActionLink kind="strong" to={`/devices/lot/${lot.id}/certify`}>Certify the lot</ActionLink> : undefined}>
      <Section title="Units">
        {lot.units.length === 0 ? <Empty title="No unit of this lot is registered yet." /> : <Table caption={`Units of ${lot.label}`} columns={unitColumns} rows={lot.units} keyOf={({ id: unitId }) => unitId} />}
      </Section>
      <Section title="Between units and within" lead="Repeats on one unit against the units themselves: by analysis of variance, as standard deviations relative to the value.">
        <Facts rows={[
          { name: 'Pull-in voltage, by sweeps', value: <SpreadWords spread={statistics.pullIn} missing="It takes two units, and two sweeps of one of them." /> },
          { name: statistics.thresholdBiasV == null ? 'Trip power, under chopped light' : `Trip power at ${statistics.thresholdBiasV} V, under chopped light`, value: <SpreadWords spread={statistics.threshold} missing="It takes chopped runs of two units at one bias." /> },
        ]} />
      </Section>
      <AbsorptionBands of={{ deviceLotId: lot.id }} label={`lot ${lot.label}`} lead="Where its units take light up, as measured on a witness of the lot. It counts for units without a band of their own." bands={lot.absorptionBands} mayRecord={mayRecord} onRecorded={() => void refetch()} />
      <Section title="Control charts" lead="One value a unit, in order of the labels.">
        {!statistics.pullInChart && !statistics.p0Chart ? <Empty title="It takes three tested units."><p>Record sweeps and trip tests of more units of the lot.</p></Empty> : null}
        <ChartPart chart={statistics.pullInChart} quantity="pull-in" lot={lot.label} />
        <ChartPart chart={statistics.p0Chart} quantity="power at zero bias" lot={lot.label} />
      </Section>
      <Section title="Acceptance" lead="How many units must pass before a share of the lot may be claimed to work.">
        {lot.acceptances.length === 0 ? <Empty title="Nothing has been claimed of this lot." /> : <Table caption={`Acceptances of ${lot.label}`} columns={acceptanceColumns} rows={lot.acceptances} keyOf={({ id: acceptanceId }) => acceptanceId} />}
        {mayRecord ? <AcceptanceEntry lotId={lot.id} onRecorded={() => void refetch()} /> : null}
      </Section>
    </Page>
  );
}

function SpreadWords({ spread, missing }: { readonly spread: Spread; readonly missing: string }) {
  if (!spread) return <>{missing}</>;
  const alike = spread.pValue != null && spread.pValue > 0.05;
  return <>{formatPercentPlain(spread.betweenSd, 2)} between {spread.groups} units, {formatPercentPlain(spread.withinSd, 2)} within ({spread.observations} repeats{spread.pValue == null ? '' : alike ? '; the units show no difference of their own' : '; the units differ by more than repeats do'})</>;
}

function ChartPart({ chart, quantity, lot }: { readonly chart: Chart; readonly quantity: string; readonly lot: string }) {
  if (!chart) return null;
  const digits = chart.unit === 'nW' ? 0 : 2;
  const outside = chart.points.filter((point) => point.outside);
  return (
    <>
      <h3>{quantity.charAt(0).toUpperCase()}{quantity.slice(1)}</h3>
      <Suspense fallback={<Waiting what="the drawing" />}><ControlPlot label={`Control chart of ${quantity}, lot ${lot}`} quantity={`${quantity}, ${chart.unit}`} centre={chart.centre} low={chart.low} high={chart.high} points={chart.points} /></Suspense>
      <p>Mean {formatNumber(chart.centre, digits)} {chart.unit}, limits {formatNumber(chart.low, digits)} to {formatNumber(chart.high, digits)} {chart.unit}. {outside.length === 0 ? 'No unit lies outside.' : <>Outside: {outside.map(({ deviceUnitId, label }, i) => <span key={deviceUnitId}>{i > 0 ? ', ' : ''}<Link to={`/devices/${deviceUnitId}`}>{label}</Link></span>)}.</>}</p>
    </>
  );
}

const whole = (text: string): number => (/^\d+$/.test(text.trim()) ? Number(text) : -1);

function AcceptanceEntry({ lotId, onRecorded }: { readonly lotId: string; readonly onRecorded: () => void }) {
  const send = usePayload();
  const [initial] = useState(() => ({ criterion: '', reliability: '95', confidence: '95', allowedFailures: '0', testedUnits: '', failedUnits: '0', note: '', observedAt: localInput(new Date()) }));
  const entry = useEntry({
    initial,
    send: ({ criterion, reliability, confidence, allowedFailures, testedUnits, failedUnits, note, observedAt }, id) => send(RecordLotAcceptance, {
      input: {
        id, deviceLotId: lotId, observedAt: momentFromInput(observedAt), criterion: criterion.trim(), reliability: fractionTextOfPercent(reliability), confidence: fractionTextOfPercent(confidence),
        allowedFailures: whole(allowedFailures), testedUnits: whole(testedUnits), failedUnits: whole(failedUnits), note: orNull(note),
      },
    }),
    onRecorded,
  });
  const { reliability, confidence, allowedFailures } = entry.values;
  const plan = { reliability: fractionOfPercent(reliability), confidence: fractionOfPercent(confidence), allowedFailures: whole(decimalText(allowedFailures)) };
  const able = [plan.reliability, plan.confidence].every((value) => value > 0 && value < 1) && plan.allowedFailures >= 0;
  const { data } = useQuery(AcceptancePlanOf, { variables: plan, skip: !able });
  return (
    <Folded title="Record an acceptance">
      <p aria-live="polite">{able && data ? <><strong>{data.acceptancePlan.neededUnits} units</strong> must be tested to claim {reliability} % at {confidence} % confidence with at most {plan.allowedFailures} {plan.allowedFailures === 1 ? 'failure' : 'failures'}.</> : 'Enter per cent between 0 and 100.'}</p>
      <EntryForm entry={entry} action="Record acceptance">
        <NumberField {...entry.field('reliability')} label="Share of units that work, %" />
        <NumberField {...entry.field('confidence')} label="Confidence, %" />
        <NumberField {...entry.field('allowedFailures')} label="Failures allowed" />
        <NumberField {...entry.field('testedUnits')} label="Units tested" />
        <NumberField {...entry.field('failedUnits')} label="Units failed" />
        <MomentField {...entry.field('observedAt')} label="Tested until" />
        <TextField {...entry.field('criterion')} label="What a unit had to do to pass" wide />
        <TextField {...entry.field('note')} label="Note" optional wide />
      </EntryForm>
    </Folded>
  );
}
