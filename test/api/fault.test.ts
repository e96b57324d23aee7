import { tellReach } from '../../apps/cli/src/commands/touched.js';
import { at } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let filled: FilledLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Fault lab');
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
    const other = await server.openLab('Other fault lab');
    const refused = async (who: TestLab, id: string, from = at(0), to = at(1)): Promise<unknown> => (await who.as('AUDITOR').answer(QUERY, { id, from, to })).errors?.[0]?.extensions;
    expect(await refused(lab, newId())).toMatchObject({ problem: { code: 'NOT_FOUND' } });
    expect(await refused(other, filled.bench.balanceId)).toMatchObject({ problem: { code: 'NOT_FOUND' } });
    expect(await refused(lab, filled.bench.balanceId, at(2), at(1))).toMatchObject({ problem: { field: 'to' } });
  });
});
