import { randomBytes } from 'node:crypto';
import pg from 'pg';
import {
  hashFromHex, keysThatFollow, leafHash, parseCheckpoint, parseEntry, parseVerifierKey, verifyCheckpoint, verifyConsistency, verifyInclusion,
  type LedgerKey,
} from '#libs/ledger';
import { entities } from '../../apps/api/src/entities.js';
import { Database } from '../../apps/api/src/platform/database/database.js';
import { Sequencer } from '../../apps/api/src/platform/ledger/sequencer.js';
import { signerOf } from '../../apps/api/src/platform/ledger/signer.js';
import { furnish, record, type Bench } from '../support/chain.js';
import { checkTree } from '../support/ledger.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { until } from '../support/until.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;
let owner: pg.Client;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Ledger lab');
  bench = await furnish(lab.as('MANAGER'));
  owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
});

afterAll(async () => {
  await owner.end();
  await server.close();
});

const PROOF = 'entryId leaf place proof checkpoint { size text }';

const origin = (): string => `threadleaf/ledger/${lab.labId}`;

async function keys(of = lab): Promise<LedgerKey[]> {
  const { ledgerKeys } = await of.as('AUDITOR').ask<any>('{ ledgerKeys { key firstSize lastSize change } }');
  return ledgerKeys.map((one: any) => ({ ...one, key: parseVerifierKey(one.key), change: one.change ?? undefined }));
}

const crop = async (): Promise<string> => {
  const id = newId();
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id, name: `Crop ${id}` });
  return id;
};

async function rows<Row>(sql: string): Promise<Row[]> {
  return (await owner.query(sql, [lab.labId])).rows as Row[];
}

describe('the ledger', () => {
  it('gets a signed checkpoint by itself, shortly after a write', async () => {
    const newest = async (): Promise<any> => (await lab.as('AUDITOR').ask<any>('{ checkpoint { size text } }')).checkpoint;
    await until('there is a checkpoint', async () => (await newest()) !== null, 100);
    const checkpoint = await newest();
    expect(verifyCheckpoint(checkpoint.text, origin(), await keys())).toMatchObject({ holds: true, checkpoint: { size: checkpoint.size } });
  });

  it('proves each record to be in the tree of the newest checkpoint, to the library alone', async () => {
    await server.served.settleLedger(lab.labId);
    const { inclusionProof: proof } = await lab.as('AUDITOR').ask<any>(`query ($id: UUID!) { inclusionProof(subjectId: $id) { ${PROOF} } }`, { id: bench.rigId });
    const { root, size } = parseCheckpoint(proof.checkpoint.text);
    const claim = { index: proof.place, size, root, leafHash: leafHash(Buffer.from(proof.leaf)), proof: proof.proof.map((hash: string) => hashFromHex('proof', hash)) };
    expect(verifyInclusion(claim)).toEqual({ holds: true });
    expect(verifyInclusion({ ...claim, index: claim.index - 1 })).toMatchObject({ holds: false });
    const entry = parseEntry(proof.leaf);
    expect(entry).toMatchObject({ subjectKind: 'rig', subjectId: bench.rigId, labId: lab.labId });
    const byEntry = await lab.as('AUDITOR').ask<any>(`query ($id: UUID!) { inclusionProof(entryId: $id) { ${PROOF} } }`, { id: entry.id });
    expect(byEntry.inclusionProof).toEqual(proof);
    const { ledger } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { ledger(subjectId: $id) { nodes { id place } } }', { id: bench.rigId });
    expect(ledger.nodes).toEqual([{ id: entry.id, place: proof.place }]);
  });

  it('proves that the newest tree begins with every earlier checkpoint', async () => {
    for (let i = 0; i < 5; i += 1) {
      await crop();
      await server.served.settleLedger(lab.labId);
    }
    const { checkpoints } = await lab.as('AUDITOR').ask<any>('{ checkpoints(since: 0) { size text } }');
    expect(checkpoints.length).toBeGreaterThanOrEqual(6);
    const newest = parseCheckpoint(checkpoints.at(-1).text);
    for (const { text } of checkpoints.slice(0, -1)) {
      const old = parseCheckpoint(text);
      const { consistencyProof } = await lab.as('AUDITOR').ask<any>(
        'query ($old: Int!, $new: Int!) { consistencyProof(oldSize: $old, newSize: $new) { proof } }', { old: old.size, new: newest.size },
      );
      const proof = consistencyProof.proof.map((hash: string) => hashFromHex('proof', hash));
      expect(verifyConsistency({ oldSize: old.size, oldRoot: old.root, newSize: newest.size, newRoot: newest.root, proof })).toEqual({ holds: true });
    }
  });

  it('answers null for what is not covered yet, and names what is wrong with a question', async () => {
    const unknown = await lab.as('AUDITOR').ask<any>(`query ($id: UUID!) { inclusionProof(subjectId: $id) { ${PROOF} } }`, { id: newId() });
    expect(unknown.inclusionProof).toBeNull();
    for (const [query, field] of [['{ inclusionProof { place } }', 'entryId'], ['{ consistencyProof(oldSize: 1, newSize: 100000) { proof } }', 'newSize'], ['{ consistencyProof(oldSize: 0, newSize: 2) { proof } }', 'oldSize']]) {
      const { errors } = await lab.as('AUDITOR').answer(query!);
      expect(errors![0]!.extensions).toMatchObject({ problem: { field } });
    }
  });

  it('of one lab says nothing of another', async () => {
    const other = await server.openLab('Quiet lab');
    const seen = await other.as('AUDITOR').ask<any>(`query ($id: UUID!) { checkpoint { size } checkpoints { size } ledgerKeys { key } inclusionProof(subjectId: $id) { place } }`, { id: bench.rigId });
    expect(seen).toEqual({ checkpoint: null, checkpoints: [], ledgerKeys: [], inclusionProof: null });
  });
});

