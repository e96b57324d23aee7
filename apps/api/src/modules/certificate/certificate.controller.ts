import { Controller, Get, Param, Req, Res } from '@nestjs/common';
import type { Request, Response } from 'express';
import { Database, type Tx } from '../../platform/database/database.js';
import { rowById, rowsBy } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { answering, requireId, requireMember, sayPdf } from '../../platform/http/http.js';
import { peopleByIds } from '../../platform/identity/account.repository.js';
import { Sessions } from '../../platform/identity/sessions.js';
import { codeSvg, renderPaper } from '../../platform/paper/index.js';
import { Calibration, CalibrationVersion } from '../calibration/calibration.entity.js';
import { BiasThresholdCurve, DeviceLot, DeviceUnit } from '../device/device.entity.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { Crop } from '../sample/sample.entity.js';
import { Signature } from '../signature/signature.entity.js';
import { LightReference, ThresholdCertificate } from './certificate.entity.js';
import { certificateTokenScopes } from './certificate.policy.js';
import { certificatePaper, type CertificateSheet } from './certificate-paper.js';
import { labNameOf, standingsOfCertificates } from './certificate.repository.js';

/** Where a record's thread is opened, on the server that was asked. */
export const threadUrl = (request: Request, kind: string, id: string): string => `${request.protocol}://${request.get('host')}/thread/${kind}/${id}`;

/** Certificates as PDF, and the code that opens a certificate's thread. */
@Controller('papers')
export class CertificatePaperController {
  constructor(
    private readonly database: Database,
    private readonly sessions: Sessions,
  ) {}

  @Get('certificate/:id')
  certificate(@Param('id') id: string, @Req() request: Request, @Res() response: Response): Promise<void> {
    return answering(response, async () => {
      const actor = await requireMember(this.sessions, request, 'GET /papers', certificateTokenScopes);
      const read = await this.database.openRead(actor);
      try {
        const certificate = await rowById(read.tx, ThresholdCertificate, requireId('id', id));
        if (!certificate) throw notFound('id', 'The certificate');
        const sheet = await sheetOf(read.tx, certificate, threadUrl(request, 'threshold_certificate', certificate.id));
        sayPdf(response, `certificate ${sheet.unit.label}.pdf`);
        response.end(await renderPaper(certificatePaper(sheet)));
      } finally {
        await read.close();
      }
    });
  }

  /** The square code on the certificate: it carries an address and nothing of the record. */
  @Get('code/:kind/:id')
  code(@Param('kind') kind: string, @Param('id') id: string, @Req() request: Request, @Res() response: Response): Promise<void> {
    return answering(response, async () => {
      await requireMember(this.sessions, request, 'GET /papers', certificateTokenScopes);
      response.status(200).set({ 'Content-Type': 'image/svg+xml', 'Cache-Control': 'private, max-age=86400', 'X-Content-Type-Options': 'nosniff' });
      response.end(codeSvg(threadUrl(request, /^[a-z_]{1,40}$/.test(kind) ? kind : 'record', requireId('id', id))));
    });
  }
}

async function sheetOf(tx: Tx, certificate: ThresholdCertificate, url: string): Promise<CertificateSheet> {
  const unit = (await rowById(tx, DeviceUnit, certificate.deviceUnitId))!;
  const calibration = (await rowById(tx, CalibrationVersion, certificate.calibrationVersionId))!;
  const lineage = (await rowById(tx, Calibration, calibration.calibrationId))!;
  const signatures = await rowsBy(tx, Signature, 'subjectId', [certificate.id], 'recorded_at');
  const people = new Map((await peopleByIds(tx, [certificate.recordedBy, ...signatures.map(({ recordedBy }) => recordedBy)])).map((person) => [person.id, person.displayName]));
  const nameOf = (id: string): string => people.get(id) ?? 'unknown';
  const source = certificate.biasSourceId ? await rowById(tx, Instrument, certificate.biasSourceId) : null;
  const madeAt = new Date();
  return {
    certificate,
    standing: (await standingsOfCertificates(tx, [certificate], madeAt)).get(certificate.id)!,
    unit,
    lot: (await rowById(tx, DeviceLot, unit.deviceLotId))!,
    calibration,
    calibrationLabel: lineage.label,
    cropName: (await rowById(tx, Crop, lineage.cropId))!.name,
    curve: (await rowById(tx, BiasThresholdCurve, certificate.biasThresholdCurveId))!,
    light: (await rowById(tx, LightReference, certificate.lightReferenceId))!,
    biasSourceLabel: source?.label ?? null,
    recordedBy: nameOf(certificate.recordedBy),
    signatures: signatures.map(({ meaning, recordedBy, recordedAt, statement }) => ({ meaning, by: nameOf(recordedBy), at: recordedAt, statement })),
    lab: await labNameOf(tx),
    madeAt,
    threadUrl: url,
  };
}
