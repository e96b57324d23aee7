import { useState } from 'react';
import { useHasRole } from '../../../app/session.js';
import type { DecisionPageQuery, OutcomeVerdict } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { AreaField, MomentField, SegmentField } from '../../../ui/fields.js';
import { Line, Lines, Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { Action, Empty } from '../../../ui/words.js';
import { RecordDecisionOutcome } from '../zone-documents.js';

type Decision = NonNullable<DecisionPageQuery['decision']>;

const verdicts: Readonly<Record<OutcomeVerdict, string>> = { RIGHT: 'It was right', TOO_EARLY: 'Too early', TOO_LATE: 'Too late', NOT_NEEDED: 'Not needed', UNCLEAR: 'Unclear' };
const choices = (Object.keys(verdicts) as OutcomeVerdict[]).map((value) => ({ value, label: verdicts[value] }));

/** How a decision turned out: what makes the next one better. */
export function DecisionOutcomes({ decision, again }: { readonly decision: Decision; readonly again: () => void }) {
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const [recording, setRecording] = useState(false);
  const done = () => {
    setRecording(false);
    again();
  };
  return (
    <Section title="How it turned out" actions={mayRecord && !recording ? <Action kind="plain" onClick={() => setRecording(true)}>Record the outcome</Action> : null}>
      {recording ? <OutcomeEntry decisionId={decision.id} onDone={done} /> : null}
      {decision.outcomes.length === 0 && !recording ? <Empty title="Nobody has looked yet."><p>Look again in a day or two: RWC, water potential, soil, the crop itself.</p></Empty> : null}
      {decision.outcomes.length > 0 ? <Lines label="Outcomes">{decision.outcomes.map((outcome) => <Line key={outcome.id} margin={<Moment at={outcome.observedAt} />}><span><strong>{verdicts[outcome.verdict]}</strong>, {outcome.recordedBy.displayName}</span><span>“{outcome.seen}”</span></Line>)}</Lines> : null}
    </Section>
  );
}

function OutcomeEntry({ decisionId, onDone }: { readonly decisionId: string; readonly onDone: () => void }) {
  const send = usePayload();
  const [initial] = useState(() => ({ verdict: 'RIGHT', observedAt: localInput(new Date()), seen: '' }));
  const entry = useEntry({
    initial,
    send: ({ verdict, observedAt, seen }, id) => send(RecordDecisionOutcome, { input: { id, decisionId, observedAt: momentFromInput(observedAt), verdict: verdict as OutcomeVerdict, seen: seen.trim() } }),
    onRecorded: onDone,
  });
  return (
    <EntryForm entry={entry} action="Record outcome" onCancel={onDone}>
      <SegmentField {...entry.field('verdict')} label="Looking back" choices={choices} wide />
      <MomentField {...entry.field('observedAt')} label="Looked at" />
      <AreaField {...entry.field('seen')} label="What was seen" />
    </EntryForm>
  );
}
