import { inks, Plot, sheet, type Drawing } from '#libs/drawing';
import { useEffect, useRef, useState } from 'react';
import type { PointerEvent, ReactNode } from 'react';
import styles from './plot-figure.module.css';

interface PlotFigureProps {
  /** What is drawn; heard by those who do not see it. */
  readonly label: string;
  /** What there is to see, in a sentence under the drawing. */
  readonly caption?: ReactNode;
  /** From libs/drawing, or your own. Build it with useMemo or at module level, so that it changes only with the data. */
  readonly options: Drawing;
  /** A value of the y scale that a pointer was pressed at or drawn to. The same must be reachable by a field or slider beside it. */
  readonly onValue?: (value: number) => void;
}

/** A drawing on millimetre paper, as wide as the page gives it. */
export function PlotFigure({ label, caption, options, onValue }: PlotFigureProps) {
  const box = useRef<HTMLDivElement>(null);
  const invert = useRef<((pixel: number) => number) | null>(null);
  const [width, setWidth] = useState(0);

  useEffect(() => {
    const element = box.current;
    if (!element) return;
    const observer = new ResizeObserver(([entry]) => setWidth(Math.floor(entry?.contentRect.width ?? 0)));
    observer.observe(element);
    return () => observer.disconnect();
  }, []);

  useEffect(() => {
    const element = box.current;
    if (!element || width === 0) return;
    const drawing = Plot.plot({
      ...sheet(width, label),
      style: { background: 'transparent', fontSize: '14px', fontFamily: 'inherit', color: inks.ink },
      ...options(width),
    });
    // One image to those who hear it: the labels of single marks say nothing more and are not allowed on groups.
    for (const part of drawing.querySelectorAll('[aria-label]')) part.removeAttribute('aria-label');
    drawing.setAttribute('role', 'img');
    drawing.setAttribute('aria-label', label);
    element.replaceChildren(drawing);
    const scale = drawing.scale('y')?.invert as ((pixel: number) => number) | undefined;
    invert.current = scale ?? null;
    return () => drawing.remove();
  }, [label, options, width]);

  const point = (event: PointerEvent<HTMLDivElement>): void => {
    if (!onValue || !invert.current || (event.type === 'pointermove' && event.buttons !== 1)) return;
    // The drawing is replaced while the hand runs along it: the box keeps the pointer.
    if (event.type === 'pointerdown') event.currentTarget.setPointerCapture(event.pointerId);
    onValue(invert.current(event.clientY - event.currentTarget.getBoundingClientRect().top));
  };

  return (
    <figure className={styles.figure}>
      <div ref={box} className={styles.sheet} data-pointed={onValue ? true : undefined} onPointerDown={point} onPointerMove={point} />
      {caption ? <figcaption className={styles.caption}>{caption}</figcaption> : null}
    </figure>
  );
}

export { inks, millimetrePaper, Plot } from '#libs/drawing';
