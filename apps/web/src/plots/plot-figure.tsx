import { inks, Plot, sheet, type Drawing } from '#libs/drawing';
import { useEffect, useRef, useState } from 'react';
import type { ReactNode } from 'react';
import styles from './plot-figure.module.css';

interface PlotFigureProps {
  /** What is drawn; heard by those who do not see it. */
  readonly label: string;
  /** What there is to see, in a sentence under the drawing. */
  readonly caption?: ReactNode;
  /** From libs/drawing, or your own. Build it with useMemo or at module level, so that it changes only with the data. */
  readonly options: Drawing;
}

/** A drawing on millimetre paper, as wide as the page gives it. */
export function PlotFigure({ label, caption, options }: PlotFigureProps) {
  const box = useRef<HTMLDivElement>(null);
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
    return () => drawing.remove();
  }, [label, options, width]);

  return (
    <figure className={styles.figure}>
      <div ref={box} className={styles.sheet} />
      {caption ? <figcaption className={styles.caption}>{caption}</figcaption> : null}
    </figure>
  );
}

export { inks, millimetrePaper, Plot } from '#libs/drawing';
