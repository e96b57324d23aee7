/**
 * What is known of a zone, one thing at a time. Moments are milliseconds since 1970-01-01T00:00:00Z.
 *
 * `at` is when it happened, `knownAt` when the record had it: a logger that was out of reach reports late, and a rule that
 * is replayed must not know what nobody knew then.
 */
export type ZoneEvent =
  | UnitEvent<'armed'>
  /** The latch was opened again: the unit may vote anew. */
  | UnitEvent<'reset'>
  /** The unit left the leaf. */
  | UnitEvent<'removed'>
  /** The unit, or the person before it, said how it stands; also that it is alive. */
  | (UnitEvent<'heard'> & { readonly latched: boolean })
  /** It latched. `happenedAt` is null where only the finding is known. */
  | (UnitEvent<'trip'> & { readonly happenedAt: number | null })
  | { readonly kind: 'irrigated'; readonly at: number; readonly knownAt: number }
  | { readonly kind: 'rain'; readonly at: number; readonly knownAt: number; readonly depthMm: number };

interface UnitEvent<K extends string> {
  readonly kind: K;
  readonly at: number;
  readonly knownAt: number;
  /** Name of the unit's place under a leaf: an installation. */
  readonly unit: string;
}
