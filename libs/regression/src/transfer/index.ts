export { sharedLineOf } from './shared-line.js';
export type { SharedLine } from './shared-line.js';
export { sharedFitOf, type SharedCurve, type SharedFit } from './shared-curve.js';
export { readerOf, type SharedReader } from './shared-reader.js';
export * from './transfer-study.js';
export { clopperPearson, promisedAt } from './own-performance.js';
export type { OwnLeaf, OwnPerformance } from './own-performance.js';
export * from './thickness-transfer.js';
