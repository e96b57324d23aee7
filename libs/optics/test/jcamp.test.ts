import fc from 'fast-check';
import { InputError } from '#libs/quantity';
import { decodeOrdinateLine, jcampSpectrum, OrdinateForm, readJcamp } from '../src/index.js';
import { dataLines, writeJcamp, WrittenForm, WrittenTable } from './support/jcamp-writer.js';

const refusal = (text: string): string => {
  try {
    readJcamp(text);
  } catch (error) {
    if (error instanceof InputError) return `${error.code} ${error.field}`;
    throw error;
  }
  return 'READ';
};

describe('one line of ordinates', () => {
  const decode = (text: string) => {
    const seen = new Set<OrdinateForm>();
    return { ordinates: decodeOrdinateLine(text, 1, seen).ordinates, forms: [...seen].sort().join(' ') };
  };

  // McDonald & Wilks, Appl. Spectrosc. 42 (1988) 151, table of forms: 1 2 3 3 2 1 0 -1 -2 -3 in each (strings from memory).
  it.each([
    ['AFFN', '0 1 2 3 3 2 1 0 -1 -2 -3'],
    ['PAC', '0+1+2+3+3+2+1+0-1-2-3'],
    ['SQZ', '0ABCCBA@abc'],
    ['DIF SQZ', '0AJJ%jjjjjj'],
    ['DIF DUP SQZ', '0AJT%jX'],
  ])('in %s form: %s', (forms, text) => {
    expect(decode(text)).toEqual({ ordinates: [1, 2, 3, 3, 2, 1, 0, -1, -2, -3], forms });
  });

  it.each([
    ['0 1.5 -2.25', [1.5, -2.25]],
    ['599.860 0 1 2', [0, 1, 2]],
    ['1E+3 5', [5]],
    ['0 1.5E-2 3E+1', [0.015, 30]],
    ['0E3', [53]],
    ['0+1.5+.5-3.', [1.5, 0.5, -3]],
    ['0a0247J1448', [-10247, 1201]],
    ['0 7U', [7, 7, 7]],
    ['0S', null],
    ['0A5%T', [15, 15, 15]],
    ['0 1 ? 3', [1, NaN, 3]],
    ['-12.5,1;2', [1, 2]],
    ['0AS', [1]],
  ])('reads %p', (text, ordinates) => {
    if (ordinates === null) expect(() => decode(text)).toThrow(/repeat count follows no ordinate/);
    else expect(decode(text).ordinates).toEqual(ordinates);
  });

  it.each([
    ['A1 2', 'JCAMP_BAD_ABSCISSA'], ['', 'JCAMP_BAD_ABSCISSA'], ['5', 'JCAMP_NO_ORDINATE'], ['5J1', 'JCAMP_DIF_WITHOUT_START'], ['5?J1', 'JCAMP_DIF_WITHOUT_START'], ['5?TJ1', 'JCAMP_DIF_WITHOUT_START'],
    ['5AST', 'JCAMP_DUP_WITHOUT_START'], ['5 1 x', 'JCAMP_BAD_ORDINATE'], ['5 1 $', 'JCAMP_BAD_ORDINATE'], ['5 --1', 'JCAMP_BAD_ORDINATE'], ['5 1E+999', 'JCAMP_BAD_ORDINATE'], ['1E+999 5', 'JCAMP_BAD_ABSCISSA'], ['5AS.5', 'JCAMP_BAD_ORDINATE'], ['5AZ99999999', 'JCAMP_BAD_ORDINATE'],
  ])('refuses %p with %s', (text, code) => {
    expect(() => decode(text)).toThrow(expect.objectContaining({ code, field: 'line 1' }));
  });
});

const table: WrittenTable = {
  form: 'DIF', ordinates: [100, 110, 125, 125, 90, 80, 80, 80, 300, 299], perLine: 4, firstX: 1400, lastX: 1490, xFactor: 1, yFactor: 0.001, closingCheck: true,
};

const anyTable = fc.record({
  form: fc.constantFrom<WrittenForm>('AFFN', 'PAC', 'SQZ', 'SQZDUP', 'DIF', 'DIFDUP'),
  // Small values as well as large, so that runs of equal ordinates and equal differences do occur.
  ordinates: fc.array(fc.oneof(fc.integer({ min: -3, max: 3 }), fc.integer({ min: -(2 ** 31), max: 2 ** 31 })), { minLength: 1, maxLength: 80 }),
  perLine: fc.integer({ min: 1, max: 17 }),
  firstX: fc.integer({ min: 300_000, max: 3_000_000 }).map((x) => x / 1000),
  // Wide enough that the printed abscissae, four decimals, tell neighbouring points apart.
  spanX: fc.integer({ min: -2_000_000, max: 2_000_000 }).filter((span) => Math.abs(span) > 50_000).map((span) => span / 1000),
  xFactor: fc.constantFrom(1, 0.5, 0.001, -2),
  yFactor: fc.constantFrom(1, 0.001, 2.5e-5, 3),
  closingCheck: fc.boolean(),
}).map(({ spanX, ...rest }): WrittenTable => ({ ...rest, lastX: rest.ordinates.length === 1 ? rest.firstX : rest.firstX + spanX }));

