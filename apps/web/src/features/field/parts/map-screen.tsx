import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { FieldMapQuery } from '../../../generated/graphql.js';
import { decimalText, EntryForm, useEntry } from '../../../ui/entry.js';
import { NumberField, TextField } from '../../../ui/fields.js';
import { FileField } from '../../../ui/file-field.js';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Action, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { FieldMap, RecordSitePlan } from '../zone-documents.js';
import styles from './map.module.css';
import { ZONE_KINDS } from './zone-screen.js';

type Mark = FieldMapQuery['fieldMarks'][number];
type Plan = FieldMapQuery['sitePlans'][number];

interface Edges {
  readonly north: number;
  readonly south: number;
  readonly west: number;
  readonly east: number;
}

/** Where units stand, site by site, on the lab's own plan or on bare coordinates: no map service is asked. */
export function MapScreen() {
  const { data, error, refetch } = useQuery(FieldMap, { fetchPolicy: 'cache-and-network' });
  useLive(() => refetch(), ({ kind }) => kind === 'site_plan' || ZONE_KINDS.includes(kind));
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const sites = [...new Set(data?.fieldMarks.map(({ site }) => site) ?? [])];
  return (
    <Page title="Where the units stand" margin={<Back to="/field">Field</Back>} lead="A ring is armed, a filled triangle has tripped, a broken square is silent: silence is not wet.">
      {!data ? <Strip>{error ? <Failed what="the map" again={() => void refetch()} /> : <Waiting what="the map" />}</Strip> : null}
      {data && sites.length === 0 ? <Strip><Empty title="No unit stands under a leaf." /></Strip> : null}
      {data ? sites.map((site) => <SiteMap key={site} site={site} marks={data.fieldMarks.filter((mark) => mark.site === site)} plan={data.sitePlans.find((plan) => plan.site === site)} />) : null}
      {mayRecord && data ? <Section title="Plan of a site" lead="A drawing or picture from above, north up, with the coordinates of its edges."><PlanEntry sites={sites} onRecorded={() => void refetch()} /></Section> : null}
    </Page>
  );
}

const placed = (mark: Mark): boolean => mark.latitude != null && mark.longitude != null;

/** Of the plan; else around the units, with a margin so that one unit alone lies in the middle. */
function edgesOf(marks: readonly Mark[], plan: Plan | undefined): Edges {
  if (plan) return { north: Number(plan.northDeg), south: Number(plan.southDeg), west: Number(plan.westDeg), east: Number(plan.eastDeg) };
  const north = marks.map(({ latitude }) => Number(latitude));
  const east = marks.map(({ longitude }) => Number(longitude));
  const spare = Math.max(0.0002, 0.1 * Math.max(Math.max(...north) - Math.min(...north), Math.max(...east) - Math.min(...east)));
  return { north: Math.max(...north) + spare, south: Math.min(...north) - spare, west: Math.min(...east) - spare, east: Math.max(...east) + spare };
}

const METRES_PER_DEGREE = 111_320;

function SiteMap({ site, marks, plan }: { readonly site: string; readonly marks: readonly Mark[]; readonly plan: Plan | undefined }) {
  const known = marks.filter(placed);
  const without = marks.length - known.length;
  const count = (of: (mark: Mark) => boolean): number => marks.filter(of).length;
  const told = `${marks.length} ${marks.length === 1 ? 'unit' : 'units'}: ${count(({ state }) => state === 'TRIPPED')} tripped, ${count(({ silent }) => silent)} silent`;
  return (
    <Section title={site} margin={told}>
      {known.length === 0 ? <Empty title="None of its units has a position."><p>Take it when installing, or type it.</p></Empty> : <Drawing site={site} marks={known} plan={plan} told={told} />}
      {without > 0 && known.length > 0 ? <p>{without} without a position {without === 1 ? 'is' : 'are'} not drawn.</p> : null}
    </Section>
  );
}

const WIDTH = 1000;

