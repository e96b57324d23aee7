import { Column, Entity } from 'typeorm';
import type { TokenScope } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class AccessToken extends KeptRow {
  @Column('text')
  label!: string;

  @Column('text', { array: true })
  scopes!: TokenScope[];

  @Column({ type: 'timestamptz', precision: 3 })
  expiresAt!: Date;

  /** SHA-256 of the secret, hex. */
  @Column('text')
  secretHash!: string;
}

@Entity()
export class AccessTokenRevocation extends KeptRow {
  @Column('uuid')
  accessTokenId!: string;

  @Column('text')
  reason!: string;
}
