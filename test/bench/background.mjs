const WEIGHINGS_A_DISC = 40;
const DISCS_A_RUN = 4;
const DISCS_AT_ONCE = 500;

/**
 * Grows a lab to at least `size` weighings as if people had made them: leaves, discs, drying runs, weighings and an RWC
 * series a disc, each with its ledger entry and lineage edges, on the lab's own crop, rig, balance and people; foreign keys
 * and triggers do their work. Only the places in the Merkle tree are left out, which a Thread never reads.
 *
 * @returns {Promise<number>} weighings in the lab now
 */
export async function fillBackground(client, labId, size) {
  const count = async () => Number((await client.query('SELECT count(*) FROM weighing WHERE lab_id = $1', [labId])).rows[0].count);
  const present = await count();
  const discs = Math.ceil(Math.max(size - present, 0) / WEIGHINGS_A_DISC);
  for (let made = 0; made < discs; made += DISCS_AT_ONCE) {
    const now = Math.min(DISCS_AT_ONCE, discs - made);
    await client.query('BEGIN');
    await client.query(`SET LOCAL threadleaf.lab_id = '${labId}'`);
    await client.query('CREATE TEMPORARY TABLE bench_disc ON COMMIT DROP AS ' + DISCS, [labId, now]);
    for (const statement of STATEMENTS) await client.query(statement, statement.includes('$1') ? [labId] : []);
    await client.query('COMMIT');
  }
  await client.query('VACUUM (ANALYZE) weighing, lineage_edge, ledger_entry, rwc_series, disc, leaf, drying_run');
  return count();
}

const HASH = (id) => `sha256(convert_to(${id}::text, 'UTF8'))`;

const DISCS = `
  SELECT n, uuidv7() AS disc_id, uuidv7() AS leaf_id, uuidv7() AS series_id, first_value(run_id) OVER (PARTITION BY (n - 1) / ${DISCS_A_RUN} ORDER BY n) AS run_id,
    person.account_id, plant.id AS plant_id, balance.id AS balance_id, rig.id AS rig_id
  FROM (SELECT n, uuidv7() AS run_id FROM generate_series(1, $2::int) n) numbered,
    (SELECT account_id FROM membership WHERE lab_id = $1 AND role = 'TECHNICIAN' LIMIT 1) person,
    (SELECT id FROM plant WHERE lab_id = $1 LIMIT 1) plant,
    (SELECT id FROM instrument WHERE lab_id = $1 AND kind = 'BALANCE' LIMIT 1) balance,
    (SELECT id FROM rig WHERE lab_id = $1 LIMIT 1) rig`;

const entries = (kind, source, id) => `
  INSERT INTO ledger_entry (lab_id, id, recorded_at, recorded_by, action, subject_kind, subject_id, content_hash)
  SELECT $1, uuidv7(), now(), account_id, 'record', '${kind}', ${id}, ${HASH(id)} FROM ${source}`;

const edges = (fromKind, fromId, toKind, toId, role, source) => `
  INSERT INTO lineage_edge (lab_id, from_kind, from_id, to_kind, to_id, role) SELECT $1, '${fromKind}', ${fromId}, '${toKind}', ${toId}, '${role}' FROM ${source}`;

const RUNS = '(SELECT DISTINCT run_id, account_id, rig_id, balance_id FROM bench_disc) runs';

