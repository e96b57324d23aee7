/// <reference lib="webworker" />
/**
 * Serves the pages of Threadleaf where the server cannot: the files of one build, all of them, under that build's own
 * name, and nothing else. What GraphQL answers, stored files, labels, calendars and papers never pass through here.
 */

/** Put before this by the build: the files of the pages, and a name that follows from their content. */
declare const SHELL: { readonly version: string; readonly files: readonly string[]; readonly own: readonly string[] };
declare const self: ServiceWorkerGlobalScope;

const PREFIX = 'threadleaf-shell-';
const NAME = PREFIX + SHELL.version;
/** What a page says when its person takes the newer pages; the same word stands in src/offline/shell-update.ts. */
const TAKE_OVER = 'take-over';

self.addEventListener('install', (event) => {
  // Past the browser's own cache, or a page of yesterday may get into the build of today. All or none.
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(SHELL.files.map((file) => new Request(file, { cache: 'reload' })))));
});

self.addEventListener('message', (event) => {
  if (event.data === TAKE_OVER) void self.skipWaiting();
});

self.addEventListener('activate', (event) => {
  event.waitUntil(leaveNewest().then(() => self.clients.claim()));
});

/** Keeps this build and the one before it: a tab that still shows that one may yet need a part of it. */
async function leaveNewest(): Promise<void> {
  const others = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== NAME);
  await Promise.all(others.slice(0, -1).map((name) => caches.delete(name)));
}

const isShell = new Set(SHELL.files);
const isOwn = (path: string): boolean => SHELL.own.some((own) => path === own || path.startsWith(`${own}/`));

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin || isOwn(url.pathname)) return;
  if (request.mode === 'navigate') {
    // A path with a point in it is a file, not a screen.
    if (!url.pathname.includes('.')) event.respondWith(fromShell('/', request));
  } else if (isShell.has(url.pathname) || url.pathname.startsWith('/assets/')) {
    event.respondWith(fromShell(url.pathname, request));
  }
});

async function fromShell(path: string, request: Request): Promise<Response> {
  const own = await (await caches.open(NAME)).match(path);
  return own ?? (await caches.match(path)) ?? fetch(request);
}

export {};
