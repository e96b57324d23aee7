import type { ApolloClient } from '@apollo/client';
import type {
  EndInstallationInput, RecordFieldCheckInput, RecordFieldReportInput, RecordInstallationInput, RecordLatchResetInput, RecordMeterReadingInput, RecordTripInput, RecordWeighingInput, StoredFilePurpose,
} from '../generated/graphql.js';
import { payloadOf } from '../ui/send.js';
import type { FlagSeen, ProblemSeen, Sent } from '../ui/send.js';
import { sendFile } from '../ui/stored-file.js';
import { actingFor } from './acting-for.js';
import type { Account } from './acting-for.js';
import { EndInstallation, RecordFieldCheck, RecordInstallation, RecordLatchReset, RecordMeterReading, RecordReports, RecordTrip, RecordWeighing } from './documents.js';

/** A photo or file that a record will point at: its bytes are kept like any other write, and sent before the record. */
export interface FileInput {
  readonly id: string;
  readonly file: File;
  readonly purpose: StoredFilePurpose;
}

interface Inputs {
  readonly weighing: RecordWeighingInput;
  readonly meterReading: RecordMeterReadingInput;
  readonly installation: RecordInstallationInput;
  readonly trip: RecordTripInput;
  readonly fieldReport: RecordFieldReportInput;
  readonly latchReset: RecordLatchResetInput;
  readonly installationEnd: EndInstallationInput;
  readonly fieldCheck: RecordFieldCheckInput;
  readonly file: FileInput;
}

/** A write that does not need the network to be captured: its id and its moment are made here. */
export type OfflineWrite = { readonly [K in keyof Inputs]: { readonly kind: K; readonly input: Inputs[K] } }[keyof Inputs];

/** What the server says to a write; flags are what it asks, or what stands against it. */
export type Answered = Sent<{ readonly flags?: readonly FlagSeen[] }>;

interface WriteKind<I> {
  readonly send: (client: ApolloClient, input: I, account: Account) => Promise<Sent<unknown>>;
  /** When it was seen or done; null where the write does not tell. */
  readonly at: (input: I) => string | null;
  /** The run, cycle or installation that it belongs to. */
  readonly of: (input: I) => string | null;
  /** Where a person answers what the server asks. */
  readonly answer?: keyof I & string;
}

/** A server that is reached but does not speak must not hold up the hand for ever; the id makes a second sending harmless. */
const MOST_WAIT_MS = 20_000;

const context = (account: Account) => ({ ...actingFor(account), fetchOptions: { signal: AbortSignal.timeout(MOST_WAIT_MS) } });

/** The mutation of many answers in a list: of one entry, its own answer counts. */
function ofOne(sent: Sent<readonly { readonly problem?: ProblemSeen | null }[]>): Sent<unknown> {
  if (sent.outcome !== 'recorded') return sent;
  const [payload] = sent.payload;
  return payload?.problem ? { outcome: 'refused', problem: payload.problem, payload } : { outcome: 'recorded', payload };
}

const kinds: { readonly [K in keyof Inputs]: WriteKind<Inputs[K]> } = {
  weighing: {
    send: (client, input, account) => payloadOf(client, RecordWeighing, { input }, context(account)),
    at: ({ observedAt }) => observedAt, of: ({ dryingRunId, ovenCycleId }) => dryingRunId ?? ovenCycleId ?? null, answer: 'flagAnswer',
  },
  meterReading: {
    send: (client, input, account) => payloadOf(client, RecordMeterReading, { input }, context(account)),
    at: ({ observedAt }) => observedAt, of: ({ dryingRunId }) => dryingRunId,
  },
  installation: {
    send: (client, input, account) => payloadOf(client, RecordInstallation, { input }, context(account)),
    at: ({ armedAt }) => armedAt, of: ({ id }) => id, answer: 'overrideReason',
  },
  trip: {
    send: (client, input, account) => payloadOf(client, RecordTrip, { input }, context(account)),
    at: ({ seenAt }) => seenAt, of: ({ installationId }) => installationId,
  },
  fieldReport: {
    send: async (client, input, account) => ofOne(await payloadOf(client, RecordReports, { inputs: [input] }, context(account))),
    at: ({ observedAt }) => observedAt, of: ({ installationId }) => installationId,
  },
  latchReset: {
    send: (client, input, account) => payloadOf(client, RecordLatchReset, { input }, context(account)),
    at: ({ observedAt }) => observedAt, of: ({ installationId }) => installationId,
  },
  installationEnd: {
    send: (client, input, account) => payloadOf(client, EndInstallation, { input }, context(account)),
    at: ({ observedAt }) => observedAt, of: ({ installationId }) => installationId,
  },
  fieldCheck: {
    send: (client, input, account) => payloadOf(client, RecordFieldCheck, { input }, context(account)),
    at: ({ observedAt }) => observedAt, of: ({ installationId }) => installationId,
  },
  file: {
    send: (_client, { id, file, purpose }, account) => sendFile({ id, file, purpose, account, onProgress: () => undefined }),
    at: () => null, of: () => null,
  },
};

