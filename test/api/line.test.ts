import { createClient } from 'graphql-ws';
import WebSocket from 'ws';
import { furnish, record, type Bench } from '../support/chain.js';
import { listeners } from '../support/listeners.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { until } from '../support/until.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;
let secret: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Listening lab');
  bench = await furnish(lab.as('MANAGER'));
  const { createAccessToken } = await lab.as('TECHNICIAN').ask<any>('mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { secret } }', {
    input: { id: newId(), label: 'bench computer', scopes: ['LISTEN'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD },
  });
  secret = createAccessToken.secret;
});

afterAll(() => server.close());

const HEAR = 'mutation ($input: HearLineInput!) { hearLine(input: $input) { replayed heardLine { id decimal unit load rawLine throughToken } problem { code field message } } }';
const format = (more: object = {}): object => ({
  id: newId(), instrumentId: bench.balanceId, pattern: '{mark},{load},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], netMarks: ['NT'], grossMarks: ['GS'], unit: 'mg', ...more,
});

async function hear(rawLine: string, more: object = {}): Promise<any> {
  const response = await fetch(`${server.url}/graphql`, {
    method: 'POST', headers: { 'content-type': 'application/json', authorization: `Bearer ${secret}` },
    body: JSON.stringify({ query: HEAR, variables: { input: { id: newId(), instrumentId: bench.balanceId, rawLine, heardAt: new Date().toISOString(), ...more } } }),
  });
  return (await response.json()).data.hearLine;
}

describe('a line format', () => {
  it('must be set before a line is heard', async () => {
    expect((await hear('ST,NT,+1.00 mg')).problem).toMatchObject({ code: 'STATE', field: 'instrumentId' });
  });

  it('is set by who may, is checked, and the newest one counts', async () => {
    const set = 'mutation ($input: SetLineFormatInput!) { setLineFormat(input: $input) { lineFormat { pattern baudRate terminator } problem { code field } } }';
    const refused = async (more: object): Promise<any> => (await lab.as('MANAGER').ask<any>(set, { input: format(more) })).setLineFormat.problem;
    expect(await refused({ pattern: '{mass}' })).toEqual({ code: 'INPUT', field: 'pattern' });
    expect(await refused({ unit: 'nW' })).toEqual({ code: 'INPUT', field: 'unit' });
    expect(await refused({ baudRate: 5 })).toEqual({ code: 'INPUT', field: 'baudRate' });
    expect(await refused({ instrumentId: newId() })).toEqual({ code: 'NOT_FOUND', field: 'instrumentId' });
    expect((await lab.as('TECHNICIAN').answer(set, { input: format() })).errors![0]!.extensions.code).toBe('FORBIDDEN');
    await record(lab.as('MANAGER'), 'setLineFormat', 'SetLineFormatInput', format({ pattern: '{value}', stableMarks: [], movingMarks: [], netMarks: [], grossMarks: [] }));
    await record(lab.as('MANAGER'), 'setLineFormat', 'SetLineFormatInput', format({ terminator: 'CR' }));
    const { instruments } = await lab.as('AUDITOR').ask<any>('{ instruments { label lineFormat { pattern baudRate terminator recordedBy { displayName } } } }');
    expect(Object.fromEntries(instruments.map(({ label, lineFormat }: any) => [label, lineFormat?.pattern ?? null]))).toEqual({ 'Balance 1': '{mark},{load},{value} {unit}', 'Meter 1': null, 'Oven 1': null });
  });
});

describe('a line heard', () => {
  it('is read by the server itself, letter by letter kept, and once whatever how often it is sent', async () => {
    const id = newId();
    const first = await hear('ST,NT,+  0060.30 mg', { id });
    expect(first).toEqual({ replayed: false, problem: null, heardLine: { id, decimal: '60.3', unit: 'mg', load: 'NET', rawLine: 'ST,NT,+  0060.30 mg', throughToken: 'bench computer' } });
    expect(await hear('ST,NT,+  0060.30 mg', { id })).toMatchObject({ replayed: true, problem: null });
    expect((await hear('ST,NT,+  0060.31 mg', { id })).problem.code).toBe('REPLAY_MISMATCH');
    const { heardLines } = await lab.as('TECHNICIAN').ask<any>('query ($id: UUID!) { heardLines(instrumentId: $id) { id } }', { id: bench.balanceId });
    expect(heardLines).toEqual([{ id }]);
  });

  it('that is not stable or not of the format is refused', async () => {
    expect((await hear('US,NT,+1.00 mg')).problem).toMatchObject({ code: 'INPUT', field: 'rawLine', message: 'The line is not stable.' });
    expect((await hear('~~garbage~~')).problem).toMatchObject({ code: 'INPUT', field: 'rawLine' });
    expect((await hear('x'.repeat(201))).problem).toMatchObject({ code: 'INPUT', field: 'rawLine' });
  });

  it('is told live to those who ask for that instrument', async () => {
    const heard: string[] = [];
    const listening = listeners('lines');
    const socket = createClient({ url: `${server.url.replace('http', 'ws')}/graphql`, webSocketImpl: WebSocket, connectionParams: { authorization: `Bearer ${secret}` } });
    const on = (query: string, took: (data: any) => void): void => void socket.subscribe({ query }, { next: ({ data }: any) => took(data), error: () => undefined, complete: () => undefined });
    on(`subscription { lineHeard(instrumentId: "${bench.balanceId}") { decimal } }`, ({ lineHeard }) => heard.push(lineHeard.decimal));
    on(`subscription { lineHeard(instrumentId: "${bench.meterId}") { decimal } }`, () => heard.push('of another'));
    await listening(2);
    await hear('ST,NT,+  0061.50 mg');
    await until('the line was heard', () => heard.length > 0);
    expect(heard).toEqual(['61.5']);
    await socket.dispose();
  });

  it('stays in its lab', async () => {
    const other = await server.openLab('Deaf lab');
    const { heardLines } = await other.as('TECHNICIAN').ask<any>('query ($id: UUID!) { heardLines(instrumentId: $id) { id } }', { id: bench.balanceId });
    expect(heardLines).toEqual([]);
    const { hearLine } = await other.as('TECHNICIAN').ask<any>(HEAR, { input: { id: newId(), instrumentId: bench.balanceId, rawLine: 'ST,NT,+1.00 mg', heardAt: new Date().toISOString() } });
    expect(hearLine.problem.code).toBe('STATE');
  });
});
