import type { LedgerEntry } from '../entry.js';
import type { LedgerKey } from '../checkpoint.js';

/**
 * The evidence pack: a folder of files, sent as one ZIP, that shows a decision or certificate with everything it
 * rests on to somebody who has neither the server nor reason to trust it. PACK.md describes each file.
 */
export const PACK_FORMAT = 'threadleaf-evidence-pack';
/** Written into the manifest. A reader refuses a version it does not know; a version, once released, is read for ever. */
export const PACK_VERSION = 1;
/** Of a pack that a lab shares with others: its manifest says how deep it goes. */
export const SHARED_PACK_VERSION = 2;

/**
 * How far down a shared pack shows what its subject rests on: `raw`, all of it, or `summary`, only the statement itself. What a
 * summary rests on is named by kind and id and kept by the lab.
 */
export type PackDepth = 'summary' | 'raw';

/** Where things lie in a pack. */
export const PATHS = {
  manifest: 'manifest.json',
  seal: 'seal.txt',
  records: 'records.jsonl',
  lineage: 'lineage.jsonl',
  agents: 'agents.json',
  entries: 'ledger/entries.jsonl',
  checkpoint: 'ledger/checkpoint.txt',
  keys: 'ledger/keys.json',
  consistency: 'ledger/consistency.jsonl',
  tables: 'tables/datapackage.json',
  prov: 'prov.json',
  crate: 'ro-crate-metadata.json',
} as const;

/** Files of a folder by path, with `/` between names, none of them a folder. */
export type PackFiles = ReadonlyMap<string, Uint8Array>;

/**
 * A fact or result as it was hashed: the document whose {@link contentHash} the ledger entry names. Beside these
 * members it has its own.
 */
export interface PackRecord {
  readonly kind: string;
  readonly id: string;
  readonly labId: string;
  readonly recordedBy: string;
  /** What it was made from. Where the document has this member, the ledger vouches for the lineage too. */
  readonly uses?: readonly RecordUse[];
  readonly [member: string]: unknown;
}

/** One thing that a record rests on, and how. */
export interface RecordUse {
  readonly kind: string;
  readonly id: string;
  readonly role: string;
}

/** An edge of the thread, from a record to one that it rests on. */
export interface LineageEdge {
  readonly fromKind: string;
  readonly fromId: string;
  readonly toKind: string;
  readonly toId: string;
  readonly role: string;
}

/** An entry with its place in the ledger and the proof that it is there. */
export interface ProvenEntry {
  readonly entry: LedgerEntry;
  /** Place in the ledger, from 0. */
  readonly index: number;
  /** Inclusion proof to the pack's checkpoint: {@link proveInclusion}. */
  readonly proof: readonly Uint8Array[];
}

/** That an earlier tree is the beginning of the pack's: for auditors who kept a checkpoint of that size. */
export interface PackConsistency {
  readonly oldSize: number;
  readonly proof: readonly Uint8Array[];
}

/** Somebody who made entries, by name. */
export interface PackAgent {
  readonly id: string;
  readonly kind: 'person' | 'service';
  readonly name: string;
}

/** One column of a table: a member of the records of one kind. */
export interface TableColumn {
  /** The member's name, which is also the column's heading. */
  readonly name: string;
  readonly type: 'string' | 'number' | 'integer' | 'boolean' | 'datetime' | 'date' | 'object' | 'array' | 'any';
  readonly title: string;
  readonly description: string;
  /** UCUM code of the unit (https://ucum.org); left out where there is none. */
  readonly unit?: string;
}

/** The dictionary of the table of one kind of record. */
export interface TableDictionary {
  readonly kind: string;
  readonly title: string;
  readonly description: string;
  readonly columns: readonly TableColumn[];
}

/** A file for reading, such as the thread as PDF or a JSON Schema: listed and hashed, but not proven. */
export interface ReadingFile {
  readonly path: string;
  readonly bytes: Uint8Array;
  /** Media type, `application/pdf`. */
  readonly mediaType: string;
  readonly title: string;
}

/** What a pack is made of. */
export interface PackContents {
  /** The decision, certificate or share that it is about; one of the records. */
  readonly subject: { readonly kind: string; readonly id: string };
  readonly labId: string;
  /** Name of the lab's ledger, as in the checkpoint. */
  readonly origin: string;
  /** When the pack was made, RFC 3339. */
  readonly createdAt: string;
  /** Program and version that made it. */
  readonly madeBy: string;
  readonly title: string;
  readonly description: string;
  /** Under which terms the data may be used, in words. */
  readonly licence: string;
  readonly records: readonly PackRecord[];
  readonly edges: readonly LineageEdge[];
  readonly entries: readonly ProvenEntry[];
  readonly agents: readonly PackAgent[];
  /** Text of the signed checkpoint that the proofs lead to. */
  readonly checkpoint: string;
  readonly keys: readonly LedgerKey[];
  readonly consistency: readonly PackConsistency[];
  readonly tables: readonly TableDictionary[];
  readonly reading: readonly ReadingFile[];
  /** Of a shared pack; without it, the pack shows everything. */
  readonly depth?: PackDepth;
}
