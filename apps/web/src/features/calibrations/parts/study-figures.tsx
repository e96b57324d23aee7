import { formatNumber } from '#libs/quantity';
import { Facts } from '../../../ui/page.js';
import { Rwc, Uncertain } from '../../../ui/quantity.js';
import { Table } from '../../../ui/table.js';
import { Notice } from '../../../ui/words.js';
import { halfWidthText, pText } from './builder.js';
import { parameterWord } from './families.js';
import type { Study } from './builder.js';

type Figures = Study['figures'];

const rows: readonly { readonly name: string; readonly value: (figures: Figures) => string }[] = [
  { name: 'Readings, leaves', value: ({ readings, leaves }) => `${readings} of ${leaves}` },
  { name: 'One new leaf', value: ({ newLeafHalfWidthPoints }) => halfWidthText(newLeafHalfWidthPoints) },
  { name: 'Tolerance', value: ({ toleranceHalfWidthPoints }) => halfWidthText(toleranceHalfWidthPoints) },
  { name: 'Mean line', value: ({ meanHalfWidthPoints }) => halfWidthText(meanHalfWidthPoints) },
  { name: 'If readings were independent', value: ({ naiveHalfWidthPoints }) => halfWidthText(naiveHalfWidthPoints) },
  { name: 'SD between leaves', value: ({ betweenLeavesPoints }) => `${betweenLeavesPoints.toFixed(1)} points` },
  { name: 'SD within a leaf', value: ({ withinLeavesPoints }) => `${withinLeavesPoints.toFixed(1)} points` },
  { name: 'Slope', value: ({ slope }) => formatNumber(slope, 3) },
];

/** What the readings say, above everything else; and the figures with and without what is left out. */
export function StudyFiguresPart({ study }: { readonly study: Study }) {
  const { figures, withAll, atRwc } = study;
  return (
    <>
      <Notice tone="calm" title="What limits the trip point">{study.finding}</Notice>
      <Table caption={`Half-widths and spreads at RWC ${Math.round(1000 * atRwc) / 10} %`} rows={rows} keyOf={({ name }) => name} columns={[
        { head: 'At this RWC', cell: ({ name }) => name },
        { head: withAll ? 'Without what is left out' : 'All readings', number: true, cell: ({ value }) => value(figures) },
        ...(withAll ? [{ head: 'With every reading', number: true, cell: ({ value }: (typeof rows)[number]) => value(withAll) }] : []),
      ]} />
      <Facts rows={[
        withAll ? { name: 'Leaving out moves the RWC read here by', value: `${formatNumber(100 * (atRwc - withAll.rwcAtTarget), 2)} points (with every reading: ${Math.round(1000 * withAll.rwcAtTarget) / 10} %)` } : null,
        { name: 'Weighing and handling, per reading', value: `${study.weighingPoints.toFixed(1)} points` },
        { name: 'Lack of fit', value: study.lackOfFitPValue == null ? `not testable: ${study.lackOfFitReason}` : `p ${pText(study.lackOfFitPValue)}` },
        ...figures.parameters.map(({ name, value, standardError }) => ({ name: parameterWord(name), value: <Uncertain value={value} u={standardError} unit="" /> })),
        { name: 'Figures are told at', value: <Rwc value={atRwc} /> },
      ]} />
    </>
  );
}
