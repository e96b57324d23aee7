import { CombinedGraphQLErrors } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import type { FaultMovesQuery, FaultReachQuery } from '../../../generated/graphql.js';
import { capital, kindCount, kindsWord } from '../../../ui/kind-words.js';
import { Section, Strip } from '../../../ui/page.js';
import { recordPath } from '../../../ui/paths.js';
import type { ProblemSeen } from '../../../ui/send.js';
import { StaleMark } from '../../../ui/state.js';
import { Table, type Column } from '../../../ui/table.js';
import { Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { FaultMoves, FaultReach } from '../documents.js';
import { hasMoved, moveText, valueText } from './moved-value.js';
import styles from './fault.module.css';

/** Moments as RFC 3339, numbers as exact decimals; null where not asked for. */
export interface Asked {
  readonly from: string;
  readonly to: string;
  readonly offset: string | null;
  readonly span: string | null;
}

type Touched = FaultReachQuery['touchedBy']['touched'][number];
type Moved = FaultMovesQuery['faultMoves']['moved'][number];
type Value = Moved['values'][number];

/** One line of the table: a record, and one of its numbers once that is computed. */
interface Row {
  readonly record: Touched;
  readonly moved: Moved | null;
  readonly value: Value | null;
  readonly first: boolean;
}

/** Of the numbers of a record those that move, or its first to show that it does not. */
function rowsOf(record: Touched, moved: Moved | undefined): Row[] {
  const values = moved?.values.filter(hasMoved) ?? [];
  const shown = values.length > 0 ? values : (moved?.values.slice(0, 1) ?? []);
  const told: readonly (Value | null)[] = shown.length > 0 ? shown : [null];
  return told.map((value, i) => ({ record, moved: moved ?? null, value, first: i === 0 }));
}

export function Reach({ instrumentId, asked }: { readonly instrumentId: string; readonly asked: Asked }) {
  const reach = useQuery(FaultReach, { variables: { instrumentId, from: asked.from, to: asked.to } });
  const moves = useQuery(FaultMoves, { variables: { instrumentId, ...asked } });
  if (!reach.data) {
    const refused = problemOf(reach.error);
    return <Strip>{refused ? <Refused problem={refused} /> : reach.error ? <Failed what="what it reaches" again={() => void reach.refetch()} /> : <Waiting what="what it reaches" />}</Strip>;
  }
  const { factCount, touched, truncated } = reach.data.touchedBy;
  if (factCount === 0) return <Strip><Empty title="Nothing was recorded with it in this span.">So nothing rests on it. Look whether the moments are right.</Empty></Strip>;
  const byId = new Map(moves.data?.faultMoves.moved.map((moved) => [moved.id, moved]));
  const kinds = [...new Set(touched.map(({ kind }) => kind))];
  const corrected = moves.data?.faultMoves.corrected ?? (asked.offset !== null || asked.span !== null);
  const refused = problemOf(moves.error);
  return (
    <>
      <Strip>
        <p><strong>{factCount} {factCount === 1 ? 'fact was' : 'facts were'} recorded with it then.</strong> {touched.length === 0 ? 'Nothing rests on them yet.' : `On them rest ${kinds.map((kind) => kindCount(kind, touched.filter((one) => one.kind === kind).length)).join(', ')}.`}</p>
        {truncated ? <Notice tone="ask" title="There is more than is shown here.">Take a shorter span to see all of it.</Notice> : null}
        {refused ? <Refused problem={refused} /> : moves.error ? <Failed what="how far results move" again={() => void moves.refetch()} /> : null}
        {!moves.data && !moves.error && touched.length > 0 ? <Waiting what="every result computed again" /> : null}
      </Strip>
      {kinds.map((kind) => (
        <Section key={kind} title={capital(kindsWord(kind))}>
          <Table caption={`${capital(kindsWord(kind))} that rest on it`} keyOf={({ record, value }) => `${record.id} ${value?.name ?? ''}`} columns={columns(corrected)}
            rows={touched.filter((one) => one.kind === kind).flatMap((record) => rowsOf(record, byId.get(record.id)))} />
        </Section>
      ))}
    </>
  );
}

const Refused = ({ problem }: { readonly problem: ProblemSeen }) => <Notice tone="alarm" title={problem.message}>{problem.remedy}</Notice>;

/** A refusal of a query stands in its error. */
function problemOf(error: unknown): ProblemSeen | null {
  if (!CombinedGraphQLErrors.is(error)) return null;
  return (error.errors[0]?.extensions?.['problem'] as ProblemSeen | undefined) ?? null;
}

const columns = (corrected: boolean): Column<Row>[] => [
  {
    head: 'Record',
    cell: ({ record, first }) => (
      <>
        <Link to={recordPath(record.kind, record.id)}>{record.label}</Link>
        {first && record.stale ? <> <StaleMark /></> : null}
      </>
    ),
  },
  { head: 'Facts in question', number: true, cell: ({ record }) => record.restsOn },
  { head: 'What moves', cell: ({ value, moved }) => value?.name ?? (moved ? 'no number of its own' : '') },
  { head: 'As recorded', number: true, cell: ({ value }) => (value ? valueText(value, value.then) : '') },
  ...(corrected ? [{ head: 'Corrected', number: true, cell: ({ value, moved, first }: Row) => <Now value={value} now={value?.corrected} refused={first ? moved?.correctedRefused : null} /> }] : []),
  { head: 'Without them', number: true, cell: ({ value, moved, first }) => <Now value={value} now={value?.without} refused={first ? moved?.withoutRefused : null} /> },
];

function Now({ value, now, refused }: { readonly value: Value | null; readonly now: number | null | undefined; readonly refused: string | null | undefined }) {
  if (refused) return <span className={styles.refused}>none: {refused}</span>;
  if (!value) return null;
  if (now === null || now === undefined) return <span>none</span>;
  const move = value.then === null || value.then === undefined ? null : now - value.then;
  return (
    <>
      {valueText(value, now)}
      {move === null ? null : <><br /><span className={`${styles.move} ${hasMoved(value) ? styles.far : ''}`}>{moveText(value, move)}</span></>}
    </>
  );
}
