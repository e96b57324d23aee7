import type { Command } from 'commander';
import { kindOf } from '../kind-of.js';
import { openSession, withSession, type SessionOptions } from '../session.js';
import { tellThread, THREAD_FIELDS, type Thread } from '../thread/tell-thread.js';

interface ThreadOptions extends SessionOptions {
  readonly kind?: string;
  readonly up: boolean;
  readonly all: boolean;
  readonly json: boolean;
}

export function register(program: Command): void {
  withSession(program
    .command('thread')
    .description('show everything a record rests on, from a decision down to the raw lines of the balance')
    .argument('<id>', 'id of any record: a decision, a certificate, a weighing')
    .option('--kind <word>', 'kind of the record, e.g. decision; found when not given')
    .option('--up', 'show everything the record touches instead, up to the decisions', false)
    .option('--all', 'list alike records one by one, however many', false)
    .option('--json', 'print what the server tells, content hashes too, as JSON', false))
    .action(showThread);
}

async function showThread(id: string, options: ThreadOptions): Promise<void> {
  const client = await openSession(options);
  const kind = options.kind ?? (await kindOf(client, id));
  const direction = options.up ? 'UP' : 'DOWN';
  const { thread } = await client.ask<{ thread: Thread }>(
    `query ($kind: String!, $id: UUID!, $direction: ThreadDirection!) { thread(kind: $kind, id: $id, direction: $direction) { ${THREAD_FIELDS} } }`,
    { kind, id, direction },
  );
  console.log(options.json ? JSON.stringify(thread, null, 2) : tellThread(thread, { direction, all: options.all }).join('\n'));
}
