import { Link } from 'react-router';
import { Rwc } from '../../../ui/quantity.js';
import { Table } from '../../../ui/table.js';
import { Countdown, Moment } from '../../../ui/time.js';
import type { Run } from './run.js';
import { provisionalBand } from './provisional.js';

/** Each disc of an open run: its last mass, what that means now, when it is weighed next. */
export function DiscBoard({ run }: { readonly run: Run }) {
  const rows = run.discs.map((disc) => ({ disc, now: run.rwcNow.find((each) => each.disc.id === disc.id) ?? null }));
  return (
    <Table caption="Discs of the run" rows={rows} keyOf={({ disc }) => disc.id} columns={[
      { head: 'Disc', cell: ({ disc }) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
      { head: 'Last mass', number: true, cell: ({ now }) => (now ? <>{now.massMg} mg, <Moment at={now.observedAt} /></> : 'none yet') },
      { head: 'RWC now', cell: ({ now }) => (now ? <RwcTold {...now} /> : '') },
      { head: 'Weighed next', cell: ({ now }) => (now ? <Countdown to={new Date(Date.parse(now.observedAt) + run.rhythmMin * 60_000).toISOString()} /> : 'now') },
    ]} />
  );
}

interface Told {
  readonly rwc?: number | null;
  readonly uRwc?: number | null;
  readonly provisional: boolean;
}

function RwcTold({ rwc, uRwc, provisional }: Told) {
  if (rwc === null || rwc === undefined) return <>not known yet</>;
  return provisional ? <>{provisionalBand(rwc, uRwc ?? 0)}, provisional</> : <Rwc value={rwc} u={uRwc ?? null} />;
}
