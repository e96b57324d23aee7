import { ReadableStream, type ReadableStreamDefaultController } from 'node:stream/web';
import { Observable } from '@apollo/client';
import { act, cleanup, fireEvent, screen, waitFor } from '@testing-library/react';
import userEvent from '@testing-library/user-event';
import { NextStep } from '../src/features/bench/parts/next-step.js';
import type { Run } from '../src/features/bench/parts/run.js';
import type { WebSerialPort } from '../src/listening/serial-reader.js';
import { run, serverOf, show } from './support/bench.js';

const lineFormat: NonNullable<Run['balance']['lineFormat']> = {
  id: 'format', pattern: '{mark},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], netMarks: [], grossMarks: [], decimalMark: 'POINT', unit: 'mg', unitWords: [], unitOnlyWhenStable: false,
  baudRate: 2400, dataBits: 7, parity: 'EVEN', stopBits: 1, terminator: 'CRLF',
};
const speaking = run({ balance: { ...run().balance, lineFormat } });
const recorded = { recordWeighing: { __typename: 'RecordWeighingPayload', weighing: { __typename: 'Weighing', id: 'w' }, replayed: false, problem: null, flags: [] } };
const means = { weighWouldBe: { __typename: 'WeighWouldBe', massMg: '60', rwc: null, uRwc: null, provisional: false, flags: [], problem: null } };

/** A server and a bench computer that tells it lines. */
function bench(answers: Parameters<typeof serverOf>[0] = {}) {
  let tell: ((data: object) => void) | null = null;
  const server = serverOf({
    WhatWouldItBe: () => means, RecordWeighing: () => recorded,
    LineHeard: () => new Observable<object>((observer) => { tell = (data) => observer.next(data); }),
    ...answers,
  });
  const says = async (rawLine: string): Promise<void> => {
    await waitFor(() => expect(tell).not.toBeNull());
    act(() => tell!({ lineHeard: { __typename: 'HeardLine', id: rawLine, rawLine, heardAt: '2026-06-03T09:00:00Z', throughToken: 'Bench 2' } }));
  };
  return { server, says };
}

const mass = (): HTMLInputElement => screen.getByLabelText<HTMLInputElement>('Mass of A-1');

/** As an instrument types: a key every few milliseconds by its own stamp, whatever else this machine does between two of them. */
function typesAtOnce(text: string): void {
  const field = mass();
  const begunMs = performance.now();
  const keyAt = (key: string, n: number): KeyboardEvent => Object.defineProperty(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }), 'timeStamp', { value: begunMs + 4 * n });
  for (const [n, key] of [...text].entries()) field.dispatchEvent(keyAt(key, n));
  const enter = keyAt('Enter', text.length);
  act(() => { field.dispatchEvent(enter); });
  if (enter.defaultPrevented) return;
  fireEvent.change(field, { target: { value: text } });
  fireEvent.submit(field);
}

beforeEach(() => localStorage.clear());
afterEach(cleanup);

