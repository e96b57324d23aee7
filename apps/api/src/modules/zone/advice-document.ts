import type { Recommendation } from '#libs/zone-rule';

/** What a zone's rule said at a moment, frozen. Units are installations; moments are ms since 1970 UTC. */
export type AdviceDocument = Recommendation;
