import { cleanup, screen } from '@testing-library/react';
import userEvent from '@testing-library/user-event';
import { DiscBoard } from '../src/features/bench/parts/disc-board.js';
import { NextStep } from '../src/features/bench/parts/next-step.js';
import { PreflightPanel } from '../src/features/bench/parts/preflight-panel.js';
import type { Run } from '../src/features/bench/parts/run.js';
import { at, disc, run, serverOf, show } from './support/bench.js';

const recorded = { recordWeighing: { __typename: 'RecordWeighingPayload', weighing: { __typename: 'Weighing', id: 'w' }, replayed: false, problem: null, flags: [] } };
const means = (more: object = {}) => ({ weighWouldBe: { __typename: 'WeighWouldBe', massMg: '60', rwc: null, uRwc: null, provisional: false, flags: [], problem: null, ...more } });
const asking = { __typename: 'Flag', code: 'MASS_RISING', severity: 'ASK', message: 'Mass rose from 60 mg to 63 mg.' };

beforeEach(() => localStorage.clear());
afterEach(cleanup);

describe('the rhythm', () => {
  it('weighs by keyboard alone: a number, Enter, and the next act is there', async () => {
    const server = serverOf({ WhatWouldItBe: () => means(), RecordWeighing: () => recorded });
    const user = userEvent.setup();
    show(server, <NextStep run={run()} onRecorded={() => undefined} />);
    expect(document.activeElement).toBe(screen.getByLabelText('Mass of A-1'));
    await user.keyboard('70,00{Enter}');
    expect(await screen.findByText('Recorded: A-1, turgid, 70,00 mg.')).toBeTruthy();
    expect(document.activeElement).toBe(screen.getByLabelText('Power through A-1'));
    expect(server.asked('RecordWeighing')[0]!['input']).toMatchObject({ discId: 'id of A-1', state: 'TURGID', massText: '70,00', massUnit: 'mg', dryingRunId: 'run', rawLine: '70,00', scannedText: null, clockOffsetMs: null });
  });

  it('tells a provisional RWC as a band, and a known one with its uncertainty', async () => {
    let provisional = true;
    const server = serverOf({ WhatWouldItBe: () => means({ rwc: 0.8, uRwc: 0.01, provisional }) });
    const user = userEvent.setup();
    show(server, <NextStep run={run()} onRecorded={() => undefined} />);
    await user.keyboard('60');
    expect(await screen.findByText('RWC 78.0 % to 82.0 %')).toBeTruthy();
    expect(screen.getByText('Provisional:')).toBeTruthy();
    provisional = false;
    await user.keyboard('.1');
    expect(await screen.findByText(/^RWC/)).toBeTruthy();
    expect(await screen.findByText('(80.0 ± 1.0) %')).toBeTruthy();
    expect(screen.queryByText('Provisional:')).toBeNull();
  });

  it('keeps a mass that asks only with the answer, and sends both under one id', async () => {
    const refused = { recordWeighing: { ...recorded.recordWeighing, weighing: null, problem: { __typename: 'Problem', code: 'INPUT', field: 'flagAnswer', message: 'It asks.', remedy: 'Answer.' }, flags: [asking] } };
    const server = serverOf({ WhatWouldItBe: () => means({ flags: [asking] }), RecordWeighing: ({ input }) => (input.flagAnswer ? recorded : refused) });
    const user = userEvent.setup();
    show(server, <NextStep run={run()} onRecorded={() => undefined} />);
    await user.keyboard('63.00{Enter}');
    const answer = await screen.findByLabelText('Your answer to what it asks');
    expect(screen.getByText(/Mass rose from 60 mg to 63 mg\./)).toBeTruthy();
    expect(document.activeElement).toBe(answer);
    await user.keyboard('It is the same disc.{Enter}');
    expect(await screen.findByText('Recorded: A-1, turgid, 63.00 mg.')).toBeTruthy();
    const [first, second] = server.asked('RecordWeighing').map(({ input }) => input);
    expect(second).toMatchObject({ id: first.id, flagAnswer: 'It is the same disc.' });
  });

  it('takes a label in the field of the mass for a scan, never for a mass', async () => {
    const server = serverOf({ WhatWouldItBe: () => means(), RecordWeighing: () => recorded });
    const user = userEvent.setup();
    show(server, <NextStep run={run()} onRecorded={() => undefined} />);
    await user.keyboard('a-2');
    expect(screen.getByText('This is A-2. Expected: A-1.')).toBeTruthy();
    await user.keyboard('Z-9{Enter}');
    expect(await screen.findByText(/“Z-9” is neither a mass nor a label of this run\./)).toBeTruthy();
    expect(server.asked('RecordWeighing')).toEqual([]);
  });

  it('gives each of two people their own part', async () => {
    const user = userEvent.setup();
    show(serverOf({}), <NextStep run={run()} onRecorded={() => undefined} />);
    await user.selectOptions(screen.getByLabelText('At this device'), 'Read only');
    expect(await screen.findByLabelText('Power through A-1')).toBeTruthy();
    await user.selectOptions(screen.getByLabelText('At this device'), 'Weigh only');
    expect(await screen.findByLabelText('Mass of A-1')).toBeTruthy();
  });
});