const STATEMENTS = [
  `INSERT INTO leaf (lab_id, id, recorded_at, recorded_by, content_hash, plant_id, label)
   SELECT $1, leaf_id, now(), account_id, ${HASH('leaf_id')}, plant_id, 'leaf ' || leaf_id FROM bench_disc`,
  `INSERT INTO disc (lab_id, id, recorded_at, recorded_by, content_hash, leaf_id, label, diameter_mm)
   SELECT $1, disc_id, now(), account_id, ${HASH('disc_id')}, leaf_id, 'disc ' || disc_id, 18 FROM bench_disc`,
  `INSERT INTO drying_run (lab_id, id, recorded_at, recorded_by, content_hash, label, rig_id, balance_id, disc_ids, rhythm_min, opened_at, opened_offset_min)
   SELECT $1, run_id, now(), account_id, ${HASH('run_id')}, 'run ' || run_id, rig_id, balance_id, array_agg(disc_id), 5, now(), 0
   FROM bench_disc GROUP BY run_id, account_id, rig_id, balance_id`,
  `CREATE TEMPORARY TABLE bench_weighing ON COMMIT DROP AS
   SELECT k, uuidv7() AS id, disc_id, series_id, run_id, account_id, balance_id, round(15 + 44 * (1 - k / ${WEIGHINGS_A_DISC}.0), 2) AS mass_mg
   FROM bench_disc, generate_series(0, ${WEIGHINGS_A_DISC - 1}) k ORDER BY k`,
  `INSERT INTO weighing (lab_id, id, recorded_at, recorded_by, content_hash, disc_id, state, observed_at, observed_offset_min,
     mass_text, mass_unit, mass_mg, balance_id, drying_run_id, entry_mode, raw_line, flags)
   SELECT $1, id, now(), account_id, ${HASH('id')}, disc_id, CASE k WHEN 0 THEN 'TURGID' WHEN ${WEIGHINGS_A_DISC - 1} THEN 'DRY' ELSE 'DRYING' END,
     now() + k * interval '5 min', 0, mass_mg::text, 'mg', mass_mg, balance_id, run_id, 'LINE', 'ST  +   ' || mass_mg || ' mg', '[]' FROM bench_weighing`,
  `INSERT INTO rwc_series (lab_id, id, recorded_at, recorded_by, content_hash, code_version, disc_id, drying_run_id, document)
   SELECT $1, series_id, now(), account_id, ${HASH('series_id')}, 'bench', disc_id, run_id,
     jsonb_build_object('turgidMassMg', max(mass_mg), 'dryMassMg', min(mass_mg), 'flags', '[]'::jsonb, 'readings', '[]'::jsonb,
       'points', jsonb_agg(jsonb_build_object('weighingId', id, 'massMg', mass_mg, 'rwc', 0.5, 'u', 0.004, 'uCommon', 0.003)))
   FROM bench_weighing GROUP BY series_id, account_id, disc_id, run_id`,
  entries('leaf', 'bench_disc', 'leaf_id'),
  entries('disc', 'bench_disc', 'disc_id'),
  entries('drying_run', RUNS, 'run_id'),
  entries('weighing', 'bench_weighing', 'id'),
  entries('rwc_series', 'bench_disc', 'series_id'),
  edges('leaf', 'leaf_id', 'plant', 'plant_id', 'of', 'bench_disc'),
  edges('disc', 'disc_id', 'leaf', 'leaf_id', 'of', 'bench_disc'),
  edges('drying_run', 'run_id', 'disc', 'disc_id', 'of', 'bench_disc'),
  edges('drying_run', 'run_id', 'rig', 'rig_id', 'on', RUNS),
  edges('drying_run', 'run_id', 'instrument', 'balance_id', 'with', RUNS),
  edges('weighing', 'id', 'disc', 'disc_id', 'of', 'bench_weighing'),
  edges('weighing', 'id', 'instrument', 'balance_id', 'with', 'bench_weighing'),
  edges('weighing', 'id', 'drying_run', 'run_id', 'in', 'bench_weighing'),
  edges('rwc_series', 'series_id', 'disc', 'disc_id', 'of', 'bench_disc'),
  edges('rwc_series', 'series_id', 'drying_run', 'run_id', 'in', 'bench_disc'),
  edges('rwc_series', 'series_id', 'weighing', 'id', 'drying mass', 'bench_weighing'),
  // Without places they would be placed one by one in the background, beside what is measured.
  'DELETE FROM ledger_pending WHERE lab_id = $1',
];
