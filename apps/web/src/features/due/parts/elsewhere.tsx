import { useMutation, useQuery } from '@apollo/client/react';
import { useEffect, useRef, useState } from 'react';
import type { DueListQuery } from '../../../generated/graphql.js';
import { Section } from '../../../ui/page.js';
import { Moment } from '../../../ui/time.js';
import { Action, Notice, RawLine } from '../../../ui/words.js';
import { CalendarFeed, EndCalendarFeed, RenewCalendarFeed } from '../documents.js';

type Item = DueListQuery['due'][number];

/** What is due, told where the person looks anyway: in a calendar, and by the browser. Both are off until asked for. */
export function Elsewhere({ items, now }: { readonly items: readonly Item[]; readonly now: number }) {
  return (
    <Section title="Told elsewhere">
      <InCalendar />
      <ByBrowser items={items} now={now} />
    </Section>
  );
}

function InCalendar() {
  const { data, refetch } = useQuery(CalendarFeed);
  const [renew, renewing] = useMutation(RenewCalendarFeed);
  const [end] = useMutation(EndCalendarFeed);
  const [path, setPath] = useState<string | null>(null);
  const madeAt = data?.calendarFeedMadeAt;
  const make = async () => {
    const { data: made } = await renew();
    setPath(made?.renewCalendarFeed.path ?? null);
    void refetch();
  };
  return (
    <>
      <h3>In your calendar</h3>
      <p>A secret address of what you may act on in this lab, for any calendar that subscribes to an address. Whoever has it can read it: give it to nobody, and renew it when somebody else may have it.</p>
      {madeAt && !path ? <p>An address was made <Moment at={madeAt} />. It was shown once; a new one ends it.</p> : null}
      {path ? <Notice tone="calm" title="Your address. It is shown only now: copy it into your calendar."><p><RawLine>{`${location.origin}${path}`}</RawLine></p></Notice> : null}
      <p>
        <Action kind="plain" onClick={() => void make()} waiting={renewing.loading}>{madeAt ? 'Renew the address' : 'Make an address'}</Action>{' '}
        {madeAt ? <Action kind="quiet" onClick={() => void end().then(() => { setPath(null); void refetch(); })}>End it</Action> : null}
      </p>
    </>
  );
}

const KEPT = 'threadleaf.tell-due';
/** Told at most this long after it fell due: opening the page late rings for nothing old. */
const FRESH_MS = 5 * 60_000;

/** Quiet until a click; then each thing that falls due while a page of Due stands open is told once. */
function ByBrowser({ items, now }: { readonly items: readonly Item[]; readonly now: number }) {
  const able = 'Notification' in window;
  const [on, setOn] = useState(() => able && Notification.permission === 'granted' && localStorage.getItem(KEPT) === 'yes');
  const told = useRef(new Set<string>());
  useEffect(() => {
    if (!on) return;
    for (const item of items) {
      const key = `${item.kind} ${item.subject.id} ${item.dueAt}`;
      const late = now - Date.parse(item.dueAt);
      if (late < 0 || late > FRESH_MS || told.current.has(key)) continue;
      told.current.add(key);
      new Notification(item.what, { tag: key, body: 'Threadleaf, Due' });
    }
  }, [on, items, now]);
  const ask = async () => {
    const granted = (await Notification.requestPermission()) === 'granted';
    localStorage.setItem(KEPT, granted ? 'yes' : 'no');
    setOn(granted);
  };
  const stop = () => {
    localStorage.setItem(KEPT, 'no');
    setOn(false);
  };
  return (
    <>
      <h3>By this browser</h3>
      {!able ? <p>This browser cannot notify, or only over a secure connection.</p> : null}
      {able && on ? <p>While this page stands open in a tab, each thing that falls due is told. <Action kind="quiet" onClick={stop}>Be quiet again</Action></p> : null}
      {able && !on ? (
        <p>
          {Notification.permission === 'denied' ? 'Notifications of this page are refused in the browser’s settings. ' : 'While this page stands open in a tab, the browser can tell what falls due. '}
          <Action kind="plain" onClick={() => void ask()}>Tell me</Action>
        </p>
      ) : null}
    </>
  );
}
