import { createServer } from 'node:net';

/**
 * Why `port` on `host` cannot be listened on, as one line for the person at the terminal; undefined when it can.
 * The port is taken for a moment and given back.
 */
export async function portProblem(port, host) {
  if (!Number.isInteger(port) || port < 0 || port > 65535) {
    return `The port must be a whole number from 0 to 65535: check --port and PORT.`;
  }
  const code = await new Promise((resolve) => {
    const probe = createServer();
    probe.once('error', (error) => resolve(error.code ?? error.message));
    probe.listen({ port, host, exclusive: true }, () => probe.close(() => resolve(undefined)));
  });
  if (code === undefined) return undefined;
  if (code === 'EADDRINUSE') {
    return `Port ${port} on ${host} is in use by another program. Stop that program, or choose another port: npm start -- --port ${port === 65535 ? 4180 : port + 1}`;
  }
  if (code === 'EACCES') return `Port ${port} may not be opened by this user. Choose one above 1023 with --port.`;
  if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND') return `This machine has no address ${host}. Check --host.`;
  return `Port ${port} on ${host} cannot be opened (${code}).`;
}
