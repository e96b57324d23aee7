import { createServer, connect, type Socket } from 'node:net';

/** A line between browser and server that can be cut: what is on its way is lost, in both directions, and nothing new gets through. */
export interface LineToServer {
  readonly url: string;
  cut(): void;
  mend(): void;
  close(): Promise<void>;
}

/** @param serverUrl where it leads */
export async function layLine(serverUrl: string): Promise<LineToServer> {
  const to = new URL(serverUrl);
  const open = new Set<Socket>();
  let whole = true;
  const line = createServer((near) => {
    if (!whole) return near.destroy();
    const far = connect(Number(to.port), to.hostname);
    for (const [one, other] of [[near, far], [far, near]] as const) {
      open.add(one);
      one.pipe(other);
      one.on('error', () => other.destroy());
      one.on('close', () => {
        open.delete(one);
        other.destroy();
      });
    }
  });
  await new Promise<void>((resolve) => line.listen(0, '127.0.0.1', resolve));
  const { port } = line.address() as { port: number };
  const drop = (): void => open.forEach((socket) => socket.destroy());
  return {
    url: `http://127.0.0.1:${port}`,
    cut: () => {
      whole = false;
      drop();
    },
    mend: () => {
      whole = true;
    },
    close: () => new Promise((resolve) => {
      drop();
      line.close(() => resolve());
    }),
  };
}