describe('every form', () => {
  it('is read back without any loss', () => {
    fc.assert(fc.property(anyTable, (written) => {
      const read = readJcamp(writeJcamp(written))[0]!.table!;
      expect(read.ordinates).toEqual(written.ordinates);
      expect(read.y).toEqual(written.ordinates.map((ordinate) => ordinate * written.yFactor));
      expect(read.x[0]).toBe(written.firstX);
      expect(read.x.at(-1)).toBe(written.lastX);
      const checks = dataLines(written).length - 1;
      expect(read.yChecks).toBeLessThanOrEqual(checks);
      if (written.form === 'DIF' && written.perLine > 1) expect(read.yChecks).toBe(checks);
    }), { numRuns: 500 });
  });

  it('is the same whatever ends the lines, and with comments between', () => {
    const text = writeJcamp(table);
    const read = readJcamp(text);
    for (const end of ['\r\n', '\r']) expect(readJcamp(text.replaceAll('\n', end))).toEqual(read);
    expect(readJcamp(text.replaceAll('\n', () => ' $$ note\n').replace('##XUNITS', '##= comment\n##XUNITS'))[0]!.table).toEqual(read[0]!.table);
    expect(readJcamp(`\ufeff${text}`)).toEqual(read);
  });

  it('compares labels without blanks, dashes, slashes, underscores and capitals', () => {
    const text = writeJcamp(table).replace('##DATA TYPE=', '##Data_Type=').replace('##XFACTOR=', '##x-fac/tor=');
    expect(readJcamp(text)[0]!.dataType).toBe('INFRARED SPECTRUM');
  });

  it('takes a line\'s abscissa at the repeated or at the first new ordinate', () => {
    const [first, second, ...rest] = dataLines(table);
    expect(second).toBe('1430.0000A25l5j0%%');
    expect(readJcamp(writeJcamp(table, [first!, '1440.0000A25l5j0%%', ...rest]))[0]!.table!.ordinates).toEqual(table.ordinates);
  });
});

