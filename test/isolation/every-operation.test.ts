import { jest } from '@jest/globals';
import { createClient } from 'graphql-ws';
import WebSocket from 'ws';
import { record } from '../support/chain.js';
import { listeners } from '../support/listeners.js';
import { until } from '../support/until.js';
import { newId, PASSWORD, ROLES, signIn, startTestServer, type Client, type TestServer } from '../support/lab.js';
import { storeFile } from '../support/stored-file.js';
import { wallsFor, type Walls } from '../support/walls.js';
import { operations, placesOf, schema, variablesOf, withoutNumbers, type Operation, type Place } from './operations.js';
import { ALIKE, SHIELDED } from './shielded.js';
import { fillSide, shareWith, tellNotice, type Side } from './sides.js';

/**
 * For every operation of the schema, and every place in its arguments where an id may stand: a record of another lab gets the
 * very answer that an id gets which nobody ever used. The operations are taken from the schema itself, so that a new one is asked
 * too. That a place is looked at is shown by a record of the own lab, which gets another answer; that a hole would be seen, by taking
 * both walls down: then the other lab's record gets another answer too, or a foreign key with the lab in it still refuses the write.
 * Places of which that is not shown are named in `shielded.ts`, with the reason, and there may be no other.
 */
let server: TestServer;
let own: Side;
let other: Side;
let asking: Client;
let walls: Walls;
let told: jest.SpiedFunction<typeof console.error>;
/** Every id of the other lab that stands for a kind of record. */
let otherIds: ReadonlySet<string>;

beforeAll(async () => {
  server = await startTestServer();
  const [mine, theirs, third] = [await server.openLab('Own lab'), await server.openLab('Hidden lab'), await server.openLab('Giving lab')];
  const [mineFilled, theirsFilled, given] = [await fillSide(server, mine, third), await fillSide(server, theirs, third), await shareWith(third, mine)];
  // One person with every role, so that no policy hides what isolation must.
  await mine.as('ADMINISTRATOR').ask('mutation ($input: AddMemberInput!) { addMember(input: $input) { problem { message } } }', { input: { email: 'all@roles.example', displayName: 'All Roles', password: PASSWORD, roles: [...ROLES] } });
  asking = await signIn(server.url, 'all@roles.example', PASSWORD);
  const { me } = await asking.ask<any>('{ me { person { id } } }');
  const pack = await storeFile(asking, 'pack.zip', given.pack, 'EVIDENCE_PACK');
  own = { ...mineFilled, byKind: new Map([...mineFilled.byKind, ['adoptable_share', given.shareId], ['pack', pack.id], ['notice', await tellNotice(server, mine.labId, me.person.id)]]) };
  const { me: them } = await theirs.as('RESEARCHER').ask<any>('{ me { person { id } } }');
  other = { ...theirsFilled, byKind: new Map([...theirsFilled.byKind, ['adoptable_share', theirsFilled.byKind.get('calibration_share')!], ['pack', theirsFilled.byKind.get('stored_file')!], ['notice', await tellNotice(server, theirs.labId, them.person.id)]]) };
  otherIds = new Set(other.byKind.values());
  walls = await wallsFor(server.database.ownerUrl, me.person.id);
  // What breaks while the walls are down is told as a bug each time.
  told = jest.spyOn(console, 'error').mockImplementation(() => undefined);
}, 300_000);

afterAll(async () => {
  walls?.restore();
  told?.mockRestore();
  await server.close();
});

