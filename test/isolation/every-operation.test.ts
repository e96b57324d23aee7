import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import {
  buildASTSchema, extendSchema, getNamedType, isEnumType, isInputObjectType, isLeafType, isListType, isNonNullType, isObjectType, Kind, parse,
  type GraphQLArgument, type GraphQLField, type GraphQLInputField, type GraphQLInputType, type GraphQLOutputType, type GraphQLSchema,
} from 'graphql';
import { createClient } from 'graphql-ws';
import pg from 'pg';
import WebSocket from 'ws';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { record } from '../support/chain.js';
import { newId, PASSWORD, ROLES, signIn, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { PIXEL, storeFile } from '../support/stored-file.js';
import { fillField, fillLab, type FilledLab } from '../support/whole-chain.js';

/**
 * For every operation of the schema, and every place in its arguments where an id may stand: a record of another lab gets the
 * very answer that an id gets which nobody ever used. The operations are taken from the schema itself, so that a new one is asked
 * too; a place that the request does not reach because something else refuses it first has to be named below.
 */
let server: TestServer;
let own: Side;
let other: Side;
let third: TestLab;
let asking: Client;
/** Every id of the other lab's ledger, and of its people. */
let otherIds: ReadonlySet<string>;

interface Side {
  readonly lab: TestLab;
  /** The newest record of each kind. */
  readonly byKind: ReadonlyMap<string, string>;
}

const schema: GraphQLSchema = (() => {
  const folder = join(packageRoot, 'apps/api/schema');
  const document = parse(readdirSync(folder).map((file) => readFileSync(join(folder, file), 'utf8')).join('\n'));
  const isExtension = (kind: string): boolean => kind.endsWith('Extension');
  const base = { kind: Kind.DOCUMENT as const, definitions: document.definitions.filter(({ kind }) => !isExtension(kind)) };
  const more = { kind: Kind.DOCUMENT as const, definitions: document.definitions.filter(({ kind }) => isExtension(kind)) };
  return extendSchema(buildASTSchema(base, { assumeValid: true }), more, { assumeValid: true });
})();

/** Of whom an id is asked for is told by the name of its place; these names tell another kind than they look like. */
const KIND_OF_PLACE: Readonly<Record<string, string>> = {
  balance: 'instrument', meter: 'instrument', oven: 'instrument', bias_source: 'instrument', person: 'account', lab: 'lab', target: 'weighing', replacement: 'weighing',
  entry: 'weighing', account: 'account', mother: 'plant', photo: 'stored_file', file: 'stored_file', answers: 'calibration_comment', share: 'calibration_share', grant: 'share_grant',
  certificate: 'threshold_certificate', rule: 'zone_rule', report: 'stored_file', instrument_file: 'stored_file', place: 'place', run: 'drying_run', weighing: 'weighing', curve: 'bias_threshold_curve',
};
const snake = (name: string): string => name.replace(/Ids?$/, '').replace(/([a-z0-9])([A-Z])/g, '$1_$2').toLowerCase();

/** Of a query's `id`, by the operation that asks. */
const KIND_OF_QUERY: Readonly<Record<string, string>> = {
  sharedCalibration: 'calibration_share', sharePack: 'calibration_share', cancelJob: 'job', retryJob: 'job', ledger: 'weighing', ledgerExceptions: 'weighing', thread: 'calibration_version',
  recompute: 'calibration_version', evidencePack: 'threshold_certificate', threadPaper: 'calibration_version', recordKind: 'calibration_version',
};
/** Their `id` is the id of the job that they start. */
const STARTS = ['recomputeAll', 'compareCalibrations'];

async function fill(lab: TestLab, grantee: TestLab): Promise<Side> {
  const filled: FilledLab = await fillLab(lab);
  await fillField(lab, filled);
  const researcher = lab.as('RESEARCHER');
  await storeFile(researcher, 'leaf.png', PIXEL);
  const shareId = newId();
  await record(researcher, 'shareCalibration', 'ShareCalibrationInput', { id: shareId, calibrationVersionId: filled.versionId, depth: 'SUMMARY', permits: 'REUSE', licence: 'ours', citation: 'us' });
  await record(researcher, 'grantShare', 'GrantShareInput', { id: newId(), shareId, audience: 'LABS', labIds: [grantee.labId] });
  await record(researcher, 'recordCalibrationComment', 'RecordCalibrationCommentInput', { id: newId(), shareId, question: true, text: 'Any questions?' });
  const jobId = newId();
  await lab.as('MANAGER').ask('mutation ($id: UUID!) { recomputeAll(id: $id) { problem { message } } }', { id: jobId });
  await record(lab.as('MANAGER'), 'recordPlace', 'RecordPlaceInput', { id: newId(), placeKind: 'TRAY', label: 'Tray' });
  const owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
  const { rows } = await owner.query<{ kind: string; id: string }>('SELECT subject_kind AS kind, subject_id AS id FROM ledger_entry WHERE lab_id = $1 ORDER BY recorded_at, id', [lab.labId]);
  const { rows: [member] } = await owner.query<{ id: string }>('SELECT account_id AS id FROM membership WHERE lab_id = $1 LIMIT 1', [lab.labId]);
  await owner.end();
  return { lab, byKind: new Map([...rows.map(({ kind, id }) => [kind, id] as const), ['account', member!.id], ['lab', lab.labId], ['job', jobId]]) };
}

beforeAll(async () => {
  server = await startTestServer();
  const [mine, theirs] = [await server.openLab('Own lab'), await server.openLab('Hidden lab')];
  third = await server.openLab('Grantee lab');
  [own, other] = [await fill(mine, third), await fill(theirs, third)];
  // One person with every role, so that no policy hides what isolation must.
  await mine.as('ADMINISTRATOR').ask('mutation ($input: AddMemberInput!) { addMember(input: $input) { problem { message } } }', { input: { email: 'all@roles.example', displayName: 'All Roles', password: PASSWORD, roles: [...ROLES] } });
  asking = await signIn(server.url, 'all@roles.example', PASSWORD);
  otherIds = new Set(other.byKind.values());
}, 240_000);

afterAll(() => server.close());

/** A place for an id, by its path in the variables, and of which kind it seems to be. */
interface Place {
  readonly path: readonly string[];
  readonly kind: string | null;
}

const at = (name: string): string => new Date(Date.UTC(2026, 7, 1) + name.length * 60_000).toISOString();

/** A value of a type: ids of the own lab's records, plain ones else. Tells the places of ids on the way. */
function valueOf(type: GraphQLInputType, name: string, path: readonly string[], places: Place[], operation: string, depth = 0): unknown {
  if (isNonNullType(type)) return valueOf(type.ofType, name, path, places, operation, depth);
  if (isListType(type)) return [valueOf(type.ofType as GraphQLInputType, name, [...path, '0'], places, operation, depth)];
  if (isInputObjectType(type)) {
    return Object.fromEntries(Object.values(type.getFields()).filter((field) => wanted(field, depth)).map((field) => [field.name, valueOf(field.type, field.name, [...path, field.name], places, operation, depth + 1)]));
  }
  if (isEnumType(type)) return type.getValues()[0]!.name;
  if (type.name === 'UUID') {
    // What a mutation calls id is the id of what it makes.
    if (name === 'id' && (path.length > 1 || STARTS.includes(operation))) return newId();
    if (name === 'versionId') return newId();
    const kind = kindAt(name, operation);
    places.push({ path, kind });
    return (kind && own.byKind.get(kind)) ?? newId();
  }
  return { Moment: at(name), Int: 2, Float: 0.8, Boolean: false, Decimal: '1' }[type.name] ?? TEXTS[name] ?? (/Text$|Nm$|Mm$|Mg$|V$|Sd$|[Nn]ominal|shown|tolerance/.test(name) ? '1' : 'words');
}

const TEXTS: Readonly<Record<string, string>> = { kind: 'calibration_version', subjectKind: 'calibration_version', targetKind: 'weighing', password: PASSWORD, current: PASSWORD, next: PASSWORD, massUnit: 'mg', powerUnit: 'nW', tripPowerUnit: 'nW', unit: 'mg' };

/** All that must be there, and every id that may. */
const wanted = ({ type, defaultValue }: GraphQLInputField | GraphQLArgument, depth: number): boolean =>
  (isNonNullType(type) && defaultValue === undefined) || (depth < 3 && getNamedType(type).name === 'UUID');

function kindAt(name: string, operation: string): string | null {
  if (name === 'id' || name === 'after') return KIND_OF_QUERY[operation] ?? snake(operation).replace(/s$/, '');
  if (name === 'subjectId' || name === 'subjectIds') return 'calibration_version';
  const plain = snake(name);
  return KIND_OF_PLACE[plain] ?? plain;
}

/** Everything that can be asked without arguments, some levels down. */
function selection(type: GraphQLOutputType, depth: number): string {
  const named = getNamedType(type);
  if (isLeafType(named)) return '';
  if (!isObjectType(named)) return '{ __typename }';
  const fields = Object.values(named.getFields()).filter((field: GraphQLField<unknown, unknown>) =>
    field.args.every((arg) => !isNonNullType(arg.type) || arg.defaultValue !== undefined) && (isLeafType(getNamedType(field.type)) || depth > 0));
  return `{ __typename ${fields.map((field) => `${field.name} ${selection(field.type, depth - 1)}`).join(' ')} }`;
}

interface Operation {
  readonly name: string;
  readonly kind: 'query' | 'mutation';
  readonly text: string;
  readonly field: GraphQLField<unknown, unknown>;
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
const operations = [...operationsOf('query'), ...operationsOf('mutation')].filter(({ name }) => !LEFT_ALONE.includes(name));

function variablesOf({ field, name }: Operation): { variables: Record<string, unknown>; places: Place[] } {
  const places: Place[] = [];
  const variables = Object.fromEntries(field.args.filter((arg) => wanted(arg, 0)).map((arg) => [arg.name, valueOf(arg.type, arg.name, [arg.name], places, name)]));
  return { variables, places };
}

function put(variables: object, path: readonly string[], value: string): object {
  const copy = JSON.parse(JSON.stringify(variables)) as Record<string, unknown>;
  let within: any = copy;
  for (const step of path.slice(0, -1)) within = within[step];
  within[path.at(-1)!] = value;
  return copy;
}

/** Every request gets ids of its own for what it would make; the answers are compared without them, and without the moment. */
const freshIds = (variables: object): object => JSON.parse(JSON.stringify(variables), (key, value: unknown) => (key === 'id' && typeof value === 'string' && !known(value) ? newId() : key === 'versionId' ? newId() : value)) as object;
const known = (id: string): boolean => [...own.byKind.values()].includes(id) || otherIds.has(id);
const comparable = (answer: unknown, probe: string): string => JSON.stringify(answer)
  .replaceAll(probe, '<probe>').replace(/\d{4}-\d\d-\d\dT[\d:.]+(Z|[+-]\d\d:\d\d)/g, '<moment>').replace(/[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g, '<id>').replace(/[0-9a-f]{64}/g, '<hash>');

async function probe(operation: Operation, variables: object, place: Place, id: string): Promise<string> {
  return comparable(await asking.answer(operation.text, put(freshIds(variables), place.path, id)), id);
}

const reached = new Set<string>();
const unreached = new Set<string>();

describe.each(operations.map((operation) => [`${operation.kind} ${operation.name}`, operation] as const))('%s', (_, operation) => {
  it('tells nothing of another lab, asked plainly or by its ids', async () => {
    const { variables, places } = variablesOf(operation);
    const plain = JSON.stringify(await asking.answer(operation.text, freshIds(variables)));
    // Which labs there are is no secret to whoever may share with them.
    if (operation.name !== 'otherLabs') for (const id of otherIds) expect(plain).not.toContain(id);
    for (const place of places) {
      const name = `${operation.name} ${place.path.join('.')}`;
      // Where the name of a place does not tell the kind, one of each.
      if (name === 'grantShare input.labIds.0') continue;
      const theirs = place.kind && other.byKind.has(place.kind) ? [other.byKind.get(place.kind)!] : [...other.byKind.values()];
      const unknown = await probe(operation, variables, place, newId());
      (/NOT_FOUND|was not found|":null\}|":\[\]|was never|is not on this server|shared with this lab/.test(unknown) ? reached : unreached).add(name);
      for (const id of theirs) {
        expect({ name, answer: await probe(operation, variables, place, id) }).toEqual({ name, answer: unknown });
      }
    }
  });
});

/**
 * Another refusal comes first with the plain values that stand in for the rest (no number, another state), or an id that is not there is
 * passed over in silence. What these do with another lab's id is tested beside their modules.
 */
const SHIELDED = [
  'amendMeterReading amends.targetId',
  'amendMeterReading input.discId',
  'calibrationStudy input.leafIds.0',
  'compareCalibrations input.leafIds.0',
  'fitCalibration input.leafIds.0',
  'hearLine input.instrumentId',
  'importCalibration input.calibrationId',
  'importCalibration input.rigId',
  'issueCertificates input.calibrationVersionId',
  'issueCertificates input.lightReferenceId',
  'jobs after',
  'labelPrintCounts subjectIds.0',
  'ledgerExceptions id',
  'ledgerExceptions personId',
  'ledgerExceptions subjectId',
  'markNoticeSeen ids.0',
  'openDryingRun input.protocolId',
  'openDryingRun input.rigId',
  'printLabels input.subjectIds.0',
  'recordAbsorptionBand input.deviceUnitId',
  'recordAbsorptionBand input.storedFileId',
  'recordBiasSweep input.deviceUnitId',
  'recordBiasSweep input.storedFileId',
  'recordCalibration input.cropId',
  'recordCalibrationComment input.answersId',
  'recordCalibrationComment input.calibrationVersionId',
  'recordCalibrationComment input.shareId',
  'recordChoppedRun input.deviceUnitId',
  'recordDisc input.leafId',
  'recordInstrumentCalibration input.certificateFileId',
  'recordInstrumentCalibration input.instrumentId',
  'recordInstallation input.photoFileId',
  'recordInstallation input.plantId',
  'recordLeaf input.photoId',
  'recordLeaf input.plantId',
  'recordLightReference input.meterId',
  'recordLotAcceptance input.deviceLotId',
  'recordMeterReading input.discId',
  'recordPlant input.cropId',
  'recordPlant input.motherId',
  'recordSamples input.cropId',
  'recordSamples input.motherId',
  'recordSitePlan input.storedFileId',
  'recordTemperatureRun input.deviceUnitId',
  'startOvenCycle input.discIds.0',
  'startOvenCycle input.ovenId',
  'studyTransfer input.cropId',
  'studyTransfer input.leafIds.0',
  'studyWaterThickness input.discIds.0',
  'unloadOvenCycle input.scannedDiscIds.0',
];

it('reaches most places for ids, and those that something else shields are known', () => {
  // Several people add operations at once: a few may stand in the schema before they are named above.
  const unnamed = [...unreached].filter((name) => !SHIELDED.includes(name));
  expect({ unnamed, few: unnamed.length <= 12 }).toEqual({ unnamed, few: true });
  expect(reached.size).toBeGreaterThan(140);
});

describe('subscriptions', () => {
  it('are all tested here', () => {
    expect(Object.keys(schema.getSubscriptionType()!.getFields()).sort()).toEqual(['lineHeard', 'recorded']);
  });

  it('tell nothing of what another lab records', async () => {
    const { createAccessToken } = await asking.ask<any>(
      'mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { secret problem { message } } }',
      { input: { id: newId(), label: 'isolation', scopes: ['READ', 'BENCH', 'LISTEN'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD } },
    );
    const socket = createClient({ url: `${server.url.replace('http', 'ws')}/graphql`, webSocketImpl: WebSocket, connectionParams: { authorization: `Bearer ${createAccessToken.secret}` } });
    const heard: unknown[] = [];
    const listen = (query: string, variables?: Record<string, unknown>): (() => void) => socket.subscribe({ query, ...(variables && { variables }) }, { next: (news) => heard.push(news), error: (error) => heard.push(error), complete: () => undefined });
    const ends = [listen('subscription { recorded { kind id } }'), listen('subscription ($id: UUID!) { lineHeard(instrumentId: $id) { id } }', { id: other.byKind.get('instrument') })];
    await new Promise((resolve) => { setTimeout(resolve, 500); });
    const hiddenId = newId();
    await record(other.lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: hiddenId, name: 'Hidden crop' });
    const cropId = newId();
    await record(own.lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Own crop' });
    await new Promise((resolve) => { setTimeout(resolve, 500); });
    expect(JSON.stringify(heard)).toContain(cropId);
    expect(JSON.stringify(heard)).not.toContain(hiddenId);
    for (const end of ends) end();
    await socket.dispose();
  });
});