describe('a balance that is not in check', () => {
  const overdue = (outOfCheck: 'ASK' | 'REFUSE'): Run => run({ balance: { ...run().balance, checkStatus: 'OVERDUE' }, parameters: { ...run().parameters, outOfCheck } });
  beforeEach(() => sessionStorage.clear());

  it('is used with a reason only where the protocol asks, and the reason goes with each value', async () => {
    const server = serverOf({ WhatWouldItBe: () => means(), RecordWeighing: () => recorded });
    const user = userEvent.setup();
    show(server, <NextStep run={overdue('ASK')} onRecorded={() => undefined} />);
    await user.type(screen.getByLabelText('Mass of A-1'), '70.00{Enter}');
    expect(screen.getByText('Balance 1 is overdue for its check or calibration.')).toBeTruthy();
    expect(server.asked('RecordWeighing')).toEqual([]);
    await user.type(screen.getByLabelText('Why Balance 1 is used all the same'), 'The check weight is away.');
    await user.type(screen.getByLabelText('Mass of A-1'), '{Enter}');
    expect(await screen.findByText('Recorded: A-1, turgid, 70.00 mg.')).toBeTruthy();
    expect(server.asked('RecordWeighing')[0]!['input'].overrideReason).toBe('The check weight is away.');
  });

  it('is not used where the protocol refuses it, and runs out on the device’s own clock', async () => {
    const server = serverOf({ WhatWouldItBe: () => means(), RecordWeighing: () => recorded });
    const user = userEvent.setup();
    show(server, <NextStep run={run({ balance: { ...run().balance, checkDueAt: at(0) }, parameters: { ...run().parameters, outOfCheck: 'REFUSE' } })} onRecorded={() => undefined} />);
    await user.type(screen.getByLabelText('Mass of A-1'), '70.00{Enter}');
    expect(screen.getByText(/The protocol takes no value of it\./)).toBeTruthy();
    expect(server.asked('RecordWeighing')).toEqual([]);
  });
});

describe('scan, then weigh', () => {
  const scanning = run({ parameters: { ...run().parameters, scanFirst: true } });

  it('stops at another disc and at a stranger, goes on with the right one, and keeps what was scanned', async () => {
    const server = serverOf({ WhatWouldItBe: () => means(), RecordWeighing: () => recorded });
    const user = userEvent.setup();
    show(server, <NextStep run={scanning} onRecorded={() => undefined} />);
    await user.keyboard('A-2{Enter}');
    expect(screen.getByRole('alert').textContent).toMatch(/This is A-2\. Expected: A-1\./);
    await user.keyboard('X-1{Enter}');
    expect(screen.getByRole('alert').textContent).toMatch(/“X-1” is no disc of this run\. Expected: A-1\./);
    expect(screen.queryByLabelText('Mass of A-1')).toBeNull();
    await user.keyboard('a-1{Enter}');
    await user.keyboard('70.00{Enter}');
    expect(await screen.findByText('Recorded: A-1, turgid, 70.00 mg.')).toBeTruthy();
    expect(server.asked('RecordWeighing')[0]!['input'].scannedText).toBe('a-1');
  });

  it('weighs the other disc where the person says so, after its own scan', async () => {
    const user = userEvent.setup();
    show(serverOf({}), <NextStep run={scanning} onRecorded={() => undefined} />);
    await user.keyboard('A-2{Enter}');
    await user.click(screen.getByRole('button', { name: 'Weigh A-2 instead' }));
    expect(await screen.findByLabelText('Scan the label of A-2')).toBeTruthy();
  });
});