const kindOf = (write: OfflineWrite): WriteKind<never> => kinds[write.kind] as WriteKind<never>;

/** Sends a write for the person and lab that it was captured for, whoever is signed in by now: the server refuses another's session. */
export async function sendWrite(client: ApolloClient, write: OfflineWrite, account: Account): Promise<Answered> {
  const sent = await kindOf(write).send(client, write.input as never, account);
  if (sent.outcome === 'not-sent') return sent;
  const payload = (sent.payload ?? {}) as { readonly flags?: readonly FlagSeen[]; readonly objections?: readonly FlagSeen[] };
  return { ...sent, payload: { flags: payload.flags ?? payload.objections ?? [] } };
}

export const momentOf = (write: OfflineWrite): string | null => kindOf(write).at(write.input as never);

/** The id of the run, cycle or installation that a write belongs to. */
export const belongsTo = (write: OfflineWrite): string | null => kindOf(write).of(write.input as never);

/** What a person calls the texts of a write, where one may have to be corrected before it can be recorded. */
const fieldWords: Readonly<Record<string, string>> = {
  massText: 'Mass', powerText: 'Power', flagAnswer: 'Answer to the flags', overrideReason: 'Reason for doing it all the same', biasReadbackV: 'Bias read back, V', tiltDeg: 'Tilt, degrees',
  latitude: 'Latitude, degrees', longitude: 'Longitude, degrees', lightPowerNw: 'Light then, nW', site: 'Site', zone: 'Zone', plantNote: 'Plant and leaf', note: 'Note', reason: 'Why',
  observedAt: 'Seen at, with its offset', seenAt: 'Seen at, with its offset', trippedAt: 'Tripped at, with its offset', armedAt: 'Armed at, with its offset',
};

export interface Correctable {
  readonly name: string;
  readonly label: string;
  readonly value: string;
}

/** The texts of a refused write that a person may change: the one the server names, and the answer it asks for. */
export function correctableIn(write: OfflineWrite, problem: ProblemSeen, asks: boolean): readonly Correctable[] {
  const named = problem.field?.slice(problem.field.lastIndexOf('.') + 1) ?? null;
  const answer = asks || named === kindOf(write).answer ? (kindOf(write).answer ?? null) : null;
  const input = write.input as unknown as Readonly<Record<string, unknown>>;
  return [...new Set([named, answer])].flatMap((name) => {
    const label = name === null ? undefined : fieldWords[name];
    return name !== null && label !== undefined ? [{ name, label, value: typeof input[name] === 'string' ? input[name] : '' }] : [];
  });
}

/** The write with its texts corrected; what a hand typed as a number is its raw line too. */
export function corrected(write: OfflineWrite, texts: Readonly<Record<string, string>>): OfflineWrite {
  const input = write.input as unknown as Readonly<Record<string, unknown>>;
  const number = texts['massText'] ?? texts['powerText'];
  const rawLine = number !== undefined && input['entryMode'] === 'TYPED' ? { rawLine: number } : {};
  return { ...write, input: { ...input, ...texts, ...rawLine } } as unknown as OfflineWrite;
}
