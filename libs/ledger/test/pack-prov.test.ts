import { crateMetadata, provDocument } from '#libs/ledger';
import { PERSON, RECORDS, entryOf, idOf, sampleContents, samplePack } from './pack-sample.js';

interface ProvDocument {
  readonly prefix: Record<string, string>;
  readonly [section: string]: Record<string, unknown>;
}

/**
 * Names by the PROV-JSON submission (https://www.w3.org/submissions/prov-json/), sections 3.1 to 3.6: which members
 * each relation has. Documents like this one were also read by Python's prov 2.0.0 when this was written.
 */
const RELATIONS: Readonly<Record<string, readonly string[]>> = {
  wasGeneratedBy: ['prov:entity', 'prov:activity', 'prov:time'],
  wasAssociatedWith: ['prov:activity', 'prov:agent'],
  used: ['prov:activity', 'prov:entity', 'prov:role'],
  wasDerivedFrom: ['prov:generatedEntity', 'prov:usedEntity', 'prov:activity'],
};

describe('provenance as PROV-JSON', () => {
  const entries = RECORDS.map((record, index) => ({ entry: entryOf(record), index, proof: [] }));
  const edges = RECORDS.flatMap(({ kind, id, uses = [] }) => uses.map((use) => ({ fromKind: kind, fromId: id, toKind: use.kind, toId: use.id, role: use.role })));
  const document = provDocument(RECORDS, entries, edges, [{ id: PERSON, kind: 'person', name: 'A. Weigher' }]) as ProvDocument;

  test('has the sections of the submission, and no others', () => {
    expect(Object.keys(document).sort()).toEqual(['activity', 'agent', 'entity', 'prefix', ...Object.keys(RELATIONS)].sort());
  });

  test('every name has a declared prefix, and every relation ends at something declared', () => {
    const declared = { 'prov:entity': 'entity', 'prov:usedEntity': 'entity', 'prov:generatedEntity': 'entity', 'prov:activity': 'activity', 'prov:agent': 'agent' };
    for (const [section, members] of Object.entries(RELATIONS)) {
      const relations = Object.values(document[section] as Record<string, Record<string, string>>);
      expect(relations.length).toBeGreaterThan(0);
      for (const relation of relations) {
        expect(Object.keys(relation).every((name) => members.includes(name))).toBe(true);
        for (const [name, target] of Object.entries(declared)) {
          const end = relation[name];
          if (end === undefined) continue;
          expect(document[target]).toHaveProperty([end]);
          expect(document.prefix).toHaveProperty([end.split(':')[0] as string]);
        }
      }
    }
  });

  test('tells the thread: what the decision was made from, when, by whom', () => {
    const act = `entry:${entryOf(RECORDS[4] as typeof RECORDS[number]).id}`;
    expect(document['entity']?.[`record:${idOf(5)}`]).toMatchObject({ 'prov:type': { $: 'kind:decision', type: 'prov:QUALIFIED_NAME' } });
    expect(document['activity']?.[act]).toMatchObject({ 'prov:endTime': '2026-04-03T09:15:01.250Z', 'tl:reason': 'tripped at dawn' });
    expect(Object.values(document['used'] ?? {})).toContainEqual({ 'prov:activity': act, 'prov:entity': `record:${idOf(4)}`, 'prov:role': 'basis' });
    expect(Object.values(document['wasDerivedFrom'] ?? {})).toContainEqual({
      'prov:generatedEntity': `record:${idOf(5)}`, 'prov:usedEntity': `record:${idOf(4)}`, 'prov:activity': act,
    });
    expect(Object.values(document['wasAssociatedWith'] ?? {})).toContainEqual({ 'prov:activity': act, 'prov:agent': `agent:${PERSON}` });
    expect(document['agent']?.[`agent:${PERSON}`]).toMatchObject({ 'prov:label': 'A. Weigher' });
  });
});

/** RO-Crate 1.2 (https://w3id.org/ro/crate/1.2), "Root Data Entity" and "Data Entities": what must be there. */
describe('description as RO-Crate', () => {
  type Entity = Record<string, unknown> & { '@id': string };
  const graphOf = (crate: unknown): Map<string, Entity> =>
    new Map((crate as { '@graph': Entity[] })['@graph'].map((entity) => [entity['@id'], entity]));

  test('has descriptor and root with all that they must have', async () => {
    const crate = crateMetadata(await sampleContents(), []);
    expect(crate).toMatchObject({ '@context': 'https://w3id.org/ro/crate/1.2/context' });
    const graph = graphOf(crate);
    expect(graph.get('ro-crate-metadata.json')).toMatchObject({
      '@type': 'CreativeWork', about: { '@id': './' }, conformsTo: { '@id': 'https://w3id.org/ro/crate/1.2' },
    });
    expect(graph.get('./')).toMatchObject({
      '@type': 'Dataset', name: 'Decision of 3 April', description: expect.stringMatching(/./), datePublished: '2026-05-01T12:00:00.000Z', license: { '@id': '#licence' },
    });
    expect(graph.get('#licence')).toMatchObject({ '@type': 'CreativeWork', name: expect.anything(), description: 'For audit only.' });
  });

  test('describes every file that is there, with media type, size and hash, and refers to nothing undescribed', async () => {
    const pack = await samplePack();
    const graph = graphOf(JSON.parse(new TextDecoder().decode(pack.get('ro-crate-metadata.json'))));
    const inside = [...pack.keys()].filter((path) => path !== 'ro-crate-metadata.json' && path !== 'seal.txt').sort();
    const parts = (graph.get('./')?.['hasPart'] as { '@id': string }[]).map((part) => part['@id']).sort();
    expect(parts).toEqual(inside);
    for (const path of inside) {
      expect(graph.get(path)).toMatchObject({ '@type': 'File', encodingFormat: expect.stringMatching(/^\w+\/[\w+-]+$/) });
      if (path !== 'manifest.json') expect(graph.get(path)).toMatchObject({ contentSize: String(pack.get(path)?.length), sha256: expect.stringMatching(/^[0-9a-f]{64}$/) });
    }
    for (const match of JSON.stringify([...graph.values()]).matchAll(/\{"@id":"([^"]+)"\}/g)) {
      if (!match[1]?.startsWith('https:')) expect(graph.has(match[1] as string)).toBe(true);
    }
  });
});
