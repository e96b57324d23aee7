import type { Policies } from '../../platform/identity/policy.js';

export const ledgerPolicies: Policies = {
  'Query.ledger': 'member',
  'Query.ledgerExceptions': 'member',
  'Query.ledgerActions': 'member',
  'Query.checkpoint': 'member',
  'Query.checkpoints': 'member',
  'Query.ledgerKeys': 'member',
  'Query.inclusionProof': 'member',
  'Query.consistencyProof': 'member',
  'Query.evidencePack': 'member',
  'Query.threadPaper': 'member',
  'Query.verifier': 'member',
};
