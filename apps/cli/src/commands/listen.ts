import { join } from 'node:path';
import { mkdirSync } from 'node:fs';
import { homedir } from 'node:os';
import type { Command } from 'commander';
import type { LineFormat, Terminator } from '#libs/instrument-line';
import { byToken, type ApiClient } from '../client.js';
import { OperatorFailure } from '../failure.js';
import { Listener, type ListenedInstrument } from '../listen/listener.js';
import { Spool } from '../listen/spool.js';
import { addressOf } from '../session.js';
import { stopOnSignal } from '../stop-on-signal.js';

interface ListenOptions {
  readonly url: string;
  readonly instrument: string;
  readonly spool?: string;
}

export function register(program: Command): void {
  program
    .command('listen')
    .description('hear the lines of an instrument on this computer and show stable ones at the Bench, where a person confirms them')
    .argument('<line>', 'a serial device such as /dev/ttyUSB0 or COM3, or tcp://host:port')
    .requiredOption('--instrument <name>', 'label or id of the instrument')
    .option('--url <address>', 'address of the server (THREADLEAF_URL)', process.env['THREADLEAF_URL'] ?? 'http://127.0.0.1:4180')
    .option('--spool <file>', 'where lines wait while the server is away')
    .addHelpText('after', '\nThe access token comes from THREADLEAF_TOKEN; it needs the scope listen (threadleaf token create --scope listen).\nHow the instrument writes is set on its page, under Line format.')
    .action(listen);
}

async function listen(address: string, options: ListenOptions): Promise<void> {
  const secret = process.env['THREADLEAF_TOKEN'];
  if (!secret) throw new OperatorFailure('THREADLEAF_TOKEN is not set. Make a token with the scope listen and give its secret by that.');
  const client = byToken(addressOf(options), secret);
  const instrument = await instrumentCalled(client, options.instrument);
  const spool = await Spool.open(options.spool ?? spoolOf(instrument.id));
  const listener = new Listener(client, instrument, address, spool, (line) => console.log(line));
  console.log(`Listening to ${instrument.label} at ${address}${spool.length > 0 ? `; ${spool.length} lines from before are told first` : ''}. Ctrl-C ends it.`);
  const stopping = stopOnSignal((line) => console.error(line));
  stopping.onStop(() => listener.close());
  listener.start();
}

function spoolOf(instrumentId: string): string {
  const folder = join(homedir(), '.threadleaf');
  mkdirSync(folder, { recursive: true, mode: 0o700 });
  return join(folder, `heard-${instrumentId}.jsonl`);
}

interface Asked {
  readonly id: string;
  readonly label: string;
  readonly lineFormat: (LineFormat & Omit<ListenedInstrument, 'id' | 'label' | 'format'> & { readonly terminator: Terminator }) | null;
}

async function instrumentCalled(client: ApiClient, named: string): Promise<ListenedInstrument> {
  const { instruments } = await client.ask<{ instruments: Asked[] }>(
    `{ instruments { id label lineFormat { pattern stableMarks movingMarks netMarks grossMarks decimalMark unit unitWords { written unit } unitOnlyWhenStable
      baudRate dataBits parity stopBits terminator } } }`,
  );
  const found = instruments.find(({ id, label }) => id === named || label.toLowerCase() === named.trim().toLowerCase());
  if (!found) throw new OperatorFailure(`--instrument: none is called "${named}". Known: ${instruments.map(({ label }) => label).join(', ') || 'none'}.`);
  if (!found.lineFormat) throw new OperatorFailure(`Nobody has said how ${found.label} writes its lines. Set its line format on the Instruments screen.`);
  const { baudRate, dataBits, parity, stopBits, terminator, ...format } = found.lineFormat;
  return { id: found.id, label: found.label, format, baudRate, dataBits, parity, stopBits, terminator };
}
