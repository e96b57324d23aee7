import { pause } from './database/processes.js';
import { messageOf } from './failure.js';

/** `npm start` passes Ctrl-C on to a process that had it from the terminal already: both count as one. */
const SAME_PRESS_MS = 500;
const DRAIN_MS = 15_000;

export interface Stopping {
  /** Adds a step of the way down; the last added runs first. */
  onStop(step: () => Promise<void>): void;
  /** Runs all steps once. A reason is printed and makes the program end with code 1. */
  stop(reason?: string): Promise<void>;
}

/**
 * Ends the program in order on Ctrl-C, SIGTERM or a closed terminal: requests under way are finished, then the database
 * is closed. A second Ctrl-C ends it at once; the database recovers by itself at the next start.
 */
export function stopOnSignal(say: (line: string) => void): Stopping {
  const steps: (() => Promise<void>)[] = [];
  let stopped: Promise<void> | undefined;
  let firstSignalAt = 0;

  const runSteps = async () => {
    for (let step = steps.pop(); step; step = steps.pop()) {
      try {
        await Promise.race([step(), pause(DRAIN_MS)]);
      } catch (error) {
        say(`While stopping: ${messageOf(error)}`);
      }
    }
  };
  const stop = (reason?: string) => {
    if (reason) {
      say(`threadleaf: ${reason}`);
      process.exitCode = 1;
    }
    return (stopped ??= runSteps());
  };
  const onSignal = () => {
    if (firstSignalAt === 0) {
      firstSignalAt = Date.now();
      say('\nStopping ... (Ctrl-C again ends at once)');
      void stop().then(() => process.exit());
    } else if (Date.now() - firstSignalAt > SAME_PRESS_MS) {
      process.exit(1);
    }
  };
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, onSignal);
  return { onStop: (step) => steps.push(step), stop };
}
