-- The house: people, samples, instruments, bench, oven, results, devices, field, and the record that binds them.
--
-- Every table of a lab starts its key with lab_id, so that row-level security fences labs off from each other and the
-- same schema can be distributed by lab. Facts and results are written once: threadleaf_keep() below takes UPDATE and
-- DELETE away from everybody, the owner included.

DO $$
BEGIN
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'threadleaf_app') THEN
    CREATE ROLE threadleaf_app NOLOGIN;
  END IF;
  -- A hosted server has one login: it must be able to step down to the serving role. A superuser already can.
  IF NOT (SELECT rolsuper FROM pg_roles WHERE rolname = current_user) THEN
    EXECUTE format('GRANT threadleaf_app TO %I', current_user);
  END IF;
END $$;

GRANT USAGE ON SCHEMA public TO threadleaf_app;

CREATE FUNCTION current_lab() RETURNS uuid LANGUAGE sql STABLE PARALLEL SAFE
  AS $$ SELECT nullif(current_setting('threadleaf.lab_id', true), '')::uuid $$;

CREATE FUNCTION current_account() RETURNS uuid LANGUAGE sql STABLE PARALLEL SAFE
  AS $$ SELECT nullif(current_setting('threadleaf.account_id', true), '')::uuid $$;

CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'table % is append-only: record an amendment instead', TG_TABLE_NAME USING ERRCODE = 'TL001';
END $$;

-- Fences a table by lab and makes it append-only.
CREATE PROCEDURE threadleaf_keep(kept regclass) LANGUAGE plpgsql AS $$
BEGIN
  EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', kept);
  EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', kept);
  EXECUTE format('CREATE POLICY of_lab ON %s USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab())', kept);
  EXECUTE format('CREATE TRIGGER append_only_row BEFORE UPDATE OR DELETE ON %s FOR EACH ROW EXECUTE FUNCTION refuse_change()', kept);
  EXECUTE format('CREATE TRIGGER append_only_table BEFORE TRUNCATE ON %s FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()', kept);
  EXECUTE format('GRANT SELECT, INSERT ON %s TO threadleaf_app', kept);
END $$;

-- People -------------------------------------------------------------------------------------------------------------

CREATE TABLE account (
  id            uuid PRIMARY KEY,
  email         text NOT NULL,
  display_name  text NOT NULL,
  password_hash text NOT NULL,
  created_at    timestamptz(3) NOT NULL DEFAULT now(),
  disabled_at   timestamptz(3)
);
CREATE UNIQUE INDEX account_email ON account (lower(email));

CREATE TABLE lab (
  id         uuid PRIMARY KEY,
  name       text NOT NULL,
  demo       boolean NOT NULL DEFAULT false,
  created_at timestamptz(3) NOT NULL DEFAULT now()
);

CREATE TABLE membership (
  lab_id     uuid NOT NULL REFERENCES lab,
  account_id uuid NOT NULL REFERENCES account,
  role       text NOT NULL CHECK (role IN ('TECHNICIAN','RESEARCHER','MANAGER','AUDITOR','FIELD_ENGINEER','ADMINISTRATOR')),
  since      timestamptz(3) NOT NULL DEFAULT now(),
  PRIMARY KEY (lab_id, account_id, role)
);
CREATE INDEX membership_account ON membership (account_id);

CREATE TABLE session (
  token_hash bytea PRIMARY KEY,
  account_id uuid NOT NULL REFERENCES account,
  lab_id     uuid REFERENCES lab,
  created_at timestamptz(3) NOT NULL DEFAULT now(),
  expires_at timestamptz(3) NOT NULL,
  ended_at   timestamptz(3)
);

GRANT SELECT, INSERT ON account, lab, membership, session TO threadleaf_app;
GRANT UPDATE (password_hash) ON account TO threadleaf_app;
GRANT UPDATE (lab_id, ended_at) ON session TO threadleaf_app;

-- Memberships are seen from inside the lab, or by the person they belong to (to choose a lab at sign-in).
ALTER TABLE membership ENABLE ROW LEVEL SECURITY;
ALTER TABLE membership FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab_or_self ON membership
  USING (lab_id = current_lab() OR account_id = current_account())
  WITH CHECK (lab_id = current_lab());

-- The record ---------------------------------------------------------------------------------------------------------

