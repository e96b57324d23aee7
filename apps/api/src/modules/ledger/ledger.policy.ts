import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

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

export const ledgerTokenScopes: TokenScopes = {
  'Query.ledger': ['READ'],
  'Query.ledgerExceptions': ['READ'],
  'Query.ledgerActions': ['READ'],
  'Query.checkpoint': ['READ'],
  'Query.checkpoints': ['READ'],
  'Query.ledgerKeys': ['READ'],
  'Query.inclusionProof': ['READ'],
  'Query.consistencyProof': ['READ'],
  'Query.evidencePack': ['READ'],
};
