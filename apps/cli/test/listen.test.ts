import { spawn, spawnSync } from 'node:child_process';
import { appendFileSync, mkdtempSync, readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { byToken, type ApiClient } from '../src/client.js';
import { Listener, type ListenedInstrument } from '../src/listen/listener.js';
import { SimulatedBalance } from '../src/listen/simulated-balance.js';
import { Spool } from '../src/listen/spool.js';
import { furnish, record } from '../../../test/support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../../../test/support/lab.js';

let server: TestServer;
let lab: TestLab;
let instrument: ListenedInstrument;
let client: ApiClient;
let balance: SimulatedBalance;
let folder: string;
const said: string[] = [];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Bench computer lab');
  const { balanceId } = await furnish(lab.as('MANAGER'));
  const format = { pattern: '{mark},{load},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], netMarks: ['NT'], grossMarks: ['GS'], decimalMark: 'POINT', unit: 'mg', unitWords: [], unitOnlyWhenStable: false } as const;
  await record(lab.as('MANAGER'), 'setLineFormat', 'SetLineFormatInput', { id: newId(), instrumentId: balanceId, ...format });
  instrument = { id: balanceId, label: 'Balance 1', format, terminator: 'CRLF', baudRate: 9600, dataBits: 8, parity: 'NONE', stopBits: 1 };
  const { createAccessToken } = await lab.as('TECHNICIAN').ask<any>('mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { secret } }', {
    input: { id: newId(), label: 'bench', scopes: ['LISTEN'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD },
  });
  client = byToken(server.url, createAccessToken.secret);
  balance = await SimulatedBalance.start({ port: 0, ratePerSecond: 80, seed: 7 });
  folder = mkdtempSync(join(tmpdir(), 'threadleaf-heard-'));
});

afterAll(async () => {
  await balance.close();
  await server.close();
});

/** Masses that the server has, oldest first. */
async function heard(): Promise<string[]> {
  const { heardLines } = await lab.as('TECHNICIAN').ask<any>('query ($id: UUID!) { heardLines(instrumentId: $id, first: 200) { decimal } }', { id: instrument.id });
  return heardLines.map(({ decimal }: any) => decimal).reverse();
}

async function until(holds: () => Promise<boolean> | boolean): Promise<void> {
  for (let i = 0; i < 200; i += 1) {
    if (await holds()) return;
    await new Promise((resolve) => { setTimeout(resolve, 50); });
  }
  throw new Error(`It did not come about. Said: ${said.slice(-5).join(' | ')}`);
}

/** The way to the server with a switch: while it is off, nothing arrives; answers can get lost on the way back. */
function cuttable(): ApiClient & { mode: 'on' | 'off' | 'answer lost'; sent: number } {
  const way = {
    mode: 'on' as 'on' | 'off' | 'answer lost', sent: 0,
    ask: client.ask,
    send: async <T>(...args: Parameters<ApiClient['send']>): Promise<T> => {
      if (way.mode === 'off') throw new Error('no network');
      const answer = await client.send<T>(...args);
      way.sent += 1;
      if (way.mode === 'answer lost') {
        way.mode = 'on';
        throw new Error('the answer was lost');
      }
      return answer;
    },
  };
  return way as never;
}

const listenerOn = async (way: ApiClient, name: string, address = `tcp://127.0.0.1:${balance.port}`): Promise<{ listener: Listener; spool: Spool }> => {
  const spool = await Spool.open(join(folder, name));
  const listener = new Listener(way, instrument, address, spool, (line) => said.push(line));
  listener.start();
  return { listener, spool };
};

/** A pseudo-terminal whose far end is the simulated balance: for the listener it is a serial line. Node opens none by itself, Python does. */
const PTY = `
import os, pty, socket, sys, tty
far, near = pty.openpty()
tty.setraw(near)
line = socket.create_connection(("127.0.0.1", int(sys.argv[1])))
print(os.ttyname(near), flush=True)
while True:
    piece = line.recv(4096)
    if not piece: break
    os.write(far, piece)
`;

const hasPython = spawnSync('python3', ['-c', 'import pty']).status === 0;

describe('threadleaf listen', () => {
  it('tells each load once, when it has settled, out of swinging, repeated, noisy and cut lines; and none while the server is away, but all in order afterwards', async () => {
    const way = cuttable();
    const { listener, spool } = await listenerOn(way, 'one.jsonl');
    const lay = async (massMg: number): Promise<void> => {
      const before = said.filter((line) => line.includes('ST,NT,')).length;
      balance.lay(massMg);
      await until(() => said.filter((line) => line.includes('ST,NT,')).length > before);
    };
    await until(() => said.some((line) => line.includes('0.00 mg')));
    await lay(70.12);
    await until(async () => (await heard()).includes('70.12'));
    way.mode = 'off';
    await lay(68.26);
    await lay(65.36);
    await until(() => said.some((line) => line.startsWith('Not told yet')));
    expect(await heard()).toEqual(['0', '70.12']);
    // The computer is switched off: what is on its disk is told by the next program, once.
    await listener.close();
    expect((await Spool.open(join(folder, 'one.jsonl'))).length).toBe(spool.length);
    way.mode = 'answer lost';
    const next = await listenerOn(way, 'one.jsonl');
    await until(async () => (await heard()).includes('65.36'));
    balance.drop();
    await until(() => said.some((line) => line.includes('tried again')));
    balance.lay(63.01);
    await until(async () => (await heard()).includes('63.01'));
    await next.listener.close();
    const values = await heard();
    expect(values.filter((value, i) => value !== values[i - 1])).toEqual(['0', '70.12', '68.26', '65.36', '63.01']);
    expect(way.sent).toBeGreaterThan(values.length);
    expect(next.spool.length).toBe(0);
    expect(said.some((line) => line.startsWith('Not read: '))).toBe(true);
  });

  it('passes over a line that a crash cut in half, and keeps those before and after', async () => {
    const file = join(folder, 'cut.jsonl');
    const spool = await Spool.open(file);
    const line = (rawLine: string): { id: string; instrumentId: string; rawLine: string; heardAt: string } => ({ id: newId(), instrumentId: instrument.id, rawLine, heardAt: new Date().toISOString() });
    await spool.add(line('a'));
    await spool.add(line('b'));
    await spool.done();
    appendFileSync(file, '{"id":"half');
    const again = await Spool.open(file);
    expect([again.length, again.first()?.rawLine]).toEqual([1, 'b']);
    await again.done();
    expect(readFileSync(file, 'utf8')).toBe('');
  });

  // TCP drives the other tests; where there is no Python this one is left out.
  (hasPython ? it : it.skip)('reads a serial line, here a pseudo-terminal', async () => {
    const bridge = spawn('python3', ['-c', PTY, String(balance.port)], { stdio: ['ignore', 'pipe', 'inherit'] });
    try {
      const device = await new Promise<string>((resolve) => { bridge.stdout.once('data', (bytes: Buffer) => resolve(bytes.toString().trim())); });
      expect(device).toMatch(/^\/dev\//);
      const { listener } = await listenerOn(client, 'serial.jsonl', device);
      balance.lay(81.25);
      await until(async () => (await heard()).includes('81.25'));
      await listener.close();
    } finally {
      bridge.kill();
    }
  });
});