describe('a broken file is refused with its line', () => {
  const lines = dataLines(table);
  const HEAD = 12;

  it('reads the whole one', () => {
    expect(lines).toHaveLength(4);
    expect(readJcamp(writeJcamp(table))[0]!.table!.yChecks).toBe(3);
  });

  it.each([
    ['a changed digit in a difference', [lines[0]!, lines[1]!.replace('l5', 'l6'), ...lines.slice(2)], `JCAMP_Y_CHECK line ${HEAD + 3}`],
    ['a lost line', [lines[0]!, ...lines.slice(2)], `JCAMP_Y_CHECK line ${HEAD + 2}`],
    ['a doubled line', [lines[0]!, lines[1]!, lines[1]!, ...lines.slice(2)], `JCAMP_Y_CHECK line ${HEAD + 3}`],
    ['a moved abscissa', [lines[0]!, lines[1]!.replace('1430', '1460'), ...lines.slice(2)], `JCAMP_X_CHECK line ${HEAD + 2}`],
    ['a strange character', [lines[0]!, `${lines[1]!}&`, ...lines.slice(2)], `JCAMP_BAD_ORDINATE line ${HEAD + 2}`],
    ['a cut table', lines.slice(0, 2), `JCAMP_POINT_COUNT line ${HEAD}`],
    ['no table', [], `JCAMP_EMPTY_TABLE line ${HEAD}`],
  ])('%s', (_name, broken, expected) => {
    expect(refusal(writeJcamp(table, broken))).toBe(expected);
  });

  it('notices any lost, doubled or swapped line in every form', () => {
    fc.assert(fc.property(anyTable, fc.nat(), fc.constantFrom('lost', 'doubled', 'swapped'), (written, at, damage) => {
      const whole = dataLines(written);
      const i = at % whole.length;
      const isClosing = dataLines({ ...written, closingCheck: false }).length === i;
      fc.pre(damage !== 'swapped' || (i > 0 && whole[i] !== whole[i - 1]));
      // The closing check of a DIF table carries no point: without it, or with it twice, nothing is lost.
      fc.pre(!isClosing);
      const broken = damage === 'lost' ? whole.toSpliced(i, 1) : damage === 'doubled' ? whole.toSpliced(i, 0, whole[i]!) : whole.toSpliced(i - 1, 2, whole[i]!, whole[i - 1]!);
      expect(refusal(writeJcamp(written, broken))).toMatch(/^JCAMP_\w+ line \d+$/);
    }), { numRuns: 500 });
  });

  it('answers any text with a reading or a refusal that names a line, never otherwise', () => {
    const fragment = fc.oneof(
      fc.constantFrom('##TITLE= a\n', '##END=\n', '##XYDATA= (X++(Y..Y))\n', '##NPOINTS= 2\n', '##XFACTOR= 1\n', '##FIRSTX= 1\n', '1A2J\n', '$$', '##', '='),
      fc.string({ maxLength: 12 }),
    );
    fc.assert(fc.property(fc.array(fragment, { maxLength: 20 }), (parts) => {
      expect(refusal(parts.join(''))).toMatch(/^(READ|JCAMP_\w+ line \d+)$/);
    }), { numRuns: 500 });
    fc.assert(fc.property(anyTable, fc.nat(), fc.string({ minLength: 1, maxLength: 1 }), (written, at, char) => {
      const text = writeJcamp(written);
      const i = at % text.length;
      expect(refusal(text.slice(0, i) + char + text.slice(i + 1))).toMatch(/^(READ|JCAMP_\w+ line \d+)$/);
    }), { numRuns: 500 });
  });

  const text = writeJcamp(table);
  it.each([
    ['no YFACTOR', text.replace(/##YFACTOR.*\n/, ''), 'JCAMP_RECORD_MISSING line 11'],
    ['no FIRSTX', text.replace(/##FIRSTX.*\n/, ''), 'JCAMP_RECORD_MISSING line 11'],
    ['no way to tell the step', text.replace(/##LASTX.*\n/, ''), 'JCAMP_RECORD_MISSING line 11'],
    ['a factor of zero', text.replace('##XFACTOR= 1', '##XFACTOR= 0'), 'JCAMP_ZERO_FACTOR line 10'],
    ['a header that is no number', text.replace('##NPOINTS= 10', '##NPOINTS= ten'), 'JCAMP_BAD_NUMBER line 8'],
    ['a header beyond any number', text.replace('##XFACTOR= 1', '##XFACTOR= 1E999'), 'JCAMP_BAD_NUMBER line 10'],
    ['another FIRSTY', text.replace('##FIRSTY= 0.1', '##FIRSTY= 0.2'), 'JCAMP_FIRST_Y line 9'],
    ['another number of points', text.replace('##NPOINTS= 10', '##NPOINTS= 11'), 'JCAMP_POINT_COUNT line 12'],
    ['an unknown form', text.replace('(X++(Y..Y))', '(XY..XY)'), 'JCAMP_FORM_UNKNOWN line 12'],
    ['no end', text.replace('##END=', ''), 'JCAMP_NO_END line 1'],
    ['no beginning', text.replace('##TITLE= written by a test\n', ''), 'JCAMP_TEXT_BEFORE_RECORD line 1'],
    ['text before it', `spectrum\n${text}`, 'JCAMP_TEXT_BEFORE_RECORD line 1'],
    ['a label without equals sign', text.replace('##XUNITS=', '##XUNITS'), 'JCAMP_BAD_LABEL line 4'],
    ['a record twice', text.replace('##XUNITS', '##XUNITS= 1/CM\n##XUNITS'), 'JCAMP_RECORD_TWICE line 5'],
    ['two tables', text.replace('##END=', '##XYPOINTS= (XY..XY)\n1 2\n##END='), 'JCAMP_TWO_TABLES line 17'],
    ['a form of version 5', text.replace('##END=', '##NTUPLES= MASS SPECTRUM\n##END='), 'JCAMP_NOT_READ line 17'],
    ['nothing', '', 'JCAMP_NO_RECORD line 1'],
  ])('%s', (_name, broken, expected) => {
    expect(refusal(broken)).toBe(expected);
  });

  const withHeader = (header: string): string => text.replace(/(##FIRSTY.*\n)/, `$1${header}\n`);
  it.each([
    ['##MAXY= 0.3', 'READ'], ['##MINY= 0.08', 'READ'], ['##DELTAX= 10', 'READ'], ['##DELTAX= 10.0', 'READ'],
    ['##MAXY= 0.6', 'JCAMP_EXTREME_Y line 10'], ['##MINY= -0.9', 'JCAMP_EXTREME_Y line 10'], ['##DELTAX= 12', 'JCAMP_DELTA_X line 10'], ['##DELTAX= -10', 'JCAMP_DELTA_X line 10'],
  ])('holds %s against the table: %s', (header, expected) => {
    expect(refusal(withHeader(header))).toBe(expected);
  });

  it('holds the extremes of pairs to their last digit', () => {
    const pairs = (header: string): string => `##TITLE= a\n##XUNITS= NANOMETERS\n##YUNITS= TRANSMITTANCE\n${header}\n##XYPOINTS= (XY..XY)\n1400 0.11\n1500 0.42\n##END=`;
    expect([refusal(pairs('##MAXY= 0.42')), refusal(pairs('##MAXY= 0.4')), refusal(pairs('##MAXY= 0.45'))]).toEqual(['READ', 'READ', 'JCAMP_EXTREME_Y line 4']);
  });

  it('checks LASTX where the step comes from DELTAX', () => {
    const byDelta = text.replace(/##NPOINTS.*\n/, '##DELTAX= 10\n');
    expect(readJcamp(byDelta)[0]!.table!.x).toEqual(table.ordinates.map((_, i) => 1400 + 10 * i));
    expect(readJcamp(byDelta)[0]!.table!.endStated).toBe(true);
    expect(readJcamp(byDelta.replace(/##LASTX.*\n/, ''))[0]!.table).toMatchObject({ endStated: false, ordinates: table.ordinates });
    expect(refusal(byDelta.replace('##LASTX= 1490', '##LASTX= 1510'))).toBe('JCAMP_LAST_X line 7');
  });
});

describe('pairs and blocks', () => {
  const pairs = (kind: string, body: string, more = '') => `##TITLE= p\n##XUNITS= NANOMETERS\n${more}##${kind}= (XY..XY)\n${body}\n##END=\n`;

  it('reads XYPOINTS and PEAK TABLE', () => {
    expect(readJcamp(pairs('XYPOINTS', '1400, 0.2; 1401.5 3E-1\n1500,-4'))[0]!.table).toMatchObject({ kind: 'XYPOINTS', x: [1400, 1401.5, 1500], y: [0.2, 0.3, -4] });
    expect(readJcamp(pairs('PEAK TABLE', '1 2\n2 3', '##NPOINTS= 2\n##YFACTOR= 10\n'))[0]!.table).toMatchObject({ kind: 'PEAK TABLE', x: [1, 2], y: [20, 30], ordinates: [2, 3] });
    expect(readJcamp(pairs('XYPOINTS', '1 ?'))[0]!.table).toMatchObject({ lost: [0] });
  });

  it.each([
    ['1 2 3', 'JCAMP_BAD_PAIR line 4'], ['1 2\n3 x', 'JCAMP_BAD_PAIR line 5'], ['1 2\n3 1E999', 'JCAMP_BAD_PAIR line 5'], ['? 2', 'JCAMP_BAD_PAIR line 4'], ['', 'JCAMP_EMPTY_TABLE line 3'],
  ])('refuses %p', (body, expected) => expect(refusal(pairs('XYPOINTS', body))).toBe(expected));

  it('reads blocks in a row and blocks within a link', () => {
    const inner = (title: string) => `##TITLE= ${title}\n##DATA TYPE= INFRARED PEAK TABLE\n##PEAK TABLE= (XY..XY)\n1 2\n##END=\n`;
    expect(readJcamp(inner('a') + inner('b')).map((block) => block.title)).toEqual(['a', 'b']);
    const link = (count: number) => `##TITLE= all\n##DATA TYPE= LINK\n##BLOCKS= ${count}\n${inner('a')}${inner('b')}##END $$ of link\n`;
    for (const count of [2, 3]) {
      const [outer] = readJcamp(link(count));
      expect(outer).toMatchObject({ title: 'all', dataType: 'LINK', table: null, line: 1 });
      expect(outer!.blocks.map((block) => [block.title, block.line, block.table!.y[0]])).toEqual([['a', 4, 2], ['b', 9, 2]]);
    }
    expect(refusal(link(4))).toBe('JCAMP_BLOCK_COUNT line 3');
    expect(refusal(link(2).replace(/##END.*of link\n/, ''))).toBe('JCAMP_NO_END line 1');
    expect(refusal(`${link(2)}##END=\n`)).toBe('JCAMP_TEXT_BEFORE_RECORD line 15');
  });

  it('keeps every other record, over several lines too', () => {
    const [block] = readJcamp('##TITLE= t\n##SAMPLE DESCRIPTION= leaf\ndisc 3\n##$LAB= x\n##END=');
    expect(Object.fromEntries(block!.records)).toEqual({ SAMPLEDESCRIPTION: 'leaf\ndisc 3', $LAB: 'x' });
  });
});

describe('jcampSpectrum', () => {
  const spectrum = (head: string, body: string) => jcampSpectrum(readJcamp(`##TITLE= s\n${head}\n##XYPOINTS= (XY..XY)\n${body}\n##END=`)[0]!.table!);

  it('turns wavenumbers and micrometres into rising nanometres and absorbance into transmittance', () => {
    expect(spectrum('##XUNITS= 1/CM\n##YUNITS= TRANSMITTANCE', '5000 0.1\n8000 0.2').spectrum).toEqual({ wavelengthNm: [1250, 2000], values: [0.2, 0.1] });
    expect(spectrum('##XUNITS= MICROMETERS\n##YUNITS= ABSORBANCE', '1.5 2\n2 1')).toEqual({ spectrum: { wavelengthNm: [1500, 2000], values: [0.01, 0.1] }, yUnits: 'TRANSMITTANCE' });
  });

  it('refuses units it cannot place, lost points and abscissae that are no wavelength', () => {
    expect(() => spectrum('##XUNITS= SECONDS', '1 2\n2 3')).toThrow(/SECONDS/);
    expect(() => spectrum('##YUNITS= TRANSMITTANCE', '1 2\n2 3')).toThrow(/xUnits/);
    expect(() => spectrum('##XUNITS= NANOMETERS', '1 ?\n2 3')).toThrow(/marked lost/);
    expect(() => spectrum('##XUNITS= 1/CM', '0 1\n2 3')).toThrow(/x\[0\]/);
  });
});

describe('odd but legal', () => {
  const file = (body: string, header = '') => `##TITLE= odd\n##JCAMP-DX= 4.24\n##XUNITS= NANOMETERS\n##YUNITS= TRANSMITTANCE\n##XFACTOR= 1\n##YFACTOR= 0.01\n##FIRSTX= 1400\n##LASTX= 1407\n##NPOINTS= 8\n${header}##XYDATA= (X++(Y..Y))\n${body}\n##END=\n`;
  const expected = [10, 11, 12, 13, 14, 15, 16, 17];

  // One spectrum, eight points rising by one, written in every way that the forms allow (McDonald & Wilks 1988).
  it.each([
    ['a repeated difference on each of several lines, each with its check', '1400A0JU\n1403A3JU\n1406A6J\n1407A7'],
    ['the last line a check alone', '1400A0JY\n1407A7'],
    ['tabs, commas and semicolons', '\t1400,10 11;12\t13\n1404 14, 15 ;16 17'],
    ['exponents, with the sign that tells them from a squeezed digit', '1.4E+03 1.0E+1 1100E-2 1.2e+01 13\n1404 14 15 16 1.7E+001'],
    ['bare decimal points and plus signs', '+1400. 10. +11 12.0 13\n1404 +14+15+16+17'],
    ['comments behind data and on lines of their own', '1400 10 11 12 13 $$ first half 99\n$$ 1402 0 0 0\n1404 14 15 16 17'],
    ['forms mixed in one line', '1400A0J 12+13\n1404A4A5JJ\n1407A7'],
  ])('%s', (_, body) => {
    const [block] = readJcamp(file(body));
    expect(block!.table!.ordinates).toEqual(expected);
    expect(readJcamp(file(body).replaceAll('\n', '\r\n'))[0]!.table!.ordinates).toEqual(expected);
  });

  it('a title over two lines is one title, and blank lines mean nothing', () => {
    const [block] = readJcamp(`\n\n${file('1400 10 11 12 13\n\n1404 14 15 16 17').replace('##TITLE= odd', '##TITLE= a leaf\n  of kohlrabi')}\n\n`);
    expect(block!.title).toBe('a leaf of kohlrabi');
    expect(block!.table!.ordinates).toEqual(expected);
  });

  it.each([
    ['text after the end', `${file('1400 10 11 12 13\n1404 14 15 16 17')}1408 18\n`, 'JCAMP_TEXT_AFTER_END line 14'],
    ['a data line that slipped below a number', file('1404 14 15 16 17', '').replace('##NPOINTS= 8', '##NPOINTS= 8\n1400 10 11 12 13'), 'JCAMP_BAD_NUMBER line 10'],
    ['a check that does not hold after a repeated difference', file('1400A0JU\n1403A4JU\n1406A6J\n1407A7'), 'JCAMP_Y_CHECK line 12'],
  ])('but not %s', (_, text, found) => {
    expect(refusal(text)).toBe(found);
  });
});
