import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { packHolds, parseVerifierKey, unzipPack, verifyPack, type PackFiles } from '#libs/ledger';
import { samplePack } from './pack-sample.js';

const here = dirname(fileURLToPath(import.meta.url));
const golden = (name: string): PackFiles => unzipPack(new Uint8Array(readFileSync(join(here, 'golden', name))));

const textOf = (name: string): string => readFileSync(join(here, 'golden', name), 'utf8');
const textIn = (files: PackFiles, path: string): string => Buffer.from(files.get(path)!).toString('utf8');

/** The public key and a checkpoint of the golden ledger, as an auditor would have kept them: as text, outside of the pack. */
const ORIGIN = 'lab.example/ledger/01930000-0000-7000-8000-00000000001a';
const KEY = `${ORIGIN}+6c5e3f93+AWa+fjMsekUzMr2dCn99sFX1xe8aBq2mbZizn7aBDEc6`;
const KEPT = `${ORIGIN}\n17\n5LnosYF5PYNwPKsRIUJZqkZTstl+4Unn8uliMgV3HKo=\n\n`
  + `\u2014 ${ORIGIN} bF4/kysb4enD/Fr4tX6hATp3FajAP1zl64H5OXDLDEDnlhSeSRBesUiXZVEeOTeqkGoCTAyRCFrMAWBB0opCwAFWZgg=\n`;

describe('packs of every released version can be read', () => {
  test('version 1 holds, with the key and the checkpoint that were kept', () => {
    const findings = verifyPack(golden('pack-v1.zip'), { keys: [{ key: parseVerifierKey(KEY), firstSize: 0, lastSize: null }], checkpoint: KEPT });
    expect(findings.filter(({ status }) => status === 'fails')).toEqual([]);
    expect(packHolds(findings)).toBe(true);
    expect(findings.filter(({ status }) => status === 'holds').map(({ check }) => check))
      .toEqual(['form', 'files', 'seal', 'checkpoint', 'key', 'kept checkpoint', 'entries', 'records', 'lineage', 'tables', 'provenance']);
  });

  test('a decision\'s pack as the server gave it holds, with the key and the checkpoint that were kept before the decision', () => {
    const given = { keys: [{ key: parseVerifierKey(textOf('pack-v1-of-a-decision.key.txt').trim()), firstSize: 0, lastSize: null }], checkpoint: textOf('pack-v1-of-a-decision.kept.txt') };
    const files = golden('pack-v1-of-a-decision.zip');
    const findings = verifyPack(files, given);
    expect(findings.filter(({ status }) => status === 'fails')).toEqual([]);
    expect(packHolds(findings)).toBe(true);
    expect(textIn(files, 'tables/weighing.csv').trimEnd().split('\n')).toHaveLength(1 + 66);

    const altered = textIn(files, 'records.jsonl').replace(/"massMg":(\d)/, (_, digit: string) => `"massMg":${(Number(digit) + 1) % 10}`);
    expect(altered).not.toBe(textIn(files, 'records.jsonl'));
    expect(packHolds(verifyPack(new Map([...files, ['records.jsonl', Buffer.from(altered)]]), given))).toBe(false);
    expect(packHolds(verifyPack(files, { ...given, checkpoint: given.checkpoint.replace(/^\d+$/m, '3') }))).toBe(false);
  });

  test('version 1 is still written byte for byte as it was', async () => {
    expect(new Map([...golden('pack-v1.zip')].sort())).toEqual(new Map([...await samplePack()].sort()));
  });
});
