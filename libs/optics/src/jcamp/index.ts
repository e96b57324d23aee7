export { decodeOrdinateLine } from './ordinates.js';
export type { OrdinateForm, OrdinateLine } from './ordinates.js';
export { splitRecords } from './records.js';
export type { JcampRecord } from './records.js';
export type { JcampTable } from './table.js';
export * from './read-jcamp.js';
