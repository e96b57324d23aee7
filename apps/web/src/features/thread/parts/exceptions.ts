import { exceptionWords, merelyTold } from '#libs/telling';
import type { ThreadOfRecordQuery } from '../../../generated/graphql.js';

export type Thread = ThreadOfRecordQuery['thread'];
export type Node = Thread['nodes'][number];

/** True where a step says how its instrument's check stood: a fact made at a moment. An instrument's own record is no use of it. */
export const usedInstrument = (node: Node): boolean => node.instrumentStatusThen != null && node.observedAt != null;

/** What an auditor stops at, as words. Lateness, import and simulation are told by the ledger and are no reason to stop at each step. */
export const exceptionsOf = (node: Node): readonly string[] => [
  ...node.exceptions.filter((name) => !merelyTold.has(name)).map((name) => exceptionWords[name].mark),
  ...(node.remarks.length > 0 && !node.exceptions.includes('ANSWERED') ? ['remarks'] : []),
];

export const isException = (node: Node): boolean => exceptionsOf(node).length > 0;
