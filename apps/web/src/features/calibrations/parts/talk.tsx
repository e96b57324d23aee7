import type { CommentFieldsFragment } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, TickField } from '../../../ui/fields.js';
import { Line, Lines, Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Moment } from '../../../ui/time.js';
import { RecordCalibrationComment } from '../shared-documents.js';

const none = { text: '', question: false, answersId: '' };
const shortened = (text: string): string => (text.length > 60 ? `${text.slice(0, 60)}…` : text);

interface TalkProps {
  readonly comments: readonly CommentFieldsFragment[];
  /** Of the share it is about, where others read along; else of the version. */
  readonly about: { readonly shareId: string } | { readonly calibrationVersionId: string };
  readonly lead: string;
  readonly again: () => void;
}

/** What people said and asked about a version, and a line to say more. */
export function TalkSection({ comments, about, lead, again }: TalkProps) {
  const send = usePayload();
  const entry = useEntry({
    initial: none,
    send: ({ text, question, answersId }, id) => send(RecordCalibrationComment, { input: { id, ...about, text, question: question && answersId === '', answersId: orNull(answersId) } }),
    onRecorded: again,
  });
  const questions = comments.filter(({ question }) => question);
  return (
    <Section title="Questions and comments" lead={lead}>
      {comments.length === 0 ? <p>Nothing was said yet.</p> : (
        <Lines label="Questions and comments">
          {comments.map(({ id, at, by, labName, own, question, text, answersId, shareId }) => (
            <Line key={id} margin={<Moment at={at} />}>
              <strong>{by}{own ? '' : `, ${labName}`}</strong> {question ? 'asks' : answersId ? 'answers' : 'says'}{own && !shareId ? ' within the lab' : ''}: {text}
            </Line>
          ))}
        </Lines>
      )}
      <EntryForm entry={entry} action="Say it" label="Say or ask something">
        <AreaField {...entry.field('text')} label="Comment or question" rows={3} wide />
        {questions.length > 0 ? <ChoiceField {...entry.field('answersId')} label="Answers" choices={questions.map(({ id, text }) => ({ value: id, label: shortened(text) }))} none="No question" optional /> : null}
        {entry.values.answersId === '' ? <TickField {...entry.field('question')} label="It is a question" /> : null}
      </EntryForm>
    </Section>
  );
}