describe('a line that a bench computer heard', () => {
  it('stands in the field, waits for Enter, and is recorded with its raw line and its own word that it had settled', async () => {
    const { server, says } = bench();
    const user = userEvent.setup();
    show(server, <NextStep run={speaking} onRecorded={() => undefined} />);
    await says('ST,+   70.12 mg');
    expect(mass().value).toBe('70.12');
    expect(screen.getByText(/^Balance 1 says/).textContent).toContain('heard by Bench 2');
    expect(server.asked('RecordWeighing')).toEqual([]);
    await user.type(mass(), '{Enter}');
    expect(await screen.findByText('Recorded: A-1, turgid, 70.12 mg.')).toBeTruthy();
    expect(server.asked('RecordWeighing')[0]!['input']).toMatchObject({ massText: '70.12', massUnit: 'mg', entryMode: 'LINE', rawLine: 'ST,+   70.12 mg', stable: true });
  });

  it('never takes the place of what a hand typed, and what a hand typed over it is typed', async () => {
    const { server, says } = bench();
    const user = userEvent.setup({ delay: 60 });
    show(server, <NextStep run={speaking} onRecorded={() => undefined} />);
    await user.type(mass(), '61');
    await says('ST,+   70.12 mg');
    expect(mass().value).toBe('61');
    await user.clear(mass());
    await says('ST,+   70.13 mg');
    expect(mass().value).toBe('70.13');
    await user.type(mass(), '9{Enter}');
    await screen.findByText('Recorded: A-1, turgid, 70.139 mg.');
    expect(server.asked('RecordWeighing')[0]!['input']).toMatchObject({ entryMode: 'TYPED', rawLine: '70.139', stable: null });
  });

  it('is recorded without Enter where the person wants that, and taken back by an amendment', async () => {
    const { server, says } = bench({ RetractWeighing: () => ({ retract: { __typename: 'RetractPayload', amendment: { __typename: 'Amendment', id: 'a', staleResults: [] }, replayed: false, problem: null } }) });
    const user = userEvent.setup();
    show(server, <NextStep run={speaking} onRecorded={() => undefined} />);
    await user.click(screen.getByLabelText(/^Take a stable line at once/));
    await says('ST,+    0.00 mg');
    expect(mass().value).toBe('');
    await says('ST,+   70.12 mg');
    expect(await screen.findByText('Recorded: A-1, turgid, 70.12 mg.')).toBeTruthy();
    const [{ input }] = server.asked('RecordWeighing') as [{ input: { id: string } }];
    await user.click(screen.getByRole('button', { name: 'Take it back' }));
    expect(await screen.findByLabelText('Mass of A-1')).toBeTruthy();
    expect(server.asked('RetractWeighing')[0]!['input']).toMatchObject({ targetKind: 'weighing', targetId: input.id, reasonCode: 'OTHER' });
  });
});

it('reads a balance that acts as keyboard by its line format, and takes nothing while it moves', async () => {
  const { server } = bench();
  const user = userEvent.setup();
  show(server, <NextStep run={speaking} onRecorded={() => undefined} />);
  typesAtOnce('US,+   70.02 mg');
  expect(await screen.findByText('The value had not settled: it was not taken.')).toBeTruthy();
  expect(mass().value).toBe('');
  typesAtOnce('ST,+   70.12 mg');
  expect(mass().value).toBe('70.12');
  expect(server.asked('RecordWeighing')).toEqual([]);
  await user.keyboard('{Enter}');
  await screen.findByText('Recorded: A-1, turgid, 70.12 mg.');
  expect(server.asked('RecordWeighing')[0]!['input']).toMatchObject({ entryMode: 'LINE', rawLine: 'ST,+   70.12 mg' });
});

it('reads a serial line of this computer: settings of the format, the port that the person chose, each load once', async () => {
  let feed: ReadableStreamDefaultController<Uint8Array> | null = null;
  const opened: object[] = [];
  const port: WebSerialPort = {
    readable: new ReadableStream<Uint8Array>({ start: (controller) => { feed = controller; } }) as WebSerialPort['readable'],
    open: async (options) => { opened.push(options); },
    close: async () => undefined,
  };
  Object.defineProperty(navigator, 'serial', { configurable: true, value: { requestPort: async () => port } });
  try {
    const { server } = bench();
    const user = userEvent.setup();
    show(server, <NextStep run={speaking} onRecorded={() => undefined} />);
    await user.click(screen.getByRole('button', { name: 'Connect Balance 1' }));
    expect(await screen.findByText('Balance 1 is connected.')).toBeTruthy();
    expect(opened).toEqual([{ baudRate: 2400, dataBits: 7, parity: 'even', stopBits: 1 }]);
    const write = async (text: string): Promise<void> => { await act(async () => { feed!.enqueue(new TextEncoder().encode(text)); await Promise.resolve(); }); };
    await write('US,+   69.');
    await write('80 mg\r\nUS,+   70.02 mg\r\n');
    expect(await screen.findByText(/still moving/)).toBeTruthy();
    expect(mass().value).toBe('');
    await write('ST,+   70.12 mg\r\nST,+   70.12 mg\r\n');
    await waitFor(() => expect(mass().value).toBe('70.12'));
    await user.type(mass(), '{Enter}');
    await screen.findByText('Recorded: A-1, turgid, 70.12 mg.');
    expect(server.asked('RecordWeighing')).toHaveLength(1);
    await act(async () => { feed!.close(); await Promise.resolve(); });
  } finally {
    Reflect.deleteProperty(navigator, 'serial');
  }
});
