import type { OtherRow } from './digits.js';
import type { StrdRow } from './measure.js';

const shown = (digits: number) => digits.toFixed(1);

/** Why a problem falls short of eight digits; a problem without a reason here must reach them. */
export const reasons: Readonly<Record<string, string>> = {
  Lanczos1:
    'its residuals (SD 8.9e-14) are only 200 times the rounding of its own data to float64 (values near 2.5, rounding 2.2e-16), so no float64 program can know them to more than about three digits',
};

export function renderTable(strd: readonly StrdRow[], others: readonly OtherRow[]): string {
  const strdLines = strd.map(
    (row) =>
      `| ${row.problem} | ${row.start} | ${row.given} | ${shown(row.parameters)} | ${shown(row.standardErrors)} | ${shown(row.residualSd)} |`,
  );
  const otherLines = others.map((row) => `| ${row.problem} | ${shown(row.digits)} | ${row.source} |`);
  const reasonLines = Object.entries(reasons).map(([problem, reason]) => `- **${problem}**: ${reason}.`);
  return [
    '# Digits reached',
    '',
    'Written by `npm run digits`; a test fails when a figure here is no longer reached, or when a row is missing. Do not edit by hand.',
    '',
    'Matching digits are −log₁₀ of the relative error, the least of all values of a kind, floored to a tenth and capped at the digits the source gives. Against a certified zero they are −log₁₀ of the value.',
    '',
    '## NIST Statistical Reference Datasets',
    '',
    'Source: https://www.itl.nist.gov/div898/strd/, linear and nonlinear regression, every nonlinear problem from both of its starts, derivatives by automatic differentiation.',
    '',
    '| problem | start | digits given | parameters | standard errors | residual SD |',
    '|---|---|---|---|---|---|',
    ...strdLines,
    '',
    'Fewer than eight digits:',
    '',
    ...reasonLines,
    '',
    '## Errors in both variables, inverse prediction, leaf effects and pooling',
    '',
    'The digits are against the same problem recomputed at 40 digits (errors in both variables: the script stands beside the fixture) or in two independent programs (intervals); leaf effects and pooling against exact formulas or the program named, whose own convergence limits the digits (lme4: about eight of a variance). The figures the sources print, with fewer digits, are checked in the tests to the last digit printed.',
    '',
    '| problem | digits | source |',
    '|---|---|---|',
    ...otherLines,
    '',
  ].join('\n');
}

/** The figures of a table, by row: what a later run must still reach. */
export function figuresOf(table: string): Map<string, number[]> {
  const rows = table.split('\n').filter((line) => /^\| .* \|$/.test(line) && !line.startsWith('| problem'));
  return new Map(
    rows.map((line) => {
      const cells = line.split('|').map((cell) => cell.trim());
      const figures = cells.filter((cell) => /^\d+\.\d$/.test(cell)).map(Number);
      const key = cells.filter((cell) => cell !== '' && !/^\d+\.\d$/.test(cell)).join(' | ');
      return [key, figures];
    }),
  );
}
