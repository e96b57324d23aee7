import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo } from 'react';
import { Link, useParams } from 'react-router';
import { formatNumber } from '#libs/quantity';
import type { RigPageQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { CheckMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Caution, Empty, Failed, Waiting } from '../../../ui/words.js';
import { RigPage } from '../documents.js';
import { lampChart } from './lamp.js';

type Rig = NonNullable<RigPageQuery['rig']>;

const ControlPlot = lazy(async () => ({ default: (await import('../../../plots/control-plot.js')).ControlPlot }));
const concerns = ofKind('rig', 'meter_reading', 'amendment');

/** One version of a rig: what it is, and how its lamp and dark have behaved from run to run. */
export function RigScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(RigPage, { variables: { id } });
  useLive(() => refetch(), concerns);
  const back = <Back to="/instruments">Instruments</Back>;
  if (!data) return <Page title="Rig" margin={back}><Strip>{error ? <Failed what="this rig" again={() => void refetch()} /> : <Waiting what="the rig" />}</Strip></Page>;
  if (!data.rig) return <Page title="Rig" margin={back}><Strip><Empty title="No rig of this lab has this address." /></Strip></Page>;
  const { rig } = data;
  return (
    <Page title={`${rig.label}, version ${rig.version}`} margin={back} actions={<ActionLink to={threadPath('rig', rig.id, 'up')}>What it touched: thread up</ActionLink>}>
      <Strip>
        <Facts rows={[
          { name: 'Source', value: rig.source },
          { name: 'Filter band', value: `${rig.bandCentreNm} nm, ${rig.bandWidthNm} nm wide` },
          { name: 'Diffuser', value: rig.diffuser ?? 'not told' },
          { name: 'Aperture', value: rig.apertureMm ? `${rig.apertureMm} mm` : 'not told' },
          { name: 'Meter', value: <><Link to={`/instruments/${rig.meter.id}`}>{rig.meter.label}</Link> <CheckMark status={rig.meter.checkStatus} /></> },
          { name: 'Registered', value: <><Moment at={rig.recordedAt} /> by {rig.recordedBy.displayName}</> },
        ]} />
      </Strip>
      <Chart rig={rig} lightPath="REFERENCE" title="Lamp" lead="Power through the diffuser, the mean of each run. A run outside the limits is worth a look at lamp, filter and alignment." />
      <Chart rig={rig} lightPath="DARK" title="Dark" lead="Power with the light shut, the mean of each run: stray light and the zero of the meter." />
      <Strip><Caution title="Lamp.">Let it cool before you change it or open its housing; most of its light cannot be seen, do not look into the beam.</Caution></Strip>
    </Page>
  );
}

interface ChartProps {
  readonly rig: Rig;
  readonly lightPath: 'REFERENCE' | 'DARK';
  readonly title: string;
  readonly lead: string;
}

function Chart({ rig, lightPath, title, lead }: ChartProps) {
  const { points, limits } = useMemo(() => lampChart(rig.lampReadings, lightPath), [rig.lampReadings, lightPath]);
  const outside = points.filter((point) => point.outside).map(({ label }) => label);
  const newest = points.at(-1);
  return (
    <Section title={title} lead={lead}>
      {!newest ? <Empty title="No run on this version has one yet." /> : !limits ? <Empty title={`${points.length} of 3 runs that limits need.`}>The newest, {newest.label}: {formatNumber(newest.value, 1)} nW.</Empty> : (
        <>
          <p>{outside.length === 0 ? 'All runs lie within the limits' : `Outside the limits: ${outside.join(', ')}`}; mean {formatNumber(limits.centre, 1)} nW, limits {formatNumber(limits.low, 1)} to {formatNumber(limits.high, 1)} nW, newest {newest.label} {formatNumber(newest.value, 1)} nW.</p>
          <Suspense fallback={<Waiting what="the drawing" />}>
            <ControlPlot label={`${title} of ${rig.label} from run to run`} quantity="power, nW" order="run, in order of time" points={points} {...limits} />
          </Suspense>
        </>
      )}
    </Section>
  );
}
