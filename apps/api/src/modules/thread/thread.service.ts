import { Injectable } from '@nestjs/common';
import type { CheckStatus, Flag, LedgerException, ThreadDirection } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsByIds } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { staleAmong } from '../amendment/amendment.repository.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { standingsAt } from '../instrument/instrument.repository.js';
import { describers } from './describers.js';
import { LATE_AFTER_MIN } from './exceptions.js';
import { exceptionsAmong } from './exceptions.repository.js';
import { describe, edgesAmong, recordsReached, THREAD_CAP, type Description, type Edge, type RecordKey } from './thread.repository.js';

export interface ThreadNodeView extends RecordKey {
  readonly depth: number;
  readonly label: string;
  readonly summary: string;
  readonly rawLine: string | null;
  readonly observedAt: string | null;
  readonly recordedAt: string;
  readonly recordedById: string;
  readonly instrument: string | null;
  readonly instrumentStatusThen: CheckStatus | null;
  readonly stale: boolean;
  readonly contentHash: string;
  readonly remarks: readonly Flag[];
  readonly exceptions: readonly LedgerException[];
}

export interface ThreadView {
  readonly root: ThreadNodeView;
  readonly nodes: readonly ThreadNodeView[];
  readonly edges: readonly Edge[];
  readonly truncated: boolean;
}

interface InstrumentThen {
  readonly label: string;
  readonly status: CheckStatus;
}

/** Walks the lineage of a record and tells each one met. */
@Injectable()
export class ThreadService {
  /** A fixed number of statements: the walk, the edges, one a kind met, instruments, stale marks and exceptions. */
  async thread(tx: Tx, root: RecordKey, direction: ThreadDirection): Promise<ThreadView> {
    if (!describers[root.kind]) throw notFound('kind', `A record of kind "${root.kind}"`);
    const reached = await recordsReached(tx, root, direction);
    const records = reached.slice(0, THREAD_CAP);
    const ids = records.map(({ id }) => id);
    const described = await describe(tx, records);
    if (!described.has(root.id)) throw notFound('id', `The ${root.kind.replaceAll('_', ' ')}`);
    const edges = await edgesAmong(tx, ids);
    const stale = await staleAmong(tx, ids);
    const instruments = await instrumentsThen(tx, [...described.values()]);
    const exceptions = await exceptionsAmong(tx, records, LATE_AFTER_MIN);
    const nodes = records.flatMap(({ kind, id, depth }) => {
      const told = described.get(id);
      return told ? [nodeOf(kind, depth, told, { stale: stale.has(id), instrument: instruments.get(id) ?? null, exceptions: exceptions.get(id) ?? [] })] : [];
    });
    return { root: nodes[0]!, nodes, edges, truncated: reached.length > THREAD_CAP };
  }
}

interface Marks {
  readonly stale: boolean;
  readonly instrument: InstrumentThen | null;
  readonly exceptions: readonly LedgerException[];
}

function nodeOf(kind: string, depth: number, told: Description, { stale, instrument, exceptions }: Marks): ThreadNodeView {
  return {
    kind,
    id: told.id,
    depth,
    label: told.label,
    summary: told.summary,
    rawLine: told.rawLine,
    observedAt: told.observedAt && formatMoment(told.observedAt, told.offsetMin ?? 0),
    recordedAt: formatMoment(told.recordedAt),
    recordedById: told.recordedBy,
    instrument: instrument?.label ?? null,
    instrumentStatusThen: instrument?.status ?? null,
    stale,
    contentHash: told.contentHash.toString('hex'),
    remarks: told.remarks,
    exceptions,
  };
}

/** By record: the instrument it was made with, and how that one's checks stood at the moment. */
async function instrumentsThen(tx: Tx, described: readonly Description[]): Promise<Map<string, InstrumentThen>> {
  const used = described.filter(({ instrumentId }) => instrumentId !== null);
  if (used.length === 0) return new Map();
  const rows = await rowsByIds(tx, Instrument, [...new Set(used.map(({ instrumentId }) => instrumentId!))]);
  const labels = new Map(rows.map(({ id, label }) => [id, label]));
  const standings = await standingsAt(tx, used.map(({ instrumentId, observedAt, recordedAt }) => ({ instrumentId: instrumentId!, at: observedAt ?? recordedAt })));
  return new Map(used.map(({ id, instrumentId }, i) => [id, { label: labels.get(instrumentId!) ?? '', status: standings[i]!.status }]));
}
