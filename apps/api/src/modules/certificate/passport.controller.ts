import { Controller, Get, Param, Req, Res } from '@nestjs/common';
import type { Request, Response } from 'express';
import { Database, type Tx } from '../../platform/database/database.js';
import { rowById, rowsBy } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { answering, requireId, requireMember, sayPdf } from '../../platform/http/http.js';
import { Sessions } from '../../platform/identity/sessions.js';
import { renderPaper } from '../../platform/paper/index.js';
import { BiasThresholdCurve, DeviceLot, DeviceUnit } from '../device/device.entity.js';
import { standingSweeps, standingTripTests, statesOfUnits } from '../device/device.repository.js';
import { remarksOn } from '../passport/compute.js';
import { ChoppedRun, CycleCount, ResetPulse, TemperatureRun } from '../passport/passport.entity.js';
import { passportPaper, type PassportSheet } from '../passport/passport-paper.js';
import { standingBands, standingFacts, standingRetirements } from '../passport/passport.repository.js';
import { approvalStates } from '../signature/signature.repository.js';
import { threadUrl } from './certificate.controller.js';
import { ThresholdCertificate } from './certificate.entity.js';
import { certificateTokenScopes } from './certificate.policy.js';
import { labNameOf } from './certificate.repository.js';

/** Passports as PDF. They name certificates, so they are made here, above both. */
@Controller('papers')
export class PassportPaperController {
  constructor(
    private readonly database: Database,
    private readonly sessions: Sessions,
  ) {}

  @Get('passport/:id')
  passport(@Param('id') id: string, @Req() request: Request, @Res() response: Response): Promise<void> {
    return answering(response, async () => {
      const actor = await requireMember(this.sessions, request, 'GET /papers', certificateTokenScopes);
      const read = await this.database.openRead(actor);
      try {
        const unit = await rowById(read.tx, DeviceUnit, requireId('id', id));
        if (!unit) throw notFound('id', 'The device unit');
        const sheet = await sheetOf(read.tx, unit, threadUrl(request, 'device_unit', unit.id));
        sayPdf(response, `passport ${unit.label}.pdf`);
        response.end(await renderPaper(passportPaper(sheet)));
      } finally {
        await read.close();
      }
    });
  }
}

async function sheetOf(tx: Tx, unit: DeviceUnit, url: string): Promise<PassportSheet> {
  const record = {
    sweeps: await standingSweeps(tx, unit.id), tripTests: await standingTripTests(tx, unit.id), resetPulses: await standingFacts(tx, ResetPulse, unit.id),
    cycleCounts: await standingFacts(tx, CycleCount, unit.id), choppedRuns: await standingFacts(tx, ChoppedRun, unit.id), temperatureRuns: await standingFacts(tx, TemperatureRun, unit.id),
  };
  const certificates = await rowsBy(tx, ThresholdCertificate, 'deviceUnitId', [unit.id], 'id DESC');
  const states = await approvalStates(tx, 'threshold_certificate', certificates.map(({ id }) => id));
  return {
    unit,
    lot: (await rowById(tx, DeviceLot, unit.deviceLotId))!,
    state: (await statesOfUnits(tx, [unit.id])).get(unit.id) ?? 'RECEIVED',
    record,
    bands: await standingBands(tx, unit),
    curve: (await rowsBy(tx, BiasThresholdCurve, 'deviceUnitId', [unit.id], 'id DESC'))[0] ?? null,
    retirement: (await standingRetirements(tx, [unit.id]))[0] ?? null,
    remarks: remarksOn(record),
    certificates: certificates.map(({ id, document, targetRwc, validUntil }) => ({ biasV: document.biasV, targetRwc, state: states.get(id) ?? 'DRAFT', validUntil })),
    lab: await labNameOf(tx),
    madeAt: new Date(),
    threadUrl: url,
  };
}
