import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { extractExamples, runExample, type DocstringExample } from './support/docstring-examples.js';

const libsFolder = fileURLToPath(new URL('../..', import.meta.url));
const libraries = readdirSync(libsFolder).filter((name) => existsSync(`${libsFolder}/${name}/src/index.ts`)).sort();

function examplesOf(library: string): DocstringExample[] {
  const folder = `${libsFolder}/${library}/src`;
  const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((file) => file.endsWith('.ts')).sort();
  return files.flatMap((file) => extractExamples(`${library}/src/${file}`, readFileSync(`${folder}/${file}`, 'utf8')));
}

/** What every library exports by name; where two use one name, the library under test wins. */
async function scopeFor(library: string): Promise<Record<string, unknown>> {
  const others = libraries.filter((name) => name !== library);
  const scope: Record<string, unknown> = {};
  // One after the other: Jest's loader loses modules that two imports reach at once.
  for (const name of [...others, library]) Object.assign(scope, (await import(`../../${name}/src/index.js`)) as Record<string, unknown>);
  return scope;
}

describe.each(libraries.map((library) => [library, examplesOf(library)] as const))('docstring examples of %s', (library, examples) => {
  if (examples.length === 0) return;
  test.each(examples.map((example) => [`${example.file}:${example.line}`, example] as const))('%s', async (_, example) => {
    runExample(example, await scopeFor(library));
  });
});

describe('the runner of docstring examples', () => {
  const source = (lines: string[]) => ['/**', ' * Adds.', ' *', ' * @example', ...lines.map((line) => ` * ${line}`), ' */'].join('\n');
  const run = (...lines: string[]) => extractExamples('x.ts', source(lines)).forEach((example) => runExample(example, { add: (a: number, b: number) => a + b }));

  test('finds a fair number in this library', () => {
    expect(examplesOf('numeric').length).toBeGreaterThan(30);
  });

  test('passes what holds and fails what does not', () => {
    run('const three = 3;', 'add(1, 2) // => three', '[add(1, 2), { a: 1 / 3 }] // => [3, { a: 0.3333333333 }]');
    expect(() => run('add(1, 2) // => 3.00001')).toThrow('add(1, 2) gives 3, the docstring says 3.00001');
    expect(() => run('[1, 2] // => [1, 2, 3]')).toThrow('gives [1,2]');
    expect(() => run('({ a: 1, b: 2 }) // => { a: 1 }')).toThrow('the docstring says {"a":1}');
    expect(() => run('Float64Array.of(1, NaN) // => [1, 0]')).toThrow();
    expect(() => run('add(1, 2) // => throws NOT_FINITE')).toThrow('gives no error');
    run("(() => { throw Object.assign(new Error('no'), { code: 'NOT_FINITE' }); })() // => throws NOT_FINITE");
  });

  test('reads a block to the next tag and leaves blocks without expectation alone', () => {
    expect(extractExamples('x.ts', '/**\n * @example\n * f(1) // => 2\n * @param x no code\n */\n/** @example\n * f(1)\n */').map((e) => [e.line, e.lines])).toEqual([[2, ['f(1) // => 2']]]);
  });
});
