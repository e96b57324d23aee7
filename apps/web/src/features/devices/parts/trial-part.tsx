import { useApolloClient } from '@apollo/client/react';
import { useState } from 'react';
import type { ReactNode } from 'react';
import { formatNumber, formatPercentPlain } from '#libs/quantity';
import type { CertificateTrialInput, CertificateTrialOfQuery, RiskKind } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { NumberField, SegmentField } from '../../../ui/fields.js';
import { Facts, Section } from '../../../ui/page.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import type { ProblemSeen } from '../../../ui/send.js';
import { Action, Flags, Notice } from '../../../ui/words.js';
import { CertificateTrialOf, GuardBandTargetOf } from '../documents.js';
import { BiasCaution } from './bias-caution.js';
import { fractionOrZero } from './certify-choices.js';
import { Folded } from './folded.js';

type Trial = CertificateTrialOfQuery['certificateTrial'];

interface TrialPartProps {
  readonly input: CertificateTrialInput;
  readonly choose: (targetRwc: number) => void;
}

/** What a certificate would say, before it is issued; and which target keeps a risk. */
export function TrialPart({ input, choose }: TrialPartProps) {
  const client = useApolloClient();
  const [told, setTold] = useState<{ readonly trial: Trial; readonly of: CertificateTrialInput } | null>(null);
  const [asking, setAsking] = useState(false);
  const [lost, setLost] = useState(false);
  const work = async () => {
    setAsking(true);
    setLost(false);
    try {
      const { data } = await client.query({ query: CertificateTrialOf, variables: { input }, fetchPolicy: 'network-only' });
      if (data) setTold({ trial: data.certificateTrial, of: input });
    } catch {
      setLost(true);
    }
    setAsking(false);
  };
  const old = told !== null && JSON.stringify(told.of) !== JSON.stringify(input);
  return (
    <Section title="Before it is issued" lead="Worked out by the server as the certificate would be; nothing is recorded.">
      <p><Action kind="plain" onClick={() => void work()} waiting={asking}>Work it out</Action></p>
      <div aria-live="polite">
        {lost ? <Notice tone="ask" title="No answer came from the server.">Try again.</Notice> : null}
        {old ? <Notice tone="ask" title="The fields were changed since.">Work it out again.</Notice> : null}
        {told ? <TrialTold trial={told.trial} of={told.of} /> : null}
      </div>
      <GuardBand input={input} choose={choose} />
    </Section>
  );
}

const points = (fraction: number): string => `${formatNumber(100 * fraction, 1)} points`;

function TrialTold({ trial, of }: { readonly trial: Trial; readonly of: CertificateTrialInput }) {
  if (trial.problem) return <Notice tone="alarm" title={trial.problem.message}>{trial.problem.remedy}</Notice>;
  const { biasV, tripRwcLow, tripRwcHigh, tripRwcSd } = trial;
  const against: ReactNode = trial.objections.length > 0 ? <Notice tone="ask" title={trial.possible ? 'To be read with it:' : 'It cannot be:'}><Flags flags={trial.objections} /></Notice> : null;
  if (!trial.possible || biasV == null || tripRwcLow == null || tripRwcHigh == null || tripRwcSd == null) return against;
  return (
    <>
      <Facts rows={[
        { name: 'Bias', value: <strong>{biasV} V</strong> },
        trial.thresholdPowerNw != null && { name: 'Trips at a light power of', value: `${formatNumber(trial.thresholdPowerNw, 1)} nW` },
        { name: 'Trips between, 95 %', value: `${rwcInterval(tripRwcLow, tripRwcHigh)} (standard deviation ${points(tripRwcSd)})` },
        trial.roundingRwc != null && { name: 'Rounding the bias costs', value: `${formatNumber(100 * Math.abs(trial.roundingRwc), 2)} points` },
        trial.falseTripChance != null && of.falseTripRwc != null && { name: 'Chance of a false trip', value: <>{formatPercentPlain(trial.falseTripChance, 1)} on a leaf at <Rwc value={of.falseTripRwc} /></> },
        trial.missedTripChance != null && of.missedTripRwc != null && { name: 'Chance of a missed trip', value: <>{formatPercentPlain(trial.missedTripChance, 1)} on a leaf at <Rwc value={of.missedTripRwc} /></> },
        trial.relativeSlope != null && { name: 'Ten per cent more light', value: `trips it ${points(Math.log(1.1) / trial.relativeSlope)} wetter` },
        { name: 'Spread, cause by cause', value: [...(trial.shares ?? [])].sort((a, b) => b.share - a.share).map(({ cause, share, sdRwc }) => `${names[cause] ?? cause} ${formatPercentPlain(share, 0)}${sdRwc == null ? '' : ` (${points(sdRwc)})`}`).join(', ') },
      ]} />
      <BiasCaution />
      {against}
    </>
  );
}

