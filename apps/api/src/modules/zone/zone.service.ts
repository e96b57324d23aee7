import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal } from '#libs/quantity';
import { requireRain, requireRule, ruleRisk, type Replay, type RuleRisk, type ZoneSpread } from '#libs/zone-rule';
import type { AdviseZoneInput, RecordRainInput, RecordSitePlanInput, RecordZoneRuleInput } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill } from '../amendment/amendment.repository.js';
import { StoredFile } from '../stored-file/stored-file.entity.js';
import { Threads } from '../../platform/jobs/threads.js';
import { adviseFrom, requireSpan, termsOf, usedFacts, type ReplaySpan } from './advise.js';
import { zoneFacts, zoneSeason, type KnownBy } from './zone-events.js';
import { Rain, SitePlan, ZoneAdvice, ZoneRule } from './zone.entity.js';
import { nextRuleVersion, speakingRules, zoneSpreads } from './zone.repository.js';

const decimal = (field: string, text: string): string => parseDecimal(text, { field }).decimal;

function within(field: string, text: string, most: number): string {
  if (Math.abs(Number(text)) > most) throw new InputError('OUT_OF_RANGE', field, `is ${text}`, `Give degrees within ${most} of zero.`);
  return text;
}

const REPLAY = new URL('./replay.task.js', import.meta.url);

/** Rules of zones and what they say. Threadleaf recommends; it never switches a valve. */
@Injectable()
export class ZoneService {
  constructor(private readonly recorder: Recorder, private readonly threads: Threads) {}

  recordZoneRule(tx: Tx, actor: Actor, input: RecordZoneRuleInput): Promise<Written<ZoneRule>> {
    const given = {
      id: input.id,
      zone: requireText('zone', input.zone),
      latitude: decimal('latitude', input.latitude),
      longitude: decimal('longitude', input.longitude),
      needed: input.needed,
      windows: input.windows,
      hoursAroundNoon: decimal('hoursAroundNoon', input.hoursAroundNoon),
      maxAgeHours: decimal('maxAgeHours', input.maxAgeHours),
      silentAfterHours: decimal('silentAfterHours', input.silentAfterHours),
      minHealthy: input.minHealthy,
      lockoutHours: decimal('lockoutHours', input.lockoutHours),
      rainHoldMm: decimal('rainHoldMm', input.rainHoldMm),
      rainHoldHours: decimal('rainHoldHours', input.rainHoldHours),
      basis: requireText('basis', input.basis),
    };
    return this.recorder.record(tx, actor, ZoneRule, given, async () => {
      within('latitude', given.latitude, 90);
      within('longitude', given.longitude, 180);
      requireRule(termsOf(given));
      return { derived: { version: await nextRuleVersion(tx, given.zone) }, uses: [] };
    });
  }

  /**
   * Freezes what the zone's approved rule says now.
   *
   * @throws ProblemError `STATE` where no approved rule speaks
   */
  advise(tx: Tx, actor: Actor, input: AdviseZoneInput): Promise<Written<ZoneAdvice>> {
    const zone = requireText('zone', input.zone);
    return this.recorder.record(tx, actor, ZoneAdvice, { id: input.id, zone }, async () => {
      await holdFactsStill(tx);
      const rule = (await speakingRules(tx, [zone])).get(zone);
      if (!rule) throw new ProblemError('STATE', 'zone', `Zone ${zone} has no approved rule.`, 'Record a rule, replay it on past data, and have it approved.');
      // The database's clock: what it has recorded must not lie after the moment that the advice is for.
      const [{ now }] = (await tx.query<{ now: Date }>('SELECT now()::timestamptz(3) AS now')) as [{ now: Date }];
      const facts = await zoneFacts(tx, zone, now);
      const document = adviseFrom(rule, facts, now);
      return {
        derived: { codeVersion, zoneRuleId: rule.id, madeFor: now, document },
        uses: [{ kind: 'zone_rule', id: rule.id, role: 'by' }, ...usedFacts(rule, document, facts).map(({ kind, id }): Use => ({ kind, id, role: 'looked at' }))],
        action: 'compute',
      };
    });
  }

