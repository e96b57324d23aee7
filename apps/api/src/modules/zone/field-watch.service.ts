import { Injectable } from '@nestjs/common';
import type { AgreementGroup } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { membersWithRole } from '../../platform/identity/account.repository.js';
import type { Actor } from '../../platform/identity/actor.js';
import type { JobRow } from '../../platform/jobs/job.repository.js';
import { Jobs, type JobResult } from '../../platform/jobs/jobs.js';
import { Notices } from '../notice/notices.service.js';
import { fieldAgreement, type FieldAgreementView } from './agreement.js';
import { newlySilentZones, toldOfDisagreement, type SilentZone } from './field-watch.repository.js';

const JOB = 'field-watch';
/** Checks of a subject that an alarm looks at: an old season must not outvote what drifts now. Common practice, no source. */
const NEWEST_CHECKS = 20;
/** Mean difference that would matter, fraction of RWC. Common practice, no source. */
const MARGIN_RWC = 0.05;
const NAMED_MOST = 4;
const WATCHED: readonly AgreementGroup[] = ['LIGHT', 'CALIBRATION', 'LOT', 'UNIT'];

/** What to redo where the field does not bear out what was stated, by what stopped holding. */
const REDO: Readonly<Partial<Record<AgreementGroup, string>>> = {
  LIGHT: 'Measure the light reference anew at the height and tilt of the leaves, over days of this season, and certify its units by it.',
  CALIBRATION: 'Dry leaves of this cultivar and stage on the rig and fit a new version, or narrow the scope; withdraw this one if it is confirmed.',
  LOT: 'Sweep and trip-test some units of the lot again, and look at its control chart.',
  UNIT: 'Sweep and trip-test the unit again; retire it if its pull-in drifted.',
};

/** Looks over the field each night: who has fallen silent, and what was stated that field checks no longer bear out. */
@Injectable()
export class FieldWatchService {
  constructor(private readonly jobs: Jobs, private readonly notices: Notices) {
    jobs.define<unknown>({
      name: JOB, nightly: { hour: 4, minute: 40, label: 'Look over the field' },
      run: () => Promise.resolve(async (tx: Tx): Promise<JobResult> => ({ outcome: { silentZones: await this.tellSilent(tx), disagreements: await this.tellDisagreements(tx) } })),
    });
  }

  start(tx: Tx, actor: Actor, id: string): Promise<JobRow> {
    return this.jobs.start(tx, actor, JOB, 'Look over the field', {}, id);
  }

  private async tellSilent(tx: Tx): Promise<number> {
    const zones = await newlySilentZones(tx, new Date());
    const accountIds = await membersWithRole(tx, ['FIELD_ENGINEER', 'MANAGER']);
    for (const zone of zones) await this.notices.tell(tx, { kind: 'UNITS_SILENT', text: silence(zone), subjectKind: 'installation', subjectId: zone.units.at(-1)!.installationId, accountIds });
    return zones.length;
  }

  private async tellDisagreements(tx: Tx): Promise<number> {
    const accountIds = await membersWithRole(tx, ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER']);
    let told = 0;
    for (const by of WATCHED) {
      const found = (await fieldAgreement(tx, by, MARGIN_RWC, NEWEST_CHECKS)).filter(({ verdict }) => verdict === 'OFF' || verdict === 'DOES_NOT_COVER');
      const before = await toldOfDisagreement(tx, found.map(({ subject }) => subject!.id));
      for (const agreement of found) {
        const { subject, newestRecordedAt } = agreement;
        // Told again only when another check says so too.
        if ((before.get(subject!.id) ?? new Date(0)) >= newestRecordedAt) continue;
        await this.notices.tell(tx, { kind: 'FIELD_DISAGREES', text: disagreement(by, agreement), subjectKind: subject!.kind, subjectId: subject!.id, accountIds });
        told += 1;
      }
    }
    return told;
  }
}

function silence({ zone, installed, silentAfterHours, units }: SilentZone): string {
  const named = units.slice(-NAMED_MOST).map(({ label }) => label).join(', ');
  const more = units.length > NAMED_MOST ? ` and ${units.length - NAMED_MOST} more` : '';
  return `${units.length} of ${installed} units of zone ${zone} ${units.length === 1 ? 'was' : 'were'} not heard of for more than ${silentAfterHours} h: ${named}${more}. That is not wet: look at logger, supply, bias and latch.`;
}

function disagreement(by: AgreementGroup, { subject, count, inside, bias, verdict }: FieldAgreementView): string {
  const points = `${Math.abs(100 * bias).toFixed(1)} points of RWC ${bias > 0 ? 'wetter' : 'drier'}`;
  const found = verdict === 'OFF' ? `leaves stood ${points} than was stated, on average` : `only ${inside} of them lie in their stated 95 % interval`;
  return `Field checks do not bear out ${subject!.label}: of the newest ${count}, ${found}. ${REDO[by]!}`;
}
