import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Crop, Disc, Leaf, Plant } from './sample.entity.js';

export type CropView = RecordView & Pick<Crop, 'name' | 'scientificName'>;
export const toCrop = (row: Crop): CropView => ({ ...recordView(row), name: row.name, scientificName: row.scientificName });

export type PlantView = RecordView & Pick<Plant, 'label' | 'cultivar' | 'treatment' | 'cropId'>;
export const toPlant = (row: Plant): PlantView => ({
  ...recordView(row), label: row.label, cultivar: row.cultivar, treatment: row.treatment, cropId: row.cropId,
});

export type LeafView = RecordView & Pick<Leaf, 'label' | 'position' | 'growthStage' | 'plantId'> & { cutAt: string | null };
export const toLeaf = (row: Leaf): LeafView => ({
  ...recordView(row),
  label: row.label,
  position: row.position,
  growthStage: row.growthStage,
  plantId: row.plantId,
  cutAt: row.cutAt && formatMoment(row.cutAt, row.cutOffsetMin ?? 0),
});

export type DiscView = RecordView & Pick<Disc, 'label' | 'diameterMm' | 'leafId'>;
export const toDisc = (row: Disc): DiscView => ({ ...recordView(row), label: row.label, diameterMm: row.diameterMm, leafId: row.leafId });
