import type { UncertaintyBudget } from './budget.js';

/**
 * A budget as plain text in aligned columns, largest share first, for a terminal, a log or a report: each source with its value, u, distribution,
 * sensitivity, contribution and share of the variance; then what correlations add; then the result.
 *
 * @param output name of the output, with its unit in brackets if it has one
 *
 * @example
 * const budget = propagate({ sources: [normalSource('turgid', 70, 0.3), normalSource('dry', 10, 0.4)], model: ([t, d]) => t - d });
 * budgetTable('water [mg]', budget).split('\n')[1].split(/ {2,}/) // => ['dry', '10', '0.4', 'normal', 'inf', '-1', '-0.4', '64.0 %']
 */
export function budgetTable(output: string, budget: UncertaintyBudget): string {
  const header = ['source', 'value', 'u', 'distribution', 'df', 'sensitivity', 'contribution', 'share'];
  const lines = [...budget.lines]
    .sort((a, b) => b.share - a.share)
    .map((line) => [
      line.name,
      digits(line.value, 8),
      digits(line.standardUncertainty, 3),
      line.distribution,
      degrees(line.degreesOfFreedom),
      digits(line.sensitivity, 5),
      digits(line.contribution, 3),
      percent(line.share),
    ]);
  const ties = budget.correlations.map((tie) => [`${tie.first} with ${tie.second}`, '', '', `r = ${digits(tie.coefficient, 3)}`, '', '', '', percent(tie.share)]);
  const result = [output, digits(budget.value, 8), digits(budget.standardUncertainty, 3), '', degrees(budget.degreesOfFreedom), '', '', '100.0 %'];
  const rows = [header, ...lines, ...ties, result];
  const widths = header.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  const text = rows.map((row) => row.map((cell, column) => cell.padEnd(widths[column]!)).join('  ').trimEnd());
  return [...text, ...budget.notes].join('\n');
}

function digits(value: number, count: number): string {
  return String(Number(value.toPrecision(count)));
}

function degrees(df: number): string {
  return df === Infinity ? 'inf' : digits(df, 3);
}

function percent(share: number): string {
  return `${(100 * share).toFixed(1)} %`;
}
