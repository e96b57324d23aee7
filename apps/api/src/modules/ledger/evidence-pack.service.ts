import { Injectable } from '@nestjs/common';
import {
  buildPack, formatVerifierKey, packHolds, proveConsistency, proveInclusion, sealPack, verifyPack, zipPack,
  type LineageEdge, type PackAgent, type PackDepth, type PackConsistency, type PackContents, type PackRecord, type ProvenEntry, type ReadingFile, type TableDictionary,
} from '#libs/ledger';
import { keptEntities } from '../../entities.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import type { KeptRow } from '../../platform/database/kept-row.js';
import { metadataOf, rowsByIds } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { peopleByIds } from '../../platform/identity/account.repository.js';
import { batchingNodeReader, entryOf, ledgerKeys, newestCheckpoint, newestSizes, sha256, type StoredCheckpoint } from '../../platform/ledger/ledger-store.js';
import { BOOKKEEPING, contentDocument } from '../../platform/ledger/recorder.js';
import { Sequencer } from '../../platform/ledger/sequencer.js';
import { originOf } from '../../platform/ledger/signer.js';
import type { RecordKey } from '../thread/thread.repository.js';
import { ThreadService, type ThreadView } from '../thread/thread.service.js';
import { dictionaryOf, schemaOf } from './dictionary.js';
import { madeFile, type MadeFile } from './made-file.js';
import { edgesFrom, placedEntriesOf, wordsUpon } from './ledger.repository.js';
import { storedFilesFor } from '../stored-file/pack-files.js';
import { materialOf } from './paper/material.js';
import { threadPaper } from './paper/thread-paper.js';
import { threadPage } from './thread-page.js';

/** What can be packed: where a thread ends. */
const PACKABLE = ['decision', 'threshold_certificate'];
/** Records of one pack; a thread of 200 leaves has about ten thousand. */
const RECORDS_MOST = 20_000;
/** Proofs whose nodes are read with one statement. */
const PROOFS_AT_ONCE = 1_000;
/** Earlier checkpoints whose holders the pack serves without being asked. */
const CHECKPOINTS_SERVED = 100;

/** Packs a decision or certificate with everything it rests on: see PACK.md. */
@Injectable()
export class EvidencePackService {
  constructor(
    private readonly threads: ThreadService,
    private readonly sequencer: Sequencer,
  ) {}

  /** Entries written a moment ago get their places and a checkpoint first, so that the pack can prove them. */
  prepare(labId: string): Promise<void> {
    return this.sequencer.settle(labId);
  }

  /**
   * @param keptSizes sizes of checkpoints that the reader kept: the pack proves that the ledger still begins with them
   * @throws ProblemError `INPUT` for a kind that is not packed, `NOT_FOUND`, `STATE` while the ledger is not signed
   */
  async pack(tx: Tx, root: RecordKey, createdAt: Date, keptSizes: readonly number[]): Promise<MadeFile> {
    if (!PACKABLE.includes(root.kind)) {
      throw new ProblemError('INPUT', 'kind', `A ${root.kind.replaceAll('_', ' ')} is not packed.`, 'Pack a decision or a threshold certificate: everything below it comes along.');
    }
    return madeFile(`threadleaf-${root.kind.replaceAll('_', '-')}-${root.id}.zip`, await this.sealed(tx, root, createdAt, keptSizes));
  }

  /**
   * The pack of a statement that others get: with `summary` the statement alone, with `raw` all that it rests on.
   *
   * @throws ProblemError `STATE` while the ledger is not signed
   */
  share(tx: Tx, id: string, createdAt: Date, terms: SharingTerms): Promise<Uint8Array> {
    return this.sealed(tx, { kind: 'calibration_share', id }, createdAt, [], terms);
  }