-- One entry for every write, in the transaction of the write.
CREATE TABLE ledger_entry (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  action       text NOT NULL,
  subject_kind text NOT NULL,
  subject_id   uuid NOT NULL,
  content_hash bytea NOT NULL CHECK (octet_length(content_hash) = 32),
  reason       text,
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX ledger_entry_time ON ledger_entry (lab_id, recorded_at DESC, id DESC);
CREATE INDEX ledger_entry_subject ON ledger_entry (lab_id, subject_id);

-- from rests on to. The role says how.
CREATE TABLE lineage_edge (
  lab_id    uuid NOT NULL REFERENCES lab,
  from_kind text NOT NULL,
  from_id   uuid NOT NULL,
  to_kind   text NOT NULL,
  to_id     uuid NOT NULL,
  role      text NOT NULL,
  PRIMARY KEY (lab_id, from_id, to_id, role)
);
CREATE INDEX lineage_edge_up ON lineage_edge (lab_id, to_id);

CREATE TABLE amendment (
  lab_id         uuid NOT NULL REFERENCES lab,
  id             uuid NOT NULL,
  recorded_at    timestamptz(3) NOT NULL,
  recorded_by    uuid NOT NULL REFERENCES account,
  content_hash   bytea NOT NULL,
  target_kind    text NOT NULL,
  target_id      uuid NOT NULL,
  replacement_id uuid,
  reason_code    text NOT NULL CHECK (reason_code IN ('MISREAD','WRONG_DISC','WRONG_INSTRUMENT','WRONG_TIME','INSTRUMENT_FAULT','DUPLICATE','OTHER')),
  reason         text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id)
);
-- A fact is amended once; a second thought amends its replacement. This keeps histories straight under concurrency.
CREATE UNIQUE INDEX amendment_target ON amendment (lab_id, target_id);

CREATE TABLE stale_mark (
  lab_id       uuid NOT NULL REFERENCES lab,
  result_kind  text NOT NULL,
  result_id    uuid NOT NULL,
  amendment_id uuid NOT NULL,
  PRIMARY KEY (lab_id, result_id, amendment_id),
  FOREIGN KEY (lab_id, amendment_id) REFERENCES amendment (lab_id, id)
);

CREATE TABLE signature (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  subject_kind text NOT NULL,
  subject_id   uuid NOT NULL,
  subject_hash text NOT NULL,
  meaning      text NOT NULL CHECK (meaning IN ('AUTHORED','REVIEWED','APPROVED','WITHDRAWN')),
  statement    text,
  PRIMARY KEY (lab_id, id)
);
CREATE UNIQUE INDEX signature_once ON signature (lab_id, subject_id, meaning);

-- Samples ------------------------------------------------------------------------------------------------------------

CREATE TABLE crop (
  lab_id          uuid NOT NULL REFERENCES lab,
  id              uuid NOT NULL,
  recorded_at     timestamptz(3) NOT NULL,
  recorded_by     uuid NOT NULL REFERENCES account,
  content_hash    bytea NOT NULL,
  name            text NOT NULL,
  scientific_name text,
  PRIMARY KEY (lab_id, id)
);
CREATE UNIQUE INDEX crop_name ON crop (lab_id, lower(name));

CREATE TABLE plant (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  crop_id      uuid NOT NULL,
  label        text NOT NULL,
  cultivar     text,
  treatment    text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, crop_id) REFERENCES crop (lab_id, id)
);
CREATE UNIQUE INDEX plant_label ON plant (lab_id, label);

CREATE TABLE leaf (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  plant_id     uuid NOT NULL,
  label        text NOT NULL,
  position     text,
  growth_stage text,
  cut_at       timestamptz(3),
  cut_offset_min smallint,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, plant_id) REFERENCES plant (lab_id, id)
);
CREATE UNIQUE INDEX leaf_label ON leaf (lab_id, label);
CREATE INDEX leaf_plant ON leaf (lab_id, plant_id);

CREATE TABLE disc (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  leaf_id      uuid NOT NULL,
  label        text NOT NULL,
  diameter_mm  numeric CHECK (diameter_mm > 0),
  punched_at   timestamptz(3),
  punched_offset_min smallint,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, leaf_id) REFERENCES leaf (lab_id, id)
);
CREATE UNIQUE INDEX disc_label ON disc (lab_id, label);
CREATE INDEX disc_leaf ON disc (lab_id, leaf_id);
CREATE INDEX disc_newest ON disc (lab_id, id DESC);

-- Instruments --------------------------------------------------------------------------------------------------------

