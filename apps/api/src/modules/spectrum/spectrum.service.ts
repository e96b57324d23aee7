import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { BandWeightingInput, RecordSpectrumInput, SpectrumOf } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { StoredFile } from '../stored-file/stored-file.entity.js';
import { bytesOf } from '../stored-file/stored-file.repository.js';
import { readSpectrum } from './read-spectrum.js';
import { Spectrum } from './spectrum.entity.js';
import { weigh } from './weighting.js';

/** Spectra as facts with their files, and what a band makes of them. */
@Injectable()
export class SpectrumService {
  constructor(private readonly recorder: Recorder) {}

  record(tx: Tx, actor: Actor, input: RecordSpectrumInput): Promise<Written<Spectrum>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const given = {
      id: input.id, label: requireText('label', input.label), spectrumOf: input.spectrumOf, observedAt: at, observedOffsetMin: offsetMin, storedFileId: input.storedFileId, note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, Spectrum, given, async () => {
      const file = await rowById(tx, StoredFile, input.storedFileId);
      const bytes = file && (await bytesOf(tx, file.sha256));
      if (!bytes) throw notFound('storedFileId', 'The file');
      return { derived: readSpectrum(bytes, input), uses: [{ kind: 'stored_file', id: input.storedFileId, role: 'read from' }] };
    });
  }

  async weigh(tx: Tx, { leafId, lampId, bandId, sunId, fieldBandId }: BandWeightingInput): Promise<object> {
    const rows = new Map((await rowsByIds(tx, Spectrum, [leafId, lampId, bandId, ...(sunId ? [sunId] : []), ...(fieldBandId ? [fieldBandId] : [])])).map((row) => [row.id, row]));
    const of = (field: string, id: string, sorts: readonly SpectrumOf[], word: string): Spectrum['points'] => {
      const row = rows.get(id);
      if (!row) throw notFound(field, `The spectrum of the ${word}`);
      if (!sorts.includes(row.spectrumOf)) throw new InputError('OF_ANOTHER_SORT', field, `is the spectrum of a ${row.spectrumOf.toLowerCase()}`, `Choose one of a ${word}.`);
      return row.points;
    };
    return weigh({
      leaf: of('leafId', leafId, ['LEAF'], 'leaf'), lamp: of('lampId', lampId, ['LAMP', 'SUN'], 'lamp'), band: of('bandId', bandId, ['FILTER', 'ABSORBER'], 'filter or absorber'),
      sun: sunId ? of('sunId', sunId, ['SUN', 'LAMP'], 'sun') : null, fieldBand: fieldBandId ? of('fieldBandId', fieldBandId, ['FILTER', 'ABSORBER'], 'filter or absorber') : null,
    });
  }
}
