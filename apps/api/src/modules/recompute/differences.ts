export interface ValueDifference {
  readonly path: string;
  readonly then: string | null;
  readonly now: string | null;
}

/**
 * Values in which two JSON documents differ, in the order of the first; exact, since the same code gives the same bytes.
 *
 * @example differences({ rwc: [0.8] }, { rwc: [0.81] }); // [{ path: 'rwc[0]', then: '0.8', now: '0.81' }]
 */
export function differences(then: unknown, now: unknown, path = ''): ValueDifference[] {
  if (isContainer(then) && isContainer(now) && Array.isArray(then) === Array.isArray(now)) {
    const [before, after] = [then as Record<string, unknown>, now as Record<string, unknown>];
    const names = [...new Set([...Object.keys(before), ...Object.keys(after)])];
    return names.flatMap((name) => differences(before[name], after[name], Array.isArray(then) ? `${path}[${name}]` : path ? `${path}.${name}` : name));
  }
  const [told, computed] = [textOf(then), textOf(now)];
  return told === computed ? [] : [{ path, then: told, now: computed }];
}

const isContainer = (value: unknown): value is object => typeof value === 'object' && value !== null;

const textOf = (value: unknown): string | null => (value === undefined ? null : JSON.stringify(value));
