-- How the work at the bench is to be done, and what a run was done under.

-- One version of a named protocol; a changed protocol is a new version. Its parameters: see protocol-parameters.ts.
CREATE TABLE protocol (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  name         text NOT NULL,
  version      integer NOT NULL CHECK (version > 0),
  changed_because text,
  parameters   jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  -- The first version changes nothing; every later one says why.
  CHECK ((version = 1) = (changed_because IS NULL))
);
CREATE UNIQUE INDEX protocol_version ON protocol (lab_id, lower(name), version);
CALL threadleaf_keep('protocol');

ALTER TABLE drying_run ADD COLUMN protocol_id uuid;
ALTER TABLE drying_run ADD FOREIGN KEY (lab_id, protocol_id) REFERENCES protocol (lab_id, id);
-- A fresh or dry weighing names no run: which protocol it falls under is found by its disc.
CREATE INDEX drying_run_discs ON drying_run USING gin (disc_ids);

-- What was looked at before the first reading of a run, and what was skipped for which reason.
CREATE TABLE preflight (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  drying_run_id       uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  balance_status      text NOT NULL CHECK (balance_status IN ('IN_CHECK','OVERDUE','FAILED','UNCHECKED')),
  balance_checked_at  timestamptz(3),
  lamp_on_since       timestamptz(3),
  lamp_on_offset_min  smallint,
  dark_id             uuid,
  reference_id        uuid,
  clock_offset_ms     integer,
  clock_round_trip_ms integer CHECK (clock_round_trip_ms >= 0),
  skipped             jsonb NOT NULL DEFAULT '[]',
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, drying_run_id) REFERENCES drying_run (lab_id, id),
  FOREIGN KEY (lab_id, dark_id) REFERENCES meter_reading (lab_id, id),
  FOREIGN KEY (lab_id, reference_id) REFERENCES meter_reading (lab_id, id)
);
CREATE INDEX preflight_run ON preflight (lab_id, drying_run_id);
CALL threadleaf_keep('preflight');

-- What the device at the bench knew besides the number: how far its clock was behind the server's, whether the balance had
-- settled, and the label as it was scanned. Null: not known.
ALTER TABLE weighing ADD COLUMN clock_offset_ms integer;
ALTER TABLE weighing ADD COLUMN stable boolean;
ALTER TABLE weighing ADD COLUMN scanned_text text;
ALTER TABLE meter_reading ADD COLUMN clock_offset_ms integer;
