-- Whether a given calibration version holds for other leaves: of another crop, rig or time. A frozen result; see transfer-document.ts.
CREATE TABLE transfer_study (
  lab_id                 uuid NOT NULL REFERENCES lab,
  id                     uuid NOT NULL,
  recorded_at            timestamptz(3) NOT NULL,
  recorded_by            uuid NOT NULL REFERENCES account,
  content_hash           bytea NOT NULL,
  code_version           text NOT NULL,
  -- The calibration that was judged, when it is one of this lab.
  calibration_version_id uuid,
  -- Whose leaves it was held against.
  crop_id                uuid NOT NULL,
  -- Their readings in the light, or their water thickness alone.
  basis                  text NOT NULL CHECK (basis IN ('READINGS','WATER_THICKNESS')),
  document               jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, calibration_version_id) REFERENCES calibration_version (lab_id, id),
  FOREIGN KEY (lab_id, crop_id) REFERENCES crop (lab_id, id)
);
CREATE INDEX transfer_study_version ON transfer_study (lab_id, calibration_version_id, id DESC);
CALL threadleaf_keep('transfer_study');
