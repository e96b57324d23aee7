import { useQuery } from '@apollo/client/react';
import { lazy, Suspense } from 'react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { DiscPageQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { Rwc, Uncertain } from '../../../ui/quantity.js';
import { StaleMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Flags, Waiting } from '../../../ui/words.js';
import { WeighingList } from '../../../ui/weighing.js';
import { DiscPage } from '../documents.js';
import { CustodySection } from './custody-list.js';
import { AmendDescription, Code, Corrections, LossNotice, sideWord, Where } from './description.js';
import { ComputeSeries } from './compute-series.js';

type Disc = NonNullable<DiscPageQuery['disc']>;
type Series = NonNullable<Disc['rwcSeries']>;

const RwcSeriesPlot = lazy(async () => ({ default: (await import('../../../plots/rwc-series-plot.js')).RwcSeriesPlot }));

const concerns = ofKind('weighing', 'amendment', 'rwc_series', 'custody', 'sample_loss', 'sample_amendment');

/** One disc: where it comes from, every weighing with its raw line, and the RWC they give. */
export function DiscScreen() {
  const { id = '' } = useParams();
  const mayAmend = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(DiscPage, { variables: { id } });
  useLive(() => refetch(), concerns);
  const back = <Back to="/samples">Samples</Back>;
  if (!data) return <Page title="Disc" margin={back}><Strip>{error ? <Failed what="this disc" again={() => void refetch()} /> : <Waiting what="the disc" />}</Strip></Page>;
  const { disc } = data;
  if (!disc) return <Page title="Disc" margin={back}><Strip><Empty title="No disc of this lab has this address." /></Strip></Page>;
  const { leaf, rwcSeries: series } = disc;
  const rwcOf = new Map(series?.points.map((point) => [point.weighingId, point]) ?? []);
  return (
    <Page title={`Disc ${disc.label}`} margin={back} lead={<>{leaf.plant.crop.name}, plant {leaf.plant.label}, <Link to={`/samples/leaf/${leaf.id}`}>leaf {leaf.label}</Link></>}
      actions={<><ActionLink to={threadPath('disc', disc.id, 'up')}>Thread up</ActionLink><ActionLink to={`/samples/labels?kind=DISC&ids=${disc.id}`}>Print label</ActionLink></>}>
      <Strip>
        <LossNotice what={`Disc ${disc.label}`} loss={disc.loss} mayRetract={mayAmend} onFound={() => void refetch()} />
        <Facts rows={[
          { name: 'Code', value: <Code>{disc.code}</Code> },
          { name: 'Punch', value: disc.diameterMm ? `${disc.diameterMm} mm` : 'whole leaf' },
          { name: 'Position on the leaf', value: disc.position ?? 'not told' },
          { name: 'Side up', value: sideWord(disc.leafSide) },
          { name: 'Where', value: <Where custody={disc.custody} /> },
          { name: 'Cultivar', value: leaf.plant.cultivar ?? 'not told' },
          { name: 'Treatment', value: leaf.plant.treatment ?? 'not told' },
          { name: 'Growth stage', value: leaf.growthStage ?? 'not told' },
          { name: 'Recorded', value: <><Moment at={disc.recordedAt} /> by {disc.recordedBy.displayName}</> },
        ]} />
        {mayAmend ? <div><AmendDescription kind="DISC" id={disc.id} label={`disc ${disc.label}`} standing={{ position: disc.position, leafSide: disc.leafSide, diameterMm: disc.diameterMm }} onAmended={() => void refetch()} /></div> : null}
        <Corrections amendments={disc.amendments} />
      </Strip>
      <Section title="RWC series" margin={series?.stale ? <StaleMark /> : null} actions={<ComputeSeries discId={disc.id} again={series !== null} onComputed={() => void refetch()} />}>
        {series ? <SeriesPart disc={disc} series={series} /> : <Empty title="No RWC yet.">It needs a turgid and a dry mass, and one weighing between them.</Empty>}
      </Section>
      <Section title="Weighings" margin={`${disc.weighings.length} in all`} lead="In order of time, each with the line it came from.">
        {disc.weighings.length === 0 ? <Empty title="This disc has not been weighed yet."><Link to="/bench">Weigh it on the Bench</Link></Empty> : (
          <WeighingList label={`Weighings of disc ${disc.label}`} weighings={disc.weighings} onAmended={mayAmend ? () => void refetch() : undefined}
            beside={({ id: weighingId }) => {
              const point = rwcOf.get(weighingId);
              return point ? <span>RWC <Rwc value={point.rwc} u={point.u} /></span> : null;
            }} />
        )}
      </Section>
      <CustodySection subject={{ kind: 'disc', id: disc.id, label: disc.label }} gone={disc.loss !== null} onChanged={() => void refetch()} />
    </Page>
  );
}

function SeriesPart({ disc, series }: { readonly disc: Disc; readonly series: Series }) {
  return (
    <>
      <Flags flags={series.flags} />
      <Facts rows={[
        { name: 'Turgid mass', value: <Uncertain value={series.turgidMassMg} u={series.uTurgidMassMg} unit="mg" /> },
        { name: 'Dry mass', value: <Uncertain value={series.dryMassMg} u={series.uDryMassMg} unit="mg" /> },
        { name: 'Computed', value: <Moment at={series.recordedAt} /> },
        { name: 'Code version', value: series.codeVersion },
        { name: 'What it rests on', value: <Link to={threadPath('rwc_series', series.id, 'down')}>Thread down</Link> },
      ]} />
      {series.points.length > 1 ? <Suspense fallback={<Waiting what="the drawing" />}><RwcSeriesPlot disc={disc.label} points={series.points} /></Suspense> : null}
    </>
  );
}
