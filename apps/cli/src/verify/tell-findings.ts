import type { Finding } from '#libs/ledger';

const MARKS: Readonly<Record<Finding['status'], string>> = { holds: 'holds    ', fails: 'FAILS    ', unproven: 'unproven ' };

/** What was found, a line each, and the sum of it in the last line. */
export function tellFindings(findings: readonly Finding[]): string[] {
  const failed = findings.filter(({ status }) => status === 'fails').length;
  const unproven = findings.filter(({ status }) => status === 'unproven').length;
  const sum = failed > 0
    ? `This pack does not hold: ${failed} ${failed === 1 ? 'thing fails' : 'things fail'}. Do not rely on it.`
    : `Nothing in this pack fails.${unproven > 0 ? ` ${unproven} ${unproven === 1 ? 'thing is' : 'things are'} not proven by it: read above which.` : ''}`;
  return [...findings.map(({ check, status, about, says }) => `${MARKS[status]}${check}, ${about}: ${says}`), '', sum];
}
