import { codeOf } from '#libs/label';
import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Crop, Disc, Leaf, Plant, SampleAmendment, SampleLoss } from './sample.entity.js';

export type CropView = RecordView & Pick<Crop, 'name' | 'scientificName'>;
export const toCrop = (row: Crop): CropView => ({ ...recordView(row), name: row.name, scientificName: row.scientificName });

/** Descriptions are as recorded; resolvers lay amendments over them. */
export type PlantView = RecordView & Pick<Plant, 'label' | 'cultivar' | 'treatment' | 'cropId' | 'motherId'> & { code: string };
export const toPlant = (row: Plant): PlantView => ({
  ...recordView(row), code: codeOf(row.id), label: row.label, cultivar: row.cultivar, treatment: row.treatment, cropId: row.cropId, motherId: row.motherId,
});

export type LeafView = RecordView & Pick<Leaf, 'label' | 'position' | 'growthStage' | 'plantId' | 'photoId'> & { code: string; cutAt: string | null };
export const toLeaf = (row: Leaf): LeafView => ({
  ...recordView(row),
  code: codeOf(row.id),
  label: row.label,
  position: row.position,
  growthStage: row.growthStage,
  plantId: row.plantId,
  photoId: row.photoId,
  cutAt: row.cutAt && formatMoment(row.cutAt, row.cutOffsetMin ?? 0),
});

export type DiscView = RecordView & Pick<Disc, 'label' | 'diameterMm' | 'leafId' | 'position' | 'leafSide'> & { code: string; punchedAt: string | null };
export const toDisc = (row: Disc): DiscView => ({
  ...recordView(row),
  code: codeOf(row.id),
  label: row.label,
  diameterMm: row.diameterMm,
  leafId: row.leafId,
  position: row.position,
  leafSide: row.leafSide,
  punchedAt: row.punchedAt && formatMoment(row.punchedAt, row.punchedOffsetMin ?? 0),
});

export type SampleAmendmentView = RecordView & Pick<SampleAmendment, 'reason'> & { changes: { field: string; was: string | null; becomes: string | null }[] };
export const toSampleAmendment = (row: SampleAmendment): SampleAmendmentView => ({
  ...recordView(row), reason: row.reason, changes: Object.entries(row.becomes).map(([field, becomes]) => ({ field, was: row.was[field] ?? null, becomes })),
});

export type SampleLossView = RecordView & Pick<SampleLoss, 'outcome' | 'reason'> & { noticedAt: string };
export const toSampleLoss = (row: SampleLoss): SampleLossView => ({
  ...recordView(row), outcome: row.outcome, reason: row.reason, noticedAt: formatMoment(row.noticedAt, row.noticedOffsetMin),
});
