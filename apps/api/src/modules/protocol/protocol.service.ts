import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { RecordProtocolInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { Protocol } from './protocol.entity.js';
import { readParameters } from './protocol-parameters.js';
import { protocolsNamed } from './protocol.repository.js';

/** Named protocols and their immutable versions. */
@Injectable()
export class ProtocolService {
  constructor(private readonly recorder: Recorder) {}

  /** @throws InputError for a parameter out of its range, or a later version that does not say why it changed */
  record(tx: Tx, actor: Actor, input: RecordProtocolInput): Promise<Written<Protocol>> {
    const given = { id: input.id, name: requireText('name', input.name), changedBecause: optionalText(input.changedBecause), parameters: readParameters(input.parameters) };
    return this.recorder.record(tx, actor, Protocol, given, async () => {
      const [newest] = await protocolsNamed(tx, given.name);
      if (newest && newest.name !== given.name) throw new InputError('NOT_KNOWN', 'name', `${given.name} is written ${newest.name} in this lab`, 'Write it so.');
      if (newest && !given.changedBecause) {
        throw new InputError('MISSING', 'changedBecause', `is empty, but ${newest.name} has version ${newest.version} already`, 'Say why it changes, so that somebody understands it in six years.');
      }
      if (!newest && given.changedBecause) {
        throw new InputError('NOT_KNOWN', 'name', `${given.name} has no version yet`, 'Leave the reason of change empty for a new protocol, or write the name as it stands.');
      }
      return {
        derived: { version: (newest?.version ?? 0) + 1 },
        uses: newest ? [{ kind: 'protocol', id: newest.id, role: 'takes the place of' }] : [],
        reason: given.changedBecause,
      };
    });
  }
}
