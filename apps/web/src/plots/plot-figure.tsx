import * as Plot from '@observablehq/plot';
import { useEffect, useRef, useState } from 'react';
import type { ReactNode } from 'react';
import styles from './plot-figure.module.css';

/** The inks of a drawing. Series are told apart by shape first: a colour-blind reader and a grey print lose nothing. */
export const inks = {
  ink: '#17141a',
  soft: '#4a4650',
  rule: '#cfccd1',
  violet: '#5b1a63',
  wash: '#dcc7e0',
  well: '#0b5846',
  ask: '#8a5400',
  alarm: '#98200f',
} as const;

interface PlotFigureProps {
  /** What is drawn; heard by those who do not see it. */
  readonly label: string;
  /** What there is to see, in a sentence under the drawing. */
  readonly caption?: ReactNode;
  /** Called with the width there is; build marks in it with useCallback or at module level, so that it changes only with the data. */
  readonly options: (width: number) => Plot.PlotOptions;
}

/** A drawing on millimetre paper, as wide as the page gives it. */
export function PlotFigure({ label, caption, options }: PlotFigureProps) {
  const sheet = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(0);

  useEffect(() => {
    const element = sheet.current;
    if (!element) return;
    const observer = new ResizeObserver(([entry]) => setWidth(Math.floor(entry?.contentRect.width ?? 0)));
    observer.observe(element);
    return () => observer.disconnect();
  }, []);

  useEffect(() => {
    const element = sheet.current;
    if (!element || width === 0) return;
    const narrow = width < 480;
    const drawing = Plot.plot({
      width,
      height: narrow ? 260 : 340,
      marginLeft: 56,
      marginBottom: 44,
      marginRight: 20,
      marginTop: 28,
      style: { background: 'transparent', fontSize: '14px', fontFamily: 'inherit', color: inks.ink },
      ariaLabel: label,
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
      <div ref={sheet} className={styles.sheet} />
      {caption ? <figcaption className={styles.caption}>{caption}</figcaption> : null}
    </figure>
  );
}

/** Millimetre paper: a fine and a strong grid behind the marks. Put it first among the marks. */
export function millimetrePaper(): Plot.Markish[] {
  return [
    Plot.gridX({ stroke: inks.violet, strokeOpacity: 0.18 }),
    Plot.gridY({ stroke: inks.violet, strokeOpacity: 0.18 }),
  ];
}

export { Plot };