const names: Readonly<Record<string, string>> = { irradiance: 'light', leaf: 'leaves', device: 'unit', fit: 'calibration' };
const risks = [{ value: 'FALSE_TRIP', label: 'A false trip' }, { value: 'MISSED_TRIP', label: 'A missed trip' }];

interface Chosen { readonly targetRwc: number; readonly biasV: number; readonly tripRwcSd: number }

/** Guard band: the target that keeps one risk at its limit. */
function GuardBand({ input, choose }: TrialPartProps) {
  const client = useApolloClient();
  const [chosen, setChosen] = useState<Chosen | null>(null);
  const [refused, setRefused] = useState<ProblemSeen | null>(null);
  const [initial] = useState(() => ({ kind: 'FALSE_TRIP', rwc: '90', risk: '5' }));
  const entry = useEntry({
    initial,
    keep: true,
    send: async ({ kind, rwc, risk }) => {
      const { deviceUnitId, calibrationVersionId, lightReferenceId, biasStepV, biasSourceId } = input;
      try {
        const { data } = await client.query({
          query: GuardBandTargetOf, fetchPolicy: 'network-only',
          variables: { input: { deviceUnitId, calibrationVersionId, lightReferenceId, biasStepV: biasStepV ?? null, biasSourceId: biasSourceId ?? null, kind: kind as RiskKind, rwc: fractionOrZero(rwc), risk: fractionOrZero(risk) } },
        });
        const answer = data!.guardBandTarget;
        if (answer.problem) return { outcome: 'refused' as const, problem: answer.problem, payload: null };
        return { outcome: 'recorded' as const, payload: answer };
      } catch {
        return { outcome: 'not-sent' as const, message: 'No answer came from the server.' };
      }
    },
    onRecorded: ({ targetRwc, biasV, tripRwcSd }) => {
      setRefused(null);
      setChosen(targetRwc == null || biasV == null || tripRwcSd == null ? null : { targetRwc, biasV, tripRwcSd });
    },
    onRefused: (problem) => {
      setChosen(null);
      setRefused(problem);
    },
  });
  const kind = entry.values.kind === 'FALSE_TRIP' ? 'false' : 'missed';
  return (
    <Folded title="Find the target for a risk">
      <p>The wetter the target, the more false trips; the drier, the more missed ones. Say which must not happen, at which RWC, how often at most.</p>
      <EntryForm entry={entry} action="Find the target" label="Find the target for a risk">
        <SegmentField {...entry.field('kind')} label="What must not happen" choices={risks} wide />
        <NumberField {...entry.field('rwc')} label={kind === 'false' ? 'On a leaf as wet as RWC, %' : 'On a leaf as dry as RWC, %'} />
        <NumberField {...entry.field('risk')} label="At most, in % of leaves" />
      </EntryForm>
      <div aria-live="polite">
        {chosen ? (
          <Notice tone="calm" title={`Target ${formatPercentPlain(chosen.targetRwc, 1)} RWC.`}>
            <p>The unit’s spread there is {points(chosen.tripRwcSd)}; its bias would be {chosen.biasV} V. First order: the certificate’s own chance, from the drawn cases, may differ a little.</p>
            <p><Action kind="plain" onClick={() => choose(chosen.targetRwc)}>Take it as the target</Action></p>
          </Notice>
        ) : null}
        {refused && !chosen ? <Notice tone="ask" title="No such target.">{refused.remedy}</Notice> : null}
      </div>
    </Folded>
  );
}
