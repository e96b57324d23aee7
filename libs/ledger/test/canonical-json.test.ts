import fc from 'fast-check';
import { InputError } from '#libs/quantity';
import { canonicalize, parseCanonical } from '#libs/ledger';

/** The code and field of the InputError that `work` throws. */
function refusal(work: () => unknown): { code: string; field: string } {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return { code: error.code, field: error.field };
    throw error;
  }
  throw new Error('expected an InputError, but nothing was thrown');
}

/**
 * The test data of the scheme's authors: cyberphone/json-canonicalization, testdata/input and output, at commit
 * 19d51d7fe467d4706a3ff08adf8a748f29fc21e0 (Apache-2.0). `values` is also the example of RFC 8785 section 3.2.2,
 * `weird` of section 3.2.3.
 */
const SCHEME_VECTORS: readonly { name: string; input: string; output: string }[] = [
  {
    name: 'arrays',
    input: '[\n  56,\n  {\n    "d": true,\n    "10": null,\n    "1": [ ]\n  }\n]\n',
    output: '[56,{"1":[],"10":null,"d":true}]',
  },
  {
    name: 'french',
    input: '{\n  "peach": "This sorting order",\n  "péché": "is wrong according to French",\n'
      + '  "pêche": "but canonicalization MUST",\n  "sin":   "ignore locale"\n}\n',
    output: '{"peach":"This sorting order","péché":"is wrong according to French",'
      + '"pêche":"but canonicalization MUST","sin":"ignore locale"}',
  },
  {
    name: 'structures',
    input: '{\n  "1": {"f": {"f": "hi","F": 5} ,"\\n": 56.0},\n  "10": { },\n  "": "empty",\n  "a": { },\n'
      + '  "111": [ {"e": "yes","E": "no" } ],\n  "A": { }\n}',
    output: '{"":"empty","1":{"\\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}',
  },
  {
    name: 'unicode',
    input: '{\n  "Unnormalized Unicode":"A\\u030a"\n}\n',
    output: '{"Unnormalized Unicode":"A\u030a"}',
  },
  {
    name: 'values',
    input: '{\n  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],\n'
      + '  "string": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/",\n  "literals": [null, true, false]\n}',
    output: '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
      + '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
  },
  {
    name: 'weird',
    input: '{\n  "\\u20ac": "Euro Sign",\n  "\\r": "Carriage Return",\n  "\\u000a": "Newline",\n  "1": "One",\n'
      + '  "\\u0080": "Control\\u007f",\n  "\\ud83d\\ude02": "Smiley",\n  "\\u00f6": "Latin Small Letter O With Diaeresis",\n'
      + '  "\\ufb33": "Hebrew Letter Dalet With Dagesh",\n  "</script>": "Browser Challenge"\n}\n',
    output: '{"\\n":"Newline","\\r":"Carriage Return","1":"One","</script>":"Browser Challenge",'
      + '"\u0080":"Control\u007f","ö":"Latin Small Letter O With Diaeresis","€":"Euro Sign","😂":"Smiley",'
      + '"\ufb33":"Hebrew Letter Dalet With Dagesh"}',
  },
];

describe('canonicalize: test data of RFC 8785', () => {
  test.each(SCHEME_VECTORS)('$name', ({ input, output }) => {
    expect(canonicalize(JSON.parse(input))).toBe(output);
  });

  test('the UTF-8 bytes of section 3.2.4', () => {
    const vector = SCHEME_VECTORS.find(({ name }) => name === 'values');
    const hex = Buffer.from(canonicalize(JSON.parse(vector?.input ?? '')), 'utf8').toString('hex');
    // RFC 8785 section 3.2.4 prints the bytes of this example; the first and the last of them, from memory.
    expect(hex.startsWith('7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a5b333333')).toBe(true);
    expect(hex.endsWith('22737472696e67223a22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d')).toBe(true);
  });
});

