import { crc32, deflateSync } from 'node:zlib';

/** As wide as high, as the demo's sites are. */
const WIDTH = 640;
const HEIGHT = 640;
/** Pixels from row to row of plants, and how wide a row is. */
const ROW = 44;
const GREEN = 20;

type Colour = readonly [number, number, number];
const SOIL: Colour = [226, 216, 196];
const LEAVES: Colour = [166, 188, 138];
const PATH: Colour = [243, 240, 232];
const HEDGE: Colour = [120, 142, 104];

/** A site from above, drawn plainly: rows of plants, a path across, a hedge around; PNG. `slant` tells one site from another. */
export function planPicture(slant: number): Buffer {
  const pixels = Buffer.alloc(HEIGHT * (1 + WIDTH * 3));
  for (let y = 0; y < HEIGHT; y += 1) {
    for (let x = 0; x < WIDTH; x += 1) Buffer.from(colourAt(x, y, slant)).copy(pixels, y * (1 + WIDTH * 3) + 1 + x * 3);
  }
  const head = Buffer.alloc(13);
  head.writeUInt32BE(WIDTH, 0);
  head.writeUInt32BE(HEIGHT, 4);
  head.set([8, 2, 0, 0, 0], 8); // eight bits a channel, red green blue, no interlacing (W3C PNG, 11.2.2)
  return Buffer.concat([Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]), chunk('IHDR', head), chunk('IDAT', deflateSync(pixels)), chunk('IEND', Buffer.alloc(0))]);
}

function colourAt(x: number, y: number, slant: number): Colour {
  if (Math.min(x, y, WIDTH - 1 - x, HEIGHT - 1 - y) < 14) return HEDGE;
  if (Math.abs(x - WIDTH / 2 - slant * (y - HEIGHT / 2)) < 14) return PATH;
  const across = (((y + slant * x) % ROW) + ROW) % ROW;
  // Plants stand apart within their row.
  const crown = Math.hypot(across - ROW / 2, (x % 30) - 15);
  return crown < GREEN / 2 + 3 ? LEAVES : SOIL;
}

function chunk(type: string, data: Buffer): Buffer {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const framed = Buffer.alloc(body.length + 8);
  framed.writeUInt32BE(data.length, 0);
  body.copy(framed, 4);
  framed.writeUInt32BE(crc32(body), body.length + 4);
  return framed;
}
