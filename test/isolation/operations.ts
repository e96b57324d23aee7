import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import {
  buildASTSchema, extendSchema, getNamedType, isEnumType, isInputObjectType, isLeafType, isListType, isNonNullType, isObjectType, Kind, parse,
  type GraphQLArgument, type GraphQLField, type GraphQLInputField, type GraphQLInputType, type GraphQLOutputType, type GraphQLSchema,
} from 'graphql';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { newId, PASSWORD } from '../support/lab.js';
import { kindAt, SENSIBLE, STARTS } from './places.js';

/** The operations of the schema, each with a request for all that must be given and every id that may be. */
export const schema: GraphQLSchema = (() => {
  const folder = join(packageRoot, 'apps/api/schema');
  const document = parse(readdirSync(folder).map((file) => readFileSync(join(folder, file), 'utf8')).join('\n'));
  const isExtension = (kind: string): boolean => kind.endsWith('Extension');
  const base = { kind: Kind.DOCUMENT as const, definitions: document.definitions.filter(({ kind }) => !isExtension(kind)) };
  const more = { kind: Kind.DOCUMENT as const, definitions: document.definitions.filter(({ kind }) => isExtension(kind)) };
  return extendSchema(buildASTSchema(base, { assumeValid: true }), more, { assumeValid: true });
})();

/** A place for an id, by its path in the variables, and of which kind it seems to be. */
export interface Place {
  readonly name: string;
  readonly path: readonly string[];
  readonly kind: string;
}

export interface Operation {
  readonly name: string;
  readonly kind: 'query' | 'mutation';
  readonly text: string;
  readonly field: GraphQLField<unknown, unknown>;
}

/** All that must be there, and every id that may. */
const wanted = ({ type, defaultValue }: GraphQLInputField | GraphQLArgument, depth: number): boolean =>
  (isNonNullType(type) && defaultValue === undefined) || (depth < 3 && getNamedType(type).name === 'UUID');

/** Everything that can be asked without arguments, some levels down. */
function selection(type: GraphQLOutputType, depth: number): string {
  const named = getNamedType(type);
  if (isLeafType(named)) return '';
  if (!isObjectType(named)) return '{ __typename }';
  const fields = Object.values(named.getFields()).filter((field: GraphQLField<unknown, unknown>) =>
    field.args.every((arg) => !isNonNullType(arg.type) || arg.defaultValue !== undefined) && (isLeafType(getNamedType(field.type)) || depth > 0));
  return `{ __typename ${fields.map((field) => `${field.name} ${selection(field.type, depth - 1)}`).join(' ')} }`;
}

function operationsOf(kind: 'query' | 'mutation'): Operation[] {
  const type = kind === 'query' ? schema.getQueryType()! : schema.getMutationType()!;
  return Object.values(type.getFields()).map((field) => {
    const args = field.args.filter((arg) => wanted(arg, 0));
    const declared = args.length > 0 ? `(${args.map((arg) => `$${arg.name}: ${String(arg.type)}`).join(', ')})` : '';
    const given = args.length > 0 ? `(${args.map((arg) => `${arg.name}: $${arg.name}`).join(', ')})` : '';
    return { name: field.name, kind, field, text: `${kind} ${declared} { ${field.name}${given} ${selection(field.type, kind === 'query' ? 2 : 1)} }` };
  });
}

/** These end the session or the password that the others need, or are the session itself. */
const LEFT_ALONE = ['signOut', 'signIn', 'changePassword', 'enterLab'];
/** After these the own records stand otherwise, so that another operation may refuse them: they come last. */
const ENDING = ['closeDryingRun', 'releaseDryingRun', 'unloadOvenCycle', 'endHydration', 'endInstallation', 'retireDeviceUnit', 'retract', 'withdrawGrant', 'sign', 'revokeAccessToken', 'markNoticeSeen'];
export const operations = [...operationsOf('query'), ...operationsOf('mutation')]
  .filter(({ name }) => !LEFT_ALONE.includes(name))
  .sort((a, b) => ENDING.indexOf(a.name) - ENDING.indexOf(b.name));

