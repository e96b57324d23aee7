import type { ShareDepth, SharePermission } from '../../../generated/graphql.js';

export const depths: Readonly<Record<ShareDepth, string>> = { SUMMARY: 'summary: figures and signatures, no reading', RAW: 'raw: down to the lines of the balance' };
export const permissions: Readonly<Record<SharePermission, string>> = { READ: 'to read and compare', REUSE: 'to take over and build on' };
