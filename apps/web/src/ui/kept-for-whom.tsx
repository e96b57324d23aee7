import { othersIn } from '../offline/outbox.js';
import { useQueue } from '../offline/queue.js';
import { Notice } from './words.js';

export const writesText = (count: number): string => (count === 1 ? '1 write' : `${count} writes`);

/** Where nobody is signed in, or somebody else: whose writes wait on this device, never what they say. */
export function KeptForWhom() {
  const waiting = othersIn(useQueue().filter(({ aside }) => !aside));
  if (waiting.length === 0) return null;
  return (
    <Notice tone="ask" title="Not sent yet, kept on this device:">
      <ul>{waiting.map(({ personName, labName, count }) => <li key={`${personName} ${labName}`}>{writesText(count)} of {personName} for {labName}</li>)}</ul>
      <p>They are sent when the same person signs in here, and by nobody else’s sign-in.</p>
    </Notice>
  );
}