const at = (name: string): string => new Date(Date.UTC(2026, 7, 1) + name.length * 60_000).toISOString();
const TEXTS: Readonly<Record<string, string>> = {
  kind: 'calibration_version', subjectKind: 'calibration_version', targetKind: 'weighing', password: PASSWORD, current: PASSWORD, next: PASSWORD, massUnit: 'mg', powerUnit: 'nW', tripPowerUnit: 'nW', unit: 'mg',
};

let fresh = 0;
/** A label may be used once only; comparing leaves its number out. */
const freshWords = (): string => `words ${(fresh += 1)}`;
export const withoutNumbers = (text: string): string => text.replace(/(words |Fresh)\d+/g, '$1<n>');

interface Filling {
  readonly operation: string;
  readonly own: ReadonlyMap<string, string>;
  readonly places: Place[];
}

/** A value of a type: ids of the own lab's records, plain ones else. Tells the places of ids on the way. */
function valueOf(type: GraphQLInputType, name: string, path: readonly string[], filling: Filling, depth = 0): unknown {
  if (isNonNullType(type)) return valueOf(type.ofType, name, path, filling, depth);
  if (isListType(type)) return [valueOf(type.ofType as GraphQLInputType, name, [...path, '0'], filling, depth)];
  if (isInputObjectType(type)) {
    return Object.fromEntries(Object.values(type.getFields()).filter((field) => wanted(field, depth)).map((field) => [field.name, valueOf(field.type, field.name, [...path, field.name], filling, depth + 1)]));
  }
  if (isEnumType(type)) return type.getValues()[0]!.name;
  if (type.name === 'UUID') {
    // What a mutation calls id is the id of what it makes.
    if (name === 'id' && (path.length > 1 || STARTS.includes(filling.operation))) return newId();
    if (name === 'versionId') return newId();
    const place = `${filling.operation} ${path.join('.')}`;
    const kind = kindAt(name, filling.operation, place);
    filling.places.push({ name: place, path, kind });
    return filling.own.get(kind) ?? newId();
  }
  const plain = { Moment: at(name), Int: 2, Float: 0.8, Boolean: false, Decimal: '1' }[type.name] ?? TEXTS[name];
  return plain ?? (/Text$|Nm$|Mm$|Mg$|V$|Sd$|[Nn]ominal|shown|tolerance/.test(name) ? '1' : freshWords());
}

type Values = Record<string, unknown>;

function blend(values: Values, more: object): Values {
  const blended = { ...values };
  for (const [name, value] of Object.entries(more)) {
    if (value === null) delete blended[name];
    else blended[name] = typeof value === 'object' && !Array.isArray(value) ? blend(blended[name] as Values, value as object) : value;
  }
  return blended;
}

/** The places for ids of an operation. */
export function placesOf({ field, name }: Operation, own: ReadonlyMap<string, string>): Place[] {
  const places: Place[] = [];
  for (const arg of field.args.filter((each) => wanted(each, 0))) valueOf(arg.type, arg.name, [arg.name], { operation: name, own, places });
  return places;
}

/** What to ask with: own ids everywhere, but `id` in the place, where one is named. Every request gets ids of its own for what it would make. */
export function variablesOf({ field, name }: Operation, own: ReadonlyMap<string, string>, place?: Place, id?: string): Values {
  const values = Object.fromEntries(field.args.filter((arg) => wanted(arg, 0)).map((arg) => [arg.name, valueOf(arg.type, arg.name, [arg.name], { operation: name, own, places: [] })]));
  const numbered = (more: object): object => JSON.parse(JSON.stringify(more).replaceAll('{n}', String((fresh += 1)))) as object;
  const sensible = [name, ...(place ? [place.name] : [])].reduce((so, key) => blend(so, numbered(SENSIBLE[key] ?? {})), values);
  if (!place) return sensible;
  let within: any = sensible;
  for (const step of place.path.slice(0, -1)) within = within[step];
  within[place.path.at(-1)!] = id;
  return sensible;
}
