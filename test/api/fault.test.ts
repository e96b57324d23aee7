import { tellMoves, tellReach } from '../../apps/cli/src/commands/touched.js';
import { at } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;
let filled: FilledLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Fault lab');
  other = await server.openLab('Other fault lab');
  filled = await fillLab(lab);
}, 180_000);

afterAll(() => server.close());

const QUERY = `query ($id: UUID!, $from: Moment!, $to: Moment!) { touchedBy(instrumentId: $id, from: $from, to: $to) {
  factCount truncated facts { kind id label } touched { kind id label restsOn stale } } }`;

const touchedBy = async (id: string, from: string, to: string): Promise<any> => (await lab.as('AUDITOR').ask<any>(QUERY, { id, from, to })).touchedBy;
const countOf = (reach: any, kind: string): number => reach.touched.filter((record: any) => record.kind === kind).length;

describe('a faulty balance', () => {
  it('touches all that rests on any of its weighings, up to installation and decision', async () => {
    const reach = await touchedBy(filled.bench.balanceId, at(-1000), at(2000));
    expect(reach.factCount).toBe(6 * (1 + 8 + 2));
    expect(reach.truncated).toBe(false);
    expect(['rwc_series', 'calibration_version', 'threshold_certificate', 'installation', 'trip', 'decision'].map((kind) => countOf(reach, kind))).toEqual([6, 1, 1, 1, 1, 1]);
    // The unit's curve comes from sweeps and trip tests: no balance is in it.
    expect(countOf(reach, 'bias_threshold_curve')).toBe(0);
    expect(reach.touched.at(-1)).toMatchObject({ kind: 'decision', id: filled.decisionId, restsOn: 66, stale: false });
    const told = tellReach(reach);
    expect(told[0]).toBe('66 facts were made with it in that span; 11 records rest on them.');
    expect(told.at(-1)).toBe(`  decision: decision for zone N2, rests on 66  ${filled.decisionId}`);
  });

  it('within ten minutes touches the weighings of these minutes only, and one series each', async () => {
    // Disc 1 is weighed at minutes 0, 10, 20 ..., disc 2 half a minute later.
    const reach = await touchedBy(filled.bench.balanceId, at(10), at(10.5));
    expect(reach.facts.map(({ id }: any) => id)).toEqual([filled.run.weighingIds[0]![1], filled.run.weighingIds[1]![1]]);
    expect(countOf(reach, 'rwc_series')).toBe(2);
    expect(reach.touched.find(({ kind }: any) => kind === 'decision').restsOn).toBe(2);
  });

  it('outside the span touches nothing', async () => {
    expect(await touchedBy(filled.bench.balanceId, at(-100_000), at(-90_000))).toEqual({ factCount: 0, truncated: false, facts: [], touched: [] });
  });
});

describe('other instruments', () => {
  it('reach by their own facts', async () => {
    const meter = await touchedBy(filled.bench.meterId, at(-10), at(200));
    expect(meter.facts.every(({ kind }: any) => kind === 'meter_reading')).toBe(true);
    expect(meter.factCount).toBe(6 * 7 + 3);
    expect(countOf(meter, 'decision')).toBe(1);
    // The cycle ran from minute 120 to 1570: a span inside it counts.
    const oven = await touchedBy(filled.bench.ovenId, at(600), at(700));
    expect(oven.facts.map(({ kind }: any) => kind)).toEqual(['oven_cycle']);
    expect(countOf(oven, 'rwc_series')).toBe(6);
    expect((await touchedBy(filled.bench.ovenId, at(1600), at(1700))).factCount).toBe(0);
  });

  it('that do not exist, of another lab, or spans that end before they begin are refused', async () => {
    const refused = async (who: TestLab, id: string, from = at(0), to = at(1)): Promise<unknown> => (await who.as('AUDITOR').answer(QUERY, { id, from, to })).errors?.[0]?.extensions;
    expect(await refused(lab, newId())).toMatchObject({ problem: { code: 'NOT_FOUND' } });
    expect(await refused(other, filled.bench.balanceId)).toMatchObject({ problem: { code: 'NOT_FOUND' } });
    expect(await refused(lab, filled.bench.balanceId, at(2), at(1))).toMatchObject({ problem: { field: 'to' } });
  });
});