/** RFC 8785 appendix B: IEEE 754 bits of a double, and its JSON text. */
const APPENDIX_B: readonly (readonly [bits: string, json: string])[] = [
  ['0000000000000000', '0'],
  ['8000000000000000', '0'],
  ['0000000000000001', '5e-324'],
  ['8000000000000001', '-5e-324'],
  ['7fefffffffffffff', '1.7976931348623157e+308'],
  ['ffefffffffffffff', '-1.7976931348623157e+308'],
  ['4340000000000000', '9007199254740992'],
  ['c340000000000000', '-9007199254740992'],
  ['4430000000000000', '295147905179352830000'],
  ['44b52d02c7e14af5', '9.999999999999997e+22'],
  ['44b52d02c7e14af6', '1e+23'],
  ['44b52d02c7e14af7', '1.0000000000000001e+23'],
  ['444b1ae4d6e2ef4e', '999999999999999700000'],
  ['444b1ae4d6e2ef4f', '999999999999999900000'],
  ['444b1ae4d6e2ef50', '1e+21'],
  ['3eb0c6f7a0b5ed8c', '9.999999999999997e-7'],
  ['3eb0c6f7a0b5ed8d', '0.000001'],
  ['41b3de4355555553', '333333333.3333332'],
  ['41b3de4355555554', '333333333.33333325'],
  ['41b3de4355555555', '333333333.3333333'],
  ['41b3de4355555556', '333333333.3333334'],
  ['41b3de4355555557', '333333333.33333343'],
  ['becbf647612f3696', '-0.0000033333333333333333'],
  ['43143ff3c1cb0959', '1424953923781206.2'],
];

function doubleOf(bits: string): number {
  return Buffer.from(bits, 'hex').readDoubleBE();
}

describe('canonicalize: numbers', () => {
  test.each(APPENDIX_B)('RFC 8785 appendix B: %s is %s', (bits, json) => {
    expect(canonicalize(doubleOf(bits))).toBe(json);
  });

  // RFC 8785 appendix B: 7fffffffffffffff is NaN, 7ff0000000000000 is Infinity; both "indicate an error".
  test.each(['7fffffffffffffff', '7ff0000000000000', 'fff0000000000000', '7ff8000000000000'])('%s is refused', (bits) => {
    expect(refusal(() => canonicalize({ powerNw: [1, doubleOf(bits)] }))).toEqual({ code: 'NOT_FINITE', field: '$.powerNw[1]' });
  });
});

describe('canonicalize: what has no single JSON form is refused, with its place', () => {
  class Weighing { massMg = 71.2; }
  const sparse: unknown[] = [1, 2, 3];
  delete sparse[1];
  const cycle: Record<string, unknown> = {};
  cycle['self'] = cycle;
  const deepest = (levels: number): unknown => (levels === 0 ? 1 : [deepest(levels - 1)]);

  test.each<[string, unknown, string, string]>([
    ['undefined', undefined, 'NOT_JSON', '$'],
    ['an undefined member', { a: { b: undefined } }, 'NOT_JSON', '$.a.b'],
    ['an undefined item', [null, undefined], 'NOT_JSON', '$[1]'],
    ['a hole', sparse, 'NOT_JSON', '$[1]'],
    ['a bigint', { mass: 71n }, 'NOT_JSON', '$.mass'],
    ['a function', { mass: () => 71 }, 'NOT_JSON', '$.mass'],
    ['a toJSON method', { toJSON: () => 71 }, 'NOT_JSON', '$.toJSON'],
    ['a symbol', { mass: Symbol('x') }, 'NOT_JSON', '$.mass'],
    ['a Date', { at: new Date(0) }, 'NOT_PLAIN', '$.at'],
    ['a Map', new Map(), 'NOT_PLAIN', '$'],
    ['bytes', { raw: new Uint8Array(3) }, 'NOT_PLAIN', '$.raw'],
    ['a class instance', [new Weighing()], 'NOT_PLAIN', '$[0]'],
    ['a boxed number', Object(3), 'NOT_PLAIN', '$'],
    ['a member named by a symbol', { [Symbol('s')]: 1 }, 'NOT_PLAIN', '$'],
    ['a lone high surrogate', { note: 'leaf \ud83c' }, 'LONE_SURROGATE', '$.note'],
    ['a lone low surrogate', { note: '\udf3f leaf' }, 'LONE_SURROGATE', '$.note'],
    ['surrogates in the wrong order', ['\udf3f\ud83c'], 'LONE_SURROGATE', '$[0]'],
    ['a lone surrogate in a name', { 'a\ud83c': 1 }, 'LONE_SURROGATE', '$["a\\ud83c"]'],
    ['a cycle', cycle, 'TOO_DEEP', '$.self.self.self.self.self.self.self.self'],
    ['201 levels', deepest(201), 'TOO_DEEP', '$[0][0][0][0][0][0][0][0]'],
    ['a bad value behind a name with a space', { 'dry mass': NaN }, 'NOT_FINITE', '$["dry mass"]'],
  ])('%s', (_name, value, code, field) => {
    expect(refusal(() => canonicalize(value))).toEqual({ code, field });
  });

  test('the deepest nesting that is allowed is written', () => {
    expect(canonicalize(deepest(200))).toBe(`${'['.repeat(200)}1${']'.repeat(200)}`);
  });

  test('objects without a prototype are plain', () => {
    expect(canonicalize(Object.assign(Object.create(null), { b: 1, a: 2 }))).toBe('{"a":2,"b":1}');
  });

  test('a member named __proto__ is a member', () => {
    expect(canonicalize(JSON.parse('{"__proto__":1,"a":2}'))).toBe('{"__proto__":1,"a":2}');
  });
});

