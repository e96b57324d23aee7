import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { CheckStatus, InstrumentKind, RecordInstrumentCalibrationInput, RecordInstrumentCheckInput, RegisterInstrumentInput, RegisterRigInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment, parseMoment } from '../../platform/graphql/moment.js';
import { Instrument, Rig } from './instrument.entity.js';
import { storedFileOf } from '../stored-file/stored-file.resolver.js';
import type { StoredFileView } from '../stored-file/stored-file.mapper.js';
import { toInstrument, toInstrumentCalibration, toInstrumentCheck, toRig, type InstrumentCalibrationView, type InstrumentCheckView, type InstrumentView, type RigView } from './instrument.mapper.js';
import { calibrationsOf, instrumentsByKind, newestChecks, rigsByLabel, standingsAt, type StandingAt } from './instrument.repository.js';
import { InstrumentService } from './instrument.service.js';

/** Standing of an instrument at a moment, in bulk with all others asked for in this request. */
export function standingAt(context: RequestContext, instrumentId: string, at: Date): Promise<StandingAt> {
  return context.load.batch('standing', `${instrumentId} ${at.toISOString()}`, (tx, keys) =>
    standingsAt(tx, keys.map((key) => ({ instrumentId: key.split(' ')[0]!, at: new Date(key.split(' ')[1]!) }))),
  );
}

@Resolver()
export class InstrumentRootResolver {
  constructor(private readonly service: InstrumentService) {}

  @Query()
  async instruments(@Args('kind') kind: InstrumentKind | undefined, @Context() context: RequestContext): Promise<InstrumentView[]> {
    return (await instrumentsByKind(await context.read(), kind ?? null)).map(toInstrument);
  }

  @Query()
  async instrument(@Args('id') id: string, @Context() context: RequestContext): Promise<InstrumentView | null> {
    const row = await rowById(await context.read(), Instrument, id);
    return row && toInstrument(row);
  }

  @Query()
  async rigs(@Context() context: RequestContext): Promise<RigView[]> {
    return (await rigsByLabel(await context.read())).map(toRig);
  }

  @Query()
  async rig(@Args('id') id: string, @Context() context: RequestContext): Promise<RigView | null> {
    const row = await rowById(await context.read(), Rig, id);
    return row && toRig(row);
  }

  @Mutation()
  registerInstrument(@Args('input') input: RegisterInstrumentInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.register(tx, context.member, input));
      return { instrument: toInstrument(row), replayed };
    });
  }

  @Mutation()
  recordInstrumentCheck(@Args('input') input: RecordInstrumentCheckInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.recordCheck(tx, context.member, input));
      return { check: toInstrumentCheck(row), replayed };
    });
  }

  @Mutation()
  recordInstrumentCalibration(@Args('input') input: RecordInstrumentCalibrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.recordCalibration(tx, context.member, input));
      return { calibration: toInstrumentCalibration(row), replayed };
    });
  }

  @Mutation()
  registerRig(@Args('input') input: RegisterRigInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.registerRig(tx, context.member, input));
      return { rig: toRig(row), replayed };
    });
  }
}

@Resolver('Instrument')
export class InstrumentResolver {
  @ResolveField()
  async checks(@Parent() parent: InstrumentView, @Args('first') first: number, @Context() context: RequestContext): Promise<InstrumentCheckView[]> {
    return (await newestChecks(await context.read(), parent.id, first)).map(toInstrumentCheck);
  }

  @ResolveField()
  async calibrations(@Parent() parent: InstrumentView, @Context() context: RequestContext): Promise<InstrumentCalibrationView[]> {
    return (await calibrationsOf(await context.read(), parent.id)).map(toInstrumentCalibration);
  }

  @ResolveField()
  async checkStatus(@Parent() parent: InstrumentView, @Args('at') at: string | undefined, @Context() context: RequestContext): Promise<CheckStatus> {
    return (await standingAt(context, parent.id, at ? parseMoment('at', at).at : context.now)).status;
  }

  @ResolveField()
  async checkDueAt(@Parent() parent: InstrumentView, @Context() context: RequestContext): Promise<string | null> {
    const { status, dueAt } = await standingAt(context, parent.id, context.now);
    return dueAt && status !== 'FAILED' ? formatMoment(dueAt) : null;
  }
}

@Resolver('InstrumentCheck')
export class InstrumentCheckResolver {
  @ResolveField()
  async instrument(@Parent() parent: InstrumentCheckView, @Context() context: RequestContext): Promise<InstrumentView> {
    return toInstrument((await context.load.one(Instrument, parent.instrumentId))!);
  }
}

@Resolver('InstrumentCalibration')
export class InstrumentCalibrationResolver {
  @ResolveField()
  async instrument(@Parent() parent: InstrumentCalibrationView, @Context() context: RequestContext): Promise<InstrumentView> {
    return toInstrument((await context.load.one(Instrument, parent.instrumentId))!);
  }

  @ResolveField()
  certificateFile(@Parent() parent: InstrumentCalibrationView, @Context() context: RequestContext): Promise<StoredFileView | null> {
    return storedFileOf(context, parent.certificateFileId);
  }
}

@Resolver('Rig')
export class RigResolver {
  @ResolveField()
  async meter(@Parent() parent: RigView, @Context() context: RequestContext): Promise<InstrumentView> {
    return toInstrument((await context.load.one(Instrument, parent.meterId))!);
  }
}
