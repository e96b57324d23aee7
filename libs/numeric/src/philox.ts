import { InputError } from '#libs/quantity';
import { requireCount } from './guards.js';
import { normalQuantileUnchecked } from './normal.js';

// Bound once: a host that looks the global up at every use (a sandbox) spends more on that than on the arithmetic.
const { floor, imul } = Math;

/** Philox's two multipliers, whole and in halves, and its two Weyl constants, as signed 32-bit integers: what the machine multiplies fastest. */
const MULTIPLIER_0 = 0xd2511f53 | 0;
const MULTIPLIER_0_LOW = 0x1f53;
const MULTIPLIER_0_HIGH = 0xd251;
const MULTIPLIER_1 = 0xcd9e8d57 | 0;
const MULTIPLIER_1_LOW = 0x8d57;
const MULTIPLIER_1_HIGH = 0xcd9e;
const WEYL_0 = 0x9e3779b9 | 0;
const WEYL_1 = 0xbb67ae85 | 0;

/** High 32 bits of the product of two unsigned 32-bit words, the first given in halves; no partial sum passes 32 bits. */
function multiplyHigh(low: number, high: number, word: number): number {
  const wordLow = word & 0xffff;
  const wordHigh = word >>> 16;
  const middle = (imul(high, wordLow) + (imul(low, wordLow) >>> 16)) | 0;
  const cross = (imul(low, wordHigh) + (middle & 0xffff)) | 0;
  return (imul(high, wordHigh) + (middle >>> 16) + (cross >>> 16)) | 0;
}

/**
 * One block of Philox 4x32 with ten rounds: four counter words and two key words in, four random words out (all unsigned 32 bit),
 * written into `out`.
 *
 * Source: J. K. Salmon et al., Parallel random numbers: as easy as 1, 2, 3, SC11 (2011); checked against the published
 * known-answer vectors of Random123.
 *
 * @example
 * const words = new Uint32Array(4);
 * philox4x32(0, 0, 0, 0, 0, 0, words);
 * Array.from(words) // => [1713891541, 3781805453, 3159862348, 2600524760]
 */
export function philox4x32(
  counter0: number,
  counter1: number,
  counter2: number,
  counter3: number,
  key0: number,
  key1: number,
  out: Uint32Array,
): void {
  let c0 = counter0 | 0;
  let c1 = counter1 | 0;
  let c2 = counter2 | 0;
  let c3 = counter3 | 0;
  let k0 = key0 | 0;
  let k1 = key1 | 0;
  for (let round = 0; round < 10; round += 1) {
    const high0 = multiplyHigh(MULTIPLIER_0_LOW, MULTIPLIER_0_HIGH, c0);
    const high1 = multiplyHigh(MULTIPLIER_1_LOW, MULTIPLIER_1_HIGH, c2);
    const low0 = imul(MULTIPLIER_0, c0);
    const low1 = imul(MULTIPLIER_1, c2);
    c0 = high1 ^ c1 ^ k0;
    c1 = low1;
    c2 = high0 ^ c3 ^ k1;
    c3 = low0;
    k0 = (k0 + WEYL_0) | 0;
    k1 = (k1 + WEYL_1) | 0;
  }
  out[0] = c0;
  out[1] = c1;
  out[2] = c2;
  out[3] = c3;
}

/** A stream of random numbers of which each can be asked for by its number, in any order, on any thread. */
export interface RandomStream {
  /** Draw `counter` of this stream (0, 1, 2, …), uniform in the open interval (0, 1); does not move the stream. */
  at(counter: number): number;
  /** Draw `counter` of this stream through the normal quantile; does not move the stream. */
  normalAt(counter: number): number;
  /** Draws `counter` and those that follow it as {@link normalAt} gives them, one into each place of `into`. */
  normalsAt(counter: number, into: Float64Array): void;
  /** The next uniform draw. */
  uniform(): number;
  /** The next draw as a standard normal deviate: one uniform each, so that draw i stays draw i. */
  normal(): number;
  /** The number of the draw that `uniform` or `normal` gives next. */
  readonly position: number;
}

/**
 * Stream number `stream` of the generator with this `seed`: a pure function of (seed, stream, counter), so the same draw comes out
 * whatever thread asks for it and in whatever order.
 *
 * Uniform draws are (k + ½)/2⁵² with k of 52 random bits: an odd multiple of 2⁻⁵³, never 0 or 1, symmetrical about ½. Words 0 and 1
 * of the Philox counter hold the block number (two draws to a block), words 2 and 3 the stream; the key is the seed.
 *
 * Domain: `seed` is a bigint from 0 to 2⁶⁴−1, or text: decimal digits mean that integer (so a saved seed gives the same stream), any
 * other text is hashed (FNV-1a, 64 bit, over UTF-16 code units as two bytes). `stream` and `counter` are whole numbers from 0 to 2⁵³−1.
 * Errors: `SEED_RANGE`, `NOT_A_COUNT`.
 *
 * @example
 * createStream(7n, 0).at(3) === createStream('7', 0).at(3) // => true
 */
export function createStream(seed: bigint | string, stream: number): RandomStream {
  requireCount('stream', stream);
  const key = seedKey(seed);
  const key0 = Number(key & 0xffffffffn);
  const key1 = Number(key >> 32n);
  const streamLow = stream >>> 0;
  const streamHigh = floor(stream / 0x100000000);
  const words = new Uint32Array(4);
  let cachedBlock = -1;
  let position = 0;

  const at = (counter: number): number => {
    const block = floor(counter / 2);
    if (block !== cachedBlock) {
      philox4x32(block >>> 0, floor(block / 0x100000000), streamLow, streamHigh, key0, key1, words);
      cachedBlock = block;
    }
    const first = counter % 2 === 0 ? 0 : 2;
    return (words[first]! * 0x100000 + (words[first + 1]! >>> 12) + 0.5) / 0x10000000000000;
  };
  return {
    at: (counter) => at(requireCount('counter', counter)),
    normalAt: (counter) => normalQuantileUnchecked(at(requireCount('counter', counter))),
    normalsAt(counter, into) {
      requireCount('counter', counter);
      for (let i = 0; i < into.length; i += 1) into[i] = normalQuantileUnchecked(at(counter + i));
    },
    uniform: () => at(position++),
    normal: () => normalQuantileUnchecked(at(position++)),
    get position() {
      return position;
    },
  };
}

function seedKey(seed: bigint | string): bigint {
  if (typeof seed === 'string' && !/^\d+$/.test(seed)) return hashText(seed);
  const value = BigInt(seed);
  if (value < 0n || value > 0xffffffffffffffffn) {
    throw new InputError('SEED_RANGE', 'seed', `expected a whole number from 0 to 2^64 - 1, got ${value}`, 'Give a smaller seed, or text.');
  }
  return value;
}

/** FNV-1a, 64 bit. Source: Fowler, Noll, Vo; constants of RFC 9923 (from memory). */
function hashText(text: string): bigint {
  let hash = 0xcbf29ce484222325n;
  for (let i = 0; i < text.length; i += 1) {
    const unit = text.charCodeAt(i);
    for (const byte of [unit & 0xff, unit >> 8]) hash = ((hash ^ BigInt(byte)) * 0x100000001b3n) & 0xffffffffffffffffn;
  }
  return hash;
}
