import { readFileSync } from 'node:fs';
import { measureOthers, measureStrd } from './measure.js';
import { figuresOf, reasons, renderTable } from './table.js';

const committed = readFileSync(new URL('../../DIGITS.md', import.meta.url), 'utf8');

/** Another processor or engine may round an exp or a log otherwise: this much of a digit is no regression. */
const SLACK = 0.3;

/** Beyond 13 digits the order of additions shows; nothing is lost by it. */
const LAST_BITS = 13;

describe('digits against published references', () => {
  const strd = measureStrd();
  const others = measureOthers();

  test('all 11 linear and 27 nonlinear NIST problems are there, the nonlinear from both starts', () => {
    expect(strd.filter((row) => row.start === 'direct')).toHaveLength(11);
    expect(strd.filter((row) => row.start === '1')).toHaveLength(27);
    expect(strd.filter((row) => row.start === '2')).toHaveLength(27);
    expect(strd.filter((row) => !row.converged)).toEqual([]);
  });

  test.each(strd.map((row) => [`${row.problem}, start ${row.start}`, row] as const))('%s reaches eight digits, or says why not', (_, row) => {
    expect(row.parameters).toBeGreaterThanOrEqual(8);
    if (row.problem in reasons) return;
    expect(row.standardErrors).toBeGreaterThanOrEqual(8);
    expect(row.residualSd).toBeGreaterThanOrEqual(8);
  });

  test('the committed table has the same rows and wording, and none of its figures is missed', () => {
    const current = renderTable(strd, others);
    const withoutFigures = (table: string) => table.replace(/\| \d+\.\d(?= \|)/g, '| #');
    expect(withoutFigures(current)).toBe(withoutFigures(committed));
    const now = figuresOf(current);
    for (const [row, figures] of figuresOf(committed)) {
      figures.forEach((figure, i) => {
        expect({ row, figure: now.get(row)![i]! >= Math.min(figure - SLACK, LAST_BITS) ? figure : now.get(row)![i] }).toEqual({ row, figure });
      });
    }
    expect(now.size).toBe(strd.length + others.length);
  });
});