  /** What a rule would have said over a span of the past, each moment knowing only what was known then. */
  async replay(tx: Tx, rule: ZoneRule, known: KnownBy, span: ReplaySpan, now: Date): Promise<Replay> {
    requireSpan(span);
    return this.threads.run<Replay>(REPLAY, { rule, season: await zoneSeason(tx, rule.zone, now, known), span });
  }

  recordRain(tx: Tx, actor: Actor, input: RecordRainInput): Promise<Written<Rain>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const depth = parseDecimal(input.depthMm, { field: 'depthMm' });
    const given = { id: input.id, zone: requireText('zone', input.zone), observedAt: at, observedOffsetMin: offsetMin, depthMm: depth.decimal, note: optionalText(input.note) };
    return this.recorder.record(tx, actor, Rain, given, () => {
      requireRain(depth.value);
      return { uses: [] };
    });
  }

  recordSitePlan(tx: Tx, actor: Actor, input: RecordSitePlanInput): Promise<Written<SitePlan>> {
    const given = {
      id: input.id, site: requireText('site', input.site), storedFileId: input.storedFileId,
      northDeg: decimal('northDeg', input.northDeg), southDeg: decimal('southDeg', input.southDeg), westDeg: decimal('westDeg', input.westDeg), eastDeg: decimal('eastDeg', input.eastDeg),
    };
    return this.recorder.record(tx, actor, SitePlan, given, async () => {
      for (const field of ['northDeg', 'southDeg'] as const) within(field, given[field], 90);
      for (const field of ['westDeg', 'eastDeg'] as const) within(field, given[field], 180);
      if (Number(given.northDeg) <= Number(given.southDeg)) throw new InputError('NO_EXTENT', 'northDeg', 'does not lie north of the southern edge', 'Give the northern edge first.');
      if (Number(given.eastDeg) <= Number(given.westDeg)) throw new InputError('NO_EXTENT', 'eastDeg', 'does not lie east of the western edge', 'Give the eastern edge after the western one.');
      const file = await rowById(tx, StoredFile, input.storedFileId);
      if (!file) throw notFound('storedFileId', 'The file');
      if (!file.mediaType.startsWith('image/')) throw new InputError('NOT_A_PICTURE', 'storedFileId', `is ${file.mediaType}`, 'Choose a picture: PNG, JPEG or WebP.');
      return { uses: [{ kind: 'stored_file', id: file.id, role: 'picture' }] };
    });
  }

  /** @throws ProblemError `STATE` where no unit stands in the zone, NOT_FOUND */
  async risk(tx: Tx, zoneRuleId: string, wetRwc: number, dryRwc: number): Promise<RuleRisk & ZoneSpread & { readonly count: number }> {
    const rule = await rowById(tx, ZoneRule, zoneRuleId);
    if (!rule) throw notFound('zoneRuleId', 'The rule');
    const units = await zoneSpreads(tx, rule.zone);
    if (units.length < rule.needed) {
      throw new ProblemError('STATE', 'zoneRuleId', `${units.length} units stand in zone ${rule.zone}; the rule needs ${rule.needed}.`, 'Install more units, or ask for fewer votes.');
    }
    const mean = (of: (unit: (typeof units)[number]) => number): number => units.reduce((sum, unit) => sum + of(unit), 0) / units.length;
    const spread: ZoneSpread = {
      tripRwc: mean(({ tripRwc }) => tripRwc),
      ownSigma: Math.sqrt(mean(({ sd, sharedShare }) => sd ** 2 * (1 - sharedShare))),
      sharedSigma: Math.sqrt(mean(({ sd, sharedShare }) => sd ** 2 * sharedShare)),
    };
    return { count: units.length, ...spread, ...ruleRisk(rule, units.length, spread, wetRwc, dryRwc) };
  }
}
