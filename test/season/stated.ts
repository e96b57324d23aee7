import { createStream, normalQuantile } from '#libs/numeric';

/** An event whose chance was stated, and how much of its spread it shares with others: with those of its calibration, with those under the same sky. */
export interface Stated {
  readonly chance: number;
  readonly calibration: string;
  readonly calibrationShare: number;
  readonly sky: string;
  readonly skyShare: number;
}

const DRAWS = 4_000;

/**
 * Draws how many of these events happen if every stated chance is right. Events of one calibration or one sky go together,
 * so the count is wider than a binomial's: each event is a threshold on a normal variable of which the stated shares are common.
 */
function counts(events: readonly Stated[], happens: (event: Stated, z: number) => boolean): number[] {
  const stream = createStream('stated counts', 0);
  return Array.from({ length: DRAWS }, () => {
    const common = new Map<string, number>();
    const of = (name: string): number => {
      if (!common.has(name)) common.set(name, stream.normal());
      return common.get(name)!;
    };
    return events.filter((event) => {
      const { calibrationShare: c, skyShare: s } = event;
      const z = Math.sqrt(c) * of(`calibration ${event.calibration}`) + Math.sqrt(s) * of(`sky ${event.sky}`) + Math.sqrt(Math.max(0, 1 - c - s)) * stream.normal();
      return happens(event, z);
    }).length;
  }).sort((a, b) => a - b);
}

/** The most events that a run as stated shows, with this confidence. */
export function mostAsStated(events: readonly Stated[], confidence: number): number {
  return counts(events, ({ chance }, z) => z < normalQuantile(Math.min(Math.max(chance, 1e-9), 1 - 1e-9)))[Math.ceil(confidence * DRAWS) - 1]!;
}

/** The fewest intervals of a coverage that hold their value, with this confidence. */
export function fewestInside(events: readonly Omit<Stated, 'chance'>[], coverage: number, confidence: number): number {
  const within = normalQuantile((1 + coverage) / 2);
  return counts(events.map((event) => ({ ...event, chance: coverage })), (_, z) => Math.abs(z) < within)[Math.floor((1 - confidence) * DRAWS)]!;
}

/** Exact binomial upper bound, for events that share nothing: what the counts above come to then. */
export function binomialMost(n: number, p: number, confidence: number): number {
  let term = (1 - p) ** n;
  let cumulative = term;
  for (let k = 0; ; k += 1) {
    if (cumulative >= confidence) return k;
    term *= ((n - k) / (k + 1)) * (p / (1 - p));
    cumulative += term;
  }
}
