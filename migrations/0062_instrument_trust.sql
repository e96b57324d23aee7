-- How far an instrument may be trusted: what its maker or a calibration says of it, until when, and the reason of a person
-- who used one that was not in check all the same.

ALTER TABLE instrument ADD COLUMN linearity numeric CHECK (linearity >= 0), ADD COLUMN drift_per_year numeric CHECK (drift_per_year >= 0);

ALTER TABLE weighing ADD COLUMN override_reason text;
ALTER TABLE meter_reading ADD COLUMN override_reason text;

-- Calibrated by somebody else, with their certificate; figures in the unit of the instrument.
CREATE TABLE instrument_calibration (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  instrument_id       uuid NOT NULL,
  calibrated_at       timestamptz(3) NOT NULL,
  calibrated_offset_min smallint NOT NULL,
  due_at              timestamptz(3) NOT NULL,
  due_offset_min      smallint NOT NULL,
  calibrated_by       text NOT NULL CHECK (calibrated_by <> ''),
  certificate_number  text,
  certificate_file_id uuid,
  largest_error       numeric CHECK (largest_error >= 0),
  expanded_uncertainty numeric CHECK (expanded_uncertainty > 0),
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, instrument_id) REFERENCES instrument (lab_id, id),
  FOREIGN KEY (lab_id, certificate_file_id) REFERENCES stored_file (lab_id, id),
  CHECK (due_at > calibrated_at)
);
CREATE INDEX instrument_calibration_instrument ON instrument_calibration (lab_id, instrument_id, calibrated_at DESC);
CALL threadleaf_keep('instrument_calibration');