CREATE TABLE instrument (
  lab_id            uuid NOT NULL REFERENCES lab,
  id                uuid NOT NULL,
  recorded_at       timestamptz(3) NOT NULL,
  recorded_by       uuid NOT NULL REFERENCES account,
  content_hash      bytea NOT NULL,
  kind              text NOT NULL CHECK (kind IN ('BALANCE','POWER_METER','OVEN','BIAS_SOURCE')),
  label             text NOT NULL,
  serial_number     text,
  location          text,
  resolution        numeric CHECK (resolution > 0),
  repeatability     numeric CHECK (repeatability >= 0),
  unit              text NOT NULL,
  check_every_hours integer NOT NULL CHECK (check_every_hours > 0),
  PRIMARY KEY (lab_id, id)
);
CREATE UNIQUE INDEX instrument_label ON instrument (lab_id, label);

CREATE TABLE instrument_check (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  instrument_id       uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  nominal             numeric NOT NULL,
  shown               numeric NOT NULL,
  tolerance           numeric NOT NULL CHECK (tolerance >= 0),
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, instrument_id) REFERENCES instrument (lab_id, id)
);
CREATE INDEX instrument_check_time ON instrument_check (lab_id, instrument_id, observed_at DESC);

CREATE TABLE rig (
  lab_id         uuid NOT NULL REFERENCES lab,
  id             uuid NOT NULL,
  recorded_at    timestamptz(3) NOT NULL,
  recorded_by    uuid NOT NULL REFERENCES account,
  content_hash   bytea NOT NULL,
  label          text NOT NULL,
  version        integer NOT NULL CHECK (version > 0),
  source         text NOT NULL,
  band_centre_nm numeric NOT NULL CHECK (band_centre_nm > 0),
  band_width_nm  numeric NOT NULL CHECK (band_width_nm > 0),
  diffuser       text,
  diffuser_transmittance   numeric CHECK (diffuser_transmittance > 0 AND diffuser_transmittance <= 1),
  u_diffuser_transmittance numeric CHECK (u_diffuser_transmittance >= 0),
  aperture_mm    numeric CHECK (aperture_mm > 0),
  meter_id       uuid NOT NULL,
  PRIMARY KEY (lab_id, id),
  CHECK ((diffuser_transmittance IS NULL) = (u_diffuser_transmittance IS NULL)),
  FOREIGN KEY (lab_id, meter_id) REFERENCES instrument (lab_id, id)
);
CREATE UNIQUE INDEX rig_version ON rig (lab_id, label, version);

-- Bench --------------------------------------------------------------------------------------------------------------

CREATE TABLE drying_run (
  lab_id            uuid NOT NULL REFERENCES lab,
  id                uuid NOT NULL,
  recorded_at       timestamptz(3) NOT NULL,
  recorded_by       uuid NOT NULL REFERENCES account,
  content_hash      bytea NOT NULL,
  label             text NOT NULL,
  rig_id            uuid NOT NULL,
  balance_id        uuid NOT NULL,
  disc_ids          uuid[] NOT NULL,
  rhythm_min        integer NOT NULL CHECK (rhythm_min > 0),
  opened_at         timestamptz(3) NOT NULL,
  opened_offset_min smallint NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, rig_id) REFERENCES rig (lab_id, id),
  FOREIGN KEY (lab_id, balance_id) REFERENCES instrument (lab_id, id)
);
CREATE UNIQUE INDEX drying_run_label ON drying_run (lab_id, label);

CREATE TABLE drying_run_step (
  lab_id        uuid NOT NULL REFERENCES lab,
  id            uuid NOT NULL,
  recorded_at   timestamptz(3) NOT NULL,
  recorded_by   uuid NOT NULL REFERENCES account,
  content_hash  bytea NOT NULL,
  drying_run_id uuid NOT NULL,
  step          text NOT NULL CHECK (step IN ('CLOSED','RELEASED')),
  note          text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, drying_run_id) REFERENCES drying_run (lab_id, id)
);
CREATE UNIQUE INDEX drying_run_step_once ON drying_run_step (lab_id, drying_run_id, step);

CREATE TABLE oven_cycle (
  lab_id             uuid NOT NULL REFERENCES lab,
  id                 uuid NOT NULL,
  recorded_at        timestamptz(3) NOT NULL,
  recorded_by        uuid NOT NULL REFERENCES account,
  content_hash       bytea NOT NULL,
  label              text NOT NULL,
  oven_id            uuid NOT NULL,
  set_temperature_c  numeric NOT NULL,
  disc_ids           uuid[] NOT NULL,
  started_at         timestamptz(3) NOT NULL,
  started_offset_min smallint NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, oven_id) REFERENCES instrument (lab_id, id)
);
CREATE UNIQUE INDEX oven_cycle_label ON oven_cycle (lab_id, label);

