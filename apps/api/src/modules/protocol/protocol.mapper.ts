import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Protocol } from './protocol.entity.js';

export type ProtocolView = RecordView & Pick<Protocol, 'name' | 'version' | 'changedBecause' | 'parameters'>;

export const toProtocol = (row: Protocol): ProtocolView => ({
  ...recordView(row),
  name: row.name,
  version: row.version,
  changedBecause: row.changedBecause,
  parameters: row.parameters,
});
