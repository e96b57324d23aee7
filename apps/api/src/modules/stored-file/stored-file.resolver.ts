import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { rowById } from '../../platform/database/rows.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { StoredFile } from './stored-file.entity.js';
import { toStoredFile, type StoredFileView } from './stored-file.mapper.js';

/** The file behind an id that a record carries; in bulk for all records of the request. */
export async function storedFileOf(context: RequestContext, id: string | null): Promise<StoredFileView | null> {
  const row = id === null ? null : await context.load.one(StoredFile, id);
  return row && toStoredFile(row);
}

@Resolver()
export class StoredFileResolver {
  @Query()
  async storedFile(@Args('id') id: string, @Context() context: RequestContext): Promise<StoredFileView | null> {
    const row = await rowById(await context.read(), StoredFile, id);
    return row && toStoredFile(row);
  }
}