CREATE TABLE oven_unloading (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  oven_cycle_id       uuid NOT NULL,
  unloaded_at         timestamptz(3) NOT NULL,
  unloaded_offset_min smallint NOT NULL,
  reason              text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, oven_cycle_id) REFERENCES oven_cycle (lab_id, id)
);
CREATE UNIQUE INDEX oven_unloading_once ON oven_unloading (lab_id, oven_cycle_id);

CREATE TABLE drying_import (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  file_name    text NOT NULL,
  file_hash    text NOT NULL,
  mapping      jsonb NOT NULL,
  crop_id      uuid NOT NULL,
  row_count    integer NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, crop_id) REFERENCES crop (lab_id, id)
);
CREATE INDEX drying_import_file ON drying_import (lab_id, file_hash);

CREATE TABLE weighing (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  disc_id             uuid NOT NULL,
  state               text NOT NULL CHECK (state IN ('TURGID','FRESH','DRYING','DRY')),
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  mass_text           text NOT NULL,
  mass_unit           text NOT NULL,
  mass_mg             numeric NOT NULL CHECK (mass_mg > 0),
  balance_id          uuid,
  drying_run_id       uuid,
  oven_cycle_id       uuid,
  drying_import_id    uuid,
  entry_mode          text NOT NULL CHECK (entry_mode IN ('LINE','TYPED','IMPORTED','SIMULATED')),
  raw_line            text NOT NULL,
  flags               jsonb NOT NULL DEFAULT '[]',
  flag_answer         text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, disc_id) REFERENCES disc (lab_id, id),
  FOREIGN KEY (lab_id, balance_id) REFERENCES instrument (lab_id, id),
  FOREIGN KEY (lab_id, drying_run_id) REFERENCES drying_run (lab_id, id),
  FOREIGN KEY (lab_id, oven_cycle_id) REFERENCES oven_cycle (lab_id, id),
  FOREIGN KEY (lab_id, drying_import_id) REFERENCES drying_import (lab_id, id)
);
CREATE INDEX weighing_disc ON weighing (lab_id, disc_id, observed_at);
CREATE INDEX weighing_run ON weighing (lab_id, drying_run_id, observed_at) WHERE drying_run_id IS NOT NULL;
CREATE INDEX weighing_oven ON weighing (lab_id, oven_cycle_id, observed_at) WHERE oven_cycle_id IS NOT NULL;

CREATE TABLE meter_reading (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  light_path          text NOT NULL CHECK (light_path IN ('DARK','REFERENCE','READING')),
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  power_text          text NOT NULL,
  power_unit          text NOT NULL,
  power_nw            numeric NOT NULL,
  disc_id             uuid,
  drying_run_id       uuid NOT NULL,
  entry_mode          text NOT NULL CHECK (entry_mode IN ('LINE','TYPED','IMPORTED','SIMULATED')),
  raw_line            text NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, disc_id) REFERENCES disc (lab_id, id),
  FOREIGN KEY (lab_id, drying_run_id) REFERENCES drying_run (lab_id, id),
  CHECK ((light_path = 'READING') = (disc_id IS NOT NULL))
);
CREATE INDEX meter_reading_run ON meter_reading (lab_id, drying_run_id, observed_at);

-- Results of the bench -----------------------------------------------------------------------------------------------

CREATE TABLE rwc_series (
  lab_id        uuid NOT NULL REFERENCES lab,
  id            uuid NOT NULL,
  recorded_at   timestamptz(3) NOT NULL,
  recorded_by   uuid NOT NULL REFERENCES account,
  content_hash  bytea NOT NULL,
  code_version  text NOT NULL,
  disc_id       uuid NOT NULL,
  drying_run_id uuid,
  document      jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, disc_id) REFERENCES disc (lab_id, id),
  FOREIGN KEY (lab_id, drying_run_id) REFERENCES drying_run (lab_id, id)
);
CREATE INDEX rwc_series_disc ON rwc_series (lab_id, disc_id, id DESC);
CREATE INDEX rwc_series_run ON rwc_series (lab_id, drying_run_id) WHERE drying_run_id IS NOT NULL;

CREATE TABLE calibration (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  label        text NOT NULL,
  crop_id      uuid NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, crop_id) REFERENCES crop (lab_id, id)
);
CREATE UNIQUE INDEX calibration_label ON calibration (lab_id, label);

