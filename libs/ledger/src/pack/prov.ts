import type { LineageEdge, PackAgent, PackRecord, ProvenEntry } from './layout.js';

type Members = Record<string, unknown>;

/**
 * The thread as PROV-JSON (W3C Member Submission, https://www.w3.org/submissions/prov-json/): each record an entity,
 * each entry the activity that made it, done by the agent who recorded. What a record rests on, its activity used, in
 * the role that the edge names, and the record was derived from it.
 *
 * It says nothing that records, entries, lineage and agents of the pack do not say, and is made from them by this
 * function alone, so that a verifier can make it again and compare.
 */
export function provDocument(
  records: readonly PackRecord[],
  entries: readonly ProvenEntry[],
  edges: readonly LineageEdge[],
  agents: readonly PackAgent[],
): object {
  const recorded = new Map(entries.map(({ entry }) => [entry.subjectId, entry]));
  const entity: Members = {};
  for (const { kind, id } of records) {
    const hash = recorded.get(id)?.contentHash;
    entity[`record:${id}`] = { 'prov:type': qualified(`kind:${kind}`), ...(hash && { 'tl:contentHash': hash }) };
  }
  const activity: Members = {};
  const generated: Members = {};
  const associated: Members = {};
  for (const { entry } of entries) {
    const { id, action, actorId, subjectId, observedAt, recordedAt, reason } = entry;
    activity[`entry:${id}`] = {
      'prov:type': qualified(`action:${action}`), 'prov:startTime': observedAt ?? recordedAt, 'prov:endTime': recordedAt,
      ...(reason && { 'tl:reason': reason }),
    };
    generated[`_:made-${id}`] = { 'prov:entity': `record:${subjectId}`, 'prov:activity': `entry:${id}`, 'prov:time': recordedAt };
    associated[`_:by-${id}`] = { 'prov:activity': `entry:${id}`, 'prov:agent': `agent:${actorId}` };
  }
  const used: Members = {};
  const derived: Members = {};
  edges.forEach(({ fromId, toId, role }, i) => {
    const by = recorded.get(fromId)?.id;
    if (by) used[`_:used-${i}`] = { 'prov:activity': `entry:${by}`, 'prov:entity': `record:${toId}`, 'prov:role': role };
    derived[`_:from-${i}`] = {
      'prov:generatedEntity': `record:${fromId}`, 'prov:usedEntity': `record:${toId}`, ...(by && { 'prov:activity': `entry:${by}` }),
    };
  });
  return {
    prefix: {
      tl: 'urn:x-threadleaf:', record: 'urn:x-threadleaf:record:', entry: 'urn:x-threadleaf:entry:', agent: 'urn:x-threadleaf:agent:',
      kind: 'urn:x-threadleaf:kind:', action: 'urn:x-threadleaf:action:',
    },
    entity,
    activity,
    agent: Object.fromEntries(agents.map(({ id, kind, name }) => [
      `agent:${id}`, { 'prov:type': qualified(kind === 'person' ? 'prov:Person' : 'prov:SoftwareAgent'), 'prov:label': name },
    ])),
    wasGeneratedBy: generated,
    wasAssociatedWith: associated,
    used,
    wasDerivedFrom: derived,
  };
}

/** A value that is a name and not a text: section 2.2 of the submission. */
function qualified(name: string): object {
  return { $: name, type: 'prov:QUALIFIED_NAME' };
}
