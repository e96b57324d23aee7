import { Facts } from '../../../ui/page.js';
import { Table } from '../../../ui/table.js';
import { halfWidthText } from './builder.js';
import type { Study } from './builder.js';

interface Row {
  readonly step: number;
  readonly leaves: number | null;
  readonly readings: number | null;
}

const percent = (share: number): string => `${Math.round(100 * share)} %`;

/** More leaves against more readings of each leaf, and the plan for a wish. */
export function AdvicePart({ advice }: { readonly advice: Study['advice'] }) {
  const rows = advice.moreLeaves.map((effort, i): Row => ({ step: effort.extraLeaves, leaves: effort.halfWidthPoints, readings: advice.moreReadings[i]?.halfWidthPoints ?? null }));
  const { floorPoints, byLeaves, byReadings } = advice;
  return (
    <>
      <p>{advice.sentence}</p>
      <Facts rows={[
        { name: 'Of the variance for a new leaf', value: `${percent(advice.betweenLeavesShare)} between leaves, ${percent(advice.readingShare)} one reading’s scatter, ${percent(advice.meanLineShare)} the mean line` },
        floorPoints == null ? null : { name: 'What no number of leaves removes', value: halfWidthText(floorPoints) },
        floorPoints == null ? null : { name: 'Plan by leaves', value: byLeaves ? (byLeaves.extraLeaves === 0 ? 'reached already' : `${byLeaves.extraLeaves} more leaves`) : 'cannot reach it' },
        floorPoints == null ? null : { name: 'Plan by readings', value: byReadings ? (byReadings.extraReadingsPerLeaf === 0 ? 'reached already' : `${byReadings.extraReadingsPerLeaf} more readings on each leaf`) : 'cannot reach it' },
      ]} />
      <Table caption="Half-width for one new leaf to expect" rows={rows} keyOf={({ step }) => String(step)} columns={[
        { head: 'So many more', cell: ({ step }) => step },
        { head: 'leaves', number: true, cell: ({ leaves }) => (leaves === null ? '–' : halfWidthText(leaves)) },
        { head: 'readings on each leaf', number: true, cell: ({ readings }) => (readings === null ? '–' : halfWidthText(readings)) },
      ]} />
    </>
  );
}
