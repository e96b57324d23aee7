import type { Recommendation } from '#libs/zone-rule';
import type { Advice } from '../../generated/schema.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Rain, SitePlan, ZoneAdvice, ZoneRule } from './zone.entity.js';

export type ZoneRuleView = RecordView & Omit<ZoneRule, 'labId' | 'recordedAt' | 'recordedBy' | 'contentHash'>;

export function toZoneRule(row: ZoneRule): ZoneRuleView {
  const { labId: _labId, recordedAt: _at, recordedBy: _by, contentHash: _hash, ...own } = row;
  return { ...own, ...recordView(row) };
}

export interface ZoneStandingView {
  readonly advice: Advice;
  readonly at: string;
  readonly votes: number;
  readonly installed: number;
  readonly healthy: number;
  readonly reasons: readonly string[];
  readonly units: readonly { readonly installationId: string; readonly tripped: boolean; readonly votes: boolean; readonly silent: boolean; readonly heardAt: string | null; readonly remark: string | null }[];
}

const ADVICE: Readonly<Record<Recommendation['advice'], Advice>> = { irrigate: 'IRRIGATE', wait: 'WAIT', look: 'LOOK', none: 'NONE' };

export const toStanding = ({ advice, at, votes, installed, healthy, reasons, units }: Recommendation): ZoneStandingView => ({
  advice: ADVICE[advice], at: formatMoment(new Date(at)), votes, installed, healthy, reasons,
  units: units.map(({ unit, heardAt, ...standing }) => ({ ...standing, installationId: unit, heardAt: heardAt === null ? null : formatMoment(new Date(heardAt)) })),
});

export type ZoneAdviceView = RecordView & Pick<ZoneAdvice, 'codeVersion' | 'zone' | 'zoneRuleId'> & { readonly madeFor: string; readonly standing: ZoneStandingView };

export const toZoneAdvice = (row: ZoneAdvice): ZoneAdviceView => ({
  ...recordView(row), codeVersion: row.codeVersion, zone: row.zone, zoneRuleId: row.zoneRuleId, madeFor: formatMoment(row.madeFor), standing: toStanding(row.document),
});

export type RainView = RecordView & Pick<Rain, 'zone' | 'depthMm' | 'note'> & { readonly observedAt: string };

export const toRain = (row: Rain): RainView => ({ ...recordView(row), zone: row.zone, depthMm: row.depthMm, note: row.note, observedAt: formatMoment(row.observedAt, row.observedOffsetMin) });

export type SitePlanView = RecordView & Pick<SitePlan, 'site' | 'storedFileId' | 'northDeg' | 'southDeg' | 'westDeg' | 'eastDeg'>;

export const toSitePlan = (row: SitePlan): SitePlanView => ({
  ...recordView(row), site: row.site, storedFileId: row.storedFileId, northDeg: row.northDeg, southDeg: row.southDeg, westDeg: row.westDeg, eastDeg: row.eastDeg,
});