CREATE TABLE calibration_version (
  lab_id         uuid NOT NULL REFERENCES lab,
  id             uuid NOT NULL,
  recorded_at    timestamptz(3) NOT NULL,
  recorded_by    uuid NOT NULL REFERENCES account,
  content_hash   bytea NOT NULL,
  code_version   text NOT NULL,
  calibration_id uuid NOT NULL,
  version        integer NOT NULL CHECK (version > 0),
  family         text NOT NULL CHECK (family IN ('LOG_LINEAR','LINEAR','EXPONENTIAL')),
  rig_id         uuid NOT NULL,
  document       jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, calibration_id) REFERENCES calibration (lab_id, id),
  FOREIGN KEY (lab_id, rig_id) REFERENCES rig (lab_id, id)
);
CREATE UNIQUE INDEX calibration_version_number ON calibration_version (lab_id, calibration_id, version);

-- Devices ------------------------------------------------------------------------------------------------------------

CREATE TABLE device_lot (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  label        text NOT NULL,
  PRIMARY KEY (lab_id, id)
);
CREATE UNIQUE INDEX device_lot_label ON device_lot (lab_id, label);

CREATE TABLE device_unit (
  lab_id        uuid NOT NULL REFERENCES lab,
  id            uuid NOT NULL,
  recorded_at   timestamptz(3) NOT NULL,
  recorded_by   uuid NOT NULL REFERENCES account,
  content_hash  bytea NOT NULL,
  device_lot_id uuid NOT NULL,
  label         text NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_lot_id) REFERENCES device_lot (lab_id, id)
);
CREATE UNIQUE INDEX device_unit_label ON device_unit (lab_id, label);
CREATE INDEX device_unit_lot ON device_unit (lab_id, device_lot_id);

