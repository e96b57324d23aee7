import { randomUUID } from 'node:crypto';
import { median, quantile, round } from './statistics.mjs';
import { ask, record, signIn, withConnection, withProgram } from './server.mjs';

const UNITS = 5_000;
const ZONES = 25;
const DAYS = 120;
const TRIPS_A_UNIT = 5;
const REPORTS_A_UNIT = 190;
const REPEATS = 20;
const TARGET_MS = 1_000;

/** What the screens ask. */
const LIST = `query ($after: String, $zone: String) { installations(first: 50, after: $after, zone: $zone) {
  nodes { id state site zone plantNote biasReadbackV armedAt overrideReason deviceUnit { id label } certificate { id state stale targetRwc validUntil } } pageInfo { hasNextPage endCursor } } }`;
const EVENTS = `{ trips(first: 50) { nodes { id trippedAt seenAt source lightPowerNw inferredRwc inferredLow inferredHigh note recordedBy { id displayName } amendedBy { id reason } installation { id zone site deviceUnit { id label } } decisions { id action decidedAt } } pageInfo { hasNextPage endCursor } } }`;
const ZONE_LIST = '{ zones { name site installed tripped silent rule { id version } } }';
const MAP = '{ fieldMarks { installationId unitLabel site zone state silent latitude longitude } sitePlans { id site } }';
const ZONE = 'query ($name: String!) { zone(name: $name) { name installed tripped silent standing { advice votes installed healthy reasons units { tripped votes silent heardAt remark installation { id zone deviceUnit { id label } } } } } }';
const REPLAY = `query ($id: UUID!, $from: Moment!, $until: Moment!) { replayZoneRule(zoneRuleId: $id, from: $from, until: $until, everyMinutes: 60, known: RECORDED) {
  irrigate wait look none changes { advice at votes installed healthy reasons } decisions { id } } }`;

/**
 * The field's screens over GraphQL in a lab with a season behind it: 5000 units in 25 zones, 10^6 reports, trips and resets
 * of 120 days. Rows are filled in by SQL, since it is the reading that is looked at; rules are recorded and signed as people do.
 */
export async function run({ log }) {
  const { demoSignIns } = await import('../../dist/apps/cli/src/demo/ensure-demo.js');
  const as = (role) => demoSignIns().find((each) => each.role === role);
  return withProgram({ demo: true }, async (server) => {
    const cookies = {};
    for (const role of ['manager', 'researcher', 'field engineer']) cookies[role] = await signIn(server.url, as(role).email, as(role).password);
    const { me } = await ask(server.url, cookies.manager, '{ me { lab { id } } }');
    const begun = performance.now();
    const events = await withConnection(server.ownerUrl, (client) => fill(client, me.lab.id));
    const ruleId = await approvedRule(server.url, cookies, (role) => as(role).password);
    log(`field: ${UNITS} units, ${events} events in ${ZONES} zones (${round((performance.now() - begun) / 1000, 0)} s to fill)`);
    const questions = questionsOf(server.url, cookies.manager, ruleId);
    const { replayZoneRule } = await questions.replay();
    if (replayZoneRule.irrigate === 0 || replayZoneRule.changes.length < 10) throw new Error(`the replay found nothing to say: ${JSON.stringify(replayZoneRule).slice(0, 200)}`);
    const { fieldMarks } = await questions.map();
    if (fieldMarks.length < UNITS) throw new Error(`the map shows ${fieldMarks.length} of ${UNITS} units`);
    const parts = {};
    for (const [name, question] of Object.entries(questions)) {
      parts[name] = await measure(question);
      log(`field, ${name}: ${parts[name].medianMs} ms (p95 ${parts[name].p95Ms}, target ${TARGET_MS})`);
    }
    return { units: UNITS, events, parts, target: TARGET_MS, met: Object.values(parts).every(({ p95Ms }) => p95Ms < TARGET_MS) };
  });
}

/** Each as its screen asks it. */
export function questionsOf(url, cookie, ruleId) {
  const until = new Date();
  const from = new Date(until.getTime() - DAYS * 86_400_000);
  return {
    list: () => ask(url, cookie, LIST),
    'list of a zone': () => ask(url, cookie, LIST, { zone: 'Bench 1' }),
    trips: () => ask(url, cookie, EVENTS),
    zones: () => ask(url, cookie, ZONE_LIST),
    map: () => ask(url, cookie, MAP),
    zone: () => ask(url, cookie, ZONE, { name: 'Bench 1' }),
    replay: () => ask(url, cookie, REPLAY, { id: ruleId, from: from.toISOString(), until: until.toISOString() }),
  };
}

export async function measure(question) {
  const times = [];
  for (let i = 0; i < REPEATS + 2; i += 1) {
    const begun = performance.now();
    await question();
    if (i >= 2) times.push(performance.now() - begun);
  }
  return { medianMs: round(median(times), 0), p95Ms: round(quantile(times, 0.95), 0) };
}

