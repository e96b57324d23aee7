/** What the commands need of the api, so that none of them knows its inside. */
export interface ServerModule {
  /** Brings the schema up to date; the names of the migrations that were applied now. */
  migrate(ownerUrl: string): Promise<{ applied: string[] }>;
  serve(options: ServeOptions): Promise<{ url: string; close(): Promise<void> }>;
}

export interface ServeOptions {
  readonly ownerUrl?: string;
  readonly databaseUrl: string;
  readonly port: number;
  readonly host?: string;
  /** Folder of the built pages; without it only the API is served. */
  readonly webDir?: string;
}

/** Loaded only by the commands that serve or migrate: the others stay quick. */
export async function loadServer(): Promise<ServerModule> {
  const module: string = '../../api/src/main.js';
  return (await import(module)) as ServerModule;
}
