import { InputError } from '#libs/quantity';
import { canonicalize } from '../canonical-json.js';
import { TEXT, WORD, requireShape, shapeOf, type MemberRule } from '../shape.js';
import type { PackRecord, TableColumn, TableDictionary } from './layout.js';
import { PACK_REMEDY } from './text.js';
import { utf8Bytes } from '../utf8.js';

const COLUMN_TYPES: readonly unknown[] = ['string', 'number', 'integer', 'boolean', 'datetime', 'date', 'object', 'array', 'any'];

/** Where the table of one kind lies. */
export function tablePath(kind: string): string {
  return `tables/${kind}.csv`;
}

/**
 * The records of one kind as CSV by RFC 4180: UTF-8, comma, CR LF, a heading row, quotes only where needed.
 *
 * A text stands as it is, a number in its JSON form, true and false as such, what is null or absent as nothing, a list
 * or object as its JSON text. The JSON Lines remain the record: CSV cannot tell an absent text from an empty one.
 *
 * @throws InputError `NO_COLUMN` when a record has a member that the dictionary does not: nothing is left out unsaid
 */
export function tableFile(dictionary: TableDictionary, records: readonly PackRecord[]): Uint8Array {
  const names = dictionary.columns.map(({ name }) => name);
  const known = new Set(names);
  const rows = records.filter(({ kind }) => kind === dictionary.kind).map((record) => {
    const stray = Object.keys(record).find((name) => !known.has(name));
    if (stray !== undefined) {
      throw new InputError('NO_COLUMN', `${dictionary.kind}.${stray}`, 'the dictionary of the table has no such column',
        'Add the column with its title, description and unit.');
    }
    return names.map((name) => cell(record[name]));
  });
  return utf8Bytes([names.map(quoted), ...rows].map((row) => `${row.join(',')}\r\n`).join(''));
}

/**
 * The descriptor of the tables: a Data Package with a Table Schema for each (https://specs.frictionlessdata.io).
 *
 * @param subjectId id of the record that the pack is about
 */
export function tableDescriptor(subjectId: string, dictionaries: readonly TableDictionary[]): object {
  return {
    profile: 'tabular-data-package',
    name: `pack-${subjectId}`,
    resources: dictionaries.map(({ kind, title, description, columns }) => ({
      profile: 'tabular-data-resource',
      name: kind,
      path: `${kind}.csv`,
      title,
      description,
      format: 'csv',
      mediatype: 'text/csv',
      encoding: 'utf-8',
      dialect: { delimiter: ',', lineTerminator: '\r\n', quoteChar: '"', doubleQuote: true, header: true },
      schema: {
        // `unit` is ours: the standard has no member for it, and allows further ones.
        fields: columns.map((column) => ({ ...column })),
        missingValues: [''],
        primaryKey: ['id'],
      },
    })),
  };
}

/** The dictionaries in a descriptor that {@link tableDescriptor} made. @throws InputError `BAD_PACK` */
export function dictionariesIn(place: string, descriptor: unknown): TableDictionary[] {
  const { resources } = requireShape(descriptor, DESCRIPTOR, 'BAD_PACK', place, PACK_REMEDY);
  return (resources as unknown[]).map((value, i) => {
    const here = `${place} resources[${i}]`;
    const { name, title, description, schema } = requireShape(value, RESOURCE, 'BAD_PACK', here, PACK_REMEDY);
    const { fields } = requireShape(schema, TABLE_SCHEMA, 'BAD_PACK', `${here}.schema`, PACK_REMEDY);
    const columns = (fields as unknown[]).map((field, j) =>
      requireShape(field, FIELD, 'BAD_PACK', `${here}.schema.fields[${j}]`, PACK_REMEDY) as unknown as TableColumn);
    return { kind: name as string, title: title as string, description: description as string, columns };
  });
}

const ANY: MemberRule = [() => true, 'anything'];
const LIST: MemberRule = [Array.isArray, 'a list'];
const DESCRIPTOR = shapeOf({ profile: TEXT, name: TEXT, resources: LIST });
const RESOURCE = shapeOf({
  profile: TEXT, name: WORD, path: TEXT, title: TEXT, description: TEXT, format: TEXT, mediatype: TEXT, encoding: TEXT,
  dialect: ANY, schema: ANY,
});
const TABLE_SCHEMA = shapeOf({ fields: LIST, missingValues: LIST, primaryKey: LIST });
const FIELD = shapeOf({
  name: TEXT, type: [(value) => COLUMN_TYPES.includes(value), 'a type of the Table Schema'], title: TEXT, description: TEXT, 'unit?': TEXT,
});

function cell(value: unknown): string {
  if (value === null || value === undefined) return '';
  return quoted(typeof value === 'string' ? value : canonicalize(value));
}

/** RFC 4180 rules 6 and 7: quotes around what has a comma, a quote or a line end, and a quote doubled. */
function quoted(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
