import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import type { AcrossCropsQuery } from '../../../generated/graphql.js';
import { Facts, Section } from '../../../ui/page.js';
import { Uncertain } from '../../../ui/quantity.js';
import { Table } from '../../../ui/table.js';
import { Failed, Waiting } from '../../../ui/words.js';
import { AcrossCrops } from '../documents.js';

type Crop = AcrossCropsQuery['acrossCrops']['crops'][number];
type Summary = AcrossCropsQuery['acrossCrops']['slope'];

const AT_RWC = 0.8;

const text = (value: number, places: number): string => value.toFixed(places).replace('-', '−');

const next = (summary: Summary, places: number): string =>
  (summary?.nextLow == null || summary.nextHigh == null ? 'Two crops are too few to say' : `${text(summary.nextLow, places)} to ${text(summary.nextHigh, places)} (95 %)`);
const mean = (summary: NonNullable<Summary>, places: number): string => `${text(summary.mean, places)} (95 %: ${text(summary.low, places)} to ${text(summary.high, places)})`;

/** What crops have in common, and what that says of a crop nobody has measured yet. */
export function NextCropSection() {
  const { data, error, refetch } = useQuery(AcrossCrops, { variables: { atRwc: AT_RWC } });
  if (!data) return <Section title="The next crop">{error ? <Failed what="the summary over crops" again={() => void refetch()} /> : <Waiting what="the summary over crops" />}</Section>;
  const { crops, slope, transmittance } = data.acrossCrops;
  return (
    <Section title="The next crop" lead="Of each crop one log-linear calibration, the newest approved one or, while there is none, the newest; adjusted versions, which borrow another crop’s leaves, are left aside. How much crops differ says where a crop that nobody measured may lie.">
      {!slope || !transmittance ? <p>{crops.length === 0 ? 'No crop has a log-linear calibration of three leaves yet.' : `Only ${crops[0]!.crop.name} has a calibration: it takes two crops to compare, and three to say where the next may lie.`}</p> : (
        <>
          <Facts rows={[
            { name: 'Next crop, slope of ln T', value: next(slope, 2) },
            { name: `Next crop, transmittance at RWC ${100 * AT_RWC} %`, value: next(transmittance, 3) },
            { name: 'Mean over crops, slope', value: mean(slope, 2) },
            { name: `Mean over crops, transmittance at RWC ${100 * AT_RWC} %`, value: mean(transmittance, 3) },
            { name: 'Crops differ in slope by, SD', value: `${text(slope.tau, 3)}; ${Math.round(100 * slope.iSquared)} % of what estimates scatter by lies between crops` },
          ]} />
          <Table caption="Crops that it rests on" rows={crops} keyOf={({ version }) => version.id} columns={[
            { head: 'Crop', cell: ({ crop }: Crop) => crop.name },
            { head: 'Calibration', cell: ({ version, label }: Crop) => <Link to={`/calibrations/version/${version.id}`}>{label}</Link> },
            { head: 'Slope of ln T', number: true, cell: ({ slope: value, slopeStandardError }: Crop) => <Uncertain value={value} u={slopeStandardError} unit="" /> },
            { head: `Transmittance at ${100 * AT_RWC} %`, number: true, cell: ({ transmittance: value, lnStandardError }: Crop) => <Uncertain value={value} u={value * lnStandardError} unit="" /> },
            { head: 'Weight', number: true, cell: ({ weight }: Crop) => `${Math.round(100 * weight)} %` },
          ]} />
          <p>With fewer than five crops, how much crops differ is hardly known: the range for the next crop is wide, and rightly so.</p>
        </>
      )}
    </Section>
  );
}
