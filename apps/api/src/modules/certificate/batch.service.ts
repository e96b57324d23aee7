import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { Flag, IssueCertificatesInput, SignCertificateBatchInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsBy, rowsByIds } from '../../platform/database/rows.js';
import { asProblem, notFound, ProblemError } from '../../platform/errors/problem.js';
import { formatMoment, parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { jobById, type JobRow } from '../../platform/jobs/job.repository.js';
import { Jobs, type JobResult, type RunningJob } from '../../platform/jobs/jobs.js';
import { Threads } from '../../platform/jobs/threads.js';
import { idWithin } from '../../platform/ledger/id-within.js';
import { Recorder, type Use } from '../../platform/ledger/recorder.js';
import { DeviceUnit } from '../device/device.entity.js';
import { SignatureService } from '../signature/signature.service.js';
import { CertificateBatch, CertificateRefusal, ThresholdCertificate } from './certificate.entity.js';
import { basisOf, biasSourceOf, CertificateService, requireTarget, type WorkedOut } from './certificate.service.js';
import type { CertificateOutcome } from './compute.js';

const JOB = 'issue certificates';
const TASK = new URL('./certificate.task.js', import.meta.url);
/** Units of one batch. */
const MOST_UNITS = 1000;

/** Certificates for many units at once: asked for as one record, worked out unit by unit as a job under the same id. */
@Injectable()
export class BatchService {
  constructor(
    private readonly recorder: Recorder,
    private readonly certificates: CertificateService,
    private readonly signatures: SignatureService,
    private readonly jobs: Jobs,
    private readonly threads: Threads,
  ) {
    jobs.define<{ readonly batchId: string }>({ name: JOB, run: ({ batchId }, job) => this.run(batchId, job) });
  }

  async start(tx: Tx, actor: Actor, input: IssueCertificatesInput): Promise<{ batch: CertificateBatch; job: JobRow; replayed: boolean }> {
    const given = {
      id: input.id,
      deviceUnitIds: [...new Set(input.deviceUnitIds)],
      calibrationVersionId: input.calibrationVersionId,
      lightReferenceId: input.lightReferenceId,
      biasSourceId: input.biasSourceId ?? null,
      targetRwc: input.targetRwc,
      targetBasis: requireText('targetBasis', input.targetBasis),
      falseTripRwc: input.falseTripRwc ?? null,
      missedTripRwc: input.missedTripRwc ?? null,
      validUntil: parseMoment('validUntil', input.validUntil).at,
      overrideReason: optionalText(input.overrideReason),
    };
    const { row: batch, replayed } = await this.recorder.record(tx, actor, CertificateBatch, given, async () => {
      if (given.deviceUnitIds.length === 0 || given.deviceUnitIds.length > MOST_UNITS) {
        throw new InputError('COUNT', 'deviceUnitIds', `names ${given.deviceUnitIds.length} units`, `Name 1 to ${MOST_UNITS}.`);
      }
      requireTarget(input.targetRwc);
      if ((await rowsByIds(tx, DeviceUnit, given.deviceUnitIds)).length < given.deviceUnitIds.length) throw notFound('deviceUnitIds', 'One of the units');
      return {
        derived: { biasStepV: (await biasSourceOf(tx, input)).biasStepV },
        uses: [
          ...given.deviceUnitIds.map((id): Use => ({ kind: 'device_unit', id, role: 'for' })),
          { kind: 'calibration_version', id: input.calibrationVersionId, role: 'calibration' },
          { kind: 'light_reference', id: input.lightReferenceId, role: 'light' },
        ],
      };
    });
    const count = batch.deviceUnitIds.length;
    return { batch, job: await this.jobs.start(tx, actor, JOB, `Certificates for ${count} ${count === 1 ? 'unit' : 'units'}`, { batchId: batch.id }, batch.id), replayed };
  }

  /** @throws ProblemError `STATE` while certificates are still being issued: what is signed for must stand */
  async sign(tx: Tx, actor: Actor, { certificateBatchId, ...input }: SignCertificateBatchInput): Promise<{ signed: number; left: { certificate: ThresholdCertificate; message: string }[] }> {
    const batch = await rowById(tx, CertificateBatch, certificateBatchId);
    if (!batch) throw notFound('certificateBatchId', 'The certificate batch');
    const job = await jobById(tx, certificateBatchId);
    if (job?.state === 'QUEUED' || job?.state === 'RUNNING') throw new ProblemError('STATE', 'certificateBatchId', 'Certificates of it are still being issued.', 'Sign when the work has ended.');
    const ofUnit = new Map((await rowsBy(tx, ThresholdCertificate, 'certificateBatchId', [certificateBatchId])).map((row) => [row.deviceUnitId, row]));
    const certificates = batch.deviceUnitIds.flatMap((id) => ofUnit.get(id) ?? []);
    if (certificates.length === 0) throw new ProblemError('STATE', 'certificateBatchId', 'It has no certificate to sign.', 'See why its units were refused.');
    const { signed, left } = await this.signatures.signAll(tx, actor, { ...input, subjectKind: 'threshold_certificate' }, certificates.map(({ id }) => id));
    return { signed, left: left.map(({ subjectId, message }) => ({ certificate: certificates.find(({ id }) => id === subjectId)!, message })) };
  }

  /** One transaction a unit: nobody at a bench waits for a lot, and what is done stays done when the job ends early. */
  private async run(batchId: string, job: RunningJob): Promise<() => JobResult> {
    const { batch, left } = await job.read((tx) => standingOf(tx, batchId));
    const all = batch.deviceUnitIds.length;
    for (const [i, unitId] of left.entries()) {
      job.signal.throwIfAborted();
      const place = all - left.length + i;
      job.progress(place / all, `Unit ${place + 1} of ${all}`);
      const worked = await this.workOut(batch, unitId, job);
      await job.write((tx) => this.issueOne(tx, requireActor(job), batch, unitId, worked));
    }
    return () => ({ result: { kind: 'certificate_batch', id: batchId } });
  }

  /** The drawing, before the transaction and in a thread; null where the unit has no basis, which the transaction then says. */
  private async workOut(batch: CertificateBatch, deviceUnitId: string, job: RunningJob): Promise<WorkedOut | null> {
    try {
      const basis = await job.read((tx) => basisOf(tx, { ...batch, deviceUnitId }));
      return { basis, outcome: await this.threads.run<CertificateOutcome>(TASK, basis, { signal: job.signal }) };
    } catch (error) {
      if (asProblem(error)) return null;
      throw error;
    }
  }

  /** One unit of a batch: its certificate, or the refusal on record. An outcome that stands is left as it is. */
  private async issueOne(tx: Tx, actor: Actor, batch: CertificateBatch, deviceUnitId: string, worked: WorkedOut | null): Promise<void> {
    const [certificateId, refusalId] = [idWithin(batch.id, `${deviceUnitId} certificate`), idWithin(batch.id, `${deviceUnitId} refusal`)];
    if ((await rowById(tx, ThresholdCertificate, certificateId)) ?? (await rowById(tx, CertificateRefusal, refusalId))) return;
    try {
      await this.certificates.issue(tx, actor, { ...batch, id: certificateId, deviceUnitId, validUntil: formatMoment(batch.validUntil) }, batch.id, worked);
    } catch (error) {
      const refused = asProblem(error);
      if (!refused) throw error;
      const { code, message, remedy } = refused.problem;
      await this.recorder.record(tx, actor, CertificateRefusal, {
        id: refusalId, certificateBatchId: batch.id, deviceUnitId, code, message, remedy, objections: (refused.beside['objections'] as Flag[] | undefined) ?? [],
      }, () => ({
        uses: [{ kind: 'device_unit', id: deviceUnitId, role: 'of' }, { kind: 'certificate_batch', id: batch.id, role: 'asked for in' }],
        action: 'refuse', reason: message,
      }));
    }
  }
}

async function standingOf(tx: Tx, batchId: string): Promise<{ batch: CertificateBatch; left: string[] }> {
  const batch = await rowById(tx, CertificateBatch, batchId);
  if (!batch) throw notFound('id', 'The certificate batch');
  const done = new Set([
    ...(await rowsBy(tx, ThresholdCertificate, 'certificateBatchId', [batchId])), ...(await rowsBy(tx, CertificateRefusal, 'certificateBatchId', [batchId])),
  ].map(({ deviceUnitId }) => deviceUnitId));
  return { batch, left: batch.deviceUnitIds.filter((id) => !done.has(id)) };
}

/** Whose certificates they become; today's roles count, because drafts may be issued by some only. */
function requireActor({ actor }: RunningJob): Actor {
  if (!actor) throw new Error('A certificate batch is always asked for by a person.');
  return actor;
}
