import { createHash } from 'node:crypto';
import { code, facts, heading, paragraph, rawBlock, renderPaper, table, together, beside, type Part } from '../../../platform/paper/index.js';
import type { Signature } from '../../signature/signature.entity.js';
import { chainParts, exceptionParts, lineParts } from './chain.js';
import { computedParts } from './drawn.js';
import type { PaperMaterial } from './material.js';
import { capital, kindText, momentText, when, who } from './words.js';

/** Longest text that still makes a code which a telephone reads from paper. */
const CODE_MOST = 900;

/**
 * The thread as a paper to read and keep: what it is, what to stop at, who signed, what was computed, every step with when,
 * who and which instrument, every line, and how to check it all. The same thread at the same moment gives the same bytes.
 */
export function threadPaper(material: PaperMaterial): Promise<Uint8Array> {
  const { thread: { root }, lab, createdAt, direction } = material;
  return renderPaper({
    sort: 'Evidence thread',
    title: capital(root.label),
    lead: capital(root.summary).replace(/[^.!?]$/, '$&.'),
    lab,
    reference: `${kindText(root.kind)} ${root.id}`,
    madeAt: createdAt,
    parts: [
      paragraph(direction === 'DOWN' ? 'This paper follows one record to everything it rests on, step by step, down to the lines of the balance.' : 'This paper follows one record to everything that rests on it, step by step, up to the decisions.'),
      identity(material),
      ...exceptionParts(material),
      ...signatureParts(material),
      ...computedParts(material),
      ...chainParts(material),
      ...lineParts(material),
      ...peopleParts(material),
      ...proofParts(material),
    ],
  });
}

function identity(material: PaperMaterial): Part {
  const { thread: { root, nodes, edges, truncated }, createdAt, standing } = material;
  return facts([
    { name: 'Record', value: `${kindText(root.kind)} ${root.id}` },
    { name: root.observedAt ? 'Happened' : 'Recorded', value: `${when(root)}, ${who(material, root.recordedById)}` },
    { name: 'Content, SHA-256', value: root.contentHash, face: 'Raw' },
    { name: 'Thread', value: `${nodes.length} records and ${edges.length} links between them${truncated ? '; it is longer than what is told here' : ''}` },
    { name: 'Ledger', value: standing.origin, face: 'Raw' },
    { name: 'Paper made', value: `${momentText(createdAt)}, for reading: what proves it is told at its end` },
  ]);
}

function signatureParts(material: PaperMaterial): Part[] {
  const labels = new Map(material.thread.nodes.map(({ id, label }) => [id, label]));
  if (material.signatures.length === 0) return [heading('Signatures'), paragraph('Nothing in this thread is signed.')];
  const head = heading('Signatures');
  const given = table<Signature>([
    { head: 'What', cell: ({ subjectId }) => capital(labels.get(subjectId) ?? subjectId) },
    { head: 'Meaning', cell: ({ meaning }) => meaning.toLowerCase(), width: 62 },
    { head: 'By', cell: ({ recordedBy }) => who(material, recordedBy), width: 100 },
    { head: 'When', cell: ({ recordedAt }) => momentText(recordedAt), width: 100 },
    { head: 'Said', cell: ({ statement }) => statement ?? '', width: 110 },
  ], material.signatures, { note: 'Given by account and password, each bound to the SHA-256 of what was signed. Not a signature by hand.' });
  return material.signatures.length <= 12 ? [together(head, given)] : [head, given];
}

function peopleParts(material: PaperMaterial): Part[] {
  const recorded = new Map<string, number>();
  for (const { recordedById } of material.thread.nodes) recorded.set(recordedById, (recorded.get(recordedById) ?? 0) + 1);
  const rows = [...material.people].map(([id, name]) => ({ id, name, count: recorded.get(id) ?? 0, signed: material.signatures.filter(({ recordedBy }) => recordedBy === id).length })).sort((a, b) => a.name.localeCompare(b.name, 'en'));
  return [together(heading('People'), table([
    { head: 'Name', cell: ({ name }) => name },
    { head: 'Records here', cell: ({ count }) => String(count), width: 80, align: 'right' },
    { head: 'Signatures', cell: ({ signed }) => String(signed), width: 70, align: 'right' },
    { head: 'Account', cell: ({ id }) => id, width: 210, face: 'Raw' },
  ], rows))];
}

/** SHA-256 of a key's text form, in groups that two people can read to each other. */
const fingerprint = (key: string): string => createHash('sha256').update(key).digest('hex').slice(0, 32).replace(/(.{4})(?=.)/g, '$1 ');

function proofParts({ standing, packed }: PaperMaterial): Part[] {
  const { checkpoint, keys } = standing;
  const parts: Part[] = [heading('How to check this', { pageBreak: true })];
  if (packed) {
    parts.push(
      paragraph('This paper is for reading. The proof lies beside it in the evidence pack: every record as it was hashed, its entry in the lab’s ledger, and the way from each entry to the signed checkpoint below.'),
      paragraph('1. On any computer with Node 20.19 or newer, in the folder of the pack: node verify.mjs pack.zip. The file verify.mjs comes from the lab’s Ledger screen, from “threadleaf verifier”, or better from a copy that you keep; it needs no network and no server.'),
      paragraph('2. If you kept an earlier checkpoint of this ledger, add: --checkpoint kept.txt. Then a history that was written anew is found out, even if the lab did it.'),
      paragraph('3. Compare the key below with the one the lab published, or add: --key and its text.'),
      paragraph('What holds then: each record is what was recorded, by that account, in that order. What does not follow: that a balance was right, that a leaf was the one named, that the server’s clock was, or that nothing was left out of the pack.'),
    );
  } else {
    parts.push(paragraph('This paper proves nothing by itself. Each record’s content hash stands in the lab’s ledger; ask for the evidence pack of the decision or certificate, or open the record’s proof on the Ledger screen, and compare the hashes printed here.'));
  }
  if (!checkpoint) return [...parts, paragraph('The ledger has no signed checkpoint yet.')];
  const note: Part = rawBlock(checkpoint);
  return [
    ...parts,
    paragraph('The ledger’s checkpoint when this paper was made:', { bold: true }),
    checkpoint.length <= CODE_MOST ? beside({ part: note }, { part: code(checkpoint, { sizeMm: 38 }), width: 110 }) : note,
    ...(keys.length > 0 ? [facts(keys.map((key, index) => ({ name: index === keys.length - 1 ? 'Key in use' : `Key ${index + 1}`, value: `${key}\nfingerprint ${fingerprint(key)}`, face: 'Raw' as const })))] : []),
  ];
}
