import { ApolloLink, execute, gql, Observable } from '@apollo/client';
import type { ApolloClient } from '@apollo/client';
import { CombinedGraphQLErrors } from '@apollo/client';
import { sessionWatch } from '../src/app/session-watch.js';
import { ACTING_FOR, actingFor } from '../src/offline/acting-for.js';

const engineer = { personId: 'engineer', labId: 'hill' };
const technician = { personId: 'technician', labId: 'hill' };

/** A page whose server answers "no session" when told to. */
function page() {
  let lapses = 0;
  const watch = sessionWatch(() => { lapses += 1; });
  const said: (string | undefined)[] = [];
  const open: (() => void)[] = [];
  const server = new ApolloLink((operation) => {
    said.push((operation.getContext()['headers'] as Record<string, string> | undefined)?.[ACTING_FOR]);
    return new Observable((observer) => {
      open.push(() => observer.error(new CombinedGraphQLErrors({ errors: [{ message: 'No session.', extensions: { code: 'UNAUTHENTICATED' } }] })));
    });
  });
  const link = ApolloLink.from([watch.link, server]);
  const ask = (context: object = {}) => {
    execute(link, { query: gql`query { me }`, context }, { client: {} as ApolloClient }).subscribe({ error: () => undefined });
    return open.at(-1)!;
  };
  return { watch, said, ask, lapses: () => lapses };
}

test('the answer that the session has ended is heeded when it is of the present sign-in', () => {
  const { watch, ask, lapses, said } = page();
  watch.actFor(engineer);
  ask()();
  expect(lapses()).toBe(1);
  expect(said).toEqual(['engineer hill']);
});

test('a late answer to what was asked before the present sign-in does not end it, whoever signed in', () => {
  const { watch, ask, lapses } = page();
  watch.actFor(engineer);
  const [first, second] = [ask(), ask()];
  first();
  watch.actFor(technician);
  second();
  expect(lapses()).toBe(1);
  const third = ask();
  watch.actFor(technician);
  third();
  expect(lapses()).toBe(1);
});

test('a write of another person, refused because the session is not theirs, does not end the session of who is signed in', () => {
  const { watch, ask, lapses, said } = page();
  watch.actFor(technician);
  ask(actingFor(engineer))();
  expect(lapses()).toBe(0);
  expect(said).toEqual(['engineer hill']);
  ask(actingFor(technician))();
  expect(lapses()).toBe(1);
});
