import pg from 'pg';

/** The role that owns the schema and runs migrations. */
export const OWNER_ROLE = 'threadleaf_owner';

/**
 * The role that serves requests. Row-level security holds it to the labs of the signed-in person, and the migrations grant
 * it no UPDATE or DELETE on facts.
 */
export const APP_ROLE = 'threadleaf_app';

/** Makes the serving role, or gives it this password, without a single right beyond signing in. */
export async function ensureAppRole(client: pg.Client, password: string): Promise<void> {
  const rights = 'LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE NOREPLICATION';
  const { rowCount } = await client.query('SELECT 1 FROM pg_roles WHERE rolname = $1', [APP_ROLE]);
  await client.query(`${rowCount ? 'ALTER' : 'CREATE'} ROLE ${APP_ROLE} ${rights} PASSWORD ${client.escapeLiteral(password)}`);
}

/** Only the two roles may connect to the database, and the serving role may make nothing there, not even a temporary table. */
export async function closeDatabase(client: pg.Client, database: string): Promise<void> {
  const name = client.escapeIdentifier(database);
  await client.query(`REVOKE ALL ON DATABASE ${name} FROM PUBLIC`);
  await client.query(`GRANT CONNECT ON DATABASE ${name} TO ${APP_ROLE}`);
}

/** Runs work on one connection of its own and always closes it. */
export async function withClient<T>(url: string, work: (client: pg.Client) => Promise<T>): Promise<T> {
  // Long enough for a busy machine whose database has just come back from a crash.
  const client = new pg.Client({ connectionString: url, connectionTimeoutMillis: 30_000 });
  client.on('error', () => undefined); // A connection that breaks makes the query under way fail; that error says enough.
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end().catch(() => undefined);
  }
}