/** Answers are compared without the id asked for, without ids, moments and numbers of their own. */
const comparable = (answer: unknown, probe?: string): string => withoutNumbers(JSON.stringify(answer).replaceAll(probe ?? '\0', '<probe>'))
  .replace(/\d{4}-\d\d-\d\dT[\d:.]+(Z|[+-]\d\d:\d\d)/g, '<moment>').replace(/[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g, '<id>').replace(/[0-9a-f]{64}/g, '<hash>');

const asked = async (operation: Operation, place: Place, id: string): Promise<string> => comparable(await asking.answer(operation.text, variablesOf(operation, own.byKind, place, id)), id);

/** Places of which no request here showed that it would be seen, if they let another lab's record through. */
const unproven: string[] = [];

describe.each(operations.map((operation) => [`${operation.kind} ${operation.name}`, operation] as const))('%s', (_, operation) => {
  it('tells nothing of another lab, asked plainly or by its ids', async () => {
    const plain = JSON.stringify(await asking.answer(operation.text, variablesOf(operation, own.byKind)));
    // Which labs there are is no secret to whoever may share with them.
    if (operation.name !== 'otherLabs') for (const id of otherIds) expect(plain).not.toContain(id);
    for (const place of placesOf(operation, own.byKind)) {
      // Labs are no secret: with whom one shares is chosen among them.
      if (place.kind === 'lab') continue;
      const theirs = other.byKind.get(place.kind);
      const mine = own.byKind.get(place.kind);
      if (!theirs || !mine) throw new Error(`No lab of this test has a ${place.kind}, which ${place.name} seems to ask for: make one in sides.ts, or tell its kind in places.ts.`);
      const unknown = await asked(operation, place, newId());
      expect({ place: place.name, answer: await asked(operation, place, theirs) }).toEqual({ place: place.name, answer: unknown });
      const before = walls.heldByKey();
      const open = await walls.down(() => asked(operation, place, theirs));
      const held = walls.heldByKey() > before;
      const seen = open !== (await walls.down(() => asked(operation, place, newId())));
      const reached = (await asked(operation, place, mine)) !== unknown;
      if (!reached || !(seen || held)) unproven.push(place.name);
    }
  });
});

describe('this test itself', () => {
  it('reaches every place for an id and would see the other lab’s record there, were the walls down; but for those named', () => {
    expect(unproven.sort()).toEqual(Object.keys(SHIELDED).sort());
  });

  it('would see the other lab in every answer to a plain question, but for those named', async () => {
    const blind: string[] = [];
    // What was written above has its places and checkpoints first: nothing but the walls is to make answers differ.
    for (const { lab } of [own, other]) await server.served.settleLedger(lab.labId);
    for (const operation of operations.filter(({ kind }) => kind === 'query')) {
      const ask = async (): Promise<string> => JSON.stringify(await asking.answer(operation.text, variablesOf(operation, own.byKind)));
      if (placesOf(operation, own.byKind).length > 0) continue;
      const sees = async (): Promise<boolean> => {
        const open = await walls.down(ask);
        return [...otherIds].some((id) => open.includes(id)) || comparable(open) !== comparable(await ask());
      };
      // Jobs go on behind requests: an answer that differs by theirs does not differ each time.
      if (!((await sees()) && (await sees()) && (await sees()))) blind.push(operation.name);
    }
    expect(blind.sort()).toEqual(Object.keys(ALIKE).sort());
  });
});

it('finds no sample of another lab by its label or code', async () => {
  const DISC = 'query ($id: UUID!) { disc(id: $id) { label code } }';
  const { disc } = await other.lab.as('TECHNICIAN').ask<any>(DISC, { id: other.byKind.get('olive_disc') });
  const find = (client: Client): Promise<unknown> => client.ask('query ($label: String!, $code: String!) { discByLabel(label: $label) { id } scan(text: $code) { found { id } } }', disc);
  const unknown = await asking.ask('query ($label: String!, $code: String!) { discByLabel(label: $label) { id } scan(text: $code) { found { id } } }', { label: 'No such disc', code: disc.code });
  expect(JSON.stringify(await find(other.lab.as('TECHNICIAN')))).toContain(other.byKind.get('olive_disc'));
  expect(await find(asking)).toEqual(unknown);
  expect(JSON.stringify(await walls.down(() => find(asking)))).toContain(other.byKind.get('olive_disc'));
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
    const [linesBegun, recordsBegun] = [listeners('lines'), listeners('records')];
    const listen = (query: string, variables?: Record<string, unknown>): (() => void) => socket.subscribe({ query, ...(variables && { variables }) }, { next: (news) => heard.push(news), error: (error) => heard.push(error), complete: () => undefined });
    const LINE = 'subscription ($id: UUID!) { lineHeard(instrumentId: $id) { id rawLine } }';
    const ends = [listen('subscription { recorded { kind id } }'), listen(LINE, { id: other.byKind.get('balance') }), listen(LINE, { id: own.byKind.get('balance') })];
    const hears = (wanted: string): Promise<unknown> => until(`${wanted} was heard`, () => JSON.stringify(heard).includes(wanted));
    const hear = (side: Side, line: string): Promise<unknown> => record(side.lab.as('TECHNICIAN'), 'hearLine', 'HearLineInput', { id: newId(), instrumentId: side.byKind.get('balance'), rawLine: line, heardAt: new Date().toISOString() });
    await Promise.all([linesBegun(2), recordsBegun()]);
    const hiddenId = newId();
    await record(other.lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: hiddenId, name: 'Hidden crop' });
    await hear(other, 'ST,77.77 mg');
    const cropId = newId();
    await record(own.lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Own crop' });
    await hear(own, 'ST,99.99 mg');
    await hears(cropId);
    await hears('99.99');
    expect(JSON.stringify(heard)).not.toContain(hiddenId);
    expect(JSON.stringify(heard)).not.toContain('77.77');
    for (const end of ends) end();
    await socket.dispose();
  });
});
