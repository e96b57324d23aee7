import { lazy, Suspense } from 'react';
import { Link } from 'react-router';
import { formatNumber } from '#libs/quantity';
import { Facts, Section } from '../../../ui/page.js';
import { recordPath } from '../../../ui/paths.js';
import { Rwc } from '../../../ui/quantity.js';
import { Table } from '../../../ui/table.js';
import { Waiting } from '../../../ui/words.js';
import type { TransferStudySeen } from './seen.js';

const ExpectedPlot = lazy(async () => ({ default: (await import('../../../plots/transfer-plots.js')).ExpectedPlot }));

type Thickness = NonNullable<TransferStudySeen['thickness']>;
type At = Thickness['curve'][number];
type Disc = Thickness['discs'][number];

const EVERY = 8;

/** The curve to expect of a crop that was not put in the light. */
export function ThicknessFindings({ study, thickness }: { readonly study: TransferStudySeen; readonly thickness: Thickness }) {
  const outside = thickness.curve.some(({ extrapolated }) => extrapolated);
  return (
    <>
      <Section title="What to expect" lead="No light was put through this crop. The curve plans how many leaves to measure and warns where a calibration will not serve; no device may rest on it.">
        <Suspense fallback={<Waiting what="the drawing" />}><ExpectedPlot label={`Expected transmittance of ${study.crop.name} against RWC`} curve={thickness.curve} /></Suspense>
        <Facts rows={[
          { name: 'Water thickness at full turgor', value: `${formatNumber(thickness.ewtTurgidUm, 0)} ± ${formatNumber(thickness.uEwtTurgidUm, 0)} µm (mean of ${thickness.leafCount} leaves, standard uncertainty)` },
          { name: 'Leaves differ by, SD', value: `${formatNumber(thickness.betweenLeavesUm, 0)} µm` },
          { name: 'Water thickness that the calibration saw', value: `${formatNumber(thickness.givenEwtFromUm, 0)} to ${formatNumber(thickness.givenEwtToUm, 0)} µm${outside ? '; part of the expected curve lies outside' : ''}` },
          { name: 'Crops of one water thickness differ by', value: `${thickness.structureSd} (SD of ln T, as stated)` },
        ]} />
        <Table caption="Expected transmittance along RWC" rows={thickness.curve.filter((_, i) => i % EVERY === 0)} keyOf={({ rwc }) => String(rwc)} columns={[
          { head: 'RWC', cell: ({ rwc }: At) => <Rwc value={rwc} /> },
          { head: 'Water thickness, µm', number: true, cell: ({ ewtUm }: At) => formatNumber(ewtUm, 0) },
          { head: 'Transmittance', number: true, cell: ({ transmittance }: At) => formatNumber(transmittance, 3) },
          { head: 'Average leaf, 95 %', number: true, cell: ({ meanLow, meanHigh }: At) => `${formatNumber(meanLow, 3)} to ${formatNumber(meanHigh, 3)}` },
          { head: 'One new leaf, RWC points', number: true, cell: ({ newLeafHalfWidthPoints }: At) => `± ${formatNumber(newLeafHalfWidthPoints, 0)}` },
          { head: 'Seen by the calibration', cell: ({ extrapolated }: At) => (extrapolated ? 'no' : 'yes') },
        ]} />
      </Section>
      <Section title="Discs weighed">
        <Table caption="Turgid mass, dry mass and area" rows={thickness.discs} keyOf={({ disc }) => disc.id} columns={[
          { head: 'Disc', cell: ({ disc }: Disc) => <Link to={recordPath('disc', disc.id)}>{disc.label}</Link> },
          { head: 'Leaf', cell: ({ leaf }: Disc) => <Link to={recordPath('leaf', leaf.id)}>{leaf.label}</Link> },
          { head: 'Turgid, mg', number: true, cell: ({ turgidMassMg }: Disc) => formatNumber(turgidMassMg, 2) },
          { head: 'Dry, mg', number: true, cell: ({ dryMassMg }: Disc) => formatNumber(dryMassMg, 2) },
          { head: 'Area, cm²', number: true, cell: ({ areaCm2 }: Disc) => formatNumber(areaCm2, 3) },
        ]} />
      </Section>
    </>
  );
}
