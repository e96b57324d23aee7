import { useOutbox } from '../../../offline/outbox.js';
import { belongsTo, momentOf } from '../../../offline/writes.js';
import { Line, Lines, Strip } from '../../../ui/page.js';
import { Moment } from '../../../ui/time.js';
import { Notice } from '../../../ui/words.js';

/** What was recorded of an installation on this device and is not sent yet. */
export function KeptHere({ of }: { readonly of: string }) {
  const { waiting, onScreen } = useOutbox();
  const kept = waiting.filter((each) => belongsTo(each) === of && !(each.problem && onScreen.has(each.input.id)));
  if (kept.length === 0) return null;
  return (
    <Strip>
      <Notice tone="ask" title="Recorded on this device, not sent yet:">
        <Lines label="Not sent yet">{kept.map((each) => <Line key={each.order} margin={<Moment at={momentOf(each) ?? each.keptAt} />}><span>{each.label}{each.problem ? '. Refused, see Not sent yet' : ''}</span></Line>)}</Lines>
      </Notice>
    </Strip>
  );
}