describe('canonicalize: properties', () => {
  const wellFormed = fc.string({ unit: 'binary' });
  const json = fc.letrec((tie) => ({
    value: fc.oneof({ maxDepth: 4 }, fc.constant(null), fc.boolean(), fc.double({ noNaN: true, noDefaultInfinity: true }),
      wellFormed, fc.array(tie('value'), { maxLength: 5 }), fc.dictionary(wellFormed, tie('value'), { maxKeys: 5, noNullPrototype: true })),
  })).value;

  /** Same members in the reverse order of insertion, at every level. */
  function reversed(value: unknown): unknown {
    if (Array.isArray(value)) return value.map(reversed);
    if (value === null || typeof value !== 'object') return value;
    const copy: Record<string, unknown> = Object.create(null) as Record<string, unknown>;
    for (const [name, member] of Object.entries(value).reverse()) copy[name] = reversed(member);
    return copy;
  }

  test('the text parses back to the same value, and that value has the same text', () => {
    fc.assert(fc.property(json, (value) => {
      const text = canonicalize(value);
      expect(JSON.parse(text)).toEqual(JSON.parse(JSON.stringify(value)));
      expect(canonicalize(JSON.parse(text))).toBe(text);
    }), { seed: 8785, numRuns: 500 });
  });

  test('the order of insertion does not matter', () => {
    fc.assert(fc.property(json, (value) => {
      expect(canonicalize(reversed(value))).toBe(canonicalize(value));
    }), { seed: 8785, numRuns: 500 });
  });

  test('names come in the order of their UTF-16 code units, not of their code points', () => {
    // U+1F602 is the code units d83d de02, below U+FB33: RFC 8785 section 3.2.3.
    expect(canonicalize({ '\ufb33': 1, '\u{1f602}': 2 })).toBe('{"\u{1f602}":2,"\ufb33":1}');
  });
});

describe('parseCanonical', () => {
  test('gives the value of canonical text', () => {
    expect(parseCanonical('{"disc":"D-7","rwc":0.8}')).toEqual({ disc: 'D-7', rwc: 0.8 });
  });

  test.each<[string, string, string]>([
    ['no JSON', '{"a":1', 'NOT_JSON_TEXT'],
    ['empty', '', 'NOT_JSON_TEXT'],
    ['white space', '{"a": 1}', 'NOT_CANONICAL'],
    ['a final newline', '{"a":1}\n', 'NOT_CANONICAL'],
    ['other order', '{"b":1,"a":2}', 'NOT_CANONICAL'],
    ['a member named twice', '{"a":1,"a":2}', 'NOT_CANONICAL'],
    ['a number written otherwise', '[1.0]', 'NOT_CANONICAL'],
    ['minus zero', '[-0]', 'NOT_CANONICAL'],
    ['a needless escape', '["\\u0041"]', 'NOT_CANONICAL'],
    ['a digit more than a double holds', '[0.1000000000000000055]', 'NOT_CANONICAL'],
    ['a number beyond the doubles', '[1e999]', 'NOT_FINITE'],
    ['a byte order mark', '\ufeff[]', 'NOT_JSON_TEXT'],
  ])('refuses %s', (_name, text, code) => {
    expect(refusal(() => parseCanonical(text)).code).toBe(code);
  });
});
