import { createHash } from 'node:crypto';
import { DataSource, QueryFailedError, type EntityManager, type EntityTarget, type ObjectLiteral, type QueryRunner } from 'typeorm';
import { SnakeNaming } from './naming.js';

const txBrand: unique symbol = Symbol('tx');

/** The lab and person a transaction is fenced to. */
export interface Fence {
  readonly labId: string | null;
  readonly accountId: string | null;
}

/**
 * A running transaction, fenced to one lab by row-level security. It can only be got from {@link Database}, so a
 * repository called without one does not compile. Inside one, await sequentially: it is a single connection.
 */
export interface Tx {
  readonly [txBrand]: true;
  readonly labId: string;
  readonly manager: EntityManager;
  /** Runs SQL text and returns its rows. */
  query<Row>(sql: string, parameters?: readonly unknown[]): Promise<Row[]>;
  /**
   * The same, read and planned by PostgreSQL once a connection: for the few texts that stand in the way of every write,
   * where planning takes longer than the work. Not for texts that vary, nor where a good plan depends on the parameters.
   */
  prepared<Row>(sql: string, parameters: readonly unknown[]): Promise<Row[]>;
  /** Runs `act` once the transaction has committed; never when it rolls back. */
  afterCommit(act: () => void): void;
}

/** A read-only transaction that stays open while one request reads: every page is one consistent snapshot. */
export interface ReadSession {
  readonly tx: Tx;
  close(): Promise<void>;
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;

/** SET takes no parameters; the ids are checked to be UUIDs before they stand in the text. */
function fencing({ labId, accountId }: Fence): string {
  return (['lab_id', labId, 'account_id', accountId] as const)
    .reduce<string[]>((statements, value, index, all) => {
      if (index % 2 === 1 && value !== null) {
        if (!UUID.test(value)) throw new Error(`Not a UUID: ${value}`);
        statements.push(`SET LOCAL threadleaf.${all[index - 1]} = '${value}'`);
      }
      return statements;
    }, [])
    .join('; ');
}

const names = new Map<string, string>();

/** Any text has one name, whoever runs it: PostgreSQL refuses another text under a name it knows. */
function nameOf(sql: string): string {
  const known = names.get(sql);
  if (known) return known;
  const name = `threadleaf_${createHash('sha256').update(sql).digest('hex').slice(0, 32)}`;
  names.set(sql, name);
  return name;
}

/** TypeORM has no prepared statements: its connection is asked, and told and failing as it would be itself. */
async function runPrepared<Row>(runner: QueryRunner, sql: string, parameters: readonly unknown[]): Promise<Row[]> {
  const connection = (await runner.connect()) as { query(query: object): Promise<{ rows: Row[] }> };
  runner.connection.logger.logQuery(sql, [...parameters], runner);
  try {
    return (await connection.query({ name: nameOf(sql), text: sql, values: parameters })).rows;
  } catch (error) {
    throw new QueryFailedError(sql, [...parameters], error as Error);
  }
}

/** Opens transactions on PostgreSQL as the serving role, which may neither UPDATE nor DELETE facts. */
export class Database {
  private constructor(readonly dataSource: DataSource) {}

  /**
   * @param url      login of the serving role, or one that may step down to it (a hosted server's single login)
   * @param entities all entity classes
   */
  static async open(url: string, entities: readonly EntityTarget<ObjectLiteral>[], poolSize = 16): Promise<Database> {
    const dataSource = new DataSource({
      type: 'postgres',
      url,
      entities: [...entities] as never[],
      namingStrategy: new SnakeNaming(),
      synchronize: false,
      poolSize,
      applicationName: 'threadleaf api',
      extra: { options: '-c role=threadleaf_app' },
    });
    await dataSource.initialize();
    return new Database(dataSource);
  }

  async close(): Promise<void> {
    await this.dataSource.destroy();
  }

  /** Runs `work` in one transaction: committed when it resolves, rolled back when it throws. */
  async write<T>(fence: Fence, work: (tx: Tx) => Promise<T>): Promise<T> {
    const runner = await this.connected();
    try {
      await runner.query(`BEGIN; ${fencing(fence)}`);
      const after: (() => void)[] = [];
      const result = await work(this.transaction(runner, fence, after));
      await runner.query('COMMIT');
      for (const act of after) act();
      return result;
    } catch (error) {
      // The connection may be gone; the error that brought us here is the one to tell.
      await runner.query('ROLLBACK').catch(() => undefined);
      throw error;
    } finally {
      await runner.release();
    }
  }

  async openRead(fence: Fence, isolation: 'REPEATABLE READ' | 'READ COMMITTED' = 'REPEATABLE READ'): Promise<ReadSession> {
    const runner = await this.connected();
    try {
      await runner.query(`BEGIN ISOLATION LEVEL ${isolation} READ ONLY; ${fencing(fence)}`);
    } catch (error) {
      await runner.release();
      throw error;
    }
    let open = true;
    return {
      tx: this.transaction(runner, fence, []),
      close: async () => {
        if (!open) return;
        open = false;
        await runner.query('ROLLBACK').catch(() => undefined);
        await runner.release();
      },
    };
  }

  private async connected(): Promise<QueryRunner> {
    const runner = this.dataSource.createQueryRunner();
    await runner.connect();
    return runner;
  }

  private transaction(runner: QueryRunner, fence: Fence, after: (() => void)[]): Tx {
    // Loaders of one request ask side by side; a connection answers one question at a time.
    let turn: Promise<unknown> = Promise.resolve();
    return {
      [txBrand]: true,
      labId: fence.labId ?? '',
      manager: runner.manager,
      query: <Row>(sql: string, parameters?: readonly unknown[]) => {
        const answer = turn.then(() => runner.query(sql, parameters as unknown[]) as Promise<Row[]>);
        turn = answer.catch(() => undefined);
        return answer;
      },
      prepared: (sql, parameters) => runPrepared(runner, sql, parameters),
      afterCommit: (act) => { after.push(act); },
    };
  }
}
