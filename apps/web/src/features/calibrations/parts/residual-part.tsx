import { lazy, Suspense, useMemo, useState } from 'react';
import { SegmentField } from '../../../ui/fields.js';
import { Table } from '../../../ui/table.js';
import { Rwc } from '../../../ui/quantity.js';
import { Waiting } from '../../../ui/words.js';
import { pText } from './builder.js';
import type { Study, StudyPoint } from './builder.js';

const ResidualsByPlot = lazy(async () => ({ default: (await import('../../../plots/study-plots.js')).ResidualsByPlot }));

const ways = {
  leaf: { label: 'By leaf', of: (point: StudyPoint) => point.leaf },
  day: { label: 'By day', of: (point: StudyPoint) => point.day },
  operator: { label: 'By operator', of: (point: StudyPoint) => point.operator },
  order: { label: 'In order of reading', of: (point: StudyPoint) => point.order },
} as const;
type Way = keyof typeof ways;

const FLAGGED_MOST = 20;

/** Residuals around the mean line by what may lie behind them, and the readings that ask for a look. */
export function ResidualPart({ study }: { readonly study: Study }) {
  const [way, setWay] = useState<Way>('leaf');
  const { label, of } = ways[way];
  const rows = useMemo(() => study.points.flatMap((point) => (point.around == null ? [] : [{ group: of(point), residual: way === 'leaf' ? point.around : (point.within ?? 0) }])), [study.points, of, way]);
  const flagged = study.points.filter(({ flags }) => flags.length > 0);
  const test = study.residualsBy.find(({ by }) => by === way);
  return (
    <>
      <SegmentField name="residuals" label="Residuals" value={way} onChange={(value) => setWay(value as Way)} problem={null} unmarked wide choices={Object.entries(ways).map(([value, each]) => ({ value, label: each.label }))} />
      <p>
        {way === 'leaf' ? 'Around the mean line: how leaves differ shows here. ' : 'Once each leaf’s own effect is off: what is left within leaves. '}
        {test ? (test.pValue == null ? '' : `Groups differ by more than scatter with p ${pText(test.pValue)} (all readings around the mean line).`) : study.durbinWatson == null ? '' : `Durbin-Watson ${study.durbinWatson.toFixed(2)} (near 2 without drift), trend p ${study.orderPValue == null ? '–' : pText(study.orderPValue)}.`}
      </p>
      <Suspense fallback={<Waiting what="the drawing" />}><ResidualsByPlot label={`Residuals, ${label.toLowerCase()}`} by={way === 'order' ? 'order of reading' : way} rows={rows} /></Suspense>
      {flagged.length === 0 ? <p>No reading stands out by the rules for outliers, influence and leverage.</p> : (
        <Table caption={`Readings that ask for a look${flagged.length > FLAGGED_MOST ? `, the first ${FLAGGED_MOST} of ${flagged.length}` : ''}: none is left out by a rule`} rows={flagged.slice(0, FLAGGED_MOST)} keyOf={({ meterReadingId }) => meterReadingId} columns={[
          { head: 'Leaf', cell: ({ leaf }) => leaf },
          { head: 'RWC', number: true, cell: ({ rwc, uRwc }) => <Rwc value={rwc} u={uRwc} /> },
          { head: 'Residual, RWC points', number: true, cell: ({ around }) => (around ?? 0).toFixed(1) },
          { head: 'Cook’s distance', number: true, cell: ({ cooksDistance }) => (cooksDistance == null ? '–' : cooksDistance.toFixed(3)) },
          { head: 'Why', cell: ({ flags }) => flags.join(', ').replaceAll('-', ' ') },
        ]} />
      )}
    </>
  );
}
