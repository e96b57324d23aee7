import { createServer, type Socket } from 'node:net';

/**
 * Just enough of a PostgreSQL of an old version, in its own protocol (PostgreSQL documentation, "Frontend/Backend
 * Protocol", message formats): lets anybody in and answers every query with its version number.
 */
export async function startOldServer(major: number): Promise<{ port: number; close(): void }> {
  const server = createServer((socket) => answer(socket, major));
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return { port: (server.address() as { port: number }).port, close: () => server.close() };
}

function answer(socket: Socket, major: number): void {
  let begun = false;
  socket.on('error', () => undefined);
  socket.on('data', (data) => {
    if (!begun) {
      begun = true;
      socket.write(Buffer.concat([message('R', int32(0)), message('S', text('server_version'), text(`${major}.9`)), ready]));
    } else if (data[0] === 'Q'.charCodeAt(0)) {
      const value = Buffer.from(String(major * 10_000 + 9));
      const column = [text('server_version_num'), int32(0), int16(0), int32(25), int16(-1), int32(-1), int16(0)];
      socket.write(
        Buffer.concat([
          message('T', int16(1), ...column),
          message('D', int16(1), int32(value.length), value),
          message('C', text('SHOW')),
          ready,
        ]),
      );
    } else {
      socket.end();
    }
  });
}

function message(type: string, ...parts: Buffer[]): Buffer {
  const body = Buffer.concat(parts);
  return Buffer.concat([Buffer.from(type), int32(body.length + 4), body]);
}

function int32(value: number): Buffer {
  const buffer = Buffer.alloc(4);
  buffer.writeInt32BE(value);
  return buffer;
}

function int16(value: number): Buffer {
  const buffer = Buffer.alloc(2);
  buffer.writeInt16BE(value);
  return buffer;
}

const text = (value: string) => Buffer.from(`${value}\0`);
const ready = message('Z', Buffer.from('I'));
