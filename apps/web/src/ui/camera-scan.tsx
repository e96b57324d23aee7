import { useEffect, useRef, useState } from 'react';
import { Action } from './words.js';
import styles from './scan-field.module.css';

/** The browser's own reader of codes, where it has one (Shape Detection API): phones mostly do, desks mostly not. */
interface CodeReader {
  detect(source: HTMLVideoElement): Promise<readonly { readonly rawValue: string }[]>;
}
type CodeReaderMaker = new (options: { readonly formats: readonly string[] }) => CodeReader;

const FORMATS = ['data_matrix', 'qr_code', 'code_128'];
const LOOK_EVERY_MS = 200;

const maker = (): CodeReaderMaker | null => (window as { readonly BarcodeDetector?: CodeReaderMaker }).BarcodeDetector ?? null;

/** Whether this browser reads codes and gives its camera to this address. */
export const readsByCamera = (): boolean => maker() !== null && 'mediaDevices' in navigator && typeof navigator.mediaDevices?.getUserMedia === 'function';

/** The camera until it has read one code, or is shut. */
export function CameraScan({ onText }: { readonly onText: (text: string) => void }) {
  const [open, setOpen] = useState(false);
  const [told, setTold] = useState<string | null>(null);
  const close = () => setOpen(false);
  if (!readsByCamera()) return null;
  if (!open) return <><Action kind="plain" onClick={() => { setTold(null); setOpen(true); }}>Scan by camera</Action>{told ? <p role="alert" className={styles.told}>{told}</p> : null}</>;
  return <View onText={(text) => { close(); onText(text); }} onFailed={(why) => { close(); setTold(why); }} onClose={close} />;
}

interface ViewProps {
  readonly onText: (text: string) => void;
  readonly onFailed: (why: string) => void;
  readonly onClose: () => void;
}

function View({ onText, onFailed, onClose }: ViewProps) {
  const video = useRef<HTMLVideoElement>(null);
  const latest = useRef({ onText, onFailed });
  useEffect(() => {
    latest.current = { onText, onFailed };
  });
  useEffect(() => {
    let stream: MediaStream | null = null;
    let shut = false;
    const look = async () => {
      const Reader = maker();
      if (!Reader || !video.current) return;
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' }, audio: false });
      video.current.srcObject = stream;
      await video.current.play();
      const reader = new Reader({ formats: FORMATS });
      while (!shut && video.current) {
        const [code] = await reader.detect(video.current);
        if (code && !shut) return latest.current.onText(code.rawValue);
        await new Promise((next) => setTimeout(next, LOOK_EVERY_MS));
      }
    };
    look().catch(() => {
      if (!shut) latest.current.onFailed('The camera was not given: allow it in the browser, or type what stands on the label.');
    });
    return () => {
      shut = true;
      stream?.getTracks().forEach((track) => track.stop());
    };
  }, []);
  return (
    <div className={styles.camera}>
      <video ref={video} muted playsInline aria-label="What the camera sees" />
      <div><Action kind="plain" onClick={onClose}>Shut the camera</Action></div>
    </div>
  );
}
