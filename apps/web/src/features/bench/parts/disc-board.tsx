import { Link } from 'react-router';
import type { DiscState } from '../../../generated/graphql.js';
import { useOutbox } from '../../../offline/outbox.js';
import type { Kept } from '../../../offline/store.js';
import { Rwc } from '../../../ui/quantity.js';
import { discStateWord } from '../../../ui/record-words.js';
import { Table } from '../../../ui/table.js';
import { Countdown, Moment } from '../../../ui/time.js';
import type { Run } from './run.js';
import { provisionalBand } from './provisional.js';

interface LastMass {
  readonly state: DiscState;
  readonly text: string;
  readonly at: string;
  readonly kept: boolean;
}

/** The last mass of a disc at the bench that stands, the turgid one too: the rhythm counts from it. One that waits on this device is one. */
function lastMassOf(run: Run, waiting: readonly Kept[], discId: string): LastMass | null {
  const recorded = run.weighings.filter(({ disc, amendedBy }) => disc.id === discId && !amendedBy).map(({ state, massText, massUnit, observedAt }) => ({ state, text: `${massText} ${massUnit}`, at: observedAt, kept: false }));
  const here = waiting.flatMap(({ kind, input, problem }) => (kind === 'weighing' && !problem && input.dryingRunId === run.id && input.discId === discId
    ? [{ state: input.state, text: `${input.massText} ${input.massUnit}`, at: input.observedAt, kept: true }] : []));
  return [...recorded, ...here].filter(({ state }) => state !== 'DRY').sort((a, b) => Date.parse(a.at) - Date.parse(b.at)).at(-1) ?? null;
}

/** Each disc of an open run: its last mass, what that means now, when it is weighed next. */
export function DiscBoard({ run }: { readonly run: Run }) {
  const { waiting } = useOutbox();
  const rows = run.discs.map((disc) => ({ disc, last: lastMassOf(run, waiting, disc.id), now: run.rwcNow.find((each) => each.disc.id === disc.id) ?? null }));
  return (
    <Table caption="Discs of the run" rows={rows} keyOf={({ disc }) => disc.id} columns={[
      { head: 'Disc', cell: ({ disc }) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
      { head: 'Last mass', number: true, cell: ({ last }) => (last ? <>{last.state === 'DRYING' ? '' : `${discStateWord(last.state)}, `}{last.text}, <Moment at={last.at} />{last.kept ? ', kept here' : ''}</> : 'none yet') },
      { head: 'RWC now', cell: ({ now }) => (now ? <RwcTold {...now} /> : 'none yet') },
      { head: 'Weighed next', cell: ({ last }) => (last ? <Countdown to={new Date(Date.parse(last.at) + run.rhythmMin * 60_000).toISOString()} /> : 'now') },
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
