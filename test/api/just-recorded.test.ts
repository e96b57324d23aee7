import { createClient, type Client } from 'graphql-ws';
import WebSocket from 'ws';
import { record } from '../support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { until } from '../support/until.js';

let server: TestServer;
let lab: TestLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab with open pages');
});

const sockets: Client[] = [];

afterAll(async () => {
  await Promise.all(sockets.map((socket) => socket.dispose()));
  await server.close();
});

/** A page that listens from now on, and what it has heard: the ids of records. */
async function page(of: TestLab): Promise<{ hears(id: string): Promise<unknown>; heard: readonly string[] }> {
  const { createAccessToken } = await of.as('MANAGER').ask<any>('mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { secret } }', {
    input: { id: newId(), label: `page ${newId()}`, scopes: ['READ', 'LISTEN'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD },
  });
  const socket = createClient({ url: `${server.url.replace('http', 'ws')}/graphql`, webSocketImpl: WebSocket, connectionParams: { authorization: `Bearer ${createAccessToken.secret}` } });
  sockets.push(socket);
  const heard: string[] = [];
  socket.subscribe({ query: 'subscription { recorded { id } }' }, { next: ({ data }: any) => heard.push(data.recorded.id), error: () => undefined, complete: () => undefined });
  return {
    heard,
    hears: (id) => until('the page heard of the record', () => heard.includes(id)),
  };
}

const crop = async (of: TestLab): Promise<string> => {
  const id = newId();
  await record(of.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id, name: `Crop ${id}` });
  return id;
};

it('a page that began to listen after its first fetch is told what was recorded in between, once, and nothing of another lab', async () => {
  const other = await server.openLab('Lab beside the open pages');
  const early = await page(lab);
  const theirs = await crop(other);
  const own = await crop(lab);
  // By now it was announced: who comes after that has not heard it live.
  await early.hears(own);
  const late = await page(lab);
  await late.hears(own);
  const next = await crop(lab);
  await late.hears(next);
  expect(late.heard.filter((id) => id === own || id === next)).toEqual([own, next]);
  expect(late.heard).not.toContain(theirs);
});
