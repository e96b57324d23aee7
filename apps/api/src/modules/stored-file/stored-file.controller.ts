import { Controller, Get, Param, Post, Req, Res } from '@nestjs/common';
import type { Request, Response } from 'express';
import { InputError } from '#libs/quantity';
import { Database } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { answering, asked, HttpProblem, requireMember, ownPage, refuseRoles, requireId } from '../../platform/http/http.js';
import { Sessions } from '../../platform/identity/sessions.js';
import { SHOWN } from './media-type.js';
import { StoredFile } from './stored-file.entity.js';
import { toStoredFile } from './stored-file.mapper.js';
import { MAY_STORE, storedFileTokenScopes } from './stored-file.policy.js';
import { bytesOf } from './stored-file.repository.js';
import { MOST_BYTES, StoredFileService } from './stored-file.service.js';

const tooLarge = (): HttpProblem =>
  new HttpProblem(413, 'INPUT', 'file', `The file is larger than ${MOST_BYTES / 1024 / 1024} MB.`, 'Send a smaller one: a photo of fewer pixels, or a file in parts.');

/** Files over HTTP, because GraphQL carries text. */
@Controller('files')
export class StoredFileController {
  constructor(
    private readonly database: Database,
    private readonly sessions: Sessions,
    private readonly files: StoredFileService,
  ) {}

  /** `POST /files?id=&name=&purpose=&type=&sha256=` with the bytes as body; the id makes a retry the same write. */
  @Post()
  store(@Req() request: Request, @Res() response: Response): Promise<void> {
    return answering(response, async () => {
      const actor = await requireMember(this.sessions, request, 'POST /files', storedFileTokenScopes);
      refuseRoles(actor, MAY_STORE, 'Sending a file');
      ownPage(request);
      const bytes = await bodyOf(request);
      const ask = asked(request);
      const file = {
        id: requireId('id', ask('id')), name: ask('name') ?? '', purpose: ask('purpose') ?? '', mediaType: ask('type'), sha256: ask('sha256'), bytes,
      };
      const { row, replayed } = await this.database.write(actor, (tx) => this.files.store(tx, actor, file));
      const { recordedById: _, ...told } = toStoredFile(row);
      response.status(replayed ? 200 : 201).json({ storedFile: told, replayed });
    });
  }

  @Get(':id')
  fetch(@Param('id') id: string, @Req() request: Request, @Res() response: Response): Promise<void> {
    return answering(response, async () => {
      const actor = await requireMember(this.sessions, request, 'GET /files', storedFileTokenScopes);
      const read = await this.database.openRead(actor);
      try {
        const row = await rowById(read.tx, StoredFile, requireId('id', id));
        if (!row) throw notFound('id', 'The file');
        const tag = `"${row.sha256}"`;
        sayHow(response, row, tag);
        if (request.headers['if-none-match'] === tag) {
          response.status(304).end();
          return;
        }
        const bytes = await bytesOf(read.tx, row.sha256);
        if (!bytes) throw new Error(`The bytes of stored file ${row.id} are gone.`);
        response.end(bytes);
      } finally {
        await read.close();
      }
    });
  }
}

/** Whatever a file holds, it cannot act for the person who opens it: nothing in it is run, and no other site may embed it. */
function sayHow(response: Response, { name, mediaType, sizeBytes }: StoredFile, tag: string): void {
  const shown = SHOWN.includes(mediaType);
  response.status(200).set({
    'Content-Type': mediaType.startsWith('text/') ? `${mediaType}; charset=utf-8` : mediaType,
    'Content-Length': String(sizeBytes),
    'Content-Disposition': `${shown ? 'inline' : 'attachment'}; filename*=UTF-8''${encodeURIComponent(name).replace(/['()*]/g, (sign) => `%${sign.charCodeAt(0).toString(16).toUpperCase()}`)}`,
    'Cache-Control': 'private, max-age=31536000, immutable',
    ETag: tag,
    'X-Content-Type-Options': 'nosniff',
    'Cross-Origin-Resource-Policy': 'same-origin',
    // A browser's own PDF viewer does not start inside a sandbox; it has one of its own.
    'Content-Security-Policy': mediaType === 'application/pdf' ? "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'; frame-ancestors 'self'" : "default-src 'none'; sandbox",
  });
}

/** The bytes of a request, no more than allowed; read only after it is known who sends them. */
async function bodyOf(request: Request): Promise<Buffer> {
  if (request.headers['content-type'] !== 'application/octet-stream') {
    throw new HttpProblem(415, 'INPUT', 'file', 'The bytes come as application/octet-stream.', 'Set the header Content-Type: application/octet-stream; say the type of the file in the parameter type.');
  }
  if (Number(request.headers['content-length'] ?? 0) > MOST_BYTES) throw tooLarge();
  const parts: Buffer[] = [];
  let length = 0;
  for await (const part of request as AsyncIterable<Buffer>) {
    length += part.length;
    if (length > MOST_BYTES) throw tooLarge();
    parts.push(part);
  }
  if (request.headers['content-length'] && length !== Number(request.headers['content-length'])) {
    throw new InputError('DAMAGED', 'file', 'the file was cut on the way', 'Send it again.');
  }
  return Buffer.concat(parts);
}
