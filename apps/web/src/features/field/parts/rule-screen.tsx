import { useLazyQuery, useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useParams } from 'react-router';
import { formatPercentPlain } from '#libs/quantity';
import type { KnownBy, ReplayRuleQuery, ZoneRuleFieldsFragment } from '../../../generated/graphql.js';
import { MomentField, NumberField, SegmentField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Line, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { fractionOfPercent } from '../../../ui/percent-text.js';
import { SignatureList, SignForm } from '../../../ui/signatures.js';
import { ApprovalMark } from '../../../ui/state.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { ReplayRule, RuleRisk, ZoneRulePage } from '../zone-documents.js';
import { AdviceMark } from './advice.js';
import { DecisionLine, NoValve } from './field-words.js';
import styles from './field.module.css';

/** One version of a zone's rule: its terms, how it would have spoken, how often it would be wrong, and who stands for it. */
export function RuleScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(ZoneRulePage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => kind === 'signature');
  const back = <Back to="/field">Field</Back>;
  if (!data) return <Page title="Rule" margin={back}><Strip>{error ? <Failed what="this rule" again={() => void refetch()} /> : <Waiting what="the rule" />}</Strip></Page>;
  const { zoneRule: rule } = data;
  if (!rule) return <Page title="Rule" margin={back}><Strip><Empty title="No rule of this lab has this address." /></Strip></Page>;
  const subject = { kind: 'zone_rule' as const, word: 'rule', stale: false, ...rule };
  return (
    <Page title={`Rule of zone ${rule.zone}, version ${rule.version}`} margin={<><Back to={`/field/zone/${encodeURIComponent(rule.zone)}`}>Zone {rule.zone}</Back><br /><ApprovalMark state={rule.state} /></>} lead={<><p>“{rule.basis}”</p><NoValve /></>}
      actions={<ActionLink to={threadPath('zone_rule', rule.id, 'up')}>What rests on it</ActionLink>}>
      <Section title="Its terms"><Terms rule={rule} /></Section>
      <Section title="On past data" lead="What it would have said, from change to change, knowing at each moment only what was known then. What people did meanwhile stays as it was."><Replay ruleId={rule.id} /></Section>
      <Section title="How often it would be wrong" lead="For one window, with the units and certificates that stand in the zone now. Units under one sky are wrong together: voting does not remove what they share."><Risk ruleId={rule.id} /></Section>
      <Section title="Signatures" lead="A rule speaks once a second person has reviewed it and a third has approved it."><SignatureList subject={subject} /><SignForm subject={subject} onSigned={() => void refetch()} /></Section>
    </Page>
  );
}

function Terms({ rule }: { readonly rule: ZoneRuleFieldsFragment }) {
  return (
    <Facts rows={[
      { name: 'Tripped units needed', value: rule.needed },
      { name: 'Windows in a row', value: `${rule.windows}, each ± ${rule.hoursAroundNoon} h around solar noon at ${rule.latitude}, ${rule.longitude}` },
      { name: 'A trip counts for', value: `${rule.maxAgeHours} h` },
      { name: 'A unit is silent after', value: `${rule.silentAfterHours} h; at least ${rule.minHealthy} must be heard of before few votes mean anything` },
      { name: 'Held back', value: `for ${rule.lockoutHours} h after irrigation, and by ${rule.rainHoldMm} mm of rain within ${rule.rainHoldHours} h` },
    ]} />
  );
}

const DAYS_BACK = 14;
const knownBy = [{ value: 'RECORDED', label: 'From when the record had it' }, { value: 'SEEN', label: 'From when it was seen' }];

