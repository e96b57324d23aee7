import { Injectable } from '@nestjs/common';
import { numbered } from '#libs/label';
import { InputError } from '#libs/quantity';
import type { PlaceKind, RecordCustodyInput, RecordPlaceInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { idsFrom } from '../sample/sample-bulk.js';
import { Custody, Place } from './place.entity.js';
import { existingAmong, insideOf } from './place.repository.js';

/** From the largest to the smallest: a place lies in one before it in this list. */
export const PLACE_KINDS: readonly PlaceKind[] = ['SITE', 'BUILDING', 'ROOM', 'STORE', 'RACK', 'TRAY', 'POSITION'];

const MOST_POSITIONS = 384;

/** Places, and who took what to which of them. */
@Injectable()
export class PlaceService {
  constructor(private readonly recorder: Recorder) {}

  async record(tx: Tx, actor: Actor, input: RecordPlaceInput): Promise<Written<Place>> {
    const positions = positionsOf(input);
    const written = await this.recordOne(tx, actor, { id: input.id, placeKind: input.placeKind, label: requireText('label', input.label), insideId: input.insideId ?? null, note: optionalText(input.note) });
    const ids = idsFrom(input.id);
    for (const label of positions) {
      await this.recordOne(tx, actor, { id: ids.next().value, placeKind: 'POSITION', label, insideId: input.id, note: null });
    }
    return written;
  }

  private recordOne(tx: Tx, actor: Actor, given: Pick<Place, 'id' | 'placeKind' | 'label' | 'insideId' | 'note'>): Promise<Written<Place>> {
    return this.recorder.record(tx, actor, Place, given, async () => {
      if (given.insideId !== null) {
        const around = await rowById(tx, Place, given.insideId);
        if (!around) throw notFound('insideId', 'The place it lies in');
        requireLarger('insideId', around, given.placeKind);
      }
      return { uses: given.insideId === null ? [] : [{ kind: 'place', id: given.insideId, role: 'inside' }] };
    });
  }

  async recordCustody(tx: Tx, actor: Actor, input: RecordCustodyInput): Promise<Written<Custody>[]> {
    const { at, offsetMin } = parseMoment('movedAt', input.movedAt);
    if (input.moves.length === 0) throw new InputError('MISSING', 'moves', 'names nothing', 'Scan or choose at least one.');
    const placeId = input.placeId ?? null;
    const place = placeId === null ? null : await rowById(tx, Place, placeId);
    if (placeId !== null && !place) throw notFound('placeId', 'The place');
    const found = new Map<string, Set<string>>();
    for (const table of ['plant', 'leaf', 'disc', 'place']) {
      found.set(table, await existingAmong(tx, table, input.moves.filter(({ subjectKind }) => subjectKind.toLowerCase() === table).map(({ subjectId }) => subjectId)));
    }
    const written: Written<Custody>[] = [];
    for (const { id, subjectKind, subjectId } of input.moves) {
      const table = subjectKind.toLowerCase() as Custody['subjectKind'];
      const given = { id, subjectKind: table, subjectId, placeId, movedAt: at, movedOffsetMin: offsetMin, note: optionalText(input.note) };
      written.push(await this.recorder.record(tx, actor, Custody, given, async () => {
        if (!found.get(table)!.has(subjectId)) throw notFound('moves', `The ${table}`);
        if (table === 'place' && place) await this.requireFits(tx, subjectId, place);
        return { uses: [{ kind: table, id: subjectId, role: 'of' }, ...(place ? [{ kind: 'place', id: place.id, role: 'to' }] : [])], action: 'move' };
      }));
    }
    return written;
  }

  /** A rack cannot lie in itself, nor in a tray of its own. */
  private async requireFits(tx: Tx, movedId: string, to: Place): Promise<void> {
    const moved = (await rowById(tx, Place, movedId))!;
    requireLarger('placeId', to, moved.placeKind);
    const inside = await insideOf(tx);
    for (let at: string | null = to.id; at !== null; at = inside.get(at)?.insideId ?? null) {
      if (at === movedId) throw new ProblemError('INPUT', 'placeId', `${to.label} lies in ${moved.label} itself.`, 'Choose a place outside of it.');
    }
  }
}

function requireLarger(field: string, around: Place, kind: PlaceKind): void {
  if (PLACE_KINDS.indexOf(around.placeKind) < PLACE_KINDS.indexOf(kind)) return;
  const [inner, outer] = [kind, around.placeKind].map((each) => each.toLowerCase());
  throw new ProblemError('INPUT', field, `A ${inner} does not lie in a ${outer} (${around.label}).`, `From the largest: ${PLACE_KINDS.join(', ').toLowerCase()}.`);
}

function positionsOf({ positionRows, positionColumns, placeKind }: RecordPlaceInput): string[] {
  if (positionRows == null && positionColumns == null) return [];
  const [rows, columns] = [positionRows ?? 1, positionColumns ?? 1];
  if (placeKind === 'POSITION') throw new InputError('NOT_HERE', 'positionRows', 'a position has no positions in it', 'Leave rows and columns empty.');
  if (!(Number.isInteger(rows) && Number.isInteger(columns) && rows > 0 && columns > 0 && rows * columns <= MOST_POSITIONS)) {
    throw new InputError('COUNT', 'positionRows', `${rows} by ${columns} cannot be laid out`, `Give whole numbers, at most ${MOST_POSITIONS} positions.`);
  }
  return numbered('@', 1, rows).flatMap((row) => numbered('#', 1, columns).map((column) => row + column));
}
