import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { BandWeightingInput, RecordSpectrumInput, SpectrumOf } from '../../generated/schema.js';
import { rowById, rowsWhere } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf } from '../amendment/amendment.resolver.js';
import { storedFileOf } from '../stored-file/stored-file.resolver.js';
import type { StoredFileView } from '../stored-file/stored-file.mapper.js';
import { Spectrum } from './spectrum.entity.js';
import { SpectrumService } from './spectrum.service.js';
import { waterOverlapOf } from './weighting.js';

export type SpectrumView = RecordView & Pick<Spectrum, 'label' | 'spectrumOf' | 'note' | 'storedFileId' | 'points'> & Spectrum['points'] & { fileKind: string; part: number; partName: string; observedAt: string; fromNm: number; toNm: number; peakNm: number };

export const toSpectrum = (row: Spectrum): SpectrumView => {
  const { wavelengthNm, values } = row.points;
  return {
    ...recordView(row), label: row.label, spectrumOf: row.spectrumOf, note: row.note, storedFileId: row.storedFileId, points: row.points, wavelengthNm, values,
    fileKind: row.reading.fileKind, part: row.reading.part, partName: row.reading.partName, observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
    fromNm: wavelengthNm[0]!, toNm: wavelengthNm.at(-1)!, peakNm: wavelengthNm[values.reduce((best, value, i) => (value > values[best]! ? i : best), 0)]!,
  };
};

@Resolver()
export class SpectrumRootResolver {
  constructor(private readonly service: SpectrumService) {}

  @Query()
  async spectra(@Args('spectrumOf') spectrumOf: SpectrumOf | undefined, @Context() context: RequestContext): Promise<SpectrumView[]> {
    return (await rowsWhere(await context.read(), Spectrum, '$2::text IS NULL OR spectrum_of = $2', [spectrumOf ?? null], 'ORDER BY id DESC LIMIT 200')).map(toSpectrum);
  }

  @Query()
  async spectrum(@Args('id') id: string, @Context() context: RequestContext): Promise<SpectrumView | null> {
    const row = await rowById(await context.read(), Spectrum, id);
    return row && toSpectrum(row);
  }

  @Query()
  bandWeighting(@Args('input') input: BandWeightingInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => ({ weighting: await this.service.weigh(await context.read(), input) }));
  }

  @Mutation()
  recordSpectrum(@Args('input') input: RecordSpectrumInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.record(tx, context.member, input));
      return { spectrum: toSpectrum(row), replayed };
    });
  }
}

@Resolver('Spectrum')
export class SpectrumResolver {
  @ResolveField()
  async file(@Parent() parent: SpectrumView, @Context() context: RequestContext): Promise<StoredFileView> {
    return (await storedFileOf(context, parent.storedFileId))!;
  }

  @ResolveField()
  waterOverlap(@Parent() { spectrumOf, points }: SpectrumView): number | null {
    return spectrumOf === 'FILTER' || spectrumOf === 'ABSORBER' ? waterOverlapOf(points) : null;
  }

  @ResolveField()
  amendedBy(@Parent() parent: SpectrumView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }
}