  private async sealed(tx: Tx, root: RecordKey, createdAt: Date, keptSizes: readonly number[], terms?: SharingTerms): Promise<Uint8Array> {
    const { signer } = this.sequencer;
    if (!signer) throw new ProblemError('STATE', 'kind', 'This server has no ledger key.', 'Start it with THREADLEAF_LEDGER_KEY.');
    const thread = await this.threads.thread(tx, root, 'DOWN');
    const checkpoint = await newestCheckpoint(tx);
    if (!checkpoint) throw unsigned();
    const contents = await contentsOf(tx, root, thread, checkpoint, createdAt, keptSizes, terms);
    const files = sealPack(buildPack(contents, sha256), contents.origin, signer.keyOf(tx.labId), sha256);
    const findings = verifyPack(files, {}, sha256);
    if (!packHolds(findings)) {
      throw new Error(`The pack of ${root.kind} ${root.id} does not hold: ${JSON.stringify(findings.filter(({ status }) => status === 'fails').slice(0, 3))}`);
    }
    return zipPack(files);
  }
}

/** Under which a lab shows a statement to others, and how deep. */
export interface SharingTerms {
  readonly depth: PackDepth;
  readonly licence: string;
}

const unsigned = (): ProblemError =>
  new ProblemError('STATE', 'id', 'The ledger has no signed checkpoint over these records yet.', 'Try again in a few seconds; if it lasts, look at the server\'s log.');

async function contentsOf(
  tx: Tx, subject: RecordKey, thread: ThreadView, checkpoint: StoredCheckpoint, madeAt: Date, keptSizes: readonly number[], terms?: SharingTerms,
): Promise<PackContents> {
  const isSummary = terms?.depth === 'summary';
  const below = isSummary ? [subject] : thread.nodes.map(({ kind, id }) => ({ kind, id }));
  // Signatures and amendments rest on these records, not the other way: the thread down does not meet them.
  const upon = isSummary ? [] : await wordsUpon(tx, below.map(({ id }) => id));
  const keys = [...new Map([...below, ...upon].map((key) => [key.id, key])).values()];
  if (thread.truncated || keys.length > RECORDS_MOST) {
    throw new ProblemError('INPUT', 'id', `The thread has more than ${RECORDS_MOST} records.`, 'Pack a certificate or decision that rests on fewer.');
  }
  const edges = await edgesFrom(tx, keys.map(({ id }) => id));
  const { records, dictionaries, schemas } = await recordsOf(tx, keys, edges);
  if (!records.some(({ id }) => id === subject.id)) throw notFound('id', `The ${subject.kind.replaceAll('_', ' ')}`);
  const agents = await agentsOf(tx, records);
  const origin = originOf(tx.labId);
  const createdAt = madeAt.toISOString();
  const ledgersKeys = await ledgerKeys(tx);
  const title = `${thread.root.label}: ${thread.root.summary}`;
  // What is for reading tells the whole thread: a summary goes without.
  const reading = isSummary ? [] : await threadToRead(tx, thread, { title, agents, createdAt: madeAt, checkpoint: checkpoint.note, keys: ledgersKeys });
  return {
    subject, labId: tx.labId, origin, createdAt, title, records, edges, agents,
    madeBy: `Threadleaf ${codeVersion}`,
    description: isSummary
      ? 'A calibration version as its lab states it for others; what it rests on is kept by the lab.'
      : 'Everything that the record rests on, down to the raw lines of the instruments, with signatures and amendments.',
    licence: terms?.licence ?? 'Handed out by the lab for audit; any other use needs its consent.',
    entries: await entriesOf(tx, records, checkpoint),
    checkpoint: checkpoint.note,
    keys: ledgersKeys,
    consistency: await consistencyOf(tx, checkpoint, keptSizes),
    tables: dictionaries,
    reading: [...reading, ...schemas, ...(await storedFilesFor(tx, records))],
    ...(terms && { depth: terms.depth }),
  };
}

interface ToRead {
  readonly title: string;
  readonly agents: readonly PackAgent[];
  readonly createdAt: Date;
  readonly checkpoint: string;
  readonly keys: Awaited<ReturnType<typeof ledgerKeys>>;
}

