/**
 * A worked example of the API: plain fetch and an access token with the scope READ. It reads released runs, looks at a calibration as the
 * builder shows it, reads versions and transfer studies, and saves their tables.
 *
 *     export THREADLEAF_TOKEN=…          # from: threadleaf token create, scope READ
 *     node docs/read-calibrations.ts http://127.0.0.1:4180 ./out      # Node 22.18 or newer reads TypeScript itself
 *
 * The contract with every field described is served at /graphql; questions that find a mistake answer with `errors`, questions that are
 * refused for a reason of the trade with `problem { code field message remedy }`.
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

const [url = 'http://127.0.0.1:4180', folder = '.'] = process.argv.slice(2);
const token = process.env['THREADLEAF_TOKEN'];
if (!token) throw new Error('Set THREADLEAF_TOKEN to the secret of an access token with the scope READ.');

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

interface Run { readonly id: string; readonly label: string; readonly openedAt: string; readonly rig: { readonly label: string } }
interface Version { readonly id: string; readonly version: number; readonly state: string; readonly leafCount: number; readonly rwcMin: number; readonly rwcMax: number }
interface Lineage { readonly id: string; readonly label: string; readonly crop: { readonly id: string; readonly name: string }; readonly versions: readonly Version[] }
interface Problem { readonly message: string; readonly remedy: string }

// 1. Calibrations and their versions.
const { calibrations } = await ask<{ calibrations: Lineage[] }>('{ calibrations { id label crop { id name } versions { id version state leafCount rwcMin rwcMax } } }');
for (const { label, crop, versions } of calibrations) {
  console.log(`${label} (${crop.name}): ${versions.map(({ version, state, leafCount }) => `version ${version}, ${state.toLowerCase()}, ${leafCount} leaves`).join('; ') || 'no version yet'}`);
}

// 2. Released runs of each crop, and what the builder would show of all of them together. Nothing is recorded by this.
for (const { id, label, crop } of calibrations) {
  const { calibrationCandidates: runs } = await ask<{ calibrationCandidates: Run[] }>('query ($crop: UUID!) { calibrationCandidates(cropId: $crop) { id label openedAt rig { label } } }', { crop: crop.id });
  console.log(`Released runs of ${crop.name}: ${runs.map((run) => `${run.label} of ${run.openedAt.slice(0, 10)} on ${run.rig.label}`).join(', ') || 'none'}`);
  if (runs.length === 0) continue;
  const { calibrationStudy } = await ask<{ calibrationStudy: { study: { finding: string; figures: { newLeafHalfWidthPoints: number } } | null; problem: Problem | null } }>(
    'query ($input: CalibrationStudyInput!) { calibrationStudy(input: $input) { study { finding figures { newLeafHalfWidthPoints } } problem { message remedy } } }',
    { input: { calibrationId: id, dryingRunIds: runs.map((run) => run.id), atRwc: 0.8 } },
  );
  const { study, problem } = calibrationStudy;
  console.log(study ? `${label}, built from all of them: ${study.finding}` : `${label} cannot be built from all of them: ${problem?.message} ${problem?.remedy}`);
}

// 3. Transfer studies: does a calibration hold for other leaves?
const { transferStudies } = await ask<{ transferStudies: { id: string; sentence: string; given: { label: string }; crop: { name: string } }[] }>('{ transferStudies { id sentence given { label } crop { name } } }');
for (const { given, crop, sentence } of transferStudies) console.log(`${given.label} for ${crop.name}: ${sentence}`);

// 4. Tables with their dictionary, one folder for each version and study.
const things = [...calibrations.flatMap(({ versions }) => versions.map(({ id }) => ['calibration_version', id] as const)), ...transferStudies.map(({ id }) => ['transfer_study', id] as const)];
for (const [kind, id] of things) {
  const { tidyTables } = await ask<{ tidyTables: { tables: { fileName: string; csv: string; rowCount: number }[]; metadata: string } }>(
    'query ($kind: String!, $id: UUID!) { tidyTables(kind: $kind, id: $id) { tables { fileName csv rowCount } metadata } }', { kind, id },
  );
  const own = join(folder, `${kind}-${id}`);
  mkdirSync(own, { recursive: true });
  for (const { fileName, csv } of tidyTables.tables) writeFileSync(join(own, fileName), csv);
  writeFileSync(join(own, 'csv-metadata.json'), tidyTables.metadata);
  console.log(`${own}: ${tidyTables.tables.map(({ fileName, rowCount }) => `${fileName} (${rowCount})`).join(', ')}`);
}
