import {
  buildPack, contentHashHex, entryLeaf, proveConsistency, proveInclusion, rootAt, sealPack, signCheckpoint, signingKeyOf, verifierKeyOf,
  type LedgerEntry, type LedgerKey, type PackContents, type PackFiles, type PackRecord, type ProvenEntry, type SigningKey, type TableDictionary,
} from '#libs/ledger';
import { storedTree, type StoredTree } from './stored-tree.js';

/** A small thread of our own invention: two weighings, an RWC, a decision, in a ledger with other labs' worth of other entries. */

export const LAB = '01930000-0000-7000-8000-00000000001a';
export const ORIGIN = `lab.example/ledger/${LAB}`;
export const PERSON = '01930000-0000-7000-8000-0000000000aa';
export const signingKey = signingKeyOf(ORIGIN, new Uint8Array(32).fill(11));
export const ledgerKey: LedgerKey = { key: verifierKeyOf(ORIGIN, signingKey.publicKey), firstSize: 0, lastSize: null };

export const idOf = (n: number): string => `01930000-0000-7000-8000-${String(n).padStart(12, '0')}`;

const base = (kind: string, n: number): Pick<PackRecord, 'kind' | 'id' | 'labId' | 'recordedBy'> => ({ kind, id: idOf(n), labId: LAB, recordedBy: PERSON });
export const RECORDS: readonly PackRecord[] = [
  { ...base('disc', 1), label: 'D-7, "upper" leaf', uses: [] },
  { ...base('weighing', 2), massMg: '71.24', state: 'turgid', note: null, flagged: false, uses: [{ kind: 'disc', id: idOf(1), role: 'disc' }] },
  { ...base('weighing', 3), massMg: '14.02', state: 'dry', note: 'second\ncheck, constant', flagged: true, uses: [{ kind: 'disc', id: idOf(1), role: 'disc' }] },
  {
    ...base('rwc_series', 4), rwc: [1, 0.8], uncertainty: 1e-3,
    uses: [{ kind: 'weighing', id: idOf(2), role: 'turgid' }, { kind: 'weighing', id: idOf(3), role: 'dry' }],
  },
  { ...base('decision', 5), action: 'irrigate', uses: [{ kind: 'rwc_series', id: idOf(4), role: 'basis' }] },
];

export function entryOf(record: PackRecord): LedgerEntry {
  return {
    version: 1, labId: record.labId, id: `${record.id.slice(0, -4)}e${record.id.slice(-3)}`, actorId: record.recordedBy, action: 'record',
    subjectKind: record.kind, subjectId: record.id, contentHash: contentHashHex(record), recordedAt: '2026-04-03T09:15:01.250Z',
    ...(record.kind === 'weighing' && { observedAt: '2026-04-03T11:15:00.000+02:00' }),
    ...(record.kind === 'decision' && { reason: 'tripped at dawn' }),
  };
}

const column = (name: string, type: 'string' | 'number' | 'boolean' | 'array' = 'string', unit?: string): TableDictionary['columns'][number] =>
  ({ name, type, title: name, description: `The ${name} of the record.`, ...(unit && { unit }) });
const BOOKKEEPING = [column('kind'), column('id'), column('labId'), column('recordedBy'), column('uses', 'array')];
export const TABLES: readonly TableDictionary[] = [
  { kind: 'disc', title: 'Discs', description: 'Leaf discs.', columns: [...BOOKKEEPING, column('label')] },
  {
    kind: 'weighing', title: 'Weighings', description: 'Masses of discs.',
    columns: [...BOOKKEEPING, column('massMg', 'number', 'mg'), column('state'), column('note'), column('flagged', 'boolean')],
  },
];

/** The ledger of the lab: the sample's entries among others. */
export interface SampleLedger {
  readonly tree: StoredTree;
  readonly size: number;
  /** Place of the entry of each record. */
  readonly places: ReadonlyMap<string, number>;
}

const filler = (n: number): LedgerEntry => ({
  version: 1, labId: LAB, id: idOf(9000 + n), actorId: PERSON, action: 'record', subjectKind: 'weighing', subjectId: idOf(8000 + n),
  contentHash: contentHashHex(n), recordedAt: '2026-04-03T08:00:00.000Z',
});

export function sampleLedger(records: readonly PackRecord[] = RECORDS, size = 41): SampleLedger {
  const tree = storedTree();
  const places = new Map<string, number>();
  for (let place = 0; place < size; place++) {
    const record = place % 7 === 3 ? records[(place - 3) / 7] : undefined;
    if (record) places.set(record.id, place);
    tree.append(entryLeaf(record ? entryOf(record) : filler(place)));
  }
  return { tree, size, places };
}

export async function checkpointAt({ tree }: SampleLedger, size: number, key: SigningKey = signingKey, origin = ORIGIN): Promise<string> {
  return signCheckpoint({ origin, size, root: await rootAt(tree.read, size) }, key);
}

export async function sampleContents(changes: Partial<PackContents> = {}, ledger = sampleLedger(), key = signingKey): Promise<PackContents> {
  const records = changes.records ?? RECORDS;
  const entries: ProvenEntry[] = [];
  for (const record of records) {
    const index = ledger.places.get(record.id);
    if (index === undefined) continue;
    entries.push({ entry: entryOf(record), index, proof: await proveInclusion(ledger.tree.read, index, ledger.size) });
  }
  return {
    subject: { kind: 'decision', id: idOf(5) }, labId: LAB, origin: ORIGIN, createdAt: '2026-05-01T12:00:00.000Z', madeBy: 'Threadleaf 0.1.0',
    title: 'Decision of 3 April', description: 'Everything that the decision rests on.', licence: 'For audit only.',
    records,
    edges: records.flatMap(({ kind, id, uses = [] }) =>
      uses.map((use) => ({ fromKind: kind, fromId: id, toKind: use.kind, toId: use.id, role: use.role }))),
    entries,
    agents: [{ id: PERSON, kind: 'person', name: 'A. Weigher' }],
    checkpoint: await checkpointAt(ledger, ledger.size, key),
    keys: [ledgerKey],
    consistency: [{ oldSize: 17, proof: await proveConsistency(ledger.tree.read, 17, ledger.size) }],
    tables: TABLES,
    reading: [{ path: 'thread.pdf', bytes: new TextEncoder().encode('%PDF-1.7 sample'), mediaType: 'application/pdf', title: 'The thread, to read' }],
    ...changes,
  };
}

export async function samplePack(changes: Partial<PackContents> = {}): Promise<PackFiles> {
  return sealPack(buildPack(await sampleContents(changes)), ORIGIN, signingKey);
}