describe('the sequencer', () => {
  const key = randomBytes(32).toString('base64');
  const silent: string[] = [];

  async function sequencerWith(ledgerKey: string): Promise<{ sequencer: Sequencer; close: () => Promise<void> }> {
    const database = await Database.open(server.database.appUrl, entities, 2);
    const sequencer = new Sequencer(database, signerOf(ledgerKey), (line) => silent.push(line));
    return { sequencer, close: async () => { await sequencer.close(); await database.close(); } };
  }

  it('places late commits after earlier ones, whatever number their transaction drew', async () => {
    await server.served.settleLedger(lab.labId);
    const slow = new pg.Client({ connectionString: server.database.ownerUrl });
    await slow.connect();
    const insert = (subject: string): [string, unknown[]] => [
      `INSERT INTO ledger_entry (lab_id, id, recorded_at, recorded_by, action, subject_kind, subject_id, content_hash)
       SELECT $1, gen_random_uuid(), now(), account_id, 'record', 'crop', $2, decode(repeat('00', 32), 'hex') FROM membership WHERE lab_id = $1 LIMIT 1`, [lab.labId, subject],
    ];
    const [late, early] = [newId(), newId()];
    await slow.query('BEGIN');
    await slow.query(...insert(late));
    await owner.query(...insert(early));
    await server.served.settleLedger(lab.labId);
    const placed = (await rows<{ subject: string }>('SELECT e.subject_id AS subject FROM ledger_place p JOIN ledger_entry e ON e.lab_id = p.lab_id AND e.id = p.entry_id WHERE p.lab_id = $1 ORDER BY p.place')).map(({ subject }) => subject);
    expect(placed.at(-1)).toBe(early);
    await slow.query('COMMIT');
    await slow.end();
    await server.served.settleLedger(lab.labId);
    const after = (await rows<{ subject: string }>('SELECT e.subject_id AS subject FROM ledger_place p JOIN ledger_entry e ON e.lab_id = p.lab_id AND e.id = p.entry_id WHERE p.lab_id = $1 ORDER BY p.place')).map(({ subject }) => subject);
    expect(after).toEqual([...placed, late]);
  });

  it('finds entries whose place in the queue was lost', async () => {
    await owner.query('BEGIN');
    await owner.query('ALTER TABLE ledger_entry DISABLE TRIGGER entry_awaits_place');
    const subject = newId();
    await owner.query(
      `INSERT INTO ledger_entry (lab_id, id, recorded_at, recorded_by, action, subject_kind, subject_id, content_hash)
       SELECT $1, gen_random_uuid(), now(), account_id, 'record', 'crop', $2, decode(repeat('00', 32), 'hex') FROM membership WHERE lab_id = $1 LIMIT 1`, [lab.labId, subject]);
    await owner.query('ALTER TABLE ledger_entry ENABLE TRIGGER entry_awaits_place');
    await owner.query('COMMIT');
    await server.served.settleLedger(lab.labId);
    const placeOf = async (): Promise<number> => (await owner.query('SELECT p.place FROM ledger_place p JOIN ledger_entry e ON e.lab_id = p.lab_id AND e.id = p.entry_id WHERE e.subject_id = $1', [subject])).rowCount!;
    expect(await placeOf()).toBe(0);
    const { sequencer, close } = await sequencerWith(key);
    await sequencer.start();
    await close();
    await server.served.settleLedger(lab.labId);
    expect(await placeOf()).toBe(1);
  });

  it('signs nothing with a key that the ledger does not know, and hands over when the earlier key says so', async () => {
    const next = randomBytes(32).toString('base64');
    const stranger = await sequencerWith(next);
    // The server signs a new entry by itself within seconds: each is tried until the stranger or the heir is the first to see one.
    await until('the stranger is the first to see one', async () => {
      await crop();
      await stranger.sequencer.settle(lab.labId);
      return silent.join().includes('another key');
    });
    await stranger.close();
    expect(await keys()).toHaveLength(1);
    for (const { note } of await rows<{ note: string }>('SELECT note FROM ledger_checkpoint WHERE lab_id = $1')) expect(verifyCheckpoint(note, origin(), await keys())).toMatchObject({ holds: true });

    const heir = await sequencerWith(`${next}\n${server.ledgerKey}`);
    await until('the heir is', async () => {
      await crop();
      await heir.sequencer.settle(lab.labId);
      return (await keys()).length === 2;
    });
    await heir.close();
    const known = await keys();
    const { checkpoint } = await lab.as('AUDITOR').ask<any>('{ checkpoint { text } }');
    const follow = keysThatFollow(origin(), [known[0]!], known);
    expect(follow).toHaveLength(2);
    expect(verifyCheckpoint(checkpoint.text, origin(), follow)).toMatchObject({ holds: true, signedBy: [known[1]!.key] });
    expect((await checkTree(owner, lab.labId)).flaws).toEqual([]);
  });

  it('signs no history that differs from what was signed before', async () => {
    const forged = await server.openLab('Forged lab');
    const write = (name: string): Promise<unknown> => record(forged.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name });
    await write('Fig');
    await write('Vine');
    const own = await sequencerWith(server.ledgerKey);
    await own.sequencer.settle(forged.labId);
    const signed = async (): Promise<number> => (await owner.query('SELECT 1 FROM ledger_checkpoint WHERE lab_id = $1', [forged.labId])).rowCount!;
    const before = await signed();
    await owner.query('ALTER TABLE ledger_node DISABLE TRIGGER append_only_row');
    await owner.query("UPDATE ledger_node SET hash = sha256('forged') WHERE lab_id = $1 AND level = 1", [forged.labId]);
    await owner.query('ALTER TABLE ledger_node ENABLE TRIGGER append_only_row');
    await write('Olive');
    await own.sequencer.settle(forged.labId);
    await own.close();
    expect(silent.join()).toContain('altered or set back');
    expect(await signed()).toBe(before);
  });
});

