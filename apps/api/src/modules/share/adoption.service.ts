import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { AdoptCalibrationInput, AdoptionSource, ImportCalibrationInput } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { idWithin } from '../../platform/ledger/id-within.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill } from '../amendment/amendment.repository.js';
import { Calibration, CalibrationVersion } from '../calibration/calibration.entity.js';
import { nextVersion } from '../calibration/calibration.repository.js';
import { Rig } from '../instrument/instrument.entity.js';
import { StoredFile } from '../stored-file/stored-file.entity.js';
import { bytesOf } from '../stored-file/stored-file.repository.js';
import { StoredFileService } from '../stored-file/stored-file.service.js';
import { readSharedPack, type SharedPack } from './read-shared-pack.js';
import { CalibrationAdoption } from './share.entity.js';
import { packOf, sharedWithLab, standingsOf } from './share.repository.js';
import { documentFrom } from './statement.js';

/** Versions of other labs taken over into this one. */
@Injectable()
export class AdoptionService {
  constructor(
    private readonly recorder: Recorder,
    private readonly files: StoredFileService,
  ) {}

  /**
   * Takes over what another lab of this server shares. The pack is verified anew, kept, and becomes a draft version.
   *
   * @throws ProblemError `NOT_FOUND` for a share that is not open to this lab, whether it exists or not; `FORBIDDEN_USE` where it may
   *   only be read; `STATE` for one withdrawn
   */
  async adopt(tx: Tx, actor: Actor, input: AdoptCalibrationInput): Promise<Written<CalibrationVersion>> {
    const earlier = await rowById(tx, CalibrationAdoption, input.id);
    if (earlier) return this.become(tx, actor, earlier, input);
    const [shared] = await sharedWithLab(tx, [input.shareId]);
    const bytes = shared && (await packOf(tx, shared.id));
    if (!shared || !bytes) throw new ProblemError('NOT_FOUND', 'shareId', 'No such calibration is shared with this lab.', 'Look at the list of what is shared, or ask the lab that has it.');
    const standing = (await standingsOf(tx, [shared.id])).get(shared.id);
    if (standing?.state === 'WITHDRAWN') {
      throw new ProblemError('STATE', 'shareId', `${shared.giverName} withdrew this version${standing.reason ? `: ${standing.reason}` : ''}.`, 'Ask that lab for a newer one.');
    }
    const fileId = idWithin(input.id, 'pack');
    await this.files.store(tx, actor, {
      id: fileId, name: `shared-${shared.document.label.replace(/[^A-Za-z0-9-]+/g, '-')}-version-${shared.document.version}.zip`, purpose: 'EVIDENCE_PACK',
      mediaType: 'application/zip', sha256: null, bytes,
    });
    return this.take(tx, actor, { ...input, fileId, bytes, source: 'SERVER', keyComparedWith: null });
  }

  /** Takes over what another server made, from a file that was stored. The person says with what the key was compared. */
  async importFile(tx: Tx, actor: Actor, input: ImportCalibrationInput): Promise<Written<CalibrationVersion>> {
    const file = await rowById(tx, StoredFile, input.storedFileId);
    const bytes = file && (await bytesOf(tx, file.sha256));
    if (!bytes) throw notFound('storedFileId', 'The file');
    return this.take(tx, actor, { ...input, fileId: input.storedFileId, bytes, source: 'FILE', keyComparedWith: requireText('keyComparedWith', input.keyComparedWith) });
  }

  /** The rest, alike for what came over the server and for a file. */
  async take(tx: Tx, actor: Actor, input: Taking): Promise<Written<CalibrationVersion>> {
    const pack = readSharedPack(input.bytes);
    requireReuse(pack);
    if (pack.labId === tx.labId) throw new ProblemError('STATE', 'storedFileId', 'This pack is your own lab’s.', 'The version is among your calibrations already.');
    const { row } = await this.recorder.record(tx, actor, CalibrationAdoption, {
      id: input.id, storedFileId: input.fileId, source: input.source, shareId: pack.shareId, keyComparedWith: input.keyComparedWith, reason: requireText('reason', input.reason),
    }, () => ({
      derived: {
        originLabId: pack.labId, originLab: pack.statement.labName, originLedger: pack.ledger, originKeys: [...pack.keys], originVersionId: pack.versionId,
        originContentHash: pack.statement.versionContentHash, checkpoint: pack.checkpoint, depth: pack.depth, licence: pack.licence, citation: pack.citation, document: pack.statement,
      },
      uses: [{ kind: 'stored_file', id: input.fileId, role: 'pack' }],
      action: 'adopt',
      reason: input.reason,
    }));
    return this.become(tx, actor, row, input, pack);
  }

  /** The version that an adoption becomes. */
  private become(tx: Tx, actor: Actor, adoption: CalibrationAdoption, input: Target, known?: SharedPack): Promise<Written<CalibrationVersion>> {
    return this.recorder.record(tx, actor, CalibrationVersion, { id: input.versionId, calibrationId: input.calibrationId, rigId: input.rigId, calibrationAdoptionId: adoption.id }, async () => {
      await holdFactsStill(tx);
      if (!(await rowById(tx, Calibration, input.calibrationId))) throw notFound('calibrationId', 'The calibration');
      if (!(await rowById(tx, Rig, input.rigId))) throw notFound('rigId', 'The rig');
      const pack = known ?? (await packOfAdoption(tx, adoption));
      return {
        derived: { codeVersion, version: await nextVersion(tx, input.calibrationId), family: pack.statement.family, document: documentFrom(pack.statement, pack.points) },
        uses: [
          { kind: 'calibration', id: input.calibrationId, role: 'of' },
          { kind: 'rig', id: input.rigId, role: 'stands for' },
          { kind: 'calibration_adoption', id: adoption.id, role: 'adopted' },
        ],
        action: 'adopt',
      };
    });
  }
}

interface Target {
  readonly versionId: string;
  readonly calibrationId: string;
  readonly rigId: string;
}

export interface Taking extends Target {
  readonly id: string;
  readonly fileId: string;
  readonly bytes: Uint8Array;
  readonly source: AdoptionSource;
  readonly keyComparedWith: string | null;
  readonly reason: string;
}

function requireReuse({ permits, statement }: SharedPack): void {
  if (permits === 'REUSE') return;
  throw new ProblemError('OUT_OF_SCOPE', 'shareId', `${statement.labName} shares this version to be read, not to be used.`, 'Compare with it as it is, or ask that lab for the right to reuse it.');
}

/** The pack that an adoption keeps, verified anew. */
export async function packOfAdoption(tx: Tx, { storedFileId, originKeys }: CalibrationAdoption): Promise<SharedPack> {
  const file = (await rowById(tx, StoredFile, storedFileId))!;
  const bytes = await bytesOf(tx, file.sha256);
  if (!bytes) throw new InputError('BAD_PACK', 'storedFileId', 'the bytes of the pack are gone', 'Bring them back from a backup.');
  return readSharedPack(bytes, originKeys.slice(0, 1));
}
