import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal, requirePositive } from '#libs/quantity';
import type {
  AmendSampleInput, RecordCropInput, RecordDiscInput, RecordLeafInput, RecordPlantInput, RecordSampleLossInput, RecordSamplesInput, SampleKind,
} from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds, type KeptEntity } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { planSamples, type SamplePlan } from './sample-bulk.js';
import { Crop, Disc, Leaf, Plant, SampleAmendment, SampleLoss, type SampleTable } from './sample.entity.js';
import { becomesOf, lossesOf, takenLabels } from './sample.repository.js';

const ENTITIES: Readonly<Record<SampleTable, KeptEntity<Plant | Leaf | Disc>>> = { plant: Plant, leaf: Leaf, disc: Disc };

/** Columns that only describe: correcting one changes no result. */
const DESCRIPTION: Readonly<Record<SampleTable, readonly (keyof AmendSampleInput)[]>> = {
  plant: ['cultivar', 'treatment'],
  leaf: ['position', 'growthStage'],
  disc: ['position', 'leafSide', 'diameterMm'],
};

export const tableOf = (kind: SampleKind): SampleTable => kind.toLowerCase() as SampleTable;

const diameter = (text: string | null | undefined): string | null => {
  if (!text) return null;
  const parsed = parseDecimal(text, { field: 'diameterMm' });
  requirePositive('diameterMm', parsed.value);
  return parsed.decimal;
};

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
      motherId: input.motherId ?? null,
    };
    return this.recorder.record(tx, actor, Plant, given, () => ({
      uses: [{ kind: 'crop', id: input.cropId, role: 'of' }, ...(input.motherId ? [{ kind: 'plant', id: input.motherId, role: 'from' }] : [])],
    }));
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
      photoId: input.photoId ?? null,
    };
    return this.recorder.record(tx, actor, Leaf, given, () => ({
      uses: [{ kind: 'plant', id: input.plantId, role: 'of' }, ...(input.photoId ? [{ kind: 'stored_file', id: input.photoId, role: 'photo' }] : [])],
    }));
  }

  recordDisc(tx: Tx, actor: Actor, input: RecordDiscInput): Promise<Written<Disc>> {
    const punched = input.punchedAt ? parseMoment('punchedAt', input.punchedAt) : null;
    const given = {
      id: input.id,
      leafId: input.leafId,
      label: requireText('label', input.label),
      diameterMm: diameter(input.diameterMm),
      punchedAt: punched?.at ?? null,
      punchedOffsetMin: punched?.offsetMin ?? null,
      position: optionalText(input.position),
      leafSide: input.leafSide ?? null,
    };
    return this.recorder.record(tx, actor, Disc, given, () => ({ uses: [{ kind: 'leaf', id: input.leafId, role: 'of' }] }));
  }

  async planSamples(tx: Tx, input: RecordSamplesInput): Promise<{ plan: SamplePlan; taken: string[] }> {
    const plan = planSamples(input, await this.standing(tx, Plant, 'plantIds', input.plantIds), await this.standing(tx, Leaf, 'leafIds', input.leafIds));
    const taken: string[] = [];
    for (const [table, planned] of [['plant', plan.plants], ['leaf', plan.leaves], ['disc', plan.discs]] as const) {
      taken.push(...(await takenLabels(tx, table, planned.map(({ label }) => label))));
    }
    return { plan, taken };
  }

  /** All or none: a label that stands already stops the whole. */
  async recordSamples(tx: Tx, actor: Actor, input: RecordSamplesInput): Promise<{ plants: Plant[]; leaves: Leaf[]; discs: Disc[]; replayed: boolean }> {
    const { plan, taken } = await this.planSamples(tx, input);
    const first = plan.plants[0] ?? plan.leaves[0] ?? plan.discs[0]!;
    const table: SampleTable = plan.plants[0] ? 'plant' : plan.leaves[0] ? 'leaf' : 'disc';
    const replay = (await rowById(tx, ENTITIES[table], first.id)) !== null;
    if (taken.length > 0 && !replay) {
      throw new ProblemError('INPUT', 'plantPattern', `${taken.slice(0, 5).join(', ')}${taken.length > 5 ? ` and ${taken.length - 5} more` : ''} exist already.`, 'Start at another number, or change the pattern.');
    }
    if (plan.plants.length > 0 && !input.cropId) throw new InputError('MISSING', 'cropId', 'is missing', 'Choose the crop.');
    const plants: Written<Plant>[] = [];
    const leaves: Written<Leaf>[] = [];
    const discs: Written<Disc>[] = [];
    const { cultivar, treatment, motherId, position, growthStage, cutAt, diameterMm, punchedAt, leafSide } = input;
    for (const { id, label } of plan.plants) plants.push(await this.recordPlant(tx, actor, { id, label, cropId: input.cropId!, cultivar, treatment, motherId }));
    for (const { id, label, ofId } of plan.leaves) leaves.push(await this.recordLeaf(tx, actor, { id, label, plantId: ofId, position, growthStage, cutAt }));
    for (const { id, label, ofId } of plan.discs) discs.push(await this.recordDisc(tx, actor, { id, label, leafId: ofId, diameterMm, punchedAt, leafSide }));
    return {
      plants: plants.map(({ row }) => row), leaves: leaves.map(({ row }) => row), discs: discs.map(({ row }) => row),
      replayed: [...plants, ...leaves, ...discs].every(({ replayed }) => replayed),
    };
  }

  /** Corrects what only describes a sample: nothing that was computed rests on it, so nothing goes stale. */
  amend(tx: Tx, actor: Actor, input: AmendSampleInput): Promise<Written<SampleAmendment>> {
    const table = tableOf(input.subjectKind);
    const named = (Object.keys(input) as (keyof AmendSampleInput)[]).filter((field) => !['id', 'subjectKind', 'subjectId', 'reason'].includes(field) && input[field] !== undefined);
    const strange = named.find((field) => !DESCRIPTION[table].includes(field));
    if (strange) throw new InputError('NOT_HERE', strange, `is no description of a ${table}`, `Of a ${table}: ${DESCRIPTION[table].join(', ')}.`);
    const becomes = Object.fromEntries(named.map((field) => [field, field === 'diameterMm' ? diameter(input.diameterMm) : optionalText(input[field])]));
    const given = { id: input.id, subjectKind: table, subjectId: input.subjectId, becomes, reason: requireText('reason', input.reason) };
    return this.recorder.record(tx, actor, SampleAmendment, given, async () => {
      const row = await rowById(tx, ENTITIES[table], input.subjectId);
      if (!row) throw notFound('subjectId', `The ${table}`);
      const standing = { ...row, ...(await becomesOf(tx, [row.id])).get(row.id) } as unknown as Record<string, string | null>;
      const was = Object.fromEntries(named.map((field) => [field, standing[field] ?? null]));
      if (named.every((field) => was[field] === becomes[field])) {
        throw new InputError('SAME', named[0] ?? 'subjectId', 'nothing would change', 'Change what was wrong, or leave it.');
      }
      return { derived: { was }, uses: [{ kind: table, id: row.id, role: 'amends' }], action: 'amend', reason: given.reason };
    });
  }

  async recordLoss(tx: Tx, actor: Actor, input: RecordSampleLossInput): Promise<Written<SampleLoss>[]> {
    const { at, offsetMin } = parseMoment('noticedAt', input.noticedAt);
    const reason = requireText('reason', input.reason);
    if (input.losses.length === 0) throw new InputError('MISSING', 'losses', 'names no sample', 'Choose at least one.');
    const written: Written<SampleLoss>[] = [];
    for (const { id, subjectKind, subjectId } of input.losses) {
      const table = tableOf(subjectKind);
      const given = { id, subjectKind: table, subjectId, outcome: input.outcome, noticedAt: at, noticedOffsetMin: offsetMin, reason };
      written.push(await this.recorder.record(tx, actor, SampleLoss, given, async () => {
        const row = await rowById(tx, ENTITIES[table], subjectId);
        if (!row) throw notFound('subjectId', `The ${table}`);
        const standing = (await lossesOf(tx, [subjectId])).get(subjectId);
        if (standing && standing.id !== id) {
          throw new ProblemError('STATE', 'losses', `${row.label} is told to be ${standing.outcome.toLowerCase()} already.`, 'Leave it out, or retract that first.');
        }
        return { uses: [{ kind: table, id: subjectId, role: 'of' }], action: input.outcome === 'LOST' ? 'lose' : 'destroy', reason };
      }));
    }
    return written;
  }

  /** Rows in the order of their ids. */
  private async standing<E extends Plant | Leaf>(tx: Tx, entity: KeptEntity<E>, field: string, ids: readonly string[] | null | undefined): Promise<E[]> {
    const found = new Map((await rowsByIds(tx, entity, ids ?? [])).map((row) => [row.id, row]));
    return (ids ?? []).map((id) => found.get(id) ?? fail(notFound(field, 'One of the samples')));
  }
}

function fail(error: Error): never {
  throw error;
}
