import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useNavigate, useParams } from 'react-router';
import type { CertifyChoicesQuery } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, MomentField, NumberField, TextField } from '../../../ui/fields.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import type { FlagSeen } from '../../../ui/send.js';
import { localInput, momentFromInput } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Flags, Notice, Waiting } from '../../../ui/words.js';
import { CertifyChoices, IssueCertificate } from '../documents.js';
import { fractionOrZero, lightChoices, optionalFraction, sourceChoices, stepOrNull, versionChoices } from './certify-choices.js';
import { TrialPart } from './trial-part.js';

/** Issues a draft certificate: target RWC to threshold power to bias, for one unit. */
export function CertifyScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(CertifyChoices, { variables: { id }, fetchPolicy: 'cache-and-network' });
  const back = <Back to={`/devices/${id}`}>{data?.deviceUnit ? `Unit ${data.deviceUnit.label}` : 'Unit'}</Back>;
  if (!data) return <Page title="Issue a certificate" margin={back}><Strip>{error ? <Failed what="what a certificate rests on" again={() => void refetch()} /> : <Waiting what="what a certificate rests on" />}</Strip></Page>;
  if (!data.deviceUnit) return <Page title="Issue a certificate" margin={back}><Strip><Empty title="No unit of this lab has this address." /></Strip></Page>;
  const versions = versionChoices(data.calibrations);
  return (
    <Page title={`Certificate for unit ${data.deviceUnit.label}`} margin={back} lead="The server computes threshold power, bias and the interval in which it will really trip, and freezes them as a draft. Two other people review and approve it.">
      {!data.deviceUnit.curve ? <Strip><Empty title="This unit has no bias-threshold curve."><p>Record its trip tests and fit the curve first.</p></Empty></Strip> : null}
      {versions.length === 0 ? <Strip><Empty title="The lab has no calibration version."><p><Link to="/calibrations">Fit one first.</Link></p></Empty></Strip> : null}
      {data.lightReferences.length === 0 ? <Strip><Empty title="The lab has no light reference."><p><Link to="/devices/light">Record the light at the site first.</Link></p></Empty></Strip> : null}
      {data.deviceUnit.curve && versions.length > 0 && data.lightReferences.length > 0 ? <CertifyEntry unitId={id} data={data} versions={versions} /> : null}
    </Page>
  );
}

interface CertifyEntryProps {
  readonly unitId: string;
  readonly data: CertifyChoicesQuery;
  readonly versions: readonly { readonly value: string; readonly label: string }[];
}

const inHalfAYear = (): string => localInput(new Date(Date.now() + 182 * 86_400_000));

function CertifyEntry({ unitId, data, versions }: CertifyEntryProps) {
  const send = usePayload();
  const navigate = useNavigate();
  const [objections, setObjections] = useState<readonly FlagSeen[]>([]);
  const [mayOverride, setMayOverride] = useState(false);
  const [initial] = useState(() => ({
    calibrationVersionId: versions[0]?.value ?? '', lightReferenceId: data.lightReferences[0]?.id ?? '', biasSourceId: '', targetRwc: '80', targetBasis: '', falseTripRwc: '', missedTripRwc: '',
    biasStepV: '', validUntil: inHalfAYear(), overrideReason: '',
  }));
  const entry = useEntry({
    initial,
    keep: true,
    send: (values, id) => send(IssueCertificate, {
      input: {
        id, ...trialInput(unitId, values), targetBasis: values.targetBasis.trim(), validUntil: momentFromInput(values.validUntil), overrideReason: orNull(values.overrideReason),
      },
    }),
    onRecorded: ({ certificate }) => void (certificate && navigate(`/devices/certificate/${certificate.id}`)),
    onRefused: (problem, payload) => {
      setObjections(payload?.objections ?? []);
      setMayOverride(problem.code === 'OUT_OF_SCOPE');
    },
  });
  // Bound from the start, so that its problem is never told twice.
  const override = entry.field('overrideReason');
  return (
    <>
      <Section title="What it rests on">
        <EntryForm entry={entry} action={mayOverride ? 'Issue it all the same' : 'Issue certificate'} label="Issue a certificate" beside={<ActionLink kind="quiet" to="/devices/light">Light references</ActionLink>}>
          <ChoiceField {...entry.field('calibrationVersionId')} label="Calibration version" choices={versions} wide />
          <ChoiceField {...entry.field('lightReferenceId')} label="Light reference" choices={lightChoices(data.lightReferences)} wide />
          <NumberField {...entry.field('targetRwc')} label="Target RWC, %" hint="Where the leaf should trip it" />
          <TextField {...entry.field('targetBasis')} label="What the target rests on" hint="Source or experience: what counts as stress differs by crop" />
          <NumberField {...entry.field('falseTripRwc')} label="A trip is false at RWC, %" hint="A leaf that wet lacks nothing" optional />
          <NumberField {...entry.field('missedTripRwc')} label="Silence is a miss at RWC, %" hint="A leaf that dry should have tripped it" optional />
          <ChoiceField {...entry.field('biasSourceId')} label="Bias source" choices={sourceChoices(data.instruments)} none="None named" />
          <NumberField {...entry.field('biasStepV')} label="Step of the bias source, V" hint="The bias is rounded to it. Left empty: as on record, or 0.01 V" optional />
          <MomentField {...entry.field('validUntil')} label="Valid until" />
          {objections.length > 0 ? (
            <div style={{ gridColumn: '1 / -1' }}>
              <Notice tone="ask" title="This stands against it:">
                <Flags flags={objections} />
                {mayOverride ? <p>Mend it, or say why it is issued all the same. The reason stands on the certificate and in every thread through it.</p> : null}
              </Notice>
            </div>
          ) : null}
          {mayOverride ? <AreaField {...override} problem={override.problem && { ...override.problem, message: '' }} label="Reason for issuing it all the same" /> : null}
        </EntryForm>
      </Section>
      <TrialPart input={trialInput(unitId, entry.values)} choose={(targetRwc) => entry.set('targetRwc', String(Number((100 * targetRwc).toFixed(2))))} />
    </>
  );
}

interface TrialValues {
  readonly calibrationVersionId: string;
  readonly lightReferenceId: string;
  readonly biasSourceId: string;
  readonly targetRwc: string;
  readonly falseTripRwc: string;
  readonly missedTripRwc: string;
  readonly biasStepV: string;
}

const trialInput = (deviceUnitId: string, values: TrialValues) => ({
  deviceUnitId, calibrationVersionId: values.calibrationVersionId, lightReferenceId: values.lightReferenceId, biasSourceId: orNull(values.biasSourceId),
  targetRwc: fractionOrZero(values.targetRwc), falseTripRwc: optionalFraction(values.falseTripRwc), missedTripRwc: optionalFraction(values.missedTripRwc), biasStepV: stepOrNull(values.biasStepV),
});
