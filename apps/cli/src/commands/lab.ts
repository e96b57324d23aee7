import type { Command } from 'commander';
import { InputError } from '#libs/quantity';
import { reachDatabase, type DatabaseOptions } from '../database/reach.js';
import { OperatorFailure } from '../failure.js';
import { bringUpToDate, loadServer } from '../server-module.js';
import { askHidden, canAsk } from '../terminal.js';

interface OpenOptions extends DatabaseOptions {
  readonly name: string;
  readonly adminEmail: string;
  readonly adminName: string;
}

export function register(program: Command): void {
  const lab = program.command('lab').description('labs on this server, for whoever runs it');
  withDatabase(lab
    .command('open')
    .description('open a lab with its first administrator, who adds the other people; the server may be running meanwhile')
    .requiredOption('--name <text>', 'name of the lab')
    .requiredOption('--admin-email <address>', 'e-mail that the administrator signs in with')
    .requiredOption('--admin-name <text>', 'name that the record shows'))
    .addHelpText('after', '\nThe password is asked for twice, or taken from THREADLEAF_ADMIN_PASSWORD; at least 12 characters.')
    .action(openLab);
  withDatabase(lab
    .command('remove-second-factor')
    .description('remove the second factor of a person who lost both authenticator and recovery codes; make sure that it is they who ask')
    .requiredOption('--email <address>', 'e-mail that the person signs in with'))
    .action(removeSecondFactor);
}

const withDatabase = (command: Command): Command => command
  .option('--data <folder>', 'data folder of the built-in PostgreSQL (THREADLEAF_DATA; else ./data)')
  .option('--database-url <url>', "a PostgreSQL of one's own instead of the built-in one (DATABASE_URL, owner in DATABASE_OWNER_URL)");

async function removeSecondFactor(options: DatabaseOptions & { readonly email: string }): Promise<void> {
  const server = await loadServer();
  const database = await reachDatabase(options);
  try {
    const removed = await server.removeSecondFactorAt(database.appUrl, options.email);
    if (!removed) throw new OperatorFailure(`No account signs in as ${options.email} with a second factor; nothing was changed.`);
    console.log(`${options.email} signs in with the password alone now, and can set a new second factor on the Lab screen.`);
  } finally {
    await database.stop();
  }
}

async function openLab(options: OpenOptions): Promise<void> {
  const server = await loadServer();
  const database = await reachDatabase(options);
  try {
    if (database.ownerUrl) await bringUpToDate(server, database.ownerUrl);
    const { newAccount } = await server.openLabAt(database.appUrl, options.name, {
      email: options.adminEmail,
      displayName: options.adminName,
      password: newPassword,
    });
    console.log(`The lab "${options.name}" is open; its administrator signs in as ${options.adminEmail}${newAccount ? '' : ' with the password that account has already'}.`);
  } catch (error) {
    // Told by the api as to anybody else: field, problem, remedy.
    if (error instanceof InputError) throw new OperatorFailure(error.message);
    throw error;
  } finally {
    await database.stop();
  }
}

async function newPassword(): Promise<string> {
  const given = process.env['THREADLEAF_ADMIN_PASSWORD'];
  if (given !== undefined) return given;
  if (!canAsk()) throw new OperatorFailure("The administrator's password is missing, and there is no terminal to ask on. Give it by THREADLEAF_ADMIN_PASSWORD.");
  const password = await askHidden('Password for the administrator: ');
  if (password !== (await askHidden('The same again: '))) throw new OperatorFailure('The two passwords differ; nothing was done.');
  return password;
}
