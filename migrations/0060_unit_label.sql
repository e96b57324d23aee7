-- Device units carry labels like samples: they are printed, and found by a scan under a leaf.
ALTER TABLE label_print DROP CONSTRAINT label_print_subject_kind_check;
ALTER TABLE label_print ADD CONSTRAINT label_print_subject_kind_check CHECK (subject_kind IN ('plant','leaf','disc','place','device_unit'));
CREATE INDEX device_unit_code ON device_unit (lab_id, code_key(id));