async function threadToRead(tx: Tx, thread: ThreadView, { title, agents, createdAt, checkpoint, keys }: ToRead): Promise<ReadingFile[]> {
  const origin = originOf(tx.labId);
  const page = threadPage(thread, new Map(agents.map(({ id, name }) => [id, name])), { title, createdAt: createdAt.toISOString(), origin, checkpoint });
  const standing = { origin, checkpoint, keys: keys.map(({ key }) => formatVerifierKey(key)) };
  const paper = await threadPaper(await materialOf(tx, thread, { direction: 'DOWN', createdAt, standing, packed: true }));
  return [
    { path: 'thread.pdf', bytes: paper, mediaType: 'application/pdf', title: 'The thread, drawn and told, to read and print' },
    { path: 'thread.html', bytes: utf8(page), mediaType: 'text/html', title: 'The thread as a page' },
  ];
}

const utf8 = (text: string): Uint8Array => new Uint8Array(Buffer.from(text, 'utf8'));

/** The documents that were hashed, made again from the rows; one statement a kind. */
async function recordsOf(tx: Tx, keys: readonly RecordKey[], edges: readonly LineageEdge[]): Promise<{ records: PackRecord[]; dictionaries: TableDictionary[]; schemas: ReadingFile[] }> {
  const uses = new Map<string, { kind: string; id: string; role: string }[]>();
  for (const { fromId, toKind, toId, role } of edges) uses.set(fromId, [...(uses.get(fromId) ?? []), { kind: toKind, id: toId, role }]);
  const records: PackRecord[] = [];
  const dictionaries: TableDictionary[] = [];
  const schemas: ReadingFile[] = [];
  for (const entity of keptEntities) {
    const metadata = metadataOf(tx, entity);
    const kind = metadata.tableName;
    const ids = keys.filter((key) => key.kind === kind).map(({ id }) => id);
    if (ids.length === 0) continue;
    const names = metadata.columns.map(({ propertyName }) => propertyName).filter((name) => name === 'id' || !BOOKKEEPING.includes(name));
    for (const row of await rowsByIds<KeptRow>(tx, entity, ids)) {
      const content = Object.fromEntries(names.map((name) => [name, (row as unknown as Record<string, unknown>)[name]]));
      records.push(contentDocument(metadata, tx.labId, row.recordedBy, content, uses.get(row.id) ?? []) as unknown as PackRecord);
    }
    const dictionary = dictionaryOf(metadata);
    dictionaries.push(dictionary);
    schemas.push({
      path: `schemas/${kind}.schema.json`, bytes: utf8(`${JSON.stringify(schemaOf(dictionary, metadata), null, 2)}\n`), mediaType: 'application/schema+json',
      title: `Schema of ${dictionary.title.toLowerCase()}`,
    });
  }
  return { records, dictionaries, schemas };
}

async function agentsOf(tx: Tx, records: readonly PackRecord[]): Promise<PackAgent[]> {
  const people = await peopleByIds(tx, [...new Set(records.map(({ recordedBy }) => recordedBy))]);
  return people.map(({ id, displayName }) => ({ id, kind: 'person', name: displayName }));
}

async function entriesOf(tx: Tx, records: readonly PackRecord[], { size }: StoredCheckpoint): Promise<ProvenEntry[]> {
  const placed = await placedEntriesOf(tx, records.map(({ id }) => id));
  if (placed.length < records.length || placed.some(({ place }) => place >= size)) throw unsigned();
  const read = batchingNodeReader(tx);
  const proven: ProvenEntry[] = [];
  for (let start = 0; start < placed.length; start += PROOFS_AT_ONCE) {
    proven.push(...(await Promise.all(placed.slice(start, start + PROOFS_AT_ONCE).map(async (row) => ({
      entry: entryOf(tx.labId, row), index: row.place, proof: await proveInclusion(read, row.place, size, sha256),
    })))));
  }
  return proven;
}

async function consistencyOf(tx: Tx, { size }: StoredCheckpoint, keptSizes: readonly number[]): Promise<PackConsistency[]> {
  const earlier = await newestSizes(tx, CHECKPOINTS_SERVED);
  const sizes = [...new Set([...earlier, ...keptSizes])].filter((oldSize) => oldSize > 0 && oldSize < size).sort((a, b) => a - b);
  const read = batchingNodeReader(tx);
  return Promise.all(sizes.map(async (oldSize) => ({ oldSize, proof: await proveConsistency(read, oldSize, size, sha256) })));
}
