-- For what a calibration version may be used, and what ends it: stated before it is approved, so that the approval covers it.
-- Empty lists and nulls restrict nothing; crop and rig are those of the version.
CREATE TABLE calibration_scope (
  lab_id                 uuid NOT NULL REFERENCES lab,
  id                     uuid NOT NULL,
  recorded_at            timestamptz(3) NOT NULL,
  recorded_by            uuid NOT NULL REFERENCES account,
  content_hash           bytea NOT NULL,
  calibration_version_id uuid NOT NULL,
  cultivars              text[] NOT NULL,
  growth_stages          text[] NOT NULL,
  leaf_side              text CHECK (leaf_side IN ('ADAXIAL_UP','ABAXIAL_UP')),
  band_from_nm           numeric CHECK (band_from_nm > 0),
  band_to_nm             numeric CHECK (band_to_nm > 0),
  rwc_min                double precision NOT NULL CHECK (rwc_min >= 0),
  rwc_max                double precision NOT NULL CHECK (rwc_max <= 1.2),
  valid_until            timestamptz(3),
  ends_on                text[] NOT NULL CHECK (ends_on <@ ARRAY['LAMP_CHANGED','REFERENCE_OUT','FAILED_CHECK']),
  note                   text,
  PRIMARY KEY (lab_id, id),
  CHECK (rwc_min < rwc_max),
  CHECK (band_from_nm <= band_to_nm),
  FOREIGN KEY (lab_id, calibration_version_id) REFERENCES calibration_version (lab_id, id)
);
CREATE INDEX calibration_scope_version ON calibration_scope (lab_id, calibration_version_id, id DESC);
CALL threadleaf_keep('calibration_scope');
