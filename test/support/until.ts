import type { Client } from './lab.js';

/** A loaded machine may take long; what has not come by then does not come. Without an end a failed test would keep the run from ending. */
const PATIENCE_MS = 120_000;

/**
 * Waits until something holds, and looks again every few milliseconds.
 *
 *     await until('the page heard it', () => heard.includes(id));
 *
 * @param what  completes "It did not come about that ..."
 * @returns what `holds` found
 */
export async function until<T>(what: string, holds: () => T | Promise<T>, everyMs = 20): Promise<Exclude<T, false | null | undefined>> {
  for (const end = Date.now() + PATIENCE_MS; Date.now() < end;) {
    const found = await holds();
    if (found) return found as Exclude<T, false | null | undefined>;
    await new Promise((resolve) => { setTimeout(resolve, everyMs); });
  }
  throw new Error(`It did not come about that ${what}.`);
}

/** Waits for the end of a job as whoever asked for it sees it; one that fails fails the test in its own words. */
export function jobDone(client: Client, id: string): Promise<any> {
  return until('the job is done', async () => {
    const { job } = await client.ask<any>('query ($id: UUID!) { job(id: $id) { state outcome error sentence } }', { id });
    if (job?.state === 'FAILED') throw new Error(job.error);
    return job?.state === 'DONE' && job;
  });
}