function Replay({ ruleId }: { readonly ruleId: string }) {
  const [from, setFrom] = useState(() => localInput(new Date(Date.now() - DAYS_BACK * 86_400_000)));
  const [until, setUntil] = useState(() => localInput(new Date()));
  const [known, setKnown] = useState<string>('RECORDED');
  const [replay, { data, error, loading }] = useLazyQuery(ReplayRule, { fetchPolicy: 'network-only' });
  const ask = () => void replay({ variables: { id: ruleId, from: momentFromInput(from), until: momentFromInput(until), everyMinutes: 60, known: known as KnownBy } });
  return (
    <div className={styles.whole}>
      <div className={styles.form}>
        <MomentField name="from" label="From" value={from} onChange={setFrom} problem={null} unmarked />
        <MomentField name="until" label="Until" value={until} onChange={setUntil} problem={null} unmarked />
        <SegmentField name="known" label="What was known" value={known} onChange={setKnown} problem={null} choices={knownBy} />
      </div>
      <div><Action kind="plain" onClick={ask} waiting={loading}>Replay the rule, hour by hour</Action></div>
      {error ? <Notice tone="alarm" title="It could not be replayed.">{error.message}</Notice> : null}
      {data ? <ReplayTold replay={data.replayZoneRule} /> : null}
    </div>
  );
}

const hours = (count: number): string => `${count} ${count === 1 ? 'hour' : 'hours'}`;

function ReplayTold({ replay }: { readonly replay: ReplayRuleQuery['replayZoneRule'] }) {
  return (
    <>
      <p role="status">Asked for water in {hours(replay.irrigate)}, waited in {hours(replay.wait)}, could not tell in {hours(replay.look)}, asked for nothing in {hours(replay.none)}.</p>
      <Lines label="What the rule would have said">
        {replay.changes.map((change) => (
          <Line key={change.at} margin={<Moment at={change.at} />}>
            <AdviceMark advice={change.advice} />
            <span>{change.reasons.join(' ')}</span>
          </Line>
        ))}
      </Lines>
      {replay.decisions.length > 0 ? <><h3>What was decided meanwhile</h3><Lines label="Decisions in this span">{replay.decisions.map((decision) => <DecisionLine key={decision.id} decision={decision} />)}</Lines></> : <p>Nothing was decided in this span.</p>}
    </>
  );
}

function Risk({ ruleId }: { readonly ruleId: string }) {
  const [wet, setWet] = useState('90');
  const [dry, setDry] = useState('60');
  const [reckon, { data, error, loading }] = useLazyQuery(RuleRisk, { fetchPolicy: 'network-only' });
  const ask = () => void reckon({ variables: { id: ruleId, wetRwc: fractionOfPercent(wet), dryRwc: fractionOfPercent(dry) } });
  const risk = data?.zoneRuleRisk;
  return (
    <div className={styles.whole}>
      <div className={styles.form}>
        <NumberField name="wet" label="RWC of leaves that need no water, %" value={wet} onChange={setWet} problem={null} unmarked />
        <NumberField name="dry" label="RWC of leaves that need water, %" value={dry} onChange={setDry} problem={null} unmarked />
      </div>
      <div><Action kind="plain" onClick={ask} waiting={loading}>Reckon the chances</Action></div>
      {error ? <Notice tone="alarm" title="They could not be reckoned.">{error.message}</Notice> : null}
      {risk ? (
        <>
          <p role="status">Calls for water though none is needed: <strong>{formatPercentPlain(risk.falseCall, 1)}</strong>. Misses leaves that need it: <strong>{formatPercentPlain(risk.missedCall, 1)}</strong>.</p>
          <p>There {risk.count === 1 ? 'is 1 unit' : `are ${risk.count} units`}. If the units shared nothing it would be {formatPercentPlain(risk.falseCallIfIndependent, 1)} and {formatPercentPlain(risk.missedCallIfIndependent, 1)}: too good to be true. They trip at RWC {formatPercentPlain(risk.tripRwc, 1)} on average; {formatPercentPlain(risk.sharedSigma, 1)} of their spread they share, {formatPercentPlain(risk.ownSigma, 1)} each has of its own.</p>
        </>
      ) : null}
    </div>
  );
}
