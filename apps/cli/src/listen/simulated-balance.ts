import { createServer, type Server, type Socket } from 'node:net';
import { createStream, type RandomStream } from '#libs/numeric';

export interface SimulatedSettings {
  /** 0: any free one. */
  readonly port: number;
  readonly ratePerSecond: number;
  readonly seed: number;
}

/** Lines until a load has settled. */
const SETTLING_LINES = 4;

/**
 * A balance on a TCP line: it swings before it settles, says so, repeats its line at its rate, now and then writes noise, and
 * cuts its lines into pieces as serial lines do. Invented; its lines are in the manner of common practice (no source).
 */
export class SimulatedBalance {
  private readonly sockets = new Set<Socket>();
  private readonly random: RandomStream;
  private massMg = 0;
  private left = 0;
  private timer: NodeJS.Timeout | null = null;

  private constructor(private readonly server: Server, { seed }: SimulatedSettings) {
    this.random = createStream(BigInt(Math.trunc(seed)), 0);
  }

  static async start(settings: SimulatedSettings): Promise<SimulatedBalance> {
    const server = createServer();
    const balance = new SimulatedBalance(server, settings);
    server.on('connection', (socket) => {
      balance.sockets.add(socket.setNoDelay(true).on('error', () => undefined).on('close', () => balance.sockets.delete(socket)));
    });
    await new Promise<void>((resolve, reject) => { server.once('error', reject).listen(settings.port, '127.0.0.1', resolve); });
    balance.timer = setInterval(() => balance.write(), 1_000 / settings.ratePerSecond);
    return balance;
  }

  get port(): number {
    return (this.server.address() as { port: number }).port;
  }

  /** Lays a load on the pan, mg. */
  lay(massMg: number): void {
    this.massMg = massMg;
    this.left = SETTLING_LINES;
  }

  /** Ends every connection, as when somebody pulls the cable. */
  drop(): void {
    for (const socket of this.sockets) socket.destroy();
  }

  async close(): Promise<void> {
    if (this.timer) clearInterval(this.timer);
    this.drop();
    await new Promise((resolve) => { this.server.close(resolve); });
  }

  private write(): void {
    if (this.random.uniform() < 0.05) return this.send('\u0000\u00fe~#\r\n');
    const swing = this.left > 0 ? (this.random.uniform() - 0.5) * this.left * 2 : 0;
    const shown = Math.abs(this.massMg + swing).toFixed(2).padStart(8);
    this.send(`${this.left > 0 ? 'US' : 'ST'},NT,${this.massMg + swing < 0 ? '-' : '+'}${shown} mg\r\n`);
    if (this.left > 0) this.left -= 1;
  }

  private send(line: string): void {
    const bytes = Buffer.from(line, 'latin1');
    const cut = Math.floor(this.random.uniform() * bytes.length);
    for (const socket of this.sockets) {
      socket.write(bytes.subarray(0, cut));
      setImmediate(() => socket.writable && socket.write(bytes.subarray(cut)));
    }
  }
}
