import { leafSymbols, symbolOf } from '#libs/drawing';
import styles from './leaf-symbols.module.css';

const shapes: Readonly<Record<(typeof leafSymbols)[number], string>> = {
  circle: 'M9 3.5a5.5 5.5 0 1 0 .01 0Z',
  square: 'M4 4h10v10H4Z',
  triangle: 'M9 3 15 14H3Z',
  diamond: 'M9 2 13.5 9 9 16 4.5 9Z',
  cross: 'M7 3h4v4h4v4h-4v4H7v-4H3V7h4Z',
  star: 'm9 2 1.8 4.6 4.9.3-3.8 3.1 1.2 4.8L9 12.100 4.900 14.800l1.200-4.800L2.300 6.900l4.900-.3Z',
  wye: 'M7.300 16v-5.500L3 7.800 4.700 4.900 9 7.500l4.300-2.600L15 7.800l-4.300 2.700V16Z',
};

/** Which symbol is which leaf; more leaves than symbols begin anew, filled. */
export function LeafLegend({ leaves }: { readonly leaves: readonly string[] }) {
  return (
    <ul className={styles.legend} aria-label="Leaves by symbol">
      {leaves.map((leaf, index) => (
        <li key={leaf}>
          <svg viewBox="0 0 18 18" width="16" height="16" aria-hidden="true"><path d={shapes[symbolOf(index)]} fill={index >= leafSymbols.length ? 'currentColor' : 'none'} stroke="currentColor" strokeWidth="1.6" /></svg>
          {leaf}
        </li>
      ))}
      <li><svg viewBox="0 0 18 18" width="16" height="16" aria-hidden="true"><path d="m4 4 10 10M14 4 4 14" stroke="currentColor" strokeWidth="2" /></svg>left out</li>
    </ul>
  );
}
