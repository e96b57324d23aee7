import { jest } from '@jest/globals';
import { act, cleanup, render, screen } from '@testing-library/react';
import { OutboxRibbon } from '../src/app/outbox-ribbon.js';
import { OutboxContext } from '../src/offline/outbox.js';
import type { Outbox } from '../src/offline/outbox.js';
import type { Kept } from '../src/offline/store.js';

const START = Date.parse('2026-06-03T09:00:00.000Z');

beforeEach(() => jest.useFakeTimers({ now: START }));

afterEach(() => {
  cleanup();
  jest.useRealTimers();
});

const keptAfter = (ms: number, more: object = {}): Kept => ({ kind: 'weighing', order: ms, keptAt: new Date(START + ms).toISOString(), input: { id: `of ${ms}` }, ...more } as unknown as Kept);

function ribbon() {
  const of = (waiting: readonly Kept[]) => <OutboxContext value={{ waiting, onScreen: new Set<string>() } as unknown as Outbox}><OutboxRibbon onOpen={() => undefined} /></OutboxContext>;
  const { rerender } = render(of([]));
  return { waits: (...those: Kept[]) => rerender(of(those)), after: (ms: number) => act(() => jest.advanceTimersByTime(ms)), said: () => screen.queryByRole('status')?.textContent ?? null };
}

test('a mass on its way to a server that answers says nothing; one that waits longer does', () => {
  const { waits, after, said } = ribbon();
  waits(keptAfter(0));
  after(1_000);
  expect(said()).toBeNull();
  after(1_000);
  expect(said()).toMatch(/^Not sent yet: 1\./);
});

test('once it speaks it counts what is left until nothing is: it does not go and come again with the age of the next', () => {
  const { waits, after, said } = ribbon();
  waits(keptAfter(0), keptAfter(1_900));
  after(2_000);
  expect(said()).toMatch(/^Not sent yet: 2\./);
  waits(keptAfter(1_900));
  expect(said()).toMatch(/^Not sent yet: 1\./);
  waits();
  expect(said()).toBeNull();
  waits(keptAfter(2_000));
  expect(said()).toBeNull();
});

test('what was refused is told at once', () => {
  const { waits, said } = ribbon();
  waits(keptAfter(0, { problem: { message: 'No number.' } }));
  expect(said()).toMatch(/1 refused, to be looked at/);
});
