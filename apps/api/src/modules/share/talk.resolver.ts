import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { ImportCalibrationInput, RecordCalibrationCommentInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { toCalibrationVersion, type CalibrationVersionView } from '../calibration/calibration.mapper.js';
import { StoredFile } from '../stored-file/stored-file.entity.js';
import { bytesOf } from '../stored-file/stored-file.repository.js';
import { AdoptionService } from './adoption.service.js';
import { comments, followedBy, type CommentRow } from './comment.repository.js';
import { CommentService } from './comment.service.js';
import { readSharedPack } from './read-shared-pack.js';
import { toStatement, type SharedView } from './share.mapper.js';

const toComment = ({ at, labId, ...rest }: CommentRow, ownLabId: string): object => ({ ...rest, at: formatMoment(at), own: labId === ownLabId });

/** Comments on shares or versions, in bulk for all of the request. */
async function commentsOn(context: RequestContext, by: 'share' | 'version', id: string): Promise<object[]> {
  const rows = await context.load.batch(`comments by ${by}`, id, async (tx, ids) => {
    const found = await comments(tx, by, ids);
    return ids.map((wanted) => found.filter((row) => (by === 'share' ? row.shareId : row.calibrationVersionId) === wanted));
  });
  return rows.map((row) => toComment(row, context.member.labId));
}

@Resolver()
export class TalkRootResolver {
  constructor(
    private readonly talk: CommentService,
    private readonly adoptions: AdoptionService,
  ) {}

  @Query('readSharedPack')
  readPack(@Args('storedFileId') storedFileId: string, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const tx = await context.read();
      const file = await rowById(tx, StoredFile, storedFileId);
      const bytes = file && (await bytesOf(tx, file.sha256));
      if (!bytes) throw notFound('storedFileId', 'The file');
      const { statement, versionId, findings, points: _points, ...pack } = readSharedPack(bytes);
      return { pack: { ...pack, statement: toStatement(statement, versionId), findings: findings.map(({ check, status, says }) => ({ check, status, says })) }, problem: null };
    });
  }

  @Mutation()
  recordCalibrationComment(@Args('input') input: RecordCalibrationCommentInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.talk.record(tx, context.member, input));
      const all = await comments(await context.read(), row.shareId ? 'share' : 'version', [row.shareId ?? row.calibrationVersionId]);
      return { comment: toComment(all.find(({ id }) => id === row.id)!, context.member.labId), replayed };
    });
  }

  @Mutation()
  followShare(@Args() { shareId, follow }: { shareId: string; follow: boolean }, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      await context.write((tx) => this.talk.setFollowed(tx, context.member, shareId, follow));
      return { followed: follow, problem: null };
    });
  }

  @Mutation()
  importCalibration(@Args('input') input: ImportCalibrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.adoptions.importFile(tx, context.member, input));
      return { calibrationVersion: toCalibrationVersion(row), replayed };
    });
  }
}

@Resolver('SharedCalibration')
export class SharedTalkResolver {
  @ResolveField()
  comments(@Parent() parent: SharedView, @Context() context: RequestContext): Promise<object[]> {
    return commentsOn(context, 'share', parent.id);
  }

  @ResolveField()
  followed(@Parent() parent: SharedView, @Context() context: RequestContext): Promise<boolean> {
    return context.load.batch('followed', parent.id, async (tx, ids) => {
      const followed = await followedBy(tx, context.member, ids);
      return ids.map((id) => followed.has(id));
    });
  }
}

@Resolver('CalibrationVersion')
export class VersionTalkResolver {
  @ResolveField()
  comments(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<object[]> {
    return commentsOn(context, 'version', parent.id);
  }
}