/** Writers and sequencers of other processes, as behind a balancer. */
describe('under concurrency', () => {
  const WRITERS = 8;
  const EACH = 40;

  it('eight writers and three sequencers make one contiguous ledger, true to every checkpoint signed', async () => {
    const crowd = await server.openLab('Crowded lab');
    const makers = await Promise.all([1, 2, 3].map(async () => {
      const database = await Database.open(server.database.appUrl, entities, 2);
      return { database, sequencer: new Sequencer(database, signerOf(server.ledgerKey), () => undefined) };
    }));
    let writing = true;
    const sequencing = makers.map(async ({ sequencer }) => { while (writing) await sequencer.settle(crowd.labId); });
    const acknowledged: string[] = [];
    await Promise.all(Array.from({ length: WRITERS }, async (_, writer) => {
      for (let i = 0; i < EACH; i += 1) {
        const id = newId();
        await record(crowd.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id, name: `crop ${writer} ${i}` });
        acknowledged.push(id);
      }
    }));
    writing = false;
    await Promise.all(sequencing);
    await makers[0]!.sequencer.settle(crowd.labId);
    for (const { sequencer, database } of makers) { await sequencer.close(); await database.close(); }

    const placed = (await owner.query('SELECT p.place::int AS place, e.subject_id AS subject FROM ledger_place p JOIN ledger_entry e ON e.lab_id = p.lab_id AND e.id = p.entry_id WHERE p.lab_id = $1 ORDER BY 1', [crowd.labId])).rows as { place: number; subject: string }[];
    expect(placed.map(({ place }) => place)).toEqual(placed.map((_, i) => i));
    expect(new Set(placed.map(({ subject }) => subject)).size).toBe(WRITERS * EACH);
    const known = new Set(placed.map(({ subject }) => subject));
    expect(acknowledged.filter((id) => !known.has(id))).toEqual([]);

    const check = await checkTree(owner, crowd.labId);
    expect(check.flaws).toEqual([]);
    expect(check.checkpoints).toBeGreaterThan(5);
    expect(check.size).toBe(placed.length);
  });
});
