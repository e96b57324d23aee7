import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { StoredFile } from './stored-file.entity.js';

export type StoredFileView = RecordView & Pick<StoredFile, 'name' | 'mediaType' | 'sizeBytes' | 'sha256' | 'purpose'> & { url: string };

export const toStoredFile = (row: StoredFile): StoredFileView => ({
  ...recordView(row), name: row.name, mediaType: row.mediaType, sizeBytes: row.sizeBytes, sha256: row.sha256, purpose: row.purpose, url: `/files/${row.id}`,
});
