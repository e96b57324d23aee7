import { connect } from 'node:net';
import { SerialPort } from 'serialport';
import { OperatorFailure, messageOf } from '../failure.js';

export interface SerialSettings {
  readonly baudRate: number;
  readonly dataBits: number;
  readonly parity: string;
  readonly stopBits: number;
}

/** Bytes of one instrument's line. `onGone` is called once, when the line ends or cannot be opened. */
export interface LineSource {
  close(): void;
}

type Took = (bytes: Uint8Array) => void;

/** `tcp://host:port`, or the device of a serial line such as /dev/ttyUSB0 or COM3. */
export function openSource(address: string, settings: SerialSettings, took: Took, onGone: (why: string) => void): LineSource {
  let gone = false;
  const end = (why: string): void => {
    if (gone) return;
    gone = true;
    onGone(why);
  };
  if (address.startsWith('tcp://')) {
    const { hostname, port } = new URL(address);
    if (port === '') throw new OperatorFailure(`${address} names no port. Write it like tcp://192.0.2.7:4001.`);
    const socket = connect(Number(port), hostname).setKeepAlive(true, 10_000);
    socket.on('data', took).on('error', (error) => end(messageOf(error))).on('close', () => end('the line was closed'));
    return { close: () => { gone = true; socket.destroy(); } };
  }
  const port = new SerialPort({
    path: address, baudRate: settings.baudRate, dataBits: settings.dataBits as 7 | 8, stopBits: settings.stopBits as 1 | 2,
    parity: settings.parity.toLowerCase() as 'none' | 'even' | 'odd',
  });
  port.on('data', took).on('error', (error) => end(messageOf(error))).on('close', () => end('the line was closed'));
  return { close: () => { gone = true; port.close(() => undefined); } };
}
