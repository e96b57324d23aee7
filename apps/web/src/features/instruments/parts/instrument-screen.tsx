import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo, useState } from 'react';
import { Link } from 'react-router';
import { useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { InstrumentPageQuery } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { NumberField, TextField } from '../../../ui/fields.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { unitText } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { CheckMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { InstrumentPage, RecordInstrumentCheck } from '../documents.js';
import { CalibrationSection } from './calibration-section.js';
import { controlOf } from './control.js';
import { calledBy, kinds } from './kinds.js';
import { LineFormatSection } from './line-format.js';

type Instrument = NonNullable<InstrumentPageQuery['instrument']>;
type Check = Instrument['checks'][number];

const CheckPlot = lazy(async () => ({ default: (await import('../../../plots/check-plot.js')).CheckPlot }));

const concerns = ofKind('instrument', 'instrument_check', 'instrument_calibration', 'amendment', 'rig');

/** One instrument: may it be trusted now, and every check it had. */
export function InstrumentScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(InstrumentPage, { variables: { id } });
  useLive(() => refetch(), concerns);
  const back = <Back to="/instruments">Instruments</Back>;
  if (!data) return <Page title="Instrument" margin={back}><Strip>{error ? <Failed what="this instrument" again={() => void refetch()} /> : <Waiting what="the instrument" />}</Strip></Page>;
  if (!data.instrument) return <Page title="Instrument" margin={back}><Strip><Empty title="No instrument of this lab has this address." /></Strip></Page>;
  return <OneInstrument instrument={data.instrument} again={() => void refetch()} />;
}

function OneInstrument({ instrument, again }: { readonly instrument: Instrument; readonly again: () => void }) {
  const mayCheck = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER');
  const kind = kinds[instrument.kind];
  const unit = unitText(instrument.unit);
  const control = useMemo(() => controlOf(instrument.checks), [instrument.checks]);
  return (
    <Page title={calledBy(instrument.kind, instrument.label)} margin={<><Back to="/instruments">Instruments</Back><br /><CheckMark status={instrument.checkStatus} /></>}
      lead={instrument.checkDueAt ? <>{instrument.checkStatus === 'OVERDUE' ? 'Its check or calibration ran out' : 'It is good until'} <Moment at={instrument.checkDueAt} relative />.</> : null}
      actions={<><ActionLink to={`/instruments/${instrument.id}/fault`}>What a fault reaches</ActionLink><ActionLink to={threadPath('instrument', instrument.id, 'up')}>What it touched: thread up</ActionLink></>}>
      <Strip>
        <Facts rows={[
          { name: 'Serial number', value: instrument.serialNumber ?? 'not told' },
          { name: 'Location', value: instrument.location ?? 'not told' },
          { name: 'Resolution', value: instrument.resolution ? `${instrument.resolution} ${unit}` : 'not told' },
          { name: 'Repeatability', value: instrument.repeatability ? `${instrument.repeatability} ${unit}` : 'not told' },
          { name: 'Linearity', value: instrument.linearity ? `${instrument.linearity} ${unit}, at most` : 'not told' },
          { name: 'Drift in a year', value: instrument.driftPerYear ? `${instrument.driftPerYear} ${unit}, at most` : 'not told' },
          { name: 'A passed check is good for', value: `${instrument.checkEveryHours} h` },
          { name: 'Registered', value: <><Moment at={instrument.recordedAt} /> by {instrument.recordedBy.displayName}</> },
        ]} />
      </Strip>
      {mayCheck ? <Section title="Record a check" lead={`With a ${kind.standard}.`}><CheckEntry instrument={instrument} onRecorded={again} /></Section> : null}
      <CalibrationSection instrument={instrument} again={again} />
      {instrument.kind === 'BALANCE' || instrument.kind === 'POWER_METER' ? <LineFormatSection instrument={instrument} onSet={again} /> : null}
      <Section title="Checks" margin={instrument.checks.length === 0 ? null : 'newest first'}>
        {instrument.checks.length === 0 ? <Empty title="It has never been checked." /> : (
          <>
            {instrument.checks.length > 1 ? <Suspense fallback={<Waiting what="the drawing" />}><CheckPlot instrument={instrument.label} unit={unit} checks={instrument.checks} control={control} /></Suspense> : null}
            {control?.newestOutside ? <Notice tone="ask" title="The newest check lies outside the instrument’s own habit.">It passed by its tolerance, but it behaves otherwise than before: look at level, draught, temperature and adjustment, and check it again.</Notice> : null}
            <Table caption={`Checks of ${instrument.label}, newest first`} rows={instrument.checks} keyOf={({ id }) => id} columns={[
              { head: 'When', cell: (check: Check) => <Moment at={check.observedAt} /> },
              { head: 'Outcome', cell: (check: Check) => <CheckMark status={check.passed ? 'IN_CHECK' : 'FAILED'}>{check.passed ? 'passed' : 'failed'}</CheckMark> },
              { head: `Nominal, ${unit}`, number: true, cell: (check: Check) => check.nominal },
              { head: `Shown, ${unit}`, number: true, cell: (check: Check) => check.shown },
              { head: `Tolerance, ${unit}`, number: true, cell: (check: Check) => check.tolerance },
              { head: 'By', cell: (check: Check) => check.recordedBy.displayName },
              { head: 'Note', cell: (check: Check) => check.note ?? '' },
            ]} />
          </>
        )}
      </Section>
    </Page>
  );
}

