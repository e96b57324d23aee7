/** One `@example` block of a docstring that states what comes out. */
export interface DocstringExample {
  readonly file: string;
  /** Line of the `@example` tag, counted from 1. */
  readonly line: number;
  readonly lines: readonly string[];
}

const EXPECTATION = /^(.*\S)\s*\/\/ => (.+)$/;

/** The `@example` blocks in a source text that hold at least one `// =>`; format: libs/numeric/README.md. */
export function extractExamples(file: string, source: string): DocstringExample[] {
  const examples: DocstringExample[] = [];
  for (const comment of source.matchAll(/\/\*\*[\s\S]*?\*\//g)) {
    const firstLine = source.slice(0, comment.index).split('\n').length;
    const lines = comment[0].replace(/\*\/$/, '').split('\n').map((line) => line.replace(/^\s*(\/\*\*|\*) ?/, ''));
    lines.forEach((line, i) => {
      if (!line.trim().startsWith('@example')) return;
      const rest = lines.slice(i + 1);
      const end = rest.findIndex((other) => /^\s*@\w/.test(other));
      const body = (end < 0 ? rest : rest.slice(0, end)).filter((other) => other.trim() !== '' && !other.trim().startsWith('```'));
      if (body.some((other) => EXPECTATION.test(other))) examples.push({ file, line: firstLine + i, lines: body });
    });
  }
  return examples;
}

/** Runs an example with `scope` as its global names; throws an Error that shows both values where an expectation does not hold. */
export function runExample(example: DocstringExample, scope: Readonly<Record<string, unknown>>): void {
  const names = Object.keys(scope).filter((name) => /^[A-Za-z_$][\w$]*$/.test(name) && name !== 'default');
  const body = example.lines.map((line) => {
    const match = EXPECTATION.exec(line);
    if (!match) return line;
    const [, expression, expected] = match;
    const code = /^throws ([A-Z_]+)$/.exec(expected!)?.[1];
    const expression1 = expression!.replace(/;$/, '');
    return code
      ? `expectThrows(() => (${expression1}), ${JSON.stringify(code)}, ${JSON.stringify(expression1)});`
      : `expectSame((${expression1}), (${expected}), ${JSON.stringify(expression1)});`;
  });
  // An inner block, so that an example may name its own constants as some library export is named.
  const run = new Function(...names, 'expectSame', 'expectThrows', `'use strict'; { ${body.join('\n')} }`) as (...args: unknown[]) => void;
  run(...names.map((name) => scope[name]), expectSame, expectThrows);
}

function expectSame(got: unknown, expected: unknown, expression: string): void {
  if (!same(got, expected)) throw new Error(`${expression} gives ${show(got)}, the docstring says ${show(expected)}`);
}

function expectThrows(run: () => unknown, code: string, expression: string): void {
  let got = 'no error';
  try {
    run();
  } catch (error) {
    got = String((error as { code?: unknown }).code ?? error);
  }
  if (got !== code) throw new Error(`${expression} gives ${got}, the docstring says it throws ${code}`);
}

/** Numbers to 1e-9 relative; arrays (typed ones too) and objects by their parts; everything else by identity. */
function same(got: unknown, expected: unknown): boolean {
  if (typeof got === 'number' && typeof expected === 'number') {
    return Object.is(got, expected) || got === expected || Math.abs(got - expected) <= 1e-9 * Math.abs(expected);
  }
  if (isList(got) && isList(expected)) {
    return got.length === expected.length && Array.from(got).every((value, i) => same(value, expected[i]));
  }
  if (isRecord(got) && isRecord(expected)) {
    const keys = Object.keys(expected);
    return keys.length === Object.keys(got).length && keys.every((key) => same(got[key], expected[key]));
  }
  return got === expected;
}

function isList(value: unknown): value is ArrayLike<unknown> {
  return Array.isArray(value) || (ArrayBuffer.isView(value) && 'length' in value);
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !isList(value);
}

function show(value: unknown): string {
  const plain = (_: string, v: unknown) => (typeof v === 'bigint' ? `${v}n` : ArrayBuffer.isView(v) ? Array.from(v as unknown as ArrayLike<unknown>) : v);
  return typeof value === 'number' ? String(value) : (JSON.stringify(value, plain) ?? String(value));
}