CREATE TABLE bias_sweep (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_unit_id      uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  direction           text NOT NULL CHECK (direction IN ('UP','DOWN')),
  polarity            text NOT NULL CHECK (polarity IN ('POSITIVE','NEGATIVE')),
  steps               jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX bias_sweep_unit ON bias_sweep (lab_id, device_unit_id, observed_at);

CREATE TABLE trip_test (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_unit_id      uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  bias_v              numeric NOT NULL CHECK (bias_v >= 0),
  trip_power_text     text NOT NULL,
  trip_power_unit     text NOT NULL,
  trip_power_nw       numeric NOT NULL CHECK (trip_power_nw > 0),
  raw_line            text NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX trip_test_unit ON trip_test (lab_id, device_unit_id, observed_at);

CREATE TABLE bias_threshold_curve (
  lab_id         uuid NOT NULL REFERENCES lab,
  id             uuid NOT NULL,
  recorded_at    timestamptz(3) NOT NULL,
  recorded_by    uuid NOT NULL REFERENCES account,
  content_hash   bytea NOT NULL,
  code_version   text NOT NULL,
  device_unit_id uuid NOT NULL,
  document       jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX bias_threshold_curve_unit ON bias_threshold_curve (lab_id, device_unit_id, id DESC);

CREATE TABLE light_reference (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  label               text NOT NULL,
  site                text NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  power_text          text NOT NULL,
  power_unit          text NOT NULL,
  power_nw            numeric NOT NULL CHECK (power_nw > 0),
  relative_sd         numeric NOT NULL CHECK (relative_sd >= 0),
  basis               text NOT NULL CHECK (basis IN ('MEASURED','ASSUMED')),
  note                text,
  PRIMARY KEY (lab_id, id)
);
CREATE UNIQUE INDEX light_reference_label ON light_reference (lab_id, label);

CREATE TABLE threshold_certificate (
  lab_id                  uuid NOT NULL REFERENCES lab,
  id                      uuid NOT NULL,
  recorded_at             timestamptz(3) NOT NULL,
  recorded_by             uuid NOT NULL REFERENCES account,
  content_hash            bytea NOT NULL,
  code_version            text NOT NULL,
  device_unit_id          uuid NOT NULL,
  calibration_version_id  uuid NOT NULL,
  bias_threshold_curve_id uuid NOT NULL,
  light_reference_id      uuid NOT NULL,
  target_rwc              double precision NOT NULL CHECK (target_rwc > 0 AND target_rwc < 1),
  target_basis            text NOT NULL,
  valid_until             timestamptz(3) NOT NULL,
  override_reason         text,
  document                jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id),
  FOREIGN KEY (lab_id, calibration_version_id) REFERENCES calibration_version (lab_id, id),
  FOREIGN KEY (lab_id, bias_threshold_curve_id) REFERENCES bias_threshold_curve (lab_id, id),
  FOREIGN KEY (lab_id, light_reference_id) REFERENCES light_reference (lab_id, id)
);
CREATE INDEX threshold_certificate_unit ON threshold_certificate (lab_id, device_unit_id);
CREATE INDEX threshold_certificate_version ON threshold_certificate (lab_id, calibration_version_id);

-- Field --------------------------------------------------------------------------------------------------------------

CREATE TABLE installation (
  lab_id                   uuid NOT NULL REFERENCES lab,
  id                       uuid NOT NULL,
  recorded_at              timestamptz(3) NOT NULL,
  recorded_by              uuid NOT NULL REFERENCES account,
  content_hash             bytea NOT NULL,
  device_unit_id           uuid NOT NULL,
  threshold_certificate_id uuid NOT NULL,
  site                     text NOT NULL,
  zone                     text NOT NULL,
  plant_note               text NOT NULL,
  leaf_side                text NOT NULL CHECK (leaf_side IN ('ADAXIAL_UP','ABAXIAL_UP')),
  tilt_deg                 numeric,
  latitude                 numeric CHECK (latitude BETWEEN -90 AND 90),
  longitude                numeric CHECK (longitude BETWEEN -180 AND 180),
  bias_readback_v          numeric NOT NULL,
  armed_at                 timestamptz(3) NOT NULL,
  armed_offset_min         smallint NOT NULL,
  override_reason          text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id),
  FOREIGN KEY (lab_id, threshold_certificate_id) REFERENCES threshold_certificate (lab_id, id)
);
CREATE INDEX installation_unit ON installation (lab_id, device_unit_id);
CREATE INDEX installation_zone ON installation (lab_id, zone, id DESC);
CREATE INDEX installation_certificate ON installation (lab_id, threshold_certificate_id);

CREATE TABLE trip (
  lab_id             uuid NOT NULL REFERENCES lab,
  id                 uuid NOT NULL,
  recorded_at        timestamptz(3) NOT NULL,
  recorded_by        uuid NOT NULL REFERENCES account,
  content_hash       bytea NOT NULL,
  installation_id    uuid NOT NULL,
  tripped_at         timestamptz(3),
  tripped_offset_min smallint,
  seen_at            timestamptz(3) NOT NULL,
  seen_offset_min    smallint NOT NULL,
  source             text NOT NULL CHECK (source IN ('PERSON','LOGGER')),
  light_power_nw     numeric CHECK (light_power_nw > 0),
  note               text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, installation_id) REFERENCES installation (lab_id, id)
);
CREATE INDEX trip_installation ON trip (lab_id, installation_id);
CREATE INDEX trip_seen ON trip (lab_id, seen_at DESC, id DESC);

CREATE TABLE field_check (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  installation_id     uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  disc_ids            uuid[] NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, installation_id) REFERENCES installation (lab_id, id)
);
CREATE INDEX field_check_installation ON field_check (lab_id, installation_id);

CREATE TABLE decision (
  lab_id             uuid NOT NULL REFERENCES lab,
  id                 uuid NOT NULL,
  recorded_at        timestamptz(3) NOT NULL,
  recorded_by        uuid NOT NULL REFERENCES account,
  content_hash       bytea NOT NULL,
  decided_at         timestamptz(3) NOT NULL,
  decided_offset_min smallint NOT NULL,
  zone               text NOT NULL,
  action             text NOT NULL CHECK (action IN ('IRRIGATE','HOLD','INSPECT')),
  reason             text NOT NULL CHECK (reason <> ''),
  depth_mm           numeric CHECK (depth_mm >= 0),
  overrode           text,
  trip_ids           uuid[] NOT NULL,
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX decision_time ON decision (lab_id, decided_at DESC, id DESC);

DO $$
DECLARE kept text;
BEGIN
  FOREACH kept IN ARRAY ARRAY[
    'ledger_entry','lineage_edge','amendment','stale_mark','signature',
    'crop','plant','leaf','disc','instrument','instrument_check','rig',
    'drying_run','drying_run_step','oven_cycle','oven_unloading','drying_import','weighing','meter_reading',
    'rwc_series','calibration','calibration_version',
    'device_lot','device_unit','bias_sweep','trip_test','bias_threshold_curve','light_reference','threshold_certificate',
    'installation','trip','field_check','decision'
  ] LOOP
    CALL threadleaf_keep(kept::regclass);
  END LOOP;
END $$;
