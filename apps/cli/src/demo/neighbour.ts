import { createHash } from 'node:crypto';
import { demoScenario, NEIGHBOUR_PEOPLE, neighbourScenario, simulateLab, type SimulatedPerson } from '#libs/simulator';
import { v7 as uuidv7 } from 'uuid';
import { signIn, type ApiClient } from '../client.js';
import type { ServerModule } from '../server-module.js';
import { recordSpectra } from './spectra.js';
import { contractRole, EventWriter } from './write-events.js';

type Served = Awaited<ReturnType<ServerModule['serve']>>;
type Member = Parameters<Served['openLab']>[1][number];

const SEED = 'threadleaf neighbour';

/** The second demo lab: another crop, other people. */
export const NEIGHBOUR = {
  lab: 'Lab next door (invented data)',
  people: NEIGHBOUR_PEOPLE,
  emailOf: ({ key }: SimulatedPerson): string => `${key.replace(/^researcher-2$/, 'reviewer').replace(/-1$/, '')}@next-door.example`,
} as const;

export function neighbourStands(served: Served, password: string): Promise<boolean> {
  return signIn(served.url, NEIGHBOUR.emailOf(NEIGHBOUR_PEOPLE[0]!), password).then(() => true, () => false);
}

/**
 * Makes the lab next door and lets the two share: the demo lab its grapevine as a summary, the lab next door its olive down to the
 * raw lines. What is there already is a replay.
 *
 * @param here people of the demo lab, signed in
 */
export async function ensureNeighbour(served: Served, openedAt: Date, here: ReadonlyMap<string, ApiClient>, { lab, password }: { lab: string; password: string }): Promise<void> {
  if (!(await neighbourStands(served, password))) {
    await served.openLab(NEIGHBOUR.lab, NEIGHBOUR_PEOPLE.map((person): Member => ({
      email: NEIGHBOUR.emailOf(person), displayName: person.displayName, password, roles: [contractRole(person.role) as Member['roles'][number]],
    })), true);
  }
  const there = new Map<string, ApiClient>();
  for (const person of NEIGHBOUR_PEOPLE) there.set(person.key, await signIn(served.url, NEIGHBOUR.emailOf(person), password));
  const dayBefore = new Date(openedAt.getTime() - 24 * 3_600_000).toISOString().slice(0, 10);
  const writer = new EventWriter(there, password, SEED);
  await writer.write(simulateLab(SEED, neighbourScenario(`${dayBefore}T17:00:00Z`)).events);
  const researcher = here.get('researcher-1')!;
  const adopted = await shareBoth(researcher, there, { lab, openedAt });
  const endsAt = `${dayBefore}T17:00:00Z`;
  await recordSpectra(researcher, demoScenario(endsAt), endsAt, idsOf(openedAt, 'here '));
  await recordSpectra(there.get('researcher-1')!, neighbourScenario(endsAt), endsAt, idsOf(openedAt, 'there '));
  const id = idsOf(openedAt, 'study ');
  await study(researcher, { id: id('here'), calibrationVersionId: await approvedOf(researcher, 'Grapevine'), crop: 'Pepper' });
  await study(there.get('researcher-1')!, { id: id('there'), calibrationVersionId: adopted, crop: 'Olive' });
}

async function shareBoth(demo: ApiClient, there: ReadonlyMap<string, ApiClient>, { lab, openedAt }: { lab: string; openedAt: Date }): Promise<string> {
  const researcher = there.get('researcher-1')!;
  const id = idsOf(openedAt, '');
  const share = async (client: ApiClient, crop: string, depth: string, citation: string, to: string): Promise<string> => {
    const shareId = id(`share ${crop}`);
    await client.send('shareCalibration', 'ShareCalibrationInput', { id: shareId, calibrationVersionId: await approvedOf(client, crop), depth, permits: 'REUSE', licence: 'CC BY 4.0', citation });
    await client.send('grantShare', 'GrantShareInput', { id: id(`grant ${crop}`), shareId, audience: 'LABS', labIds: [await labCalled(client, to)] });
    return shareId;
  };
  const grapevine = await share(demo, 'Grapevine', 'SUMMARY', 'Demo lab: grapevine on rig 1, invented data', NEIGHBOUR.lab);
  await share(researcher, 'Olive', 'RAW', 'Lab next door: olive on rig 1, invented data', lab);
  const { crops, rigs } = await researcher.ask<{ crops: { id: string; name: string }[]; rigs: { id: string }[] }>('{ crops { id name } rigs { id } }');
  const calibrationId = id('calibration');
  await researcher.send('recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Olive, after the grapevine next door', cropId: crops.find(({ name }) => name === 'Olive')!.id });
  await researcher.send('adoptCalibration', 'AdoptCalibrationInput', {
    id: id('adoption'), versionId: id('adopted version'), shareId: grapevine, calibrationId, rigId: rigs[0]!.id,
    reason: 'To see whether a leaf of another crop reads alike on the same kind of rig, before more olive leaves are dried.',
  });
  await researcher.send('recordCalibrationComment', 'RecordCalibrationCommentInput', { id: id('question'), shareId: grapevine, question: true, text: 'Were the leaves read with the upper side to the light?' });
  await demo.send('recordCalibrationComment', 'RecordCalibrationCommentInput', { id: id('answer'), shareId: grapevine, answersId: id('question'), text: 'Yes, all of them; the lower side is hairy.' });
  return id('adopted version');
}

/** Ids that follow from seed and key: what is there already is a replay. */
const idsOf = (openedAt: Date, prefix: string) => (key: string): string =>
  uuidv7({ msecs: openedAt.getTime() - 3_600_000, seq: 1, random: createHash('sha256').update(`${SEED} ${prefix}${key}`).digest().subarray(0, 16) });

/** A calibration tried on the released runs of another crop, with a margin of five RWC points stated beforehand. */
async function study(client: ApiClient, { id, calibrationVersionId, crop }: { id: string; calibrationVersionId: string; crop: string }): Promise<void> {
  const { crops } = await client.ask<{ crops: { id: string; name: string }[] }>('{ crops { id name } }');
  const cropId = crops.find(({ name }) => name === crop)!.id;
  const { calibrationCandidates: runs } = await client.ask<{ calibrationCandidates: { id: string }[] }>('query ($cropId: UUID!) { calibrationCandidates(cropId: $cropId) { id } }', { cropId });
  await client.send('studyTransfer', 'StudyTransferInput', { id, calibrationVersionId, cropId, dryingRunIds: runs.map((run) => run.id), marginPoints: 5 });
}

/** The approved version of the calibration of a crop that a lab fitted itself. */
async function approvedOf(client: ApiClient, crop: string): Promise<string> {
  const { calibrations } = await client.ask<{ calibrations: { crop: { name: string }; versions: { id: string; state: string; origin: object | null }[] }[] }>(
    '{ calibrations { crop { name } versions { id state origin { id } } } }',
  );
  const found = calibrations.filter((each) => each.crop.name === crop).flatMap(({ versions }) => versions).find(({ state, origin }) => state === 'APPROVED' && !origin);
  if (!found) throw new Error(`No approved calibration of ${crop} is there to be shared.`);
  return found.id;
}

async function labCalled(client: ApiClient, name: string): Promise<string> {
  const { otherLabs } = await client.ask<{ otherLabs: { id: string; name: string }[] }>('{ otherLabs { id name } }');
  const found = otherLabs.find((each) => each.name === name);
  if (!found) throw new Error(`The ${name} is not on this server.`);
  return found.id;
}
