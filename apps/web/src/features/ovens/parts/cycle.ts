import type { CyclePageQuery } from '../../../generated/graphql.js';

export type Cycle = NonNullable<CyclePageQuery['ovenCycle']>;
export type ConstantMass = Cycle['constantMass'][number];
