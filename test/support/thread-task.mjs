/** A task for the test of threads. */
import { InputError } from '../../dist/libs/quantity/src/index.js';

export function run({ square, refuse, endless }) {
  if (refuse) throw new InputError('TOO_FEW', 'leaves', 'two leaves are too few', 'Choose three or more.');
  for (;;) if (!endless) return square * square;
}
