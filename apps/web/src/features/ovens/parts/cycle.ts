import type { CyclePageQuery } from '../../../generated/graphql.js';

export type Cycle = NonNullable<CyclePageQuery['ovenCycle']>;
export type ConstantMass = Cycle['constantMass'][number];

interface Criterion extends Pick<ConstantMass, 'rule' | 'protocol'> {
  /** Which discs; null for all of the cycle. */
  readonly labels: readonly string[] | null;
}

const criterionKey = ({ rule, protocol }: Pick<ConstantMass, 'rule' | 'protocol'>): string => protocol?.id ?? rule.key;

/** The criteria by which the discs of a cycle are judged, each once. */
export function criteriaOf({ constantMass }: Pick<Cycle, 'constantMass'>): readonly Criterion[] {
  const keys = [...new Set(constantMass.map(criterionKey))];
  return keys.map((key) => {
    const those = constantMass.filter((each) => criterionKey(each) === key);
    return { rule: those[0]!.rule, protocol: those[0]!.protocol, labels: keys.length > 1 ? those.map(({ disc }) => disc.label) : null };
  });
}

/** Protocols of the discs that want another temperature than the oven was set to. */
export const otherTemperatures = ({ constantMass, setTemperatureC }: Pick<Cycle, 'constantMass' | 'setTemperatureC'>): readonly NonNullable<ConstantMass['protocol']>[] =>
  criteriaOf({ constantMass }).flatMap(({ protocol }) => (protocol && protocol.parameters.ovenTemperatureC !== Number(setTemperatureC) ? protocol : []));

/** The longest cooling that a protocol of the discs wants, minutes; 30 where none says (common practice, no source). */
export const coolingOf = ({ constantMass }: Pick<Cycle, 'constantMass'>): number => {
  const wanted = constantMass.flatMap(({ protocol }) => protocol?.parameters.coolingMin ?? []);
  return wanted.length > 0 ? Math.max(...wanted) : 30;
};
