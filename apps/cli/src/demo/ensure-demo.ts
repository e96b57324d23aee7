import { demoScenario, simulateField, simulateFieldLife, simulateLab, type SimulatedPerson } from '#libs/simulator';
import { signIn, type ApiClient } from '../client.js';
import type { ServerModule } from '../server-module.js';
import { ensureNeighbour, NEIGHBOUR, neighbourStands } from './neighbour.js';
import { contractRole, EventWriter } from './write-events.js';

type Served = Awaited<ReturnType<ServerModule['serve']>>;
/** As the api takes them. */
type Member = Parameters<Served['openLab']>[1][number];

const LAB = 'Demo lab (invented data)';
/** The demo is for looking around on one's own machine; its passwords are no secret and are printed at every start. */
const PASSWORD = 'leaf-by-leaf-2026';
const SEED = 'threadleaf demo';

const emailOf = ({ key }: SimulatedPerson): string => `${key.replace(/-1$/, '')}@demo.example`;

export interface DemoSignIn {
  readonly role: string;
  readonly email: string;
  readonly password: string;
}

/** One sign-in a role, as the terminal prints them. */
export function demoSignIns(): DemoSignIn[] {
  const { people } = demoLab(new Date());
  const first = people.filter((person, i) => people.findIndex(({ role }) => role === person.role) === i);
  return first.map((person) => ({ role: person.role.replace('-', ' '), email: emailOf(person), password: PASSWORD }));
}

/** Sign-ins of the lab next door: who takes over, and who approves it there. */
export const neighbourSignIns = (): DemoSignIn[] =>
  NEIGHBOUR.people.filter(({ key }) => ['researcher-1', 'researcher-2', 'manager-1'].includes(key)).map((person) => ({ role: person.role, email: NEIGHBOUR.emailOf(person), password: PASSWORD }));

/** The scenario ends at five in the afternoon of the day before the demo was opened: it always lies in the weeks just past. */
function demoLab(openedAt: Date): ReturnType<typeof simulateLab> {
  const dayBefore = new Date(openedAt.getTime() - 24 * 3_600_000).toISOString().slice(0, 10);
  return simulateLab(SEED, demoScenario(`${dayBefore}T17:00:00Z`));
}

/**
 * Makes the demo lab on an empty server: invented data by the seeded simulator, written through the same mutations a
 * person uses. A demo that was cut short is finished: its ids follow from the seed, so what is there already is a replay.
 *
 * A demo of an earlier version is left as it is, without a lab next door.
 *
 * @returns whether the demo lab stands now, and whether the lab next door does
 */
export async function ensureDemo(served: Served, say: (line: string) => void): Promise<{ readonly stands: boolean; readonly neighbour: boolean }> {
  const { any, demo } = await served.labs();
  if (any && (!demo || demo.complete)) return { stands: demo !== null, neighbour: demo !== null && (await neighbourStands(served, PASSWORD)) };
  say(demo ? 'Finishing the demo lab ...' : 'Making the demo lab: four weeks of invented data, through the same doors a person uses ...');
  if (!demo) await served.openLab(LAB, demoLab(new Date()).people.map(memberOf), true);
  const lab = demoLab((await served.labs()).demo!.openedAt);
  const clients = new Map<string, ApiClient>();
  for (const person of lab.people) clients.set(person.key, await signIn(served.url, emailOf(person), PASSWORD));
  const writer = new EventWriter(clients, PASSWORD, SEED);
  await writer.write(lab.events);
  // Before the field: its decisions are what tells a finished demo.
  await ensureNeighbour(served, (await served.labs()).demo!.openedAt, clients, { lab: LAB, password: PASSWORD });
  const field = simulateField(lab, writer.biasV);
  await writer.write(field.events);
  await writer.write(simulateFieldLife(lab, field));
  return { stands: true, neighbour: true };
}

const memberOf = (person: SimulatedPerson): Member => ({
  email: emailOf(person), displayName: person.displayName, password: PASSWORD, roles: [contractRole(person.role) as Member['roles'][number]],
});
