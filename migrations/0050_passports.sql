-- Passports of device units: what each was found to be, what it went through, and why it left service.

ALTER TABLE bias_sweep ADD COLUMN temperature_c numeric;
ALTER TABLE bias_sweep ADD COLUMN volts_per_s numeric CHECK (volts_per_s > 0);

-- The file the instrument wrote, letter by letter.
ALTER TABLE bias_sweep ADD COLUMN stored_file_id uuid;
ALTER TABLE bias_sweep ADD FOREIGN KEY (lab_id, stored_file_id) REFERENCES stored_file (lab_id, id);

ALTER TABLE trip_test ADD COLUMN on_current_a numeric CHECK (on_current_a > 0);
ALTER TABLE trip_test ADD COLUMN off_current_a numeric CHECK (off_current_a > 0);
ALTER TABLE trip_test ADD COLUMN light_course text CHECK (light_course IN ('RAMPED','STEPPED','SHUTTERED'));
ALTER TABLE trip_test ADD COLUMN temperature_c numeric;
-- The record of shutter and light over the test.
ALTER TABLE trip_test ADD COLUMN stored_file_id uuid;
ALTER TABLE trip_test ADD FOREIGN KEY (lab_id, stored_file_id) REFERENCES stored_file (lab_id, id);

CREATE TABLE absorption_band (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_unit_id      uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  centre_nm           numeric NOT NULL CHECK (centre_nm > 0),
  width_nm            numeric NOT NULL CHECK (width_nm > 0),
  peak_absorptance    numeric CHECK (peak_absorptance > 0 AND peak_absorptance <= 1),
  method              text NOT NULL CHECK (method <> ''),
  stored_file_id      uuid,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id),
  FOREIGN KEY (lab_id, stored_file_id) REFERENCES stored_file (lab_id, id)
);
CREATE INDEX absorption_band_unit ON absorption_band (lab_id, device_unit_id, observed_at);

CREATE TABLE chopped_run (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_unit_id      uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  bias_v              numeric NOT NULL CHECK (bias_v >= 0),
  chop_hz             numeric NOT NULL CHECK (chop_hz > 0),
  trip_powers_nw      jsonb NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX chopped_run_unit ON chopped_run (lab_id, device_unit_id, observed_at);

CREATE TABLE reset_pulse (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_unit_id      uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  pulse_v             numeric NOT NULL CHECK (pulse_v > 0),
  pulse_ms            numeric NOT NULL CHECK (pulse_ms > 0),
  succeeded           boolean NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX reset_pulse_unit ON reset_pulse (lab_id, device_unit_id, observed_at);

CREATE TABLE temperature_run (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_unit_id      uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  bias_v              numeric NOT NULL CHECK (bias_v >= 0),
  steps               jsonb NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX temperature_run_unit ON temperature_run (lab_id, device_unit_id, observed_at);

CREATE TABLE cycle_count (
  lab_id                 uuid NOT NULL REFERENCES lab,
  id                     uuid NOT NULL,
  recorded_at            timestamptz(3) NOT NULL,
  recorded_by            uuid NOT NULL REFERENCES account,
  content_hash           bytea NOT NULL,
  device_unit_id         uuid NOT NULL,
  observed_at            timestamptz(3) NOT NULL,
  observed_offset_min    smallint NOT NULL,
  cycles                 integer NOT NULL CHECK (cycles >= 0),
  switching              text NOT NULL CHECK (switching IN ('COLD','HOT')),
  pull_in_v              numeric CHECK (pull_in_v > 0),
  contact_resistance_ohm numeric CHECK (contact_resistance_ohm > 0),
  note                   text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX cycle_count_unit ON cycle_count (lab_id, device_unit_id, observed_at);

-- A unit leaves service once; a retracted retirement brings it back.
CREATE TABLE unit_retirement (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_unit_id      uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  cause               text NOT NULL CHECK (cause IN ('RESET_FAILS','DRIFTED','WORN','DAMAGED','LOST','END_OF_USE')),
  reason              text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX unit_retirement_unit ON unit_retirement (lab_id, device_unit_id);

CREATE TABLE lot_acceptance (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  device_lot_id       uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  criterion           text NOT NULL CHECK (criterion <> ''),
  reliability         numeric NOT NULL CHECK (reliability > 0 AND reliability < 1),
  confidence          numeric NOT NULL CHECK (confidence > 0 AND confidence < 1),
  allowed_failures    integer NOT NULL CHECK (allowed_failures >= 0),
  tested_units        integer NOT NULL CHECK (tested_units > 0),
  failed_units        integer NOT NULL CHECK (failed_units >= 0 AND failed_units <= tested_units),
  needed_units        integer NOT NULL,
  shown_reliability   double precision NOT NULL,
  accepted            boolean NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, device_lot_id) REFERENCES device_lot (lab_id, id)
);
CREATE INDEX lot_acceptance_lot ON lot_acceptance (lab_id, device_lot_id);

DO $$
DECLARE kept text;
BEGIN
  FOREACH kept IN ARRAY ARRAY[
    'absorption_band','chopped_run','reset_pulse','temperature_run','cycle_count','unit_retirement','lot_acceptance'
  ] LOOP
    CALL threadleaf_keep(kept::regclass);
  END LOOP;
END $$;
