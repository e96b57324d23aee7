/** What was done, as the ledger writes it, told as done. */
const done: Readonly<Record<string, string>> = {
  record: 'recorded', issue: 'issued', revoke: 'revoked', compute: 'computed', import: 'imported', close: 'closed', release: 'released', unload: 'unloaded', amend: 'amended', retract: 'retracted', authored: 'authored', reviewed: 'reviewed', approved: 'approved', withdrawn: 'withdrawn',
};

export const doneWord = (action: string): string => done[action] ?? action;