/** From the last check that passed until now: within it the instrument may have shown wrong values. */
function touchedPath({ id, checks }: Instrument): string {
  const passed = checks.find((check) => check.passed);
  return `/instruments/${id}/fault${passed ? `?${new URLSearchParams({ from: passed.observedAt, to: new Date().toISOString() })}` : ''}`;
}

function CheckEntry({ instrument, onRecorded }: { readonly instrument: Instrument; readonly onRecorded: () => void }) {
  const send = usePayload();
  const last = instrument.checks[0];
  const [passed, setPassed] = useState<boolean | null>(null);
  // The standard and its tolerance are the same as last time, as a rule; what was shown never is.
  const [initial] = useState({ nominal: last?.nominal ?? '', shown: '', tolerance: last?.tolerance ?? '', note: '' });
  const entry = useEntry({
    initial,
    keep: true,
    send: ({ nominal, shown, tolerance, note }, id, observedAt) => send(RecordInstrumentCheck, {
      input: { id, instrumentId: instrument.id, observedAt, nominal: decimalText(nominal), shown: decimalText(shown), tolerance: decimalText(tolerance), note: orNull(note) },
    }),
    onRecorded: ({ check }) => {
      setPassed(check?.passed ?? null);
      entry.clear({ ...entry.values, shown: '', note: '' });
      onRecorded();
    },
  });
  const unit = unitText(instrument.unit);
  return (
    <>
      {passed === true ? <Notice tone="calm" title="The check is recorded: passed." /> : null}
      {passed === false ? <Notice tone="alarm" title="The check is recorded: failed.">Do not use it. Put it right, then check it again. <Link to={touchedPath(instrument)}>What it touched since its last passed check</Link></Notice> : null}
      <EntryForm entry={entry} action="Record check" disabled={entry.values.shown.trim() === ''}>
        <NumberField {...entry.field('nominal')} label={`Nominal value, ${unit}`} hint={`Of the ${kinds[instrument.kind].standard}`} />
        <NumberField {...entry.field('shown')} label={`Value shown, ${unit}`} />
        <NumberField {...entry.field('tolerance')} label={`Tolerance, ${unit}`} hint="The largest deviation accepted" />
        <TextField {...entry.field('note')} label="Note" optional />
      </EntryForm>
    </>
  );
}
