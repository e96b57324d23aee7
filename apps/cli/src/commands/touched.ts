import type { Command } from 'commander';
import { openSession, withSession, type SessionOptions } from '../session.js';

interface Touched {
  readonly kind: string;
  readonly id: string;
  readonly label: string;
  readonly restsOn: number;
  readonly stale: boolean;
}

interface FaultReach {
  readonly factCount: number;
  readonly truncated: boolean;
  readonly touched: readonly Touched[];
}

interface MovedValue {
  readonly name: string;
  readonly unit: string;
  readonly then: number | null;
  readonly without: number | null;
  readonly corrected: number | null;
}

interface FaultMoves {
  readonly factCount: number;
  readonly corrected: boolean;
  readonly truncated: boolean;
  readonly moved: readonly (Touched & { readonly withoutRefused: string | null; readonly correctedRefused: string | null; readonly values: readonly MovedValue[] })[];
}

interface TouchedOptions extends SessionOptions {
  readonly from: string;
  readonly to: string;
  readonly without: boolean;
  readonly offset?: string;
  readonly span?: string;
  readonly json: boolean;
}

export function register(program: Command): void {
  withSession(program
    .command('touched')
    .description('list what a fault of an instrument in a span of time reaches: results, certificates, installations, decisions; and how far it moves them')
    .argument('<instrument>', 'id of the instrument')
    .requiredOption('--from <moment>', 'beginning of the span, such as 2026-03-01T00:00:00+01:00')
    .requiredOption('--to <moment>', 'end of the span')
    .option('--without', 'compute every result anew without the facts in question', false)
    .option('--offset <value>', 'what it showed too much, in its own unit: compute every result with the facts corrected too')
    .option('--span <ratio>', 'what it showed for each unit of the true value, such as 1.002')
    .option('--json', 'print what the server tells as JSON', false))
    .action(touched);
}

const TOUCHED = 'kind id label restsOn stale';

async function touched(instrumentId: string, options: TouchedOptions): Promise<void> {
  const client = await openSession(options);
  const { from, to, offset = null, span = null } = options;
  const moves = options.without || offset !== null || span !== null;
  const answer = moves
    ? (await client.ask<{ faultMoves: FaultMoves }>(
      `query ($instrumentId: UUID!, $from: Moment!, $to: Moment!, $offset: Decimal, $span: Decimal) {
        faultMoves(instrumentId: $instrumentId, from: $from, to: $to, offset: $offset, span: $span) {
          factCount corrected truncated moved { ${TOUCHED} withoutRefused correctedRefused values { name unit then without corrected } } } }`,
      { instrumentId, from, to, offset, span },
    )).faultMoves
    : (await client.ask<{ touchedBy: FaultReach }>(
      `query ($instrumentId: UUID!, $from: Moment!, $to: Moment!) {
        touchedBy(instrumentId: $instrumentId, from: $from, to: $to) { factCount truncated touched { ${TOUCHED} } } }`,
      { instrumentId, from, to },
    )).touchedBy;
  console.log(options.json ? JSON.stringify(answer, null, 2) : ('moved' in answer ? tellMoves(answer) : tellReach(answer)).join('\n'));
}

/** The facts in a number, and a line for each record that rests on them, in the order of the chain. */
export function tellReach({ factCount, truncated, touched: records }: FaultReach): string[] {
  return [headline(factCount, records.length), ...records.map(lineOf), ...(truncated ? [CUT] : [])];
}

/**
 * The same, and below each record the numbers that people go by: as they stand, with the facts corrected, without them.
 * Numbers that stay where they are are left out.
 */
export function tellMoves({ factCount, corrected, truncated, moved }: FaultMoves): string[] {
  const lines = moved.flatMap((record) => {
    const values = record.values.filter((value) => hasMoved(value, record));
    return [
      lineOf(record),
      ...(record.correctedRefused ? [`      corrected: ${record.correctedRefused}`] : []),
      ...(record.withoutRefused ? [`      without: ${record.withoutRefused}`] : []),
      ...values.map((value) => `      ${value.name}: ${tellValue(value, corrected, record)}`),
      ...(record.values.length > 0 && values.length === 0 && !record.withoutRefused ? ['      does not move'] : []),
    ];
  });
  return [headline(factCount, moved.length), ...lines, ...(truncated ? [CUT] : [])];
}

const CUT = '  and more: take a shorter span to see them all';

const headline = (facts: number, records: number): string =>
  `${facts} ${facts === 1 ? 'fact was' : 'facts were'} made with it in that span; ${records} ${records === 1 ? 'record rests' : 'records rest'} on them.`;

const lineOf = ({ kind, id, label, restsOn, stale }: Touched): string =>
  `  ${kind.replaceAll('_', ' ')}: ${label}, rests on ${restsOn}${stale ? ', stale already' : ''}  ${id}`;

interface Refusals {
  readonly withoutRefused: string | null;
  readonly correctedRefused: string | null;
}

/** So little is rounding. */
const SAME = 1e-9;

function hasMoved({ then, without, corrected }: MovedValue, { withoutRefused }: Refusals): boolean {
  const moves = (now: number | null): boolean => then !== null && now !== null && Math.abs(now - then) > SAME * Math.max(1, Math.abs(then));
  return moves(without) || moves(corrected) || (then !== null && without === null && corrected === null && withoutRefused === null);
}

function tellValue(value: MovedValue, corrected: boolean, { withoutRefused, correctedRefused }: Refusals): string {
  const now = (how: string, number: number | null): string =>
    number === null ? `not to be had ${how}` : `${how} ${valueText(value, number)}${value.then === null ? '' : ` (${moveText(value, number - value.then)})`}`;
  const told = [
    ...(corrected && !correctedRefused ? [now('corrected', value.corrected)] : []),
    ...(withoutRefused ? [] : [now('without', value.without)]),
  ];
  return `${value.then === null ? 'none' : valueText(value, value.then)} → ${told.join('; ')}`;
}

/** RWC is told in per cent, as on the screens; its moves in percentage points. */
const isPercent = ({ name }: MovedValue): boolean => /RWC/.test(name);

const valueText = (value: MovedValue, number: number): string =>
  isPercent(value) ? `${(number * 100).toFixed(2)} %` : `${Number(number.toPrecision(6))}${value.unit === '1' ? '' : ` ${value.unit}`}`;

function moveText(value: MovedValue, move: number): string {
  const text = isPercent(value) ? `${Math.abs(move * 100).toFixed(2)} points` : `${Number(Math.abs(move).toPrecision(3))}${value.unit === '1' ? '' : ` ${value.unit}`}`;
  return `${move < 0 ? '−' : '+'}${text}`;
}
