import type { ThreadNodeView, ThreadView } from '../thread/thread.service.js';

const escaped = (text: string): string => text.replace(/[&<>"']/g, (letter) => `&#${letter.charCodeAt(0)};`);

const STYLE = `body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#1c1c1c;background:#fff}
h2{margin-top:2rem;border-bottom:1px solid #999}article{margin:.8rem 0;padding-left:.8rem;border-left:3px solid #ccc;break-inside:avoid}
p{margin:.1rem 0}code{font-size:.85em;overflow-wrap:anywhere}.remark{font-weight:600}small{color:#444}`;

interface PageHeading {
  readonly title: string;
  readonly createdAt: string;
  readonly origin: string;
  readonly checkpoint: string;
}

/**
 * The thread as one page to read and print, nearest record first: what it is, who recorded it and when, with which
 * instrument, the raw line, what must be read with it, and its content hash. No script, nothing from elsewhere.
 */
export function threadPage(thread: ThreadView, people: ReadonlyMap<string, string>, heading: PageHeading): string {
  const depths = [...new Set(thread.nodes.map(({ depth }) => depth))].sort((a, b) => a - b);
  const sections = depths.map((depth) => {
    const nodes = thread.nodes.filter((node) => node.depth === depth);
    const title = depth === 0 ? 'The record itself' : depth === 1 ? 'What it rests on' : `${depth} steps down`;
    return `<section><h2>${title}</h2>\n${nodes.map((node) => told(node, people)).join('\n')}\n</section>`;
  });
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>${escaped(heading.title)}</title><style>${STYLE}</style></head>
<body><h1>${escaped(heading.title)}</h1>
<p>${thread.nodes.length} records and ${thread.edges.length} lines of lineage, made ${escaped(heading.createdAt)} from the ledger ${escaped(heading.origin)}.</p>
<p>This page is for reading. What proves it are the records, entries and proofs beside it: run <code>threadleaf verify</code> on the pack.</p>
<pre>${escaped(heading.checkpoint)}</pre>
${sections.join('\n')}
</body></html>
`;
}

function told(node: ThreadNodeView, people: ReadonlyMap<string, string>): string {
  const lines = [
    `<strong>${escaped(node.label)}</strong> <small>${escaped(node.kind.replaceAll('_', ' '))}</small>`,
    escaped(node.summary),
    ...(node.rawLine ? [`<code>${escaped(node.rawLine)}</code>`] : []),
    ...(node.observedAt ? [`Observed ${escaped(node.observedAt)}`] : []),
    `Recorded ${escaped(node.recordedAt)} by ${escaped(people.get(node.recordedById) ?? node.recordedById)}`,
    ...(node.instrument ? [`Instrument ${escaped(node.instrument)}${node.instrumentStatusThen ? `, check then: ${escaped(node.instrumentStatusThen.toLowerCase().replaceAll('_', ' '))}` : ''}`] : []),
    ...(node.stale ? ['<span class="remark">Stale: a fact it rests on was amended since.</span>'] : []),
    ...node.remarks.map(({ message }) => `<span class="remark">${escaped(message)}</span>`),
    `<small>SHA-256 <code>${node.contentHash}</code></small>`,
  ];
  return `<article>${lines.map((line) => `<p>${line}</p>`).join('')}</article>`;
}
