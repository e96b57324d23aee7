import { Link } from 'react-router';
import { threadPath } from '../../../ui/paths.js';
import { Rwc, Uncertain } from '../../../ui/quantity.js';
import { StaleMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Flags } from '../../../ui/words.js';
import type { Run } from './run.js';

/** What a released run gave: one RWC series for each disc. */
export function ReleasedSeries({ run }: { readonly run: Run }) {
  return (
    <Table caption={`RWC series of run ${run.label}`} rows={run.rwcSeries} keyOf={({ id }) => id} columns={[
      { head: 'Disc', cell: ({ disc }) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
      { head: 'Turgid mass', number: true, cell: (series) => <Uncertain value={series.turgidMassMg} u={series.uTurgidMassMg} unit="mg" /> },
      { head: 'Dry mass', number: true, cell: (series) => <Uncertain value={series.dryMassMg} u={series.uDryMassMg} unit="mg" /> },
      { head: 'Last RWC', number: true, cell: ({ points }) => { const last = points.at(-1); return last ? <Rwc value={last.rwc} u={last.u} /> : 'no point'; } },
      { head: 'Points, readings', number: true, cell: ({ points, readings }) => `${points.length}, ${readings.length}` },
      { head: 'To be read with it', cell: ({ id, stale, flags }) => <>{stale ? <StaleMark /> : null}<Flags flags={flags} /><Link to={threadPath('rwc_series', id, 'down')}>Thread down</Link></> },
    ]} />
  );
}
