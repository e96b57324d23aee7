import { MantineProvider } from '@mantine/core';
import { ApolloClient, ApolloLink, InMemoryCache, Observable } from '@apollo/client';
import { ApolloProvider } from '@apollo/client/react';
import { render } from '@testing-library/react';
import type { ReactNode } from 'react';
import { MemoryRouter } from 'react-router';
import type { Run } from '../../src/features/bench/parts/run.js';
import { OutboxProvider } from '../../src/offline/outbox.js';

export type Variables = Record<string, any>;
/** An answer, or for a subscription an observable of them. */
export type Answers = Readonly<Record<string, (variables: Variables) => object | Observable<object>>>;

/** A server that answers by the name of the operation, and remembers what it was asked. */
export function serverOf(answers: Answers): { client: ApolloClient; asked: (operation: string) => readonly Variables[] } {
  const heard: { name: string; variables: Variables }[] = [];
  const link = new ApolloLink(({ operationName = '', variables }) => new Observable((observer) => {
    heard.push({ name: operationName, variables });
    const answer = answers[operationName]?.(variables);
    if (!answer) return observer.error(new Error(`The test has no answer to ${operationName}`));
    if (answer instanceof Observable) return answer.subscribe({ next: (data) => observer.next({ data: data as Record<string, unknown> }) });
    observer.next({ data: answer as Record<string, unknown> });
    observer.complete();
    return undefined;
  }));
  return { client: new ApolloClient({ link, cache: new InMemoryCache() }), asked: (operation) => heard.filter(({ name }) => name === operation).map(({ variables }) => variables) };
}

export function show(server: ReturnType<typeof serverOf>, children: ReactNode): void {
  render(
    <MantineProvider><ApolloProvider client={server.client}><MemoryRouter>
      <OutboxProvider labId="lab" personId="person">{children}</OutboxProvider>
    </MemoryRouter></ApolloProvider></MantineProvider>,
  );
}

export const at = (minutes: number): string => new Date(Date.UTC(2026, 5, 3, 9, minutes)).toISOString();
export const disc = (label: string): Run['discs'][number] => ({ id: `id of ${label}`, label, leaf: { id: 'leaf', plant: { id: 'plant', crop: { id: 'crop', name: 'Fig' } } } });
export const meter = (lightPath: 'DARK' | 'REFERENCE', minutes: number): Run['meterReadings'][number] => ({
  id: `${lightPath}`, lightPath, observedAt: at(minutes), clockOffsetMs: null, powerText: '1', powerUnit: 'nW', powerNw: '1', disc: null, recordedBy: { id: 'p', displayName: 'P' }, entryMode: 'TYPED', rawLine: '1', amendedBy: null,
});

export const run = (more: Partial<Run> = {}): Run => ({
  id: 'run', label: 'R-1', state: 'OPEN', rhythmMin: 5, openedAt: at(0), recordedBy: { id: 'p', displayName: 'P' },
  rig: { id: 'rig', label: 'Rig A', version: 1, source: 'lamp', bandCentreNm: '1470', bandWidthNm: '12', meter: { id: 'meter', label: 'Meter 1', checkStatus: 'IN_CHECK', checkDueAt: null, lineFormat: null } },
  balance: { id: 'balance', label: 'Balance 1', checkStatus: 'IN_CHECK', checkDueAt: null, resolution: '0.01', unit: 'mg', lineFormat: null },
  protocol: { id: 'protocol', name: 'Discs', version: 1 },
  parameters: { rhythmMin: 5, bracketMin: 30, scanFirst: false, lampWarmUpMin: 20, clockOffsetMostS: 5, outOfCheck: 'ASK' },
  preflights: [], rwcNow: [], discs: [disc('A-1'), disc('A-2')], weighings: [], meterReadings: [meter('DARK', 0), meter('REFERENCE', 1)], rwcSeries: [], ...more,
});
