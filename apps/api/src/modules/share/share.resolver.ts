import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { AdoptCalibrationInput, GrantShareInput, ShareCalibrationInput, WithdrawGrantInput } from '../../generated/schema.js';
import { rowsByIds } from '../../platform/database/rows.js';
import { notFound, settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { toCalibrationVersion, type CalibrationVersionView } from '../calibration/calibration.mapper.js';
import { madeFile, type MadeFile } from '../ledger/made-file.js';
import type { StoredFileView } from '../stored-file/stored-file.mapper.js';
import { storedFileOf } from '../stored-file/stored-file.resolver.js';
import { AdoptionService } from './adoption.service.js';
import { creditsOf } from './credits.js';
import { CalibrationAdoption, CalibrationShare, ShareGrant, ShareGrantWithdrawal } from './share.entity.js';
import { toGrant, toOrigin, toShare, toShared, toStanding, toWithdrawal, type GrantView, type OriginView, type SharedView, type ShareView } from './share.mapper.js';
import { labsByIds, otherLabs, packOf, packSizes, sharedWithLab, standingsOf, type OtherLab } from './share.repository.js';
import { ShareService } from './share.service.js';
import type { Credit } from './statement.js';

@Resolver()
export class ShareRootResolver {
  constructor(
    private readonly shares: ShareService,
    private readonly adoptions: AdoptionService,
  ) {}

  @Query()
  async sharedCalibrations(@Context() context: RequestContext): Promise<SharedView[]> {
    const tx = await context.read();
    const rows = await sharedWithLab(tx);
    const standings = await standingsOf(tx, rows.map(({ id }) => id));
    return rows.map((row) => toShared(row, standings.get(row.id)));
  }

  @Query()
  async sharedCalibration(@Args('id') id: string, @Context() context: RequestContext): Promise<SharedView | null> {
    const tx = await context.read();
    const [row] = await sharedWithLab(tx, [id]);
    return row ? toShared(row, (await standingsOf(tx, [id])).get(id)) : null;
  }

  @Query()
  async otherLabs(@Context() context: RequestContext): Promise<OtherLab[]> {
    return otherLabs(await context.read());
  }

  @Query()
  async sharePack(@Args('id') id: string, @Context() context: RequestContext): Promise<MadeFile> {
    const bytes = await packOf(await context.read(), id);
    if (!bytes) throw notFound('id', 'The share');
    return madeFile(`threadleaf-calibration-share-${id}.zip`, bytes);
  }

  @Mutation()
  shareCalibration(@Args('input') input: ShareCalibrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.shares.share(tx, context.member, input));
      await this.shares.seal(context.member, row);
      return { share: toShare(row), replayed };
    });
  }

  @Mutation()
  grantShare(@Args('input') input: GrantShareInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.shares.grant(tx, context.member, input));
      return { grant: toGrant(row), replayed };
    });
  }

  @Mutation()
  withdrawGrant(@Args('input') input: WithdrawGrantInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.shares.withdraw(tx, context.member, input));
      return { withdrawal: toWithdrawal(row), replayed };
    });
  }

  @Mutation()
  adoptCalibration(@Args('input') input: AdoptCalibrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.adoptions.adopt(tx, context.member, input));
      return { calibrationVersion: toCalibrationVersion(row), replayed };
    });
  }
}

@Resolver('CalibrationShare')
export class CalibrationShareResolver {
  @ResolveField()
  async calibrationVersion(@Parent() parent: ShareView, @Context() context: RequestContext): Promise<CalibrationVersionView> {
    return toCalibrationVersion((await context.load.one(CalibrationVersion, parent.calibrationVersionId))!);
  }

  @ResolveField()
  async grants(@Parent() parent: ShareView, @Context() context: RequestContext): Promise<GrantView[]> {
    return (await context.load.many(ShareGrant, 'shareId', parent.id, 'id DESC')).map(toGrant);
  }

  @ResolveField()
  packBytes(@Parent() parent: ShareView, @Context() context: RequestContext): Promise<number | null> {
    return context.load.batch('pack bytes', parent.id, async (tx, ids) => {
      const sizes = await packSizes(tx, ids);
      return ids.map((id) => sizes.get(id) ?? null);
    });
  }
}

@Resolver('ShareGrant')
export class ShareGrantResolver {
  @ResolveField()
  labs(@Parent() parent: GrantView, @Context() context: RequestContext): Promise<OtherLab[]> {
    return context.load.batch('labs of grant', parent.labIds.join(' '), async (tx, keys) => {
      const labs = await labsByIds(tx, keys.flatMap((key) => key.split(' ').filter(Boolean)));
      return keys.map((key) => labs.filter(({ id }) => key.includes(id)));
    });
  }

  @ResolveField()
  async withdrawal(@Parent() parent: GrantView, @Context() context: RequestContext): Promise<object | null> {
    const [row] = await context.load.many(ShareGrantWithdrawal, 'grantId', parent.id);
    return row ? toWithdrawal(row) : null;
  }

  @ResolveField()
  async stands(@Parent() parent: GrantView, @Context() context: RequestContext): Promise<boolean> {
    return (!parent.endsAt || parent.endsAt > context.now) && (await context.load.many(ShareGrantWithdrawal, 'grantId', parent.id)).length === 0;
  }
}

@Resolver('SharedCalibration')
export class SharedCalibrationResolver {
  @ResolveField()
  async adopted(@Parent() parent: SharedView, @Context() context: RequestContext): Promise<CalibrationVersionView[]> {
    const adoptions = await context.load.many(CalibrationAdoption, 'shareId', parent.id);
    const versions = await Promise.all(adoptions.map(({ id }) => context.load.many(CalibrationVersion, 'calibrationAdoptionId', id)));
    return versions.flat().map(toCalibrationVersion);
  }
}

@Resolver('CalibrationVersion')
export class VersionSharesResolver {
  @ResolveField()
  credits(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<Credit[]> {
    return context.load.batch('credits', parent.id, async (tx, ids) => {
      const owed = await creditsOf(tx, await rowsByIds(tx, CalibrationVersion, ids));
      return ids.map((id) => owed.get(id) ?? []);
    });
  }

  @ResolveField()
  async shares(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<ShareView[]> {
    return (await context.load.many(CalibrationShare, 'calibrationVersionId', parent.id, 'id DESC')).map(toShare);
  }

  @ResolveField()
  async origin(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<OriginView | null> {
    const row = parent.calibrationAdoptionId && (await context.load.one(CalibrationAdoption, parent.calibrationAdoptionId));
    return row ? toOrigin(row) : null;
  }
}

@Resolver('CalibrationOrigin')
export class CalibrationOriginResolver {
  @ResolveField()
  pack(@Parent() parent: OriginView, @Context() context: RequestContext): Promise<StoredFileView | null> {
    return storedFileOf(context, parent.storedFileId);
  }

  @ResolveField()
  async standing(@Parent() parent: OriginView, @Context() context: RequestContext): Promise<object | null> {
    const standing = await context.load.batch('standing of origin', parent.shareId, async (tx, ids) => {
      const standings = await standingsOf(tx, ids);
      return ids.map((id) => standings.get(id) ?? null);
    });
    // A share of this id by another lab than the one it came from says nothing.
    return standing?.labId === parent.originLabId ? toStanding(standing) : null;
  }
}
