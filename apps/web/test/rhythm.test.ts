import { nextStep } from '../src/features/bench/parts/rhythm.js';
import type { Done, Step } from '../src/features/bench/parts/rhythm.js';

const MINUTE = 60_000;
const at = (min: number): number => min * MINUTE;
const discIds = ['a', 'b'];
const rhythmMin = 5;
const start: readonly Done[] = [{ kind: 'dark', atMs: at(0) }, { kind: 'reference', atMs: at(1) }];
const weighed = (discId: string, min: number, state: 'TURGID' | 'DRYING' = 'DRYING'): Done => ({ kind: 'weighing', discId, state, atMs: at(min) });
const read = (discId: string, min: number): Done => ({ kind: 'reading', discId, atMs: at(min) });
const told = (done: readonly Done[]): Partial<Step> | null => {
  const step = nextStep({ discIds, rhythmMin, done });
  if (!step) return null;
  const { why: _why, ...rest } = step;
  return rest;
};

describe('the rhythm of a drying run', () => {
  it('takes dark, then reference, then each disc turgid with its reading after it', () => {
    expect(told([])).toEqual({ kind: 'dark', dueMs: null });
    expect(told(start.slice(0, 1))).toEqual({ kind: 'reference', dueMs: null });
    expect(told(start)).toEqual({ kind: 'weighing', discId: 'a', state: 'TURGID', dueMs: null });
    expect(told([...start, weighed('a', 2, 'TURGID')])).toEqual({ kind: 'reading', discId: 'a', dueMs: null });
    expect(told([...start, weighed('a', 2, 'TURGID'), read('a', 3)])).toEqual({ kind: 'weighing', discId: 'b', state: 'TURGID', dueMs: null });
  });

  it('then asks for the disc that has waited longest, one rhythm after it was weighed', () => {
    const round = [...start, weighed('b', 2, 'TURGID'), read('b', 3), weighed('a', 4, 'TURGID'), read('a', 5)];
    expect(told(round)).toEqual({ kind: 'weighing', discId: 'b', state: 'DRYING', dueMs: at(7) });
    expect(told([...round, weighed('b', 7), read('b', 8)])).toEqual({ kind: 'weighing', discId: 'a', state: 'DRYING', dueMs: at(9) });
  });

  it('finishes the disc in the hand before anything else, and asks for a new reference when the last is old', () => {
    const late = [...start, weighed('a', 2, 'TURGID'), read('a', 3), weighed('b', 31, 'TURGID')];
    expect(told(late)).toEqual({ kind: 'reading', discId: 'b', dueMs: null });
    expect(told([...late, read('b', 32)])).toEqual({ kind: 'reference', dueMs: null });
    expect(told([...late, read('b', 32), { kind: 'reference', atMs: at(33) }])).toMatchObject({ kind: 'weighing', discId: 'a' });
  });

  it('does not depend on the order in which what was done is told, nor on a dry mass', () => {
    const done = [...start, weighed('a', 2, 'TURGID'), read('a', 3), weighed('b', 4, 'TURGID'), read('b', 5)];
    expect(told([...done].reverse())).toEqual(told(done));
    expect(told([...done, { kind: 'weighing', discId: 'a', state: 'DRY', atMs: at(20) }])).toEqual({ kind: 'weighing', discId: 'a', state: 'DRYING', dueMs: at(7) });
  });

  it('gives two people at one bench their own acts', () => {
    const part = (which: 'weighing' | 'meter', done: readonly Done[]) => {
      const step = nextStep({ discIds: ['a', 'b'], rhythmMin, part: which, done });
      return step && [step.kind, 'discId' in step ? step.discId : null, step.dueMs];
    };
    expect(part('weighing', [])).toEqual(['weighing', 'a', null]);
    expect(part('meter', [])).toEqual(['dark', null, null]);
    const one = [...start, weighed('a', 2, 'TURGID')];
    expect(part('weighing', one)).toEqual(['weighing', 'b', null]);
    expect(part('meter', one)).toEqual(['reading', 'a', null]);
    // Who reads follows in the order of weighing, and looks ahead to the disc that comes next.
    const both = [...one, weighed('b', 3, 'TURGID')];
    expect(part('meter', both)).toEqual(['reading', 'a', null]);
    expect(part('meter', [...both, read('a', 4)])).toEqual(['reading', 'b', null]);
    expect(part('meter', [...both, read('a', 4), read('b', 5)])).toEqual(['reading', 'a', at(7)]);
    // Cut off from the network it goes on through the discs, though it hears of no weighing.
    expect(part('meter', [...both, read('a', 4), read('b', 5), read('a', 8)])).toEqual(['reading', 'b', at(8)]);
  });

  it('has nothing to propose without a disc', () => {
    expect(nextStep({ discIds: [], rhythmMin, done: start })).toBeNull();
  });
});
