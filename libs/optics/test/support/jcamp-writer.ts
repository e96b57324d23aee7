/** Writes (X++(Y..Y)) tables in every ordinate form: for the tests only, to check the reader by round trip. */
export type WrittenForm = 'AFFN' | 'PAC' | 'SQZ' | 'SQZDUP' | 'DIF' | 'DIFDUP';

export interface WrittenTable {
  readonly form: WrittenForm;
  readonly ordinates: readonly number[];
  readonly perLine: number;
  readonly firstX: number;
  readonly lastX: number;
  readonly xFactor: number;
  readonly yFactor: number;
  /** DIF only: close with a line that carries nothing but the last y-check, as the standard asks */
  readonly closingCheck: boolean;
}

const letters = { SQZ: ['@ABCDEFGHI', 'abcdefghi'], DIF: ['%JKLMNOPQR', 'jklmnopqr'], DUP: ['STUVWXYZs'] } as const;

function lettered(kind: 'SQZ' | 'DIF', value: number): string {
  const digits = Math.abs(value).toString();
  const lead = Number(digits[0]);
  return (value < 0 ? letters[kind][1][lead - 1]! : letters[kind][0][lead]!) + digits.slice(1);
}

function repeatCount(count: number): string {
  const digits = count.toString();
  return letters.DUP[0][Number(digits[0]) - 1]! + digits.slice(1);
}

/** Collapses runs of equal tokens from `from` on: one token and its count. */
function withDup(tokens: readonly string[], from: number): string {
  let text = tokens.slice(0, from).join('');
  for (let i = from; i < tokens.length; ) {
    let run = 1;
    while (tokens[i + run] === tokens[i]) run += 1;
    text += tokens[i]! + (run > 1 ? repeatCount(run) : '');
    i += run;
  }
  return text;
}

export function dataLines(table: WrittenTable): string[] {
  const { ordinates, perLine, firstX, lastX, xFactor, form } = table;
  const step = ordinates.length > 1 ? (lastX - firstX) / (ordinates.length - 1) : 0;
  const x = (i: number) => ((firstX + i * step) / xFactor).toFixed(4);
  const difference = form.startsWith('DIF');
  const lines: string[] = [];
  // Only a line that ended in a difference is checked by the next: a lone first ordinate is none.
  let owesCheck = false;
  for (let start = 0; start < ordinates.length; start += perLine) {
    const values = ordinates.slice(start, start + perLine);
    if (!difference) {
      const plain = values.map((value) => (form === 'AFFN' ? ` ${value}` : form === 'PAC' ? (value < 0 ? `${value}` : `+${value}`) : lettered('SQZ', value)));
      lines.push(x(start) + (form === 'SQZDUP' ? withDup(plain, 0) : plain.join('')));
      continue;
    }
    // A DIF line begins with the y-check of the line before, at that ordinate's abscissa.
    const first: number = owesCheck ? start - 1 : start;
    const tokens: string[] = [lettered('SQZ', ordinates[first]!)];
    for (let i = first + 1; i < start + values.length; i += 1) tokens.push(lettered('DIF', ordinates[i]! - ordinates[i - 1]!));
    owesCheck = tokens.length > 1;
    lines.push(x(first) + (form === 'DIFDUP' ? withDup(tokens, 1) : tokens.join('')));
  }
  const last = ordinates.length - 1;
  if (owesCheck && table.closingCheck) lines.push(x(last) + lettered('SQZ', ordinates[last]!));
  return lines;
}

export function writeJcamp(table: WrittenTable, lines = dataLines(table)): string {
  return [
    '##TITLE= written by a test', '##JCAMP-DX= 4.24', '##DATA TYPE= INFRARED SPECTRUM', '##XUNITS= NANOMETERS', '##YUNITS= TRANSMITTANCE',
    `##FIRSTX= ${table.firstX}`, `##LASTX= ${table.lastX}`, `##NPOINTS= ${table.ordinates.length}`, `##FIRSTY= ${table.ordinates[0]! * table.yFactor}`,
    `##XFACTOR= ${table.xFactor}`, `##YFACTOR= ${table.yFactor}`, '##XYDATA= (X++(Y..Y))', ...lines, '##END=', '',
  ].join('\n');
}
