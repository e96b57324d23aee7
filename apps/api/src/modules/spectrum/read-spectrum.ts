import { jcampSpectrum, readJcamp, readSpectrumTable, type JcampBlock, type Spectrum } from '#libs/optics';
import { InputError } from '#libs/quantity';
import type { RecordSpectrumInput, SpectrumOf } from '../../generated/schema.js';
import type { SpectrumReading } from './spectrum.entity.js';

export interface SpectrumRead {
  readonly points: Spectrum;
  readonly reading: SpectrumReading;
}

type HowToRead = Pick<RecordSpectrumInput, 'fileKind' | 'part' | 'wavelengthUnit' | 'valueUnit' | 'decimalComma' | 'spectrumOf'>;

/** So many points are kept of one spectrum; the finest bench spectrometers give some ten thousand. */
const MOST_POINTS = 50_000;

/** The spectrum of a file, with how it was read: the same bytes read so give the same points. */
export function readSpectrum(bytes: Buffer, how: HowToRead): SpectrumRead {
  const text = bytes.toString('utf8');
  const part = how.part ?? 1;
  const read = how.fileKind === 'JCAMP_DX' ? fromJcamp(text, part) : fromTable(text, part, how);
  if (read.points.wavelengthNm.length > MOST_POINTS) {
    throw new InputError('TOO_MANY_POINTS', 'storedFileId', `has ${read.points.wavelengthNm.length} points`, `Export at most ${MOST_POINTS}, or the range round the band alone.`);
  }
  requireSense(how.spectrumOf, read.points);
  return read;
}

function fromJcamp(text: string, part: number): SpectrumRead {
  const tables = (blocks: readonly JcampBlock[]): JcampBlock[] => blocks.flatMap((block) => [...(block.table ? [block] : []), ...tables(block.blocks)]);
  const found = tables(readJcamp(text));
  const block = chosen(found, part, found.map(({ title }) => title));
  const { spectrum, yUnits } = jcampSpectrum(block.table!);
  return { points: spectrum, reading: { fileKind: 'JCAMP_DX', part, partName: block.title, yUnits } };
}

function fromTable(text: string, part: number, { wavelengthUnit, valueUnit, decimalComma }: HowToRead): SpectrumRead {
  const options = { wavelengthUnit: wavelengthUnit ?? 'NM', valueUnit: valueUnit ?? 'FRACTION', decimalComma: decimalComma ?? false } as const;
  const { spectra } = readSpectrumTable(text, { wavelengthUnit: options.wavelengthUnit === 'UM' ? 'um' : 'nm', valueUnit: options.valueUnit === 'PERCENT' ? '%' : '1', decimalComma: options.decimalComma });
  const { name, spectrum } = chosen(spectra, part, spectra.map((one) => one.name));
  return { points: spectrum, reading: { fileKind: 'TABLE', part, partName: name, ...options } };
}

function chosen<T>(all: readonly T[], part: number, names: readonly string[]): T {
  const one = all[part - 1];
  if (one) return one;
  throw new InputError('UNKNOWN', 'part', `is ${part}; the file has ${names.length === 0 ? 'no spectrum' : names.map((name, i) => `${i + 1} ${name}`).slice(0, 12).join(', ')}`, 'Choose one of them.');
}

/** A leaf, filter or absorber lets through or takes up a fraction; a little beyond is noise, far beyond is per cent. */
function requireSense(of: SpectrumOf, { values }: Spectrum): void {
  const most = values.reduce((a, b) => Math.max(a, b));
  const least = values.reduce((a, b) => Math.min(a, b));
  if (of !== 'LAMP' && of !== 'SUN' && most > 1.2) throw new InputError('OUT_OF_RANGE', 'valueUnit', `makes the largest value ${most}, more than all of the light`, 'Read it in per cent, or check the file.');
  if (!(most > 0)) throw new InputError('OUT_OF_RANGE', 'storedFileId', 'has no value above zero', 'Check dark and reference of the spectrometer.');
  if (least < -0.05 * most) throw new InputError('OUT_OF_RANGE', 'storedFileId', `goes down to ${least}`, 'Take the offset off before it is recorded.');
}
