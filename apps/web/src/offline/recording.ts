import type { FlagSeen, Sent } from '../ui/send.js';
import type { Recording } from './outbox.js';

/** kept: it waits on this device for the server. */
export interface Written {
  readonly kept: boolean;
  readonly flags?: readonly FlagSeen[];
}

/** For the hand a write that is kept on this device is done: it goes on to the next step. */
export function asSent(recording: Recording): Sent<Written> {
  if (recording.outcome === 'kept') return { outcome: 'recorded', payload: { kept: true } };
  if (recording.outcome === 'not-sent') return recording;
  if (recording.outcome === 'recorded') return { outcome: 'recorded', payload: { kept: false } };
  return { ...recording, payload: { kept: false, flags: recording.payload?.flags ?? [] } };
}
