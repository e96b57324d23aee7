import { CONSTANT_MASS_RULES, constantMass, type ConstantMassResult, type ConstantMassRule } from '#libs/leaf-water';
import type { Tx } from '../../platform/database/database.js';
import { rowsByIds, rowsWhere } from '../../platform/database/rows.js';
import { Weighing } from '../bench/bench.entity.js';
import { Instrument } from '../instrument/instrument.entity.js';
import type { Protocol } from '../protocol/protocol.entity.js';
import { constantMassRuleOf } from '../protocol/protocol-parameters.js';
import { protocolsOfDiscs } from '../protocol/protocol.repository.js';
import { lossesOf } from '../sample/sample.repository.js';
import { balanceTerms } from '../water/handling.js';
import type { OvenCycle } from './oven.entity.js';

export type KeyedRule = ConstantMassRule & { readonly key: string };

export interface DiscConstantMass {
  readonly discId: string;
  readonly lastMassMg: string | null;
  /** When that was. */
  readonly lastAt: Date | null;
  readonly result: ConstantMassResult | null;
  /** Lost or destroyed: nothing is waited for. */
  readonly gone: boolean;
  /** By what it was judged. */
  readonly rule: KeyedRule;
  /** The version that its run is bound to, where the rule is that one's. */
  readonly protocolId: string | null;
}

type JudgedCycle = Pick<OvenCycle, 'id' | 'discIds' | 'constantMassRule'>;

/** The rule chosen for a cycle; one recorded before rules could be chosen has the house's own. */
export const ruleOf = (key: string | null): KeyedRule => {
  const known = Object.keys(CONSTANT_MASS_RULES).find((each) => each === key) as keyof typeof CONSTANT_MASS_RULES | undefined;
  return { ...CONSTANT_MASS_RULES[known ?? 'disc'], key: known ?? 'disc' };
};

const protocolRule = ({ name, version, parameters }: Protocol): KeyedRule =>
  ({ ...constantMassRuleOf(parameters), key: 'protocol', name: `${name}, version ${version}`, source: 'the protocol version that the run is bound to' });

/** Check weighings of cycles that stand, in order of time. */
const checkWeighings = (tx: Tx, ovenCycleIds: readonly string[]): Promise<Weighing[]> =>
  rowsWhere(tx, Weighing, `oven_cycle_id = ANY($2::uuid[]) AND state = 'DRY' AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = weighing.id)`, [ovenCycleIds], 'ORDER BY observed_at, id');

/**
 * How far each disc of these cycles is from constant mass, by cycle, in the order of their discs. A disc whose run is bound
 * to a protocol is judged by that version, as its release will be; the rule chosen for the cycle holds for the others.
 */
export async function constantMasses(tx: Tx, cycles: readonly JudgedCycle[]): Promise<Map<string, DiscConstantMass[]>> {
  const discIds = [...new Set(cycles.flatMap((cycle) => cycle.discIds))];
  const checks = await checkWeighings(tx, cycles.map(({ id }) => id));
  const balances = new Map((await rowsByIds(tx, Instrument, [...new Set(checks.flatMap(({ balanceId }) => balanceId ?? []))])).map((row) => [row.id, row]));
  const losses = await lossesOf(tx, discIds);
  const protocols = await protocolsOfDiscs(tx, discIds);
  return new Map(cycles.map((cycle) => [cycle.id, cycle.discIds.map((discId): DiscConstantMass => {
    const protocol = protocols.get(discId) ?? null;
    const rule = protocol ? protocolRule(protocol) : ruleOf(cycle.constantMassRule);
    const own = checks.filter((check) => check.discId === discId && check.ovenCycleId === cycle.id);
    const last = own.at(-1);
    const balance = balances.get(last?.balanceId ?? '');
    return { discId, lastMassMg: last?.massMg ?? null, lastAt: last?.observedAt ?? null, result: balance ? verdictOf(own, balance, rule) : null, gone: losses.has(discId), rule, protocolId: protocol?.id ?? null };
  })]));
}

const verdictOf = (checks: readonly Weighing[], balance: Instrument, rule: ConstantMassRule): ConstantMassResult => constantMass({
  checks: checks.map(({ massMg, observedAt }) => ({ massMg: Number(massMg), atMs: observedAt.getTime() })),
  resolutionMg: balanceTerms(balance).resolutionMg,
  rule,
});