function Drawing({ site, marks, plan, told }: { readonly site: string; readonly marks: readonly Mark[]; readonly plan: Plan | undefined; readonly told: string }) {
  const edges = edgesOf(marks, plan);
  const squeeze = Math.cos((((edges.north + edges.south) / 2) * Math.PI) / 180);
  const [wide, high] = [(edges.east - edges.west) * squeeze, edges.north - edges.south];
  const height = Math.max(280, Math.min(1400, (WIDTH * high) / wide));
  const x = (mark: Mark): number => ((Number(mark.longitude) - edges.west) / (edges.east - edges.west)) * WIDTH;
  const y = (mark: Mark): number => ((edges.north - Number(mark.latitude)) / (edges.north - edges.south)) * height;
  const crowded = marks.length > 60;
  return (
    <figure>
      <svg viewBox={`0 0 ${WIDTH} ${height}`} className={styles.map} role="group" aria-label={`Map of ${site}, ${told}`}>
        {plan ? <image href={plan.file.url} x={0} y={0} width={WIDTH} height={height} preserveAspectRatio="none" opacity={0.75} /> : null}
        {marks.map((mark) => (
          <Link key={mark.installationId} to={`/field/${mark.installationId}`} aria-label={`Unit ${mark.unitLabel}, zone ${mark.zone}, ${mark.silent ? 'silent' : mark.state.toLowerCase()}`}>
            <g transform={`translate(${x(mark).toFixed(1)} ${y(mark).toFixed(1)})`} className={styles.mark} data-crowded={crowded || undefined}>
              <Shape mark={mark} />
              {crowded ? null : <text x={20} y={7}>{mark.unitLabel}</text>}
            </g>
          </Link>
        ))}
      </svg>
      <figcaption>North is up; the drawing is {Math.round(wide * METRES_PER_DEGREE)} m wide and {Math.round(high * METRES_PER_DEGREE)} m high.</figcaption>
    </figure>
  );
}

function Shape({ mark }: { readonly mark: Mark }) {
  if (mark.silent) return <rect x={-11} y={-11} width={22} height={22} className={styles.silent} />;
  return mark.state === 'TRIPPED' ? <path d="M0-14 13 10H-13Z" className={styles.tripped} /> : <circle r={11} className={styles.armed} />;
}

const emptyPlan = { site: '', storedFileId: '', northDeg: '', southDeg: '', westDeg: '', eastDeg: '' };

function PlanEntry({ sites, onRecorded }: { readonly sites: readonly string[]; readonly onRecorded: () => void }) {
  const send = usePayload();
  const [open, setOpen] = useState(false);
  const [told, setTold] = useState(false);
  const entry = useEntry({
    initial: emptyPlan,
    send: ({ site, storedFileId, ...edges }, id) => send(RecordSitePlan, {
      input: { id, site: site.trim(), storedFileId, northDeg: decimalText(edges.northDeg), southDeg: decimalText(edges.southDeg), westDeg: decimalText(edges.westDeg), eastDeg: decimalText(edges.eastDeg) },
    }),
    onRecorded: () => {
      setOpen(false);
      setTold(true);
      onRecorded();
    },
  });
  if (!open) return <>{told ? <Notice tone="calm" title="The plan is recorded." /> : null}<Action kind="plain" onClick={() => setOpen(true)}>Record a plan</Action></>;
  return (
    <EntryForm entry={entry} action="Record plan" onCancel={() => setOpen(false)} disabled={entry.values.storedFileId === ''}>
      <TextField {...entry.field('site')} label="Site" hint={sites.length > 0 ? `As at the installations: ${sites.slice(0, 6).join(', ')}` : undefined} />
      <FileField {...entry.field('storedFileId')} label="Picture" purpose="PLAN" accept="image/*" />
      <NumberField {...entry.field('northDeg')} label="Northern edge, degrees" />
      <NumberField {...entry.field('southDeg')} label="Southern edge, degrees" />
      <NumberField {...entry.field('westDeg')} label="Western edge, degrees" />
      <NumberField {...entry.field('eastDeg')} label="Eastern edge, degrees" />
    </EntryForm>
  );
}
