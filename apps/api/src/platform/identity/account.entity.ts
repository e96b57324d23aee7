import { Column, Entity, PrimaryColumn } from 'typeorm';
import type { Role } from '../../generated/schema.js';

@Entity()
export class Account {
  @PrimaryColumn('uuid')
  id!: string;

  @Column('text')
  email!: string;

  @Column('text')
  displayName!: string;

  @Column('text')
  passwordHash!: string;

  @Column({ type: 'timestamptz', precision: 3, default: () => 'now()' })
  createdAt!: Date;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  disabledAt!: Date | null;
}

@Entity()
export class Lab {
  @PrimaryColumn('uuid')
  id!: string;

  @Column('text')
  name!: string;

  @Column('boolean', { default: false })
  demo!: boolean;

  @Column({ type: 'timestamptz', precision: 3, default: () => 'now()' })
  createdAt!: Date;
}

@Entity()
export class Membership {
  @PrimaryColumn('uuid')
  labId!: string;

  @PrimaryColumn('uuid')
  accountId!: string;

  @PrimaryColumn('text')
  role!: Role;

  @Column({ type: 'timestamptz', precision: 3, default: () => 'now()' })
  since!: Date;
}

@Entity()
export class Session {
  @PrimaryColumn('bytea')
  tokenHash!: Buffer;

  @Column('uuid')
  accountId!: string;

  @Column('uuid', { nullable: true })
  labId!: string | null;

  @Column({ type: 'timestamptz', precision: 3, default: () => 'now()' })
  createdAt!: Date;

  @Column({ type: 'timestamptz', precision: 3 })
  expiresAt!: Date;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  endedAt!: Date | null;
}
