import pg from 'pg';

/**
 * Both walls between labs, to be taken down on purpose for one person's requests: row-level security lets everything through, and the
 * statements forget which lab asks. What is written meanwhile is rolled back. So a test can show that it would see a real hole.
 */
export interface Walls {
  /** Runs `work` while they are down. */
  down<T>(work: () => Promise<T>): Promise<T>;
  /** How often the third wall held meanwhile: a foreign key, of which the lab is a part. */
  readonly heldByKey: () => number;
  /** Leaves the server as it was. */
  restore(): void;
}

const FOREIGN_KEY = '23503';

type Query = (this: object, config: unknown, ...rest: unknown[]) => unknown;

/** What a statement says of the lab that asks. */
const OF_LAB = /(?:\b[a-z_]+\.)?\blab_id = \$(\d+)/g;
const forgetful = (sql: string): string => sql.replace(OF_LAB, (_, parameter: string) => `($${parameter}::uuid IS NOT NULL)`);

/** @param accountId whose requests are let through; jobs and other people keep their walls */
export async function wallsFor(ownerUrl: string, accountId: string): Promise<Walls> {
  await openPolicies(ownerUrl);
  let open = false;
  let held = 0;
  const fallen = new WeakSet<object>();
  const prototype = pg.Client.prototype as unknown as { query: Query };
  const { query } = prototype;
  const changed = function (this: object, text: string): string {
    if (text.startsWith('BEGIN') && open && text.includes(`threadleaf.account_id = '${accountId}'`)) {
      fallen.add(this);
      return `${text}; SET LOCAL threadleaf.walls = 'down'`;
    }
    if (!fallen.has(this)) return text;
    if (text !== 'COMMIT' && text !== 'ROLLBACK') return forgetful(text);
    fallen.delete(this);
    return 'ROLLBACK';
  };
  const watched = function (this: object, config: unknown, rest: unknown[]): unknown {
    const answer = query.call(this, config, ...rest);
    if (fallen.has(this) && answer instanceof Promise) answer.catch(({ code }: { code?: string }) => { held += code === FOREIGN_KEY ? 1 : 0; });
    return answer;
  };
  prototype.query = function (this: object, config: unknown, ...rest: unknown[]): unknown {
    if (typeof config === 'string') return watched.call(this, changed.call(this, config), rest);
    const { name, text } = config as { name?: string; text?: string };
    if (!text || !fallen.has(this)) return query.call(this, config, ...rest);
    return watched.call(this, { ...(config as object), text: forgetful(text), ...(name && { name: `${name}_open`.slice(-60) }) }, rest);
  };
  return {
    down: async (work) => {
      open = true;
      try {
        return await work();
      } finally {
        open = false;
      }
    },
    heldByKey: () => held,
    restore: () => { prototype.query = query; },
  };
}

async function openPolicies(ownerUrl: string): Promise<void> {
  const owner = new pg.Client({ connectionString: ownerUrl });
  await owner.connect();
  const { rows } = await owner.query<{ tablename: string; policyname: string; qual: string; with_check: string | null }>(
    "SELECT tablename, policyname, qual, with_check FROM pg_policies WHERE schemaname = 'public' AND qual LIKE '%current_lab()%' AND policyname LIKE 'of_lab%'",
  );
  for (const { tablename, policyname, qual } of rows) {
    await owner.query(`ALTER POLICY ${policyname} ON ${tablename} USING ((${qual}) OR current_setting('threadleaf.walls', true) = 'down')`);
  }
  await owner.end();
  if (rows.length < 50) throw new Error(`Only ${rows.length} tables have a policy of_lab: the walls are elsewhere now.`);
}
