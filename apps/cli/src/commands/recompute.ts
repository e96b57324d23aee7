import type { Command } from 'commander';
import { randomUUID } from 'node:crypto';
import { setTimeout as pause } from 'node:timers/promises';
import type { ApiClient } from '../client.js';
import { OperatorFailure } from '../failure.js';
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

interface RecomputeRun {
  readonly id: string;
  readonly codeVersion: string;
  readonly resultCount: number;
  readonly differCount: number;
  readonly differing: Recomputation['steps'];
}

const STEP_FIELDS = 'kind id label codeVersionThen same differences { path then now }';
const FIELDS = `same codeVersion steps { ${STEP_FIELDS} }`;

export function register(program: Command): void {
  withSession(program
    .command('recompute')
    .description('compute anew every result that a record rests on, from the facts it used, and compare value by value')
    .argument('[id]', 'id of a decision, certificate, calibration version or any other record')
    .option('--all', 'all results of the lab, as it is done every night', false)
    .option('--json', 'print what the server tells as JSON', false)
    .addHelpText('after', '\nEnds with code 1 when any value differs.')
    .action(recompute));
}

interface RecomputeOptions extends SessionOptions {
  readonly all: boolean;
  readonly json: boolean;
}

async function recompute(id: string | undefined, options: RecomputeOptions): Promise<void> {
  if ((id === undefined) !== options.all) throw new OperatorFailure('Give the id of one record, or --all.');
  const client = await openSession(options);
  const found = id === undefined ? await recomputeAll(client) : await recomputeBelow(client, id);
  const told = 'steps' in found ? tellRecomputation(found) : tellRun(found);
  console.log(options.json ? JSON.stringify(found, null, 2) : told.join('\n'));
  if ('steps' in found ? !found.same : found.differCount > 0) process.exitCode = 1;
}

async function recomputeBelow(client: ApiClient, id: string): Promise<Recomputation> {
  const kind = await kindOf(client, id);
  const { recompute: found } = await client.ask<{ recompute: Recomputation }>(
    `query ($kind: String!, $id: UUID!) { recompute(kind: $kind, id: $id) { ${FIELDS} } }`, { kind, id },
  );
  return found;
}

const LOOK_MS = 500;

/** Starts the job and waits for its run. */
async function recomputeAll(client: ApiClient): Promise<RecomputeRun> {
  const id = randomUUID();
  const { recomputeAll: started } = await client.ask<{ recomputeAll: { problem: { message: string; remedy: string } | null } }>(
    'mutation ($id: UUID!) { recomputeAll(id: $id) { problem { message remedy } } }', { id },
  );
  if (started.problem) throw new OperatorFailure(`${started.problem.message} ${started.problem.remedy}`);
  for (let told = ''; ; await pause(LOOK_MS)) {
    const { job } = await client.ask<{ job: { state: string; sentence: string | null; error: string | null; remedy: string | null } }>(
      'query ($id: UUID!) { job(id: $id) { state sentence error remedy } }', { id },
    );
    if (job.state === 'FAILED' || job.state === 'CANCELLED') throw new OperatorFailure(job.error ? `${job.error} ${job.remedy ?? ''}` : 'It was called off.');
    if (job.state === 'DONE') break;
    if (job.sentence && job.sentence !== told && process.stderr.isTTY) process.stderr.write(`\r${job.sentence} `);
    told = job.sentence ?? told;
  }
  const { recomputeRuns } = await client.ask<{ recomputeRuns: RecomputeRun[] }>(
    `{ recomputeRuns(first: 50) { id codeVersion resultCount differCount differing { ${STEP_FIELDS} } } }`,
  );
  return recomputeRuns.find((run) => run.id === id)!;
}

/** Only what differs, and the sum in the last line. */
function tellRun({ codeVersion, resultCount, differCount, differing }: RecomputeRun): string[] {
  const sum = differCount === 0
    ? `All ${resultCount} results are the same, computed now by ${codeVersion}.`
    : `${differCount} of ${resultCount} results differ, computed now by ${codeVersion}.`;
  return [...differing.flatMap((step) => tellStep(step, codeVersion)), ...(differing.length < differCount ? [`and ${differCount - differing.length} more`] : []), sum];
}

/** Each step in a line, its differences below it, and the sum in the last line. */
export function tellRecomputation({ same, codeVersion, steps }: Recomputation): string[] {
  if (steps.length === 0) return ['It rests on no computed result: there is nothing to recompute.'];
  const told = steps.flatMap((step) => tellStep(step, codeVersion));
  const differing = steps.filter((step) => !step.same).length;
  const sum = same
    ? `All ${steps.length} results are the same, computed now by ${codeVersion}.`
    : `${differing} of ${steps.length} results differ, computed now by ${codeVersion}.`;
  return [...told, '', sum];
}

const tellStep = (step: Recomputation['steps'][number], codeVersion: string): string[] => [
  `${step.same ? 'same   ' : 'DIFFERS'} ${step.label} (${step.kind.replaceAll('_', ' ')})${step.codeVersionThen === codeVersion ? '' : `, computed then by ${step.codeVersionThen}`}`,
  ...step.differences.map(({ path, then, now }) => `          ${path}: ${then ?? 'nothing'} then, ${now ?? 'nothing'} now`),
];
