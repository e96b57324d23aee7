import type { Command } from 'commander';
import { openSession, withSession, type SessionOptions } from '../session.js';

interface FaultReach {
  readonly factCount: number;
  readonly truncated: boolean;
  readonly touched: readonly { readonly kind: string; readonly id: string; readonly label: string; readonly restsOn: number; readonly stale: boolean }[];
}

interface TouchedOptions extends SessionOptions {
  readonly from: string;
  readonly to: string;
  readonly json: boolean;
}

export function register(program: Command): void {
  withSession(program
    .command('touched')
    .description('list what a fault of an instrument in a span of time reaches: results, certificates, installations, decisions')
    .argument('<instrument>', 'id of the instrument')
    .requiredOption('--from <moment>', 'beginning of the span, such as 2026-03-01T00:00:00+01:00')
    .requiredOption('--to <moment>', 'end of the span')
    .option('--json', 'print what the server tells as JSON', false))
    .action(touched);
}

async function touched(instrumentId: string, options: TouchedOptions): Promise<void> {
  const client = await openSession(options);
  const { touchedBy } = await client.ask<{ touchedBy: FaultReach }>(
    `query ($instrumentId: UUID!, $from: Moment!, $to: Moment!) {
      touchedBy(instrumentId: $instrumentId, from: $from, to: $to) { factCount truncated touched { kind id label restsOn stale } } }`,
    { instrumentId, from: options.from, to: options.to },
  );
  console.log(options.json ? JSON.stringify(touchedBy, null, 2) : tellReach(touchedBy).join('\n'));
}

/** The facts in a number, and a line for each record that rests on them, in the order of the chain. */
export function tellReach({ factCount, truncated, touched: records }: FaultReach): string[] {
  const lines = records.map(({ kind, id, label, restsOn, stale }) =>
    `  ${kind.replaceAll('_', ' ')}: ${label}, rests on ${restsOn}${stale ? ', stale already' : ''}  ${id}`);
  return [
    `${factCount} ${factCount === 1 ? 'fact was' : 'facts were'} made with it in that span; ${records.length} ${records.length === 1 ? 'record rests' : 'records rest'} on them.`,
    ...lines,
    ...(truncated ? ['  and more: take a shorter span to see them all'] : []),
  ];
}
