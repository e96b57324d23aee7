/**
 * A worked example of the API that writes: with an access token of the scope CALIBRATION it looks at all released runs of a crop, and freezes
 * them as a draft version where one new leaf would be read within the half-width that is asked for. People review and approve it: a token
 * signs nothing.
 *
 *     export THREADLEAF_TOKEN=…          # from: threadleaf token create, scope calibration
 *     node docs/build-calibration.ts http://127.0.0.1:4180 Grapevine 12     # Node 22.18 or newer reads TypeScript itself
 *
 * Sent again with the same THREADLEAF_ID it is the same write: nothing is frozen twice when the network drops.
 */
import { randomBytes } from 'node:crypto';

const [url = 'http://127.0.0.1:4180', cropName = '', wanted = '12'] = process.argv.slice(2);
const token = process.env['THREADLEAF_TOKEN'];
if (!token) throw new Error('Set THREADLEAF_TOKEN to the secret of an access token with the scope CALIBRATION.');

async function ask<Answer>(query: string, variables: object = {}): Promise<Answer> {
  const response = await fetch(`${url}/graphql`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', 'authorization': `Bearer ${token}` },
    body: JSON.stringify({ query, variables }),
  });
  const { data, errors } = (await response.json()) as { data: Answer; errors?: { message: string }[] };
  if (errors) throw new Error(errors.map(({ message }) => message).join('\n'));
  return data;
}

/** A UUIDv7: the moment in milliseconds, then chance. */
function newId(): string {
  const bytes = randomBytes(16);
  bytes.writeUIntBE(Date.now(), 0, 6);
  bytes[6] = (bytes[6]! & 0x0f) | 0x70;
  bytes[8] = (bytes[8]! & 0x3f) | 0x80;
  return bytes.toString('hex').replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

interface Problem { readonly message: string; readonly remedy: string }
interface Study { readonly finding: string; readonly figures: { readonly newLeafHalfWidthPoints: number; readonly leaves: number }; readonly advice: { readonly sentence: string } }

const { calibrations } = await ask<{ calibrations: { id: string; label: string; crop: { id: string; name: string } }[] }>('{ calibrations { id label crop { id name } } }');
const calibration = calibrations.find(({ crop }) => crop.name.toLowerCase() === cropName.toLowerCase());
if (!calibration) throw new Error(`No calibration of "${cropName}" was begun. There are: ${calibrations.map(({ crop }) => crop.name).join(', ')}.`);

const { calibrationCandidates: runs } = await ask<{ calibrationCandidates: { id: string; label: string }[] }>('query ($crop: UUID!) { calibrationCandidates(cropId: $crop) { id label } }', { crop: calibration.crop.id });
const input = { calibrationId: calibration.id, dryingRunIds: runs.map(({ id }) => id) };
const { calibrationStudy: { study, problem } } = await ask<{ calibrationStudy: { study: Study | null; problem: Problem | null } }>(
  'query ($input: CalibrationStudyInput!) { calibrationStudy(input: $input) { study { finding figures { newLeafHalfWidthPoints leaves } advice { sentence } } problem { message remedy } } }',
  { input: { ...input, wantedHalfWidthPoints: Number(wanted) } },
);
if (!study) throw new Error(`${problem!.message} ${problem!.remedy}`);
console.log(study.finding);

if (study.figures.newLeafHalfWidthPoints > Number(wanted)) {
  console.log(`Not frozen: one new leaf would be read within ± ${study.figures.newLeafHalfWidthPoints.toFixed(1)} RWC points only. ${study.advice.sentence}`);
} else {
  const { fitCalibration } = await ask<{ fitCalibration: { calibrationVersion: { id: string; version: number; state: string } | null; replayed: boolean; problem: Problem | null } }>(
    'mutation ($input: FitCalibrationInput!) { fitCalibration(input: $input) { calibrationVersion { id version state } replayed problem { message remedy } } }',
    { input: { id: process.env['THREADLEAF_ID'] ?? newId(), ...input } },
  );
  const { calibrationVersion: made, replayed } = fitCalibration;
  if (!made) throw new Error(`${fitCalibration.problem!.message} ${fitCalibration.problem!.remedy}`);
  console.log(`${replayed ? 'Frozen before' : 'Frozen'} as ${calibration.label} version ${made.version}, ${made.state.toLowerCase()}, of ${study.figures.leaves} leaves: ${made.id}`);
}
