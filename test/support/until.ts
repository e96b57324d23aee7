/** A loaded machine may take long; what has not come by then does not come. Without an end a failed test would keep the run from ending. */
const PATIENCE_MS = 120_000;

/**
 * Waits until something holds, and looks again every few milliseconds.
 *
 *     await until('the page heard it', () => heard.includes(id));
 *
 * @param what  completes "It did not come about that ..."
 */
export async function until(what: string, holds: () => boolean | Promise<boolean>, everyMs = 20): Promise<void> {
  for (const end = Date.now() + PATIENCE_MS; Date.now() < end;) {
    if (await holds()) return;
    await new Promise((resolve) => { setTimeout(resolve, everyMs); });
  }
  throw new Error(`It did not come about that ${what}.`);
}
