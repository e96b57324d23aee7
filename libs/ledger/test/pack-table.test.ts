import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { InputError } from '#libs/quantity';
import { dictionariesIn, tableDescriptor, tableFile, type PackRecord, type TableDictionary } from '#libs/ledger';
import { LAB, PERSON, RECORDS, TABLES, idOf } from './pack-sample.js';

const text = (bytes: Uint8Array): string => new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);

describe('tables', () => {
  test('RFC 4180: CR LF, a heading, quotes only where a comma, a quote or a line end stands', () => {
    expect(text(tableFile(TABLES[0] as TableDictionary, RECORDS))).toBe(
      'kind,id,labId,recordedBy,uses,label\r\n'
      + `disc,${idOf(1)},${LAB},${PERSON},[],"D-7, ""upper"" leaf"\r\n`);
    const [, turgid, dry] = text(tableFile(TABLES[1] as TableDictionary, RECORDS)).split('\r\n');
    expect(turgid).toContain(',71.24,turgid,,false');
    expect(dry).toContain(',14.02,dry,"second\ncheck, constant",true');
  });

  // csv-parse is an RFC 4180 reader of others; whatever is written must come back from it.
  test('another reader gets every text back', () => {
    const dictionary: TableDictionary = {
      kind: 'note', title: 'n', description: 'n', columns: ['id', 'kind', 'labId', 'recordedBy', 'text'].map((name) =>
        ({ name, type: 'string' as const, title: name, description: name })),
    };
    fc.assert(fc.property(fc.array(fc.oneof(fc.string(), fc.constantFrom('"', ',', '\r\n', '""', '\n"', ' x ', '=1+1', 'é', '\u{1f33f}')), { maxLength: 5 }), (texts) => {
      const records = texts.map((own, i): PackRecord => ({ kind: 'note', id: idOf(i), labId: LAB, recordedBy: PERSON, text: own }));
      const rows = parse(text(tableFile(dictionary, records)), { columns: true, record_delimiter: '\r\n' }) as { id: string; text: string }[];
      expect(rows.map((row) => row.text)).toEqual(texts);
    }), { seed: 4180, numRuns: 300 });
  });

  test('a member without a column is refused, not left out', () => {
    const record = { ...RECORDS[0] as PackRecord, colour: 'green' };
    expect(() => tableFile(TABLES[0] as TableDictionary, [record])).toThrow(InputError);
    expect(() => tableFile(TABLES[0] as TableDictionary, [record])).toThrow(/^disc\.colour: /);
  });

  test('the descriptor is a Data Package with a Table Schema, and reads back', () => {
    const descriptor = tableDescriptor('x', TABLES);
    // Members as https://specs.frictionlessdata.io names them: tabular-data-resource and table-schema.
    expect(descriptor).toMatchObject({
      profile: 'tabular-data-package',
      resources: [{ profile: 'tabular-data-resource', name: 'disc', path: 'disc.csv', encoding: 'utf-8' }, {
        path: 'weighing.csv',
        schema: { fields: expect.arrayContaining([{ name: 'massMg', type: 'number', title: 'massMg', description: 'The massMg of the record.', unit: 'mg' }]), primaryKey: ['id'] },
      }],
    });
    expect(dictionariesIn('d', JSON.parse(JSON.stringify(descriptor)))).toEqual(TABLES);
  });
});
