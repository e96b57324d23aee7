import { writeFileSync } from 'node:fs';
import { measureOthers, measureStrd } from './measure.js';
import { renderTable } from './table.js';

const target = new URL('../../DIGITS.md', import.meta.url);
writeFileSync(target, renderTable(measureStrd(), measureOthers()));
console.log('libs/regression/DIGITS.md written');
