import type { TableColumn, TableDictionary } from '#libs/ledger';
import { isLater } from '../../platform/database/kept-row.js';
import type { metadataOf } from '../../platform/database/rows.js';
import { BOOKKEEPING, memberOf } from '../../platform/ledger/recorder.js';

/** Unit of a number by the end of its name: the house's rule for names. */
const UNITS: readonly (readonly [ending: RegExp, unit: string])[] = [
  [/Mg$/, 'mg'], [/Nw$/, 'nW'], [/Mm$/, 'mm'], [/Nm$/, 'nm'], [/V$/, 'V'], [/Deg$/, 'deg'], [/TemperatureC$/, 'Cel'], [/Min$/, 'min'], [/Hours$/, 'h'],
  [/Rwc$|[Tt]ransmittance$|relativeSd$/, '1'],
];

const TYPES: Readonly<Record<string, TableColumn['type']>> = {
  uuid: 'string', text: 'string', numeric: 'number', 'double precision': 'number', smallint: 'integer', integer: 'integer', bigint: 'integer',
  boolean: 'boolean', timestamptz: 'datetime', jsonb: 'any',
};

const EVERY: readonly TableColumn[] = [
  { name: 'kind', type: 'string', title: 'Kind', description: 'Kind of record: the word used in ledger, lineage and thread.' },
  { name: 'id', type: 'string', title: 'Id', description: 'UUID of the record.' },
  { name: 'labId', type: 'string', title: 'Lab', description: 'UUID of the lab whose record it is.' },
  { name: 'recordedBy', type: 'string', title: 'Recorded by', description: 'UUID of the person who recorded it; names stand in agents.json.' },
  { name: 'uses', type: 'array', title: 'Uses', description: 'What the record rests on, each with kind, id and role.' },
];

const words = (name: string): string => {
  const spaced = name.replace(/([a-z0-9])([A-Z])/g, '$1 $2').replaceAll('_', ' ').toLowerCase();
  return `${spaced[0]!.toUpperCase()}${spaced.slice(1)}`;
};

/** What the members of one kind of record mean, from the columns they are stored in. */
export function dictionaryOf(metadata: ReturnType<typeof metadataOf>): TableDictionary {
  const kind = metadata.tableName;
  const title = words(kind);
  const own = metadata.columns.filter(({ propertyName }) => !BOOKKEEPING.includes(propertyName)).map((column): TableColumn => {
    const name = memberOf(kind, column.propertyName);
    const unit = UNITS.find(([ending]) => ending.test(column.propertyName))?.[1];
    const type = column.isArray ? 'array' : (TYPES[String(column.type)] ?? 'any');
    const description = `${words(name)} of the ${title.toLowerCase()}${unit && unit !== '1' ? ` in ${unit}` : ''}${unit === '1' ? ' as a fraction' : ''}${column.isNullable ? '; empty where not known' : ''}.`;
    return { name, type, title: words(name), description, ...(unit && { unit }) };
  });
  return { kind, title, description: `Each ${title.toLowerCase()} in this pack, one a line.`, columns: [...EVERY, ...own] };
}

const JSON_TYPES: Readonly<Record<TableColumn['type'], unknown>> = {
  // Exact decimals travel as text, so that no digit is lost; a fraction computed by the server is a number.
  string: 'string', number: ['number', 'string'], integer: 'integer', boolean: 'boolean', datetime: 'string', date: 'string', object: 'object', array: 'array', any: true,
};

/** JSON Schema (2020-12) of the documents of one kind, as they stand in records.jsonl. A column added later may be absent. */
export function schemaOf(dictionary: TableDictionary, { target, tableName, columns }: ReturnType<typeof metadataOf>): object {
  const absent = new Set(columns.filter(({ propertyName }) => isLater(target, propertyName)).map(({ propertyName }) => memberOf(tableName, propertyName)));
  const typeOf = ({ name, type }: TableColumn): object => {
    const own = JSON_TYPES[type];
    if (own === true) return {};
    return { type: EVERY.some((every) => every.name === name) ? own : [own, 'null'].flat() };
  };
  return {
    $schema: 'https://json-schema.org/draft/2020-12/schema',
    $id: `urn:x-threadleaf:schema:${dictionary.kind}`,
    title: dictionary.title,
    type: 'object',
    additionalProperties: false,
    required: dictionary.columns.map(({ name }) => name).filter((name) => !absent.has(name)),
    properties: Object.fromEntries(dictionary.columns.map((column) => [column.name, {
      ...typeOf(column),
      ...(column.name === 'kind' && { const: dictionary.kind }),
      ...(column.type === 'datetime' && { format: 'date-time' }),
      title: column.title,
      description: column.description,
      ...(column.unit && { 'x-unit-ucum': column.unit }),
    }])),
  };
}
