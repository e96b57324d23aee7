import type { LineRead, LineValue } from './read-line.js';

/**
 * Picks from a stream of read lines those that are worth a person's look: a stable value is told once, until the display has
 * moved or shows another value. An instrument that repeats its line ten times a second thus says it once a load.
 *
 * @example
 * const settling = new Settling();
 * settling.isNew({ outcome: 'stable', valueText: '60.30', decimal: '60.3', unit: 'mg', load: null, zero: false }) // => true
 */
export class Settling {
  private last: string | null = null;

  isNew(read: LineRead): read is LineValue & { readonly outcome: 'stable' } {
    if (read.outcome === 'unread') return false;
    if (read.outcome === 'moving') {
      this.last = null;
      return false;
    }
    const told = `${read.decimal} ${read.unit} ${read.load}`;
    if (told === this.last) return false;
    this.last = told;
    return true;
  }

  /** The line was lost: the next stable value is new whatever it is. */
  forget(): void {
    this.last = null;
  }
}
