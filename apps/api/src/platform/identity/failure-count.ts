/** Failures for one name in a quarter of an hour before it has to wait. */
const MOST = 10;
const WINDOW_MS = 15 * 60_000;

/** Counts failed attempts by name, in this process: guessing must take longer than a password or code is good for. */
export class FailureCount {
  private readonly failures = new Map<string, number[]>();

  add(name: string): void {
    this.failures.set(name, [...this.recent(name), Date.now()]);
  }

  tooMany(name: string): boolean {
    return this.recent(name).length >= MOST;
  }

  forget(name: string): void {
    this.failures.delete(name);
  }

  private recent(name: string): number[] {
    return (this.failures.get(name) ?? []).filter((moment) => moment > Date.now() - WINDOW_MS);
  }
}
