import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { byToken } from '../src/client.js';

/** Closes so many connections on their first request before it answers one. */
async function closing(times: number): Promise<{ url: string; asked(): number; close(): Promise<void> }> {
  let asked = 0;
  const server: Server = createServer((request, response) => {
    asked += 1;
    if (asked <= times) request.socket.destroy();
    else response.setHeader('content-type', 'application/json').end(JSON.stringify({ data: { asked } }));
  });
  await new Promise<void>((resolve) => { server.listen(0, '127.0.0.1', resolve); });
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`, asked: () => asked,
    close: () => new Promise((resolve) => { server.closeAllConnections(); server.close(() => resolve()); }),
  };
}

describe('a question of the command line', () => {
  it('is asked once more where the server had closed the connection, and only once', async () => {
    const [once, ever] = [await closing(1), await closing(Infinity)];
    expect(await byToken(once.url, 'secret').ask('{ asked }')).toEqual({ asked: 2 });
    await expect(byToken(ever.url, 'secret').ask('{ asked }')).rejects.toThrow(/No Threadleaf server answers/);
    expect([once.asked(), ever.asked()]).toEqual([2, 2]);
    await Promise.all([once.close(), ever.close()]);
  });
});
