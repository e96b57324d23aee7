import { useSyncExternalStore } from 'react';

/** What the service worker is told when a person takes the newer pages. */
export const TAKE_OVER = 'take-over';

const LOOK_EVERY_MS = 30 * 60_000;

let ready: ServiceWorker | null = null;
const listeners = new Set<() => void>();

function offer(worker: ServiceWorker | null): void {
  ready = worker;
  for (const listener of listeners) listener();
}

/** A worker that waits beside one that serves this page holds newer pages; the first of all only takes its place. */
function watch(registration: ServiceWorkerRegistration): void {
  const look = () => offer(navigator.serviceWorker.controller && registration.waiting ? registration.waiting : null);
  look();
  registration.addEventListener('updatefound', () => registration.installing?.addEventListener('statechange', look));
  setInterval(() => void registration.update().catch(() => undefined), LOOK_EVERY_MS);
}

/** Lets the browser open these pages without the server, where the address allows it (https, or this computer itself). */
export function registerShell(): void {
  if (!('serviceWorker' in navigator) || !import.meta.env.PROD) return;
  const registered: Promise<ServiceWorkerRegistration | undefined> = navigator.serviceWorker.register('/service-worker.js');
  // A browser told to allow none gives an error, or nothing.
  registered.then((registration) => registration && watch(registration), () => undefined);
}

const subscribe = (listener: () => void): (() => void) => {
  listeners.add(listener);
  return () => listeners.delete(listener);
};

/** Takes the newer pages and loads this one again; null while there are none. Other tabs go on as they are. */
export function useNewVersion(): (() => void) | null {
  const worker = useSyncExternalStore(subscribe, () => ready);
  if (!worker) return null;
  return () => {
    worker.addEventListener('statechange', () => {
      if (worker.state === 'activated') location.reload();
    });
    worker.postMessage(TAKE_OVER);
  };
}
