import { columnsOf, likelyDelimiter } from '../src/features/import/parts/columns.js';

describe('the columns of a pasted file', () => {
  it.each([
    ['disc,time,mass\na,0,1', ','], ['disc;time;mass\na;0;1,5', ';'], ['disc\ttime\tmass', '\t'], ['disc|time|mass', '|'], ['mass', null],
  ])('finds what parts %j', (text, delimiter) => {
    expect(likelyDelimiter(text)).toBe(delimiter);
  });

  it('names the columns without byte-order mark, quotes and spaces, whatever ends the line', () => {
    expect(columnsOf('\uFEFF"disc" ; time ;"mass"\r\na;0;1', null)).toEqual(['disc', 'time', 'mass']);
  });

  it('keeps to a delimiter that a person chose', () => {
    expect(columnsOf('disc;mass, mg', ';')).toEqual(['disc', 'mass, mg']);
  });
});
