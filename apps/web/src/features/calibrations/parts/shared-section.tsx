import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import type { SharedTableQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Section } from '../../../ui/page.js';
import { rwcInterval } from '../../../ui/quantity.js';
import { ApprovalMark, StaleMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { ActionLink, Failed } from '../../../ui/words.js';
import { SharedTable } from '../shared-documents.js';
import { NewLeaf } from './version-columns.js';

export type SharedRow = SharedTableQuery['sharedCalibrations'][number];

const columns = [
  { head: 'Calibration', cell: ({ id, statement }: SharedRow) => <><Link to={`/calibrations/shared/${id}`}>{statement.label}, version {statement.version}</Link><br />{statement.cropName}</> },
  { head: 'Lab', cell: ({ giver }: SharedRow) => giver.name },
  { head: 'Stands there', cell: ({ standing }: SharedRow) => <><ApprovalMark state={standing.state} />{standing.stale ? <><br /><StaleMark /></> : null}</> },
  { head: 'One new leaf, 95 %', number: true, cell: ({ statement }: SharedRow) => <NewLeaf version={statement} /> },
  { head: 'RWC range', number: true, cell: ({ statement }: SharedRow) => rwcInterval(statement.rwcMin, statement.rwcMax) },
  { head: 'You may', cell: ({ depth, permits }: SharedRow) => `${permits === 'REUSE' ? 'take it over' : 'read it'}${depth === 'RAW' ? ', down to the raw lines' : ''}` },
  { head: 'Taken over as', cell: ({ adopted }: SharedRow) => (adopted.length === 0 ? 'not yet' : adopted.map(({ id, version, calibration }) => <div key={id}><Link to={`/calibrations/version/${id}`}>{calibration.label}, version {version}</Link></div>)) },
] as const;

/** What other labs share with this one. */
export function SharedSection({ mayImport }: { readonly mayImport: boolean }) {
  const { data, error, refetch } = useQuery(SharedTable);
  useLive(() => refetch(), ({ kind }) => ['notice', 'calibration_adoption', 'calibration_version'].includes(kind));
  if (error && !data) return <Section title="Shared with us"><Failed what="what other labs share" again={() => void refetch()} /></Section>;
  const rows = data?.sharedCalibrations ?? [];
  if (rows.length === 0 && !mayImport) return null;
  return (
    <Section title="Shared with us" lead="By other labs. Look how far each holds before you take it over; what you take over is reviewed and approved here before a certificate rests on it."
      actions={mayImport ? <ActionLink to="/calibrations/pack">Take over from a file</ActionLink> : null}>
      {rows.length === 0 ? <p>No other lab of this server shares a calibration with this one.</p> : <Table caption="Calibrations of other labs" columns={columns} rows={rows} keyOf={({ id }) => id} />}
    </Section>
  );
}
