-- Certificates: the two RWC values an agronomist names, the bias source, and whole lots at once.

ALTER TABLE threshold_certificate ADD COLUMN false_trip_rwc double precision CHECK (false_trip_rwc > 0 AND false_trip_rwc <= 1);
ALTER TABLE threshold_certificate ADD COLUMN missed_trip_rwc double precision CHECK (missed_trip_rwc > 0 AND missed_trip_rwc <= 1);
ALTER TABLE threshold_certificate ADD COLUMN bias_source_id uuid;
ALTER TABLE threshold_certificate ADD FOREIGN KEY (lab_id, bias_source_id) REFERENCES instrument (lab_id, id);
ALTER TABLE threshold_certificate ADD COLUMN certificate_batch_id uuid;

-- What was asked for several units at once; each unit then has its own certificate, or its own refusal.
CREATE TABLE certificate_batch (
  lab_id                 uuid NOT NULL REFERENCES lab,
  id                     uuid NOT NULL,
  recorded_at            timestamptz(3) NOT NULL,
  recorded_by            uuid NOT NULL REFERENCES account,
  content_hash           bytea NOT NULL,
  device_unit_ids        uuid[] NOT NULL,
  calibration_version_id uuid NOT NULL,
  light_reference_id     uuid NOT NULL,
  bias_source_id         uuid,
  target_rwc             double precision NOT NULL CHECK (target_rwc > 0 AND target_rwc < 1),
  target_basis           text NOT NULL,
  false_trip_rwc         double precision,
  missed_trip_rwc        double precision,
  bias_step_v            double precision NOT NULL CHECK (bias_step_v > 0),
  valid_until            timestamptz(3) NOT NULL,
  override_reason        text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, calibration_version_id) REFERENCES calibration_version (lab_id, id),
  FOREIGN KEY (lab_id, light_reference_id) REFERENCES light_reference (lab_id, id),
  FOREIGN KEY (lab_id, bias_source_id) REFERENCES instrument (lab_id, id)
);

ALTER TABLE threshold_certificate ADD FOREIGN KEY (lab_id, certificate_batch_id) REFERENCES certificate_batch (lab_id, id);
CREATE INDEX threshold_certificate_batch ON threshold_certificate (lab_id, certificate_batch_id) WHERE certificate_batch_id IS NOT NULL;

CREATE TABLE certificate_refusal (
  lab_id               uuid NOT NULL REFERENCES lab,
  id                   uuid NOT NULL,
  recorded_at          timestamptz(3) NOT NULL,
  recorded_by          uuid NOT NULL REFERENCES account,
  content_hash         bytea NOT NULL,
  certificate_batch_id uuid NOT NULL,
  device_unit_id       uuid NOT NULL,
  code                 text NOT NULL,
  message              text NOT NULL,
  remedy               text NOT NULL,
  objections           jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, certificate_batch_id) REFERENCES certificate_batch (lab_id, id),
  FOREIGN KEY (lab_id, device_unit_id) REFERENCES device_unit (lab_id, id)
);
CREATE INDEX certificate_refusal_batch ON certificate_refusal (lab_id, certificate_batch_id);

CALL threadleaf_keep('certificate_batch');
CALL threadleaf_keep('certificate_refusal');
