import { Column, Entity } from 'typeorm';
import type { StoredFilePurpose } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class StoredFile extends KeptRow {
  @Column('text')
  name!: string;

  @Column('text')
  mediaType!: string;

  @Column('integer')
  sizeBytes!: number;

  /** Of the bytes, hex: the key they are stored under. */
  @Column('text')
  sha256!: string;

  @Column('text')
  purpose!: StoredFilePurpose;
}
