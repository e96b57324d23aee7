import { ApolloClient, ApolloLink, InMemoryCache, Observable } from '@apollo/client';
import { ApolloProvider } from '@apollo/client/react';
import { jest } from '@jest/globals';
import { act, cleanup, render } from '@testing-library/react';
import { RecordedInLab } from '../src/app/documents.js';
import { LiveProvider, useLive } from '../src/ui/live.js';

afterEach(() => {
  cleanup();
  jest.useRealTimers();
});

/** A screen whose every fetch takes as long as the test lets it. */
function screenUnderNews() {
  jest.useFakeTimers();
  let news: (kind: string) => void = () => undefined;
  const link = new ApolloLink(() => new Observable((observer) => {
    news = (kind) => observer.next({ data: { recorded: { kind, id: '1', dryingRunId: 'run' } } });
  }));
  const answers: (() => void)[] = [];
  const refetch = () => new Promise<void>((resolve) => answers.push(resolve));
  let again: () => void = () => undefined;
  function Screen() {
    again = useLive(refetch);
    return null;
  }
  render(<ApolloProvider client={new ApolloClient({ link, cache: new InMemoryCache() })}><LiveProvider subscription={RecordedInLab}><Screen /></LiveProvider></ApolloProvider>);
  const lasting = (ms: number) => act(() => jest.advanceTimersByTimeAsync(ms));
  return {
    fetches: () => answers.length,
    again: () => again(),
    recorded: async (kind = 'weighing') => { await act(async () => news(kind)); await lasting(0); },
    answered: async () => { await act(async () => answers.at(-1)!()); await lasting(0); },
    lasting,
  };
}

test('what was recorded is fetched a moment later, many records at once by one fetch, and a job’s progress by none', async () => {
  const { fetches, recorded, lasting } = screenUnderNews();
  await recorded('job');
  await lasting(5_000);
  expect(fetches()).toBe(0);
  await recorded();
  await recorded();
  expect(fetches()).toBe(0);
  await lasting(250);
  expect(fetches()).toBe(1);
});

test('what the screen recorded itself is fetched at once, and the news of it asks for no second fetch', async () => {
  const { fetches, recorded, again, answered, lasting } = screenUnderNews();
  await recorded();
  again();
  expect(fetches()).toBe(1);
  await answered();
  await lasting(5_000);
  expect(fetches()).toBe(1);
});

test('a fetch under way may be older than what was recorded meanwhile: one more follows, at once for what the screen did itself', async () => {
  const { fetches, recorded, again, answered, lasting } = screenUnderNews();
  again();
  again();
  await recorded();
  expect(fetches()).toBe(1);
  await answered();
  expect(fetches()).toBe(2);
  await recorded();
  await answered();
  expect(fetches()).toBe(2);
  await lasting(1_000);
  expect(fetches()).toBe(3);
});
