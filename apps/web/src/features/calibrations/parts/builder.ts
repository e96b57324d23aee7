import type { CalibrationCandidatesQuery, CalibrationStudyQuery } from '../../../generated/graphql.js';

export type Candidates = CalibrationCandidatesQuery['calibrationCandidates'];
export type Study = NonNullable<CalibrationStudyQuery['calibrationStudy']['study']>;
export type StudyPoint = Study['points'][number];
export type ReadBackRow = Study['readBack'][number];

type Ends = readonly number[] | null | undefined;

/**
 * RWC and intervals at a transmittance between two that the server computed: they run straight to well under what is shown.
 *
 *     readBackAt([{ transmittance: 0.16, rwc: 1, … }, { transmittance: 0.18, rwc: 0.9, … }], 0.17).rwc   // 0.95
 */
export function readBackAt(rows: readonly ReadBackRow[], transmittance: number): ReadBackRow {
  const next = Math.min(Math.max(rows.findIndex((row) => row.transmittance >= transmittance), 1), rows.length - 1);
  const [before, after] = [rows[next - 1]!, rows[next]!];
  const share = Math.min(Math.max((transmittance - before.transmittance) / (after.transmittance - before.transmittance), 0), 1);
  const between = (a: number, b: number): number => a + (b - a) * share;
  const ends = (a: Ends, b: Ends): number[] | null => (a && b ? [between(a[0]!, b[0]!), between(a[1]!, b[1]!)] : null);
  return {
    transmittance: between(before.transmittance, after.transmittance), rwc: between(before.rwc, after.rwc),
    mean: ends(before.mean, after.mean), newLeaf: ends(before.newLeaf, after.newLeaf), tolerance: ends(before.tolerance, after.tolerance),
  };
}

/** "± 4.2 points" */
export const halfWidthText = (points: number): string => `± ${points.toFixed(points < 10 ? 1 : 0)} points`;

export const pText = (p: number): string => (p < 0.001 ? 'under 0.001' : p.toFixed(3));