export async function approvedRule(url, cookies, passwordOf) {
  const id = randomUUID().replace(/^(.{14})./, '$17');
  await record(url, cookies['field engineer'], 'recordZoneRule', 'RecordZoneRuleInput', {
    id, zone: 'Bench 1', latitude: '46.2', longitude: '7.1', needed: 12, windows: 2, hoursAroundNoon: '3', maxAgeHours: '72', silentAfterHours: '24', minHealthy: 60, lockoutHours: '24', rainHoldMm: '5', rainHoldHours: '24', basis: 'Invented for the bench.',
  });
  for (const [role, meaning] of [['researcher', 'REVIEWED'], ['manager', 'APPROVED']]) {
    await record(url, cookies[role], 'sign', 'SignInput', { id: randomUUID().replace(/^(.{14})./, '$17'), subjectKind: 'zone_rule', subjectId: id, meaning, password: passwordOf(role) });
  }
  return id;
}

/** Rows straight into the tables. Zone n of unit u is u mod ZONES; each unit reports at a rhythm, trips now and then near noon, and is reset the next morning. */
export async function fill(client, labId) {
  const { rows: [{ person, lot, certificate }] } = await client.query(
    `SELECT (SELECT recorded_by FROM installation WHERE lab_id = $1 LIMIT 1) AS person, (SELECT id FROM device_lot WHERE lab_id = $1 LIMIT 1) AS lot, (SELECT id FROM threshold_certificate WHERE lab_id = $1 LIMIT 1) AS certificate`, [labId]);
  const id = (kind, n) => `('0198${kind}00-0000-7000-8000-' || lpad(to_hex(${n}), 12, '0'))::uuid`;
  const insert = async (table, columns, own, at, values, from) =>
    (await client.query(`INSERT INTO ${table} (lab_id, id, recorded_at, recorded_by, content_hash, ${columns}) SELECT '${labId}'::uuid, ${own}, ${at}, '${person}'::uuid, '\\x00'::bytea, ${values.join(', ')} FROM ${from}`)).rowCount;
  const start = `date_trunc('day', now()) - interval '${DAYS} days'`;
  const units = `generate_series(1, ${UNITS}) u`;
  const each = (count) => `${units}, generate_series(0, ${count - 1}) k`;
  const reportAt = `least(now(), ${start} + interval '12 hours' + k * interval '${Math.floor((DAYS * 1440) / REPORTS_A_UNIT)} minutes' + (u % 60) * interval '1 minute')`;
  // Trips of a zone fall together now and then, as under one dry spell.
  const tripAt = `${start} + (8 + k * 22 + (u / ${ZONES}) % 5) * interval '1 day' + interval '11 hours 20 minutes' + (u % 40) * interval '1 minute'`;
  let events = 0;
  await client.query('SET session_replication_role = replica');
  try {
    await insert('device_unit', 'device_lot_id, label', id('01', 'u'), start, [`'${lot}'::uuid`, "'B-' || lpad(u::text, 5, '0')"], units);
    await insert('installation', 'device_unit_id, threshold_certificate_id, site, zone, plant_note, leaf_side, latitude, longitude, bias_readback_v, armed_at, armed_offset_min', id('02', 'u'), start,
      [id('01', 'u'), `'${certificate}'::uuid`, `'Bench site ' || u % 5`, `'Bench ' || u % ${ZONES}`, "'row ' || u % 80", "'ADAXIAL_UP'", '46.2 + (u % 70) * 0.0001', '7.1 + (u / 70) * 0.0001', '9.4', start, '0'], units);
    events += await insert('field_report', 'installation_id, observed_at, observed_offset_min, latched, source, light_power_nw, raw_line', id('03', `u * 1000 + k`), reportAt, [id('02', 'u'), reportAt, '0', 'false', "'LOGGER'", '480', "'R;0;480'"], each(REPORTS_A_UNIT));
    events += await insert('trip', 'installation_id, tripped_at, tripped_offset_min, seen_at, seen_offset_min, source, light_power_nw, raw_line', id('04', 'u * 1000 + k'), tripAt, [id('02', 'u'), tripAt, '0', `${tripAt} + interval '1 minute'`, '0', "'LOGGER'", '480', "'T;480'"], each(TRIPS_A_UNIT));
    events += await insert('latch_reset', 'installation_id, observed_at, observed_offset_min, opened', id('05', 'u * 1000 + k'), `${tripAt} + interval '20 hours'`, [id('02', 'u'), `${tripAt} + interval '20 hours'`, '0', 'true'], each(TRIPS_A_UNIT));
  } finally {
    await client.query('SET session_replication_role = origin');
  }
  await client.query('ANALYZE');
  return events;
}
