-- Spectra of leaves, lamps, suns, filters and absorbers, each with the file it was read from.
CREATE TABLE spectrum (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  label               text NOT NULL,
  spectrum_of         text NOT NULL CHECK (spectrum_of IN ('LEAF','LAMP','SUN','FILTER','ABSORBER')),
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  stored_file_id      uuid NOT NULL,
  -- How the file was read: its kind, which column or block, and the units of a table.
  reading             jsonb NOT NULL,
  -- Wavelengths in nm, rising, and a value at each.
  points              jsonb NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, stored_file_id) REFERENCES stored_file (lab_id, id)
);
CREATE UNIQUE INDEX spectrum_label ON spectrum (lab_id, label);
CALL threadleaf_keep('spectrum');
