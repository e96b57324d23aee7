import { OperatorFailure, messageOf } from './failure.js';

/** What the commands use of the api. */
export type ServerModule = typeof import('../../api/src/main.js');

/** Loaded only by the commands that serve or migrate: the others stay quick. */
export function loadServer(): Promise<ServerModule> {
  // Outside production, GraphQL compares names and realms of each type it meets, for every field of every answer anew.
  process.env['NODE_ENV'] ??= 'production';
  return import('../../api/src/main.js');
}

/** Brings the schema up to date; the names of the migrations applied now. */
export async function bringUpToDate(server: ServerModule, ownerUrl: string): Promise<readonly string[]> {
  try {
    return (await server.migrate(ownerUrl)).applied;
  } catch (error) {
    throw new OperatorFailure(`The database could not be brought up to date: ${messageOf(error)}`, { cause: error });
  }
}
