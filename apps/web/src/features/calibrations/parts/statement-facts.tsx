import { formatNumber } from '#libs/quantity';
import type { StatementFieldsFragment } from '../../../generated/graphql.js';
import { Facts } from '../../../ui/page.js';
import { rwcInterval, Uncertain } from '../../../ui/quantity.js';
import { Moment } from '../../../ui/time.js';
import { Flags } from '../../../ui/words.js';
import { Credits } from './credits.js';
import { families, parameterWord } from './families.js';

const points = (value: number | null | undefined): string => (value == null ? 'not known' : `± ${formatNumber(value, value < 10 ? 1 : 0)} RWC points`);
const listed = (values: readonly string[], all: string): string => (values.length === 0 ? all : values.join(', '));
const signed = { AUTHORED: 'authored', REVIEWED: 'reviewed', APPROVED: 'approved', WITHDRAWN: 'withdrawn' } as const;

/** How far a version of another lab holds, and what it was made with, as that lab states it. */
export function StatementFacts({ statement }: { readonly statement: StatementFieldsFragment }) {
  const { validation, scope, family } = statement;
  return (
    <>
      <Facts rows={[
        { name: 'One new leaf, 95 %, mid-range', value: points(validation.newLeafHalfWidthPoints) },
        { name: 'Mean line, 95 %, mid-range', value: points(validation.meanHalfWidthPoints) },
        { name: 'A leaf read by all others (RMSE)', value: validation.leaveOneLeafOutPoints == null ? 'not known' : `${formatNumber(validation.leaveOneLeafOutPoints, 1)} RWC points` },
        { name: 'SD between leaves', value: statement.betweenLeafSdRwc == null ? 'not known: under three leaves' : `${formatNumber(100 * statement.betweenLeafSdRwc, 1)} RWC points` },
        { name: 'Readings', value: `${statement.readingCount} of ${statement.leafCount} leaves, ${statement.leftOutCount} left out` },
        { name: 'RWC', value: rwcInterval(statement.rwcMin, statement.rwcMax) },
        ...statement.parameters.map(({ name, value, standardError }) => ({ name: `${parameterWord(name)}, of ${families[family].formula}`, value: <Uncertain value={value} u={standardError} unit="" /> })),
        { name: 'Rig', value: statement.rigText },
        { name: 'Band', value: `${Number(statement.bandCentreNm)} nm, ${Number(statement.bandWidthNm)} nm wide` },
        { name: 'Scope', value: scope ? [
          `RWC ${rwcInterval(scope.rwcMin, scope.rwcMax)}`, `cultivars ${listed(scope.cultivars, 'all')}`, `stages ${listed(scope.growthStages, 'all')}`,
          scope.leafSide === 'ADAXIAL_UP' ? 'upper side up' : scope.leafSide === 'ABAXIAL_UP' ? 'lower side up' : 'either side up', scope.note,
        ].filter(Boolean).join('; ') : 'none stated' },
        scope?.validUntil ? { name: 'Valid until', value: <Moment at={scope.validUntil} /> } : null,
        statement.adjustedFrom ? { name: 'Adjusted from', value: statement.adjustedFrom } : null,
        statement.refitOf ? { name: 'Refitted from', value: statement.refitOf } : null,
        statement.credits.length > 0 ? { name: 'Rests on, on terms that hold for you too', value: <Credits credits={statement.credits} /> } : null,
        { name: 'Fitted', value: <><Moment at={statement.fittedAt} />, code <code>{statement.codeVersion}</code></> },
        { name: 'Signatures', value: <>{statement.signatures.map(({ meaning, by, at }) => <div key={`${meaning} ${at}`}>{signed[meaning]} by {by}, <Moment at={at} /></div>)}</> },
        { name: 'Content of the version, SHA-256', value: <code>{statement.versionContentHash}</code> },
      ]} />
      <Flags flags={statement.remarks} />
    </>
  );
}
