import { Controller, Get, Param, Req, Res } from '@nestjs/common';
import type { Request, Response } from 'express';
import { zipSync } from 'fflate';
import { InputError } from '#libs/quantity';
import { Database } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { answering, asked, requireId, requireMember } from '../../platform/http/http.js';
import { Sessions } from '../../platform/identity/sessions.js';
import { LabelPrint } from './label.entity.js';
import { labelTokenScopes } from './label.policy.js';
import { LabelService, pages, pdfOf, pngOf, svgOf, type PrintedLabel } from './label.service.js';

interface Made {
  readonly mediaType: string;
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** `GET /labels/<id>.pdf` all pages, `.svg?page=1` one of them, `.png` each label by itself (one, or a ZIP of several). */
@Controller('labels')
export class LabelController {
  constructor(
    private readonly database: Database,
    private readonly sessions: Sessions,
    private readonly labels: LabelService,
  ) {}

  @Get(':file')
  fetch(@Param('file') file: string, @Req() request: Request, @Res() response: Response): Promise<void> {
    return answering(response, async () => {
      const actor = await requireMember(this.sessions, request, 'GET /labels', labelTokenScopes);
      const [id = '', ending = ''] = file.split('.');
      const read = await this.database.openRead(actor);
      try {
        const print = await rowById(read.tx, LabelPrint, requireId('id', id));
        if (!print) throw notFound('id', 'The print');
        const made = await make(print, await this.labels.labelsOf(read.tx, print), ending, asked(request)('page'));
        response.status(200).set({
          'Content-Type': made.mediaType,
          'Content-Disposition': `inline; filename="${made.name}"`,
          'Cache-Control': 'private, no-store',
          'X-Content-Type-Options': 'nosniff',
          'Content-Security-Policy': "default-src 'none'; style-src 'unsafe-inline'; img-src 'self'; object-src 'self'; frame-ancestors 'self'",
        });
        response.end(made.bytes);
      } finally {
        await read.close();
      }
    });
  }
}

async function make(print: LabelPrint, labels: readonly PrintedLabel[], ending: string, page: string | null): Promise<Made> {
  const name = `labels-${print.id.slice(-12)}`;
  if (ending === 'pdf') return { mediaType: 'application/pdf', name: `${name}.pdf`, bytes: await pdfOf(labels, print) };
  if (ending === 'svg') {
    const number = Number(page ?? 1);
    if (!Number.isInteger(number) || number < 1 || number > pages(print)) throw new InputError('OUT_OF_RANGE', 'page', `is ${page}`, `Ask for a page from 1 to ${pages(print)}.`);
    return { mediaType: 'image/svg+xml', name: `${name}-${number}.svg`, bytes: Buffer.from(svgOf(labels, print, number - 1), 'utf8') };
  }
  if (ending === 'png') {
    const [first] = labels;
    if (labels.length === 1) return { mediaType: 'image/png', name: `${name}.png`, bytes: await pngOf(first!, print.symbology) };
    const images: Record<string, Uint8Array> = {};
    for (const [i, label] of labels.entries()) images[`${String(i + 1).padStart(4, '0')}-${label.label.replace(/[^\w-]+/g, '_')}.png`] = new Uint8Array(await pngOf(label, print.symbology));
    return { mediaType: 'application/zip', name: `${name}.zip`, bytes: zipSync(images, { level: 0, mtime: print.recordedAt }) };
  }
  throw new InputError('FORM', 'id', `has no form called "${ending}"`, 'Ask for .pdf, .svg or .png.');
}
