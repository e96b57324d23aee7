import { Link } from 'react-router';
import { Rwc } from '../../../ui/quantity.js';
import { discStateWord } from '../../../ui/record-words.js';
import { Table } from '../../../ui/table.js';
import { Countdown, Moment } from '../../../ui/time.js';
import type { Run } from './run.js';
import { provisionalBand } from './provisional.js';

/** The last mass of a disc at the bench that stands, the turgid one too: the rhythm counts from it. */
const lastMassOf = (run: Run, discId: string) => run.weighings
  .filter(({ disc, state, amendedBy }) => disc.id === discId && state !== 'DRY' && !amendedBy)
  .reduce<Run['weighings'][number] | null>((last, each) => (last && Date.parse(last.observedAt) >= Date.parse(each.observedAt) ? last : each), null);

/** Each disc of an open run: its last mass, what that means now, when it is weighed next. */
export function DiscBoard({ run }: { readonly run: Run }) {
  const rows = run.discs.map((disc) => ({ disc, last: lastMassOf(run, disc.id), now: run.rwcNow.find((each) => each.disc.id === disc.id) ?? null }));
  return (
    <Table caption="Discs of the run" rows={rows} keyOf={({ disc }) => disc.id} columns={[
      { head: 'Disc', cell: ({ disc }) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
      { head: 'Last mass', number: true, cell: ({ last }) => (last ? <>{last.state === 'DRYING' ? '' : `${discStateWord(last.state)}, `}{last.massMg} mg, <Moment at={last.observedAt} /></> : 'none yet') },
      { head: 'RWC now', cell: ({ now }) => (now ? <RwcTold {...now} /> : 'none yet') },
      { head: 'Weighed next', cell: ({ last }) => (last ? <Countdown to={new Date(Date.parse(last.observedAt) + run.rhythmMin * 60_000).toISOString()} /> : 'now') },
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
