import { newId, signIn, startTestServer, PASSWORD, type Client, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let technician: Client;
let personId: string;

const me = 'query { me { person { id } lab { id } } }';
const asking = (client: Client, query: string, actingFor: string) =>
  client.request('/graphql', { method: 'POST', headers: { 'content-type': 'application/json', 'x-threadleaf-acting-for': actingFor }, body: JSON.stringify({ query }) }).then((answer) => answer.json() as Promise<any>);

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Shared bench');
  technician = await signIn(server.url, lab.as('TECHNICIAN').email, PASSWORD);
  personId = (await technician.ask<any>(me)).me.person.id;
});
afterAll(() => server.close());

it('a page that acts for whom the session is goes on', async () => {
  expect(await asking(technician, me, `${personId} ${lab.labId}`)).toMatchObject({ data: { me: { person: { id: personId } } } });
});

it('a page that acts for another person or lab than the session finds nobody signed in, and nothing is written', async () => {
  for (const another of [`${newId()} ${lab.labId}`, `${personId} ${newId()}`, 'nobody']) {
    expect(await asking(technician, me, another)).toMatchObject({ data: { me: null } });
    const { errors } = await asking(technician, '{ crops { id } }', another);
    expect(errors[0].extensions.code).toBe('UNAUTHENTICATED');
    const sent = await technician.request(`/files?${new URLSearchParams({ id: newId(), name: 'leaf.png', purpose: 'PHOTO' })}`, {
      method: 'POST', headers: { 'x-threadleaf': '1', 'content-type': 'application/octet-stream', 'x-threadleaf-acting-for': another }, body: new Uint8Array([1]),
    });
    expect(sent.status).toBe(401);
  }
});
