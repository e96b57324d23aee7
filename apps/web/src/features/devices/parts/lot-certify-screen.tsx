import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useNavigate, useParams } from 'react-router';
import type { BatchChoicesQuery } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, MomentField, NumberField, TextField, TicksField } from '../../../ui/fields.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { localInput, momentFromInput } from '../../../ui/time.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { BatchChoices, IssueCertificates } from '../documents.js';
import { BiasCaution } from './bias-caution.js';
import { fractionOrZero, lightChoices, optionalFraction, sourceChoices, stepOrNull, versionChoices } from './certify-choices.js';

/** Certificates for a whole lot: one target, each unit its own bias. */
export function LotCertifyScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(BatchChoices, { variables: { id }, fetchPolicy: 'cache-and-network' });
  const back = <Back to={`/devices/lot/${id}`}>{data?.deviceLot ? `Lot ${data.deviceLot.label}` : 'Lot'}</Back>;
  if (!data) return <Page title="Certify a lot" margin={back}><Strip>{error ? <Failed what="what certificates rest on" again={() => void refetch()} /> : <Waiting what="what certificates rest on" />}</Strip></Page>;
  if (!data.deviceLot) return <Page title="Certify a lot" margin={back}><Strip><Empty title="No lot of this lab has this address." /></Strip></Page>;
  const units = data.deviceLot.units.filter(({ state }) => state !== 'RETIRED');
  const ready = units.length > 0 && data.calibrations.some(({ versions }) => versions.length > 0) && data.lightReferences.length > 0;
  return (
    <Page title={`Certify lot ${data.deviceLot.label}`} margin={back} lead="One target for all; every unit gets a bias of its own, or a refusal with its reasons. Each certificate is a draft that two other people review and approve.">
      {ready ? <Section title="What they rest on"><BatchEntry data={data} units={units} /></Section>
        : <Strip><Empty title="Something is missing."><p>It takes units in service, a calibration version and a light reference.</p></Empty></Strip>}
    </Page>
  );
}

function BatchEntry({ data, units }: { readonly data: BatchChoicesQuery; readonly units: NonNullable<BatchChoicesQuery['deviceLot']>['units'] }) {
  const send = usePayload();
  const navigate = useNavigate();
  const versions = versionChoices(data.calibrations);
  const [initial] = useState(() => ({
    deviceUnitIds: units.map(({ id }) => id) as readonly string[], calibrationVersionId: versions[0]?.value ?? '', lightReferenceId: data.lightReferences[0]?.id ?? '', biasSourceId: '',
    targetRwc: '80', targetBasis: '', falseTripRwc: '', missedTripRwc: '', biasStepV: '', validUntil: localInput(new Date(Date.now() + 182 * 86_400_000)), overrideReason: '',
  }));
  const entry = useEntry({
    initial,
    keep: true,
    send: (values, id) => send(IssueCertificates, {
      input: {
        id, deviceUnitIds: [...values.deviceUnitIds], calibrationVersionId: values.calibrationVersionId, lightReferenceId: values.lightReferenceId, biasSourceId: orNull(values.biasSourceId),
        targetRwc: fractionOrZero(values.targetRwc), targetBasis: values.targetBasis.trim(), falseTripRwc: optionalFraction(values.falseTripRwc), missedTripRwc: optionalFraction(values.missedTripRwc),
        biasStepV: stepOrNull(values.biasStepV), validUntil: momentFromInput(values.validUntil), overrideReason: orNull(values.overrideReason),
      },
    }),
    onRecorded: ({ batch }) => void (batch && navigate(`/devices/batch/${batch.id}`)),
  });
  return (
    <>
      <BiasCaution />
      <EntryForm entry={entry} action={`Issue ${entry.values.deviceUnitIds.length} certificates`} label="Certify the lot" disabled={entry.values.deviceUnitIds.length === 0}>
        <TicksField {...entry.field('deviceUnitIds')} label="Units" empty="No unit is in service." choices={units.map(({ id, label, curve }) => ({ value: id, label, beside: curve ? (curve.stale ? 'its curve is stale' : '') : 'no curve: it will be refused' }))} />
        <ChoiceField {...entry.field('calibrationVersionId')} label="Calibration version" choices={versions} wide />
        <ChoiceField {...entry.field('lightReferenceId')} label="Light reference" choices={lightChoices(data.lightReferences)} wide />
        <NumberField {...entry.field('targetRwc')} label="Target RWC, %" hint="Where the leaf should trip it" />
        <TextField {...entry.field('targetBasis')} label="What the target rests on" hint="Source or experience" />
        <NumberField {...entry.field('falseTripRwc')} label="A trip is false at RWC, %" optional />
        <NumberField {...entry.field('missedTripRwc')} label="Silence is a miss at RWC, %" optional />
        <ChoiceField {...entry.field('biasSourceId')} label="Bias source" choices={sourceChoices(data.instruments)} none="None named" />
        <NumberField {...entry.field('biasStepV')} label="Its step, V" hint="Left empty: as on record, or 0.01 V" optional />
        <MomentField {...entry.field('validUntil')} label="Valid until" />
        <AreaField {...entry.field('overrideReason')} label="Answer to what stands against any of them" hint="Left empty, such units are refused; it shows on each certificate that needs it and in its thread." optional />
      </EntryForm>
    </>
  );
}