describe('how far a fault moves what it reaches', () => {
  const MOVES = `query ($id: UUID!, $from: Moment!, $to: Moment!, $offset: Decimal, $span: Decimal) {
    faultMoves(instrumentId: $id, from: $from, to: $to, offset: $offset, span: $span) {
      factCount codeVersion corrected truncated
      moved { kind id label restsOn stale withoutRefused correctedRefused values { name unit then without corrected } } } }`;
  const ask = (id: string, from: number, to: number, correction: object = {}): Promise<any> =>
    lab.as('AUDITOR').answer<any>(MOVES, { id, from: at(from), to: at(to), ...correction });
  const movesOf = async (...question: Parameters<typeof ask>): Promise<any> => {
    const { data, errors } = await ask(...question);
    expect(errors).toBeUndefined();
    return data.faultMoves;
  };
  const valueOf = (moves: any, kind: string, name: string | RegExp, nth = 0): any => {
    const record = moves.moved.filter((one: any) => one.kind === kind)[nth];
    return record.values.find((value: any) => (typeof name === 'string' ? value.name === name : name.test(value.name)));
  };

  it('is by hand what the correction of the drying masses must give, all the way up', async () => {
    // Turgid at minute -5, dry from minute 1500: only the drying masses were read 0.4 mg too high, and all RWC lie
    // 0.4/(70 - 12) too high. A line in RWC moves by as much, and so does every RWC read back from it.
    const move = -0.4 / 58;
    const moves = await movesOf(filled.bench.balanceId, 0, 100, { offset: '0.4' });
    expect(moves).toMatchObject({ factCount: 48, corrected: true, truncated: false });
    for (let nth = 0; nth < 6; nth += 1) {
      const { then, corrected } = valueOf(moves, 'rwc_series', /^RWC at /, nth);
      expect(corrected - then).toBeCloseTo(move, 12);
      expect(valueOf(moves, 'rwc_series', 'turgid mass', nth)).toMatchObject({ then: 70, corrected: 70 });
    }
    const readBack = valueOf(moves, 'calibration_version', /^RWC read back/);
    expect(readBack.corrected - readBack.then).toBeCloseTo(move, 4);
    const slope = valueOf(moves, 'calibration_version', 'parameter c');
    expect(slope.corrected).toBeCloseTo(slope.then, 4);
    for (const [kind, name] of [['threshold_certificate', 'RWC at which the bias issued trips'], ['installation', 'RWC at which it trips with the bias read back'], ['trip', 'RWC inferred at the trip'], ['decision', 'RWC inferred at its trip']] as const) {
      const value = valueOf(moves, kind, name);
      expect(value.then).toBeGreaterThan(0.6);
      expect({ kind, move: value.corrected - value.then }).toEqual({ kind, move: expect.closeTo(move, 4) });
    }
    expect(valueOf(moves, 'threshold_certificate', 'RWC at which the bias issued trips').then).toBeCloseTo(0.8, 3);
    // What the screen shows of the trip is what the fault is measured from.
    const { trip } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { trip(id: $id) { inferredRwc } }', { id: filled.tripId });
    expect(valueOf(moves, 'trip', /^RWC/).then).toBeCloseTo(trip.inferredRwc, 12);
  });

  it('is nothing where an offset or a span lies in all masses of a disc: RWC is a ratio of differences', async () => {
    const moves = await movesOf(filled.bench.balanceId, -1000, 2000, { offset: '0.4', span: '1.01' });
    for (const kind of ['rwc_series', 'installation', 'decision']) {
      const { then, corrected } = valueOf(moves, kind, /^RWC/);
      expect(corrected).toBeCloseTo(then, 9);
    }
    const turgid = valueOf(moves, 'rwc_series', 'turgid mass');
    expect(turgid.corrected).toBeCloseTo((70 - 0.4) / 1.01, 9);
  });

  it('without the facts names what cannot be had any more, and computes the rest from what stays', async () => {
    const none = await movesOf(filled.bench.balanceId, 0, 100);
    expect(none.corrected).toBe(false);
    expect(none.moved.find(({ kind }: any) => kind === 'rwc_series').withoutRefused).toMatch(/has no fresh or drying weighing/);
    expect(none.moved.find(({ kind }: any) => kind === 'calibration_version').withoutRefused).toMatch(/no readings/);
    expect(none.moved.find(({ kind }: any) => kind === 'threshold_certificate').withoutRefused).toBe('There is no calibration to certify by.');
    expect(valueOf(none, 'decision', /^RWC/)).toMatchObject({ then: expect.any(Number), without: null, corrected: null });
    // Minute 70 to 74: the last drying mass of each disc. One reading a disc lies after the last mass then, and is left out.
    const last = await movesOf(filled.bench.balanceId, 70, 74);
    expect(valueOf(last, 'rwc_series', 'number of drying masses')).toMatchObject({ then: 8, without: 7 });
    expect(valueOf(last, 'calibration_version', 'number of readings')).toMatchObject({ then: 42, without: 36 });
    expect(valueOf(last, 'decision', /^RWC/).without).toBeGreaterThan(0.5);
  });

  it('follows a power meter and an oven too', async () => {
    // 3 nW too much in every power lies in dark and light alike.
    const offset = await movesOf(filled.bench.meterId, -10, 200, { offset: '3' });
    expect(valueOf(offset, 'calibration_version', /^RWC/).corrected).toBeCloseTo(valueOf(offset, 'calibration_version', /^RWC/).then, 9);
    // The same from the first reading to the last, not in dark and references, raises transmittance by 0.003.
    const between = await movesOf(filled.bench.meterId, 0, 79, { offset: '3' });
    const readBack = valueOf(between, 'calibration_version', /^RWC/);
    expect(Math.abs(readBack.corrected - readBack.then)).toBeGreaterThan(0.005);
    const oven = await movesOf(filled.bench.ovenId, 600, 700);
    expect(oven.moved[0].withoutRefused).toMatch(/has no dry mass/);
  });

  it('writes nothing, and refuses what it cannot compute', async () => {
    const entries = async (): Promise<number> => (await lab.as('AUDITOR').ask<any>('{ ledger(first: 1) { nodes { id } } }')).ledger.nodes[0].id;
    const before = await entries();
    await movesOf(filled.bench.balanceId, 10, 11, { offset: '0.4' });
    expect(await entries()).toBe(before);
    const refusal = async (...question: Parameters<typeof ask>): Promise<any> => (await ask(...question)).errors?.[0]?.extensions.problem;
    expect(await refusal(filled.bench.balanceId, 0, 1, { offset: 'much' })).toMatchObject({ field: 'offset' });
    expect(await refusal(filled.bench.balanceId, 0, 1, { span: '0' })).toMatchObject({ field: 'span' });
    expect(await refusal(filled.bench.balanceId, 0, 1, { offset: '0' })).toMatchObject({ field: 'offset', message: expect.stringMatching(/corrects nothing/i) });
    expect(await refusal(filled.bench.ovenId, 0, 1, { offset: '1' })).toMatchObject({ field: 'offset', message: expect.stringContaining('oven') });
    expect(await refusal(newId(), 0, 1)).toMatchObject({ code: 'NOT_FOUND' });
    expect((await other.as('AUDITOR').answer<any>(MOVES, { id: filled.bench.balanceId, from: at(0), to: at(1) })).errors![0]!.extensions).toMatchObject({ problem: { code: 'NOT_FOUND' } });
  });

  it('is told on a terminal', async () => {
    const told = tellMoves(await movesOf(filled.bench.balanceId, 0, 100, { offset: '0.4' }));
    expect(told.join('\n')).toMatch(/installation: installation of U-701, .*\n +RWC at which it trips with the bias read back: 80\.\d\d % → corrected 79\.\d\d % \(−0\.69 points\); not to be had without/);
    expect(told.join('\n')).not.toContain('turgid mass');
  });
});