describe('the pre-flight', () => {
  const point = (name: string, met: boolean, skippable = true) => ({ __typename: 'PreflightPointStanding', point: name, met, told: `How ${name} stands.`, remedy: met ? null : `What to do with ${name}.`, skippable });
  const standing = (...points: object[]) => ({ PreflightStanding: () => ({ preflightStanding: points }), MeasureClock: () => ({ about: { __typename: 'About', serverTime: new Date().toISOString() } }) });

  it('starts the rhythm only once every point is met or skipped with a reason, and sends the reasons', async () => {
    let started = 0;
    const server = serverOf({
      ...standing(point('BALANCE', false), point('LAMP', true), point('DARK', true), point('REFERENCE', true), point('CLOCK', true)),
      RecordPreflight: () => ({ recordPreflight: { __typename: 'RecordPreflightPayload', preflight: { __typename: 'Preflight', id: 'p' }, replayed: false, problem: null } }),
    });
    const user = userEvent.setup();
    show(server, <PreflightPanel run={run()} again={() => { started += 1; }} />);
    const start = await screen.findByRole<HTMLButtonElement>('button', { name: 'Start the rhythm' });
    expect(start.disabled).toBe(true);
    expect(screen.getByText('Open: balance.')).toBeTruthy();
    expect(screen.getByText(/What to do with BALANCE\./)).toBeTruthy();
    await user.click(screen.getByRole('button', { name: 'Skip balance and say why' }));
    await user.keyboard('The check weight is at calibration.');
    await user.click(start);
    await screen.findByRole('button', { name: 'Start the rhythm' });
    expect(server.asked('RecordPreflight')[0]!['input']).toMatchObject({ dryingRunId: 'run', skipped: [{ point: 'BALANCE', reason: 'The check weight is at calibration.' }] });
    expect(started).toBe(1);
  });

  it('offers no skip where the protocol allows none', async () => {
    show(serverOf(standing(point('BALANCE', false, false), point('LAMP', false), point('DARK', true), point('REFERENCE', true), point('CLOCK', true))), <PreflightPanel run={run()} again={() => undefined} />);
    await screen.findByRole('button', { name: 'Skip lamp and say why' });
    expect(screen.queryByRole('button', { name: 'Skip balance and say why' })).toBeNull();
  });
});

it('the board tells each disc\'s RWC: a band while provisional, with uncertainty once known, and says where it is not known', () => {
  const now = (label: string, more: object): Run['rwcNow'][number] => ({ disc: { id: `id of ${label}` }, weighingId: 'w', observedAt: at(5), massMg: 60, rwc: 0.8, uRwc: 0.01, provisional: false, ...more });
  const discs = ['A-1', 'A-2', 'A-3', 'A-4'].map(disc);
  show(serverOf({}), <DiscBoard run={run({ discs, rwcNow: [now('A-1', {}), now('A-2', { provisional: true }), now('A-3', { rwc: null, uRwc: null })] })} />);
  const row = (label: string) => screen.getByRole('link', { name: label }).closest('tr')!.textContent;
  expect(row('A-1')).toContain('(80.0 ± 1.0) %');
  expect(row('A-2')).toContain('78.0 % to 82.0 %, provisional');
  expect(row('A-3')).toContain('not known yet');
  expect(row('A-4')).toContain('none yet');
});
