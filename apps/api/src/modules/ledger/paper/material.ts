import type { ThreadDirection } from '../../../generated/schema.js';
import type { Tx } from '../../../platform/database/database.js';
import { rowsBy, rowsByIds } from '../../../platform/database/rows.js';
import { peopleByIds } from '../../../platform/identity/account.repository.js';
import { Amendment } from '../../amendment/amendment.entity.js';
import { DryingRun } from '../../bench/bench.entity.js';
import { CalibrationVersion } from '../../calibration/calibration.entity.js';
import { ThresholdCertificate } from '../../certificate/certificate.entity.js';
import { BiasThresholdCurve, TripTest } from '../../device/device.entity.js';
import { Signature } from '../../signature/signature.entity.js';
import type { ThreadNodeView, ThreadView } from '../../thread/thread.service.js';
import { RwcSeries } from '../../water/rwc-series.entity.js';
import { labName } from '../ledger.repository.js';

/** Where the thread stands in the ledger, as far as it is signed. */
export interface LedgerStanding {
  readonly origin: string;
  readonly checkpoint: string | null;
  /** In their text form, as they were used. */
  readonly keys: readonly string[];
}

/** Everything that the paper of a thread is written from. */
export interface PaperMaterial {
  readonly lab: string;
  readonly direction: ThreadDirection;
  readonly createdAt: Date;
  readonly thread: ThreadView;
  readonly people: ReadonlyMap<string, string>;
  readonly signatures: readonly Signature[];
  readonly amendments: ReadonlyMap<string, Amendment>;
  readonly certificates: readonly ThresholdCertificate[];
  readonly versions: readonly CalibrationVersion[];
  readonly curves: readonly BiasThresholdCurve[];
  readonly tripTests: readonly TripTest[];
  readonly series: readonly RwcSeries[];
  readonly runs: ReadonlyMap<string, DryingRun>;
  readonly standing: LedgerStanding;
  /** True for the paper inside an evidence pack: the proofs lie beside it. */
  readonly packed: boolean;
}

interface Occasion {
  readonly direction: ThreadDirection;
  readonly createdAt: Date;
  readonly standing: LedgerStanding;
  readonly packed: boolean;
}

/** A fixed number of statements, however long the thread. */
export async function materialOf(tx: Tx, thread: ThreadView, occasion: Occasion): Promise<PaperMaterial> {
  const ids = thread.nodes.map(({ id }) => id);
  const idsOf = (kind: string): string[] => thread.nodes.filter((node) => node.kind === kind).map(({ id }) => id);
  const signatures = await rowsBy(tx, Signature, 'subjectId', ids, 'recorded_at, id');
  const amendments = await rowsBy(tx, Amendment, 'targetId', ids);
  const people = await peopleByIds(tx, [...new Set([...thread.nodes.map(({ recordedById }) => recordedById), ...[...signatures, ...amendments].map(({ recordedBy }) => recordedBy)])]);
  const series = inThread(thread.nodes, await rowsByIds(tx, RwcSeries, idsOf('rwc_series')));
  return {
    ...occasion,
    thread,
    lab: await labName(tx),
    people: new Map(people.map(({ id, displayName }) => [id, displayName])),
    signatures,
    amendments: new Map(amendments.map((row) => [row.targetId, row])),
    certificates: inThread(thread.nodes, await rowsByIds(tx, ThresholdCertificate, idsOf('threshold_certificate'))),
    versions: inThread(thread.nodes, await rowsByIds(tx, CalibrationVersion, idsOf('calibration_version'))),
    curves: inThread(thread.nodes, await rowsByIds(tx, BiasThresholdCurve, idsOf('bias_threshold_curve'))),
    tripTests: inThread(thread.nodes, await rowsByIds(tx, TripTest, idsOf('trip_test'))),
    series,
    runs: new Map((await rowsByIds(tx, DryingRun, [...new Set(series.flatMap(({ dryingRunId }) => dryingRunId ?? []))])).map((run) => [run.id, run])),
  };
}

/** In the order of the thread: rows come in none, and the same thread gives the same paper. */
function inThread<Row extends { readonly id: string }>(nodes: readonly ThreadNodeView[], rows: readonly Row[]): Row[] {
  const byId = new Map(rows.map((row) => [row.id, row]));
  return nodes.flatMap(({ id }) => byId.get(id) ?? []);
}
