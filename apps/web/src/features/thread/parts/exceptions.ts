import type { ThreadOfRecordQuery } from '../../../generated/graphql.js';

export type Thread = ThreadOfRecordQuery['thread'];
export type Node = Thread['nodes'][number];

/** True where a step says how its instrument's check stood: a fact made at a moment. An instrument's own record is no use of it. */
export const usedInstrument = (node: Node): boolean => node.instrumentStatusThen != null && node.observedAt != null;

/** The server tells how a value came in at the end of its summary. */
const typedByHand = /, typed by hand\b/;

/** What an auditor stops at: what was amended, overridden, left out or flagged, made with an instrument out of check, or typed by hand. */
export function exceptionsOf(node: Node): readonly string[] {
  return [
    ...(node.amendedBy ? ['amended'] : []),
    ...(node.stale ? ['stale'] : []),
    ...(node.remarks.length > 0 ? ['remarks'] : []),
    ...(usedInstrument(node) && node.instrumentStatusThen !== 'IN_CHECK' ? ['instrument out of check'] : []),
    ...(typedByHand.test(node.summary) ? ['typed by hand'] : []),
  ];
}

export const isException = (node: Node): boolean => exceptionsOf(node).length > 0;
