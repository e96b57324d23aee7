-- Which disc lies where in the oven, by which criterion it counts as dry, how warm it really was, and when it has cooled.

ALTER TABLE oven_cycle
  ADD COLUMN tray_rows integer CHECK (tray_rows > 0),
  ADD COLUMN tray_columns integer CHECK (tray_columns > 0),
  ADD COLUMN tray_map jsonb,
  ADD COLUMN constant_mass_rule text;

-- The discs that were scanned as they came out.
ALTER TABLE oven_unloading ADD COLUMN scanned_disc_ids uuid[];

CREATE TABLE oven_temperature (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  oven_cycle_id       uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  temperature_c       numeric NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, oven_cycle_id) REFERENCES oven_cycle (lab_id, id)
);
CREATE INDEX oven_temperature_cycle ON oven_temperature (lab_id, oven_cycle_id, observed_at);
CALL threadleaf_keep('oven_temperature');

-- Taken out to cool before a check weighing, or for good.
CREATE TABLE oven_cooling (
  lab_id             uuid NOT NULL REFERENCES lab,
  id                 uuid NOT NULL,
  recorded_at        timestamptz(3) NOT NULL,
  recorded_by        uuid NOT NULL REFERENCES account,
  content_hash       bytea NOT NULL,
  oven_cycle_id      uuid NOT NULL,
  taken_out_at       timestamptz(3) NOT NULL,
  taken_out_offset_min smallint NOT NULL,
  cooling_min        integer NOT NULL CHECK (cooling_min > 0),
  vessel             text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, oven_cycle_id) REFERENCES oven_cycle (lab_id, id)
);
CREATE INDEX oven_cooling_cycle ON oven_cooling (lab_id, oven_cycle_id, taken_out_at);
CALL threadleaf_keep('oven_cooling');
