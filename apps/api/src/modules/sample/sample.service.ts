import { Injectable } from '@nestjs/common';
import { parseDecimal, requirePositive } from '#libs/quantity';
import type { RecordCropInput, RecordDiscInput, RecordLeafInput, RecordPlantInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { Crop, Disc, Leaf, Plant } from './sample.entity.js';

/** Crops, plants, leaves and discs: where tissue comes from. */
@Injectable()
export class SampleService {
  constructor(private readonly recorder: Recorder) {}

  recordCrop(tx: Tx, actor: Actor, input: RecordCropInput): Promise<Written<Crop>> {
    const given = { id: input.id, name: requireText('name', input.name), scientificName: optionalText(input.scientificName) };
    return this.recorder.record(tx, actor, Crop, given, () => ({ uses: [] }));
  }

  recordPlant(tx: Tx, actor: Actor, input: RecordPlantInput): Promise<Written<Plant>> {
    const given = {
      id: input.id,
      cropId: input.cropId,
      label: requireText('label', input.label),
      cultivar: optionalText(input.cultivar),
      treatment: optionalText(input.treatment),
    };
    return this.recorder.record(tx, actor, Plant, given, () => ({ uses: [{ kind: 'crop', id: input.cropId, role: 'of' }] }));
  }

  recordLeaf(tx: Tx, actor: Actor, input: RecordLeafInput): Promise<Written<Leaf>> {
    const cut = input.cutAt ? parseMoment('cutAt', input.cutAt) : null;
    const given = {
      id: input.id,
      plantId: input.plantId,
      label: requireText('label', input.label),
      position: optionalText(input.position),
      growthStage: optionalText(input.growthStage),
      cutAt: cut?.at ?? null,
      cutOffsetMin: cut?.offsetMin ?? null,
    };
    return this.recorder.record(tx, actor, Leaf, given, () => ({ uses: [{ kind: 'plant', id: input.plantId, role: 'of' }] }));
  }

  recordDisc(tx: Tx, actor: Actor, input: RecordDiscInput): Promise<Written<Disc>> {
    const punched = input.punchedAt ? parseMoment('punchedAt', input.punchedAt) : null;
    const diameter = input.diameterMm ? parseDecimal(input.diameterMm, { field: 'diameterMm' }) : null;
    if (diameter) requirePositive('diameterMm', diameter.value);
    const given = {
      id: input.id,
      leafId: input.leafId,
      label: requireText('label', input.label),
      diameterMm: diameter?.decimal ?? null,
      punchedAt: punched?.at ?? null,
      punchedOffsetMin: punched?.offsetMin ?? null,
    };
    return this.recorder.record(tx, actor, Disc, given, () => ({ uses: [{ kind: 'leaf', id: input.leafId, role: 'of' }] }));
  }
}
