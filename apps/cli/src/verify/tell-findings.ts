import type { Finding } from '#libs/ledger';

const MARKS: Readonly<Record<Finding['status'], string>> = { holds: 'holds    ', fails: 'FAILS    ', unproven: 'unproven ' };

/** Files or records of which the same is said. */
const MOST_NAMED = 5;

/** What was found, a line each, and the sum of it in the last line. What is said of several files is said once. */
export function tellFindings(findings: readonly Finding[]): string[] {
  const failed = findings.filter(({ status }) => status === 'fails').length;
  const unproven = findings.some(({ status }) => status === 'unproven');
  const sum = failed > 0
    ? `This pack does not hold: ${failed} ${failed === 1 ? 'thing fails' : 'things fail'}. Do not rely on it.`
    : `Nothing in this pack fails.${unproven ? ' Some things it cannot prove: read above which.' : ''}`;
  const said = new Map<string, Finding[]>();
  for (const finding of findings) {
    const key = `${finding.status} ${finding.check} ${finding.says}`;
    said.set(key, [...(said.get(key) ?? []), finding]);
  }
  const lines = [...said.values()].map((alike) => {
    const { check, status, says } = alike[0]!;
    const named = alike.slice(0, MOST_NAMED).map(({ about }) => about).join(', ');
    const more = alike.length - MOST_NAMED;
    return `${MARKS[status]}${check}, ${named}${more > 0 ? ` and ${more} more` : ''}: ${says}`;
  });
  return [...lines, '', sum];
}
