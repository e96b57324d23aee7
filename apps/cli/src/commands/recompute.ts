import type { Command } from 'commander';
import { kindOf } from '../kind-of.js';
import { openSession, withSession, type SessionOptions } from '../session.js';

interface Recomputation {
  readonly same: boolean;
  readonly codeVersion: string;
  readonly steps: readonly {
    readonly kind: string;
    readonly id: string;
    readonly label: string;
    readonly codeVersionThen: string;
    readonly same: boolean;
    readonly differences: readonly { readonly path: string; readonly then: string | null; readonly now: string | null }[];
  }[];
}

const FIELDS = 'same codeVersion steps { kind id label codeVersionThen same differences { path then now } }';

export function register(program: Command): void {
  withSession(program
    .command('recompute')
    .description('compute anew every result that a record rests on, from the facts it used, and compare value by value')
    .argument('<id>', 'id of a decision, certificate, calibration version or any other record')
    .option('--json', 'print what the server tells as JSON', false)
    .addHelpText('after', '\nEnds with code 1 when any value differs.')
    .action(recompute));
}

async function recompute(id: string, options: SessionOptions & { readonly json: boolean }): Promise<void> {
  const client = await openSession(options);
  const kind = await kindOf(client, id);
  const { recompute: found } = await client.ask<{ recompute: Recomputation }>(
    `query ($kind: String!, $id: UUID!) { recompute(kind: $kind, id: $id) { ${FIELDS} } }`, { kind, id },
  );
  console.log(options.json ? JSON.stringify(found, null, 2) : tellRecomputation(found).join('\n'));
  if (!found.same) process.exitCode = 1;
}

/** Each step in a line, its differences below it, and the sum in the last line. */
export function tellRecomputation({ same, codeVersion, steps }: Recomputation): string[] {
  if (steps.length === 0) return ['It rests on no computed result: there is nothing to recompute.'];
  const told = steps.flatMap((step) => [
    `${step.same ? 'same   ' : 'DIFFERS'} ${step.label} (${step.kind.replaceAll('_', ' ')})${step.codeVersionThen === codeVersion ? '' : `, computed then by ${step.codeVersionThen}`}`,
    ...step.differences.map(({ path, then, now }) => `          ${path}: ${then ?? 'nothing'} then, ${now ?? 'nothing'} now`),
  ]);
  const differing = steps.filter((step) => !step.same).length;
  const sum = same
    ? `All ${steps.length} results are the same, computed now by ${codeVersion}.`
    : `${differing} of ${steps.length} results differ, computed now by ${codeVersion}.`;
  return [...told, '', sum];
}
