import type { Command } from 'commander';
import { OperatorFailure } from '../failure.js';
import { SimulatedBalance } from '../listen/simulated-balance.js';
import { stopOnSignal } from '../stop-on-signal.js';

interface SimulateOptions {
  readonly port: string;
  readonly rate: string;
  readonly seed: string;
  readonly mass: readonly string[];
}

export function register(program: Command): void {
  program
    .command('simulate-instrument')
    .description('a balance that is not there: writes lines on a TCP port, to try out line formats and threadleaf listen')
    .option('--port <number>', 'TCP port on the loopback', '4001')
    .option('--rate <number>', 'lines a second', '5')
    .option('--seed <number>', 'of its noise', '1')
    .option('--mass <mg>', 'loads laid on one after another, some seconds each; can be given again', (value: string, before: string[] = []) => [...before, value], undefined as unknown as string[])
    .action(simulate);
}

async function simulate(options: SimulateOptions): Promise<void> {
  const [port, rate, seed] = [options.port, options.rate, options.seed].map(Number) as [number, number, number];
  if (!(port > 0 && port < 65_536) || !(rate > 0 && rate <= 100)) throw new OperatorFailure('--port is a TCP port and --rate lies between 0 and 100 lines a second.');
  const masses = (options.mass ?? ['70.12', '68.26', '65.36']).map(Number);
  if (masses.some((mass) => !Number.isFinite(mass))) throw new OperatorFailure('--mass: give masses in mg, such as 68.26.');
  const balance = await SimulatedBalance.start({ port, ratePerSecond: rate, seed });
  console.log(`A simulated balance writes at tcp://127.0.0.1:${balance.port}, for example "ST,NT,+   68.26 mg"; pattern: {mark},{load},{value} {unit}. Ctrl-C ends it.`);
  let next = 0;
  const timer = setInterval(() => balance.lay(masses[next++ % masses.length]!), 6_000);
  balance.lay(masses[next++]!);
  stopOnSignal((line) => console.error(line)).onStop(async () => {
    clearInterval(timer);
    await balance.close();
  });
}
