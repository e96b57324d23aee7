import { doneInRun, liveTransmittance } from '../src/features/bench/parts/run.js';
import type { Reading, Run } from '../src/features/bench/parts/run.js';
import type { Kept } from '../src/offline/store.js';

const at = (min: number): string => new Date(Date.UTC(2026, 5, 3, 9, min)).toISOString();
const power = (lightPath: Reading['lightPath'], min: number, powerNw: string, amended = false): Reading => ({
  id: `${lightPath} ${min}`, lightPath, clockOffsetMs: null, observedAt: at(min), powerText: powerNw, powerUnit: 'nW', powerNw, disc: lightPath === 'READING' ? { id: 'd', label: 'D1' } : null,
  recordedBy: { id: 'p', displayName: 'P' }, entryMode: 'TYPED', rawLine: powerNw, amendedBy: amended ? ({ id: 'a' } as Reading['amendedBy']) : null,
});

describe('transmittance while a run is open', () => {
  it('takes the dark off reading and reference: (310 - 10) / (1010 - 10) = 0.3', () => {
    expect(liveTransmittance([power('DARK', 0, '10'), power('REFERENCE', 1, '1010'), power('READING', 2, '310')])).toEqual([{ disc: 'D1', at: at(2), value: 0.3 }]);
  });

  it('uses the last dark and reference before each reading, in order of time, and leaves amended ones out', () => {
    const readings = [power('READING', 4, '310'), power('REFERENCE', 3, '610'), power('REFERENCE', 1, '1010'), power('DARK', 0, '10'), power('READING', 2, '999', true)];
    expect(liveTransmittance(readings).map(({ value }) => value)).toEqual([0.5]);
  });

  it('tells nothing before there is a dark and a reference, nor when the reference is not above the dark', () => {
    expect(liveTransmittance([power('READING', 2, '310')])).toEqual([]);
    expect(liveTransmittance([power('DARK', 0, '10'), power('REFERENCE', 1, '10'), power('READING', 2, '310')])).toEqual([]);
  });
});

describe('what was done in a run', () => {
  const run = { id: 'run', weighings: [], meterReadings: [power('DARK', 0, '10'), power('REFERENCE', 1, '1010', true)] } as unknown as Run;
  const kept = (id: string, dryingRunId: string): Kept => ({
    kind: 'weighing', order: 1, labId: 'l', labName: 'L', personId: 'p', personName: 'P', label: id, keptAt: at(5),
    input: { id, discId: 'd', state: 'TURGID', clockOffsetMs: null, observedAt: at(5), massText: '70', massUnit: 'mg', balanceId: 'b', dryingRunId, entryMode: 'TYPED', rawLine: '70' },
  });

  it('counts what stands, what waits in the outbox for this run, and what was just recorded, each once', () => {
    const just = [{ id: 'w1', done: { kind: 'dark', atMs: 0 } as const }, { id: 'w3', done: { kind: 'reference', atMs: 1 } as const }];
    expect(doneInRun(run, [kept('w1', 'run'), kept('w2', 'another run')], just).map(({ kind }) => kind)).toEqual(['dark', 'weighing', 'reference']);
  });
});
