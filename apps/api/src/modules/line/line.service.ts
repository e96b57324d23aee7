import { Injectable } from '@nestjs/common';
import { readLine, requireLineFormat, LINE_MOST, type LineFormat as ReadFormat } from '#libs/instrument-line';
import { InputError, parseUnit, UNITS, type Unit } from '#libs/quantity';
import type { HearLineInput, SetLineFormatInput } from '../../generated/schema.js';
import { Announcer } from '../../platform/database/announcer.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { LineFormat } from './line.entity.js';
import { clearOld, heardLine, insertHeard, newestFormats, type HeardLineRow } from './line.repository.js';

export const HEARD = 'heard_line';

/** The format as the library reads by it; the units were checked when it was recorded. */
export const readFormatOf = (row: LineFormat): ReadFormat => ({
  ...row, unit: row.unit as Unit, unitWords: row.unitWords.map(({ written, unit }) => ({ written, unit: unit as Unit })),
});

/** As it comes in: the schema has filled in what was left out. */
type WholeFormat = Required<SetLineFormatInput>;

/** How instruments write, and what bench computers heard them write. */
@Injectable()
export class LineService {
  constructor(
    private readonly recorder: Recorder,
    private readonly announcer: Announcer,
  ) {}

  setFormat(tx: Tx, actor: Actor, input: WholeFormat): Promise<Written<LineFormat>> {
    const trimmed = (marks: readonly string[]): string[] => marks.map((mark) => mark.trim());
    const given = {
      ...input, pattern: input.pattern.trim(), unit: parseUnit(input.unit, 'unit') as string,
      stableMarks: trimmed(input.stableMarks), movingMarks: trimmed(input.movingMarks), netMarks: trimmed(input.netMarks), grossMarks: trimmed(input.grossMarks),
      unitWords: input.unitWords.map(({ written, unit }) => ({ written: written.trim(), unit: parseUnit(unit, 'unitWords') as string })),
    };
    return this.recorder.record(tx, actor, LineFormat, given, async () => {
      const instrument = await rowById(tx, Instrument, input.instrumentId);
      if (!instrument) throw notFound('instrumentId', 'The instrument');
      requireLineFormat(given as unknown as ReadFormat);
      requireSerial(input);
      const [shown, own] = [UNITS[given.unit as Unit].dimension, UNITS[instrument.unit as Unit].dimension];
      if (shown !== own) throw new InputError('UNITS_DIFFER', 'unit', `is a unit of ${shown}, but ${instrument.label} shows ${own}`, `Choose a unit of ${own}.`);
      return { uses: [{ kind: 'instrument', id: instrument.id, role: 'of' }] };
    });
  }

  /** The server reads the line itself: what a bench computer made of it does not count. */
  async hear(tx: Tx, actor: Actor, input: HearLineInput): Promise<{ row: HeardLineRow; replayed: boolean }> {
    const { at: heardAt } = parseMoment('heardAt', input.heardAt);
    if (input.rawLine.length > LINE_MOST) throw new InputError('TOO_LONG', 'rawLine', `has ${input.rawLine.length} characters`, `At most ${LINE_MOST} are read.`);
    const [format] = await newestFormats(tx, [input.instrumentId]);
    if (!format) throw new ProblemError('STATE', 'instrumentId', 'This instrument is unknown here, or nobody has said how it writes its lines.', 'Set its line format on the Instruments screen.');
    const read = readLine(input.rawLine, readFormatOf(format));
    if (read.outcome === 'unread') throw new ProblemError('INPUT', 'rawLine', read.why, 'Compare the line with the line format of the instrument.');
    if (read.outcome === 'moving') throw new ProblemError('INPUT', 'rawLine', 'The line is not stable.', 'Wait until the display has settled.');
    const isNew = await insertHeard(tx, actor, { ...input, heardAt }, read);
    const row = await heardLine(tx, input.id);
    if (!row || row.instrumentId !== input.instrumentId || row.rawLine !== input.rawLine) {
      throw new ProblemError('REPLAY_MISMATCH', 'id', `The id ${input.id} was used before for another line.`, 'Send this one with an id of its own.');
    }
    if (isNew) {
      await clearOld(tx);
      tx.afterCommit(() => this.announcer.announce({ labId: tx.labId, kind: HEARD, id: row.id, dryingRunId: null }));
    }
    return { row, replayed: !isNew };
  }
}

function requireSerial({ baudRate, dataBits, stopBits }: WholeFormat): void {
  if (baudRate < 50 || baudRate > 1_000_000) throw new InputError('OUT_OF_RANGE', 'baudRate', `is ${baudRate}`, 'Give the rate that the instrument is set to, such as 9600.');
  if (dataBits !== 7 && dataBits !== 8) throw new InputError('OUT_OF_RANGE', 'dataBits', `is ${dataBits}`, 'Give 7 or 8.');
  if (stopBits !== 1 && stopBits !== 2) throw new InputError('OUT_OF_RANGE', 'stopBits', `is ${stopBits}`, 'Give 1 or 2.');
}
