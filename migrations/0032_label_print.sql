-- Each time labels were made for printing: what was on them, on which stock, and why again.

CREATE TABLE label_print (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  subject_kind text NOT NULL CHECK (subject_kind IN ('plant','leaf','disc','place')),
  subject_ids  uuid[] NOT NULL CHECK (cardinality(subject_ids) > 0),
  symbology    text NOT NULL CHECK (symbology IN ('DATA_MATRIX','QR','CODE_128')),
  stock        jsonb NOT NULL,
  first_place  integer NOT NULL CHECK (first_place >= 0),
  reason       text,
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX label_print_subjects ON label_print USING gin (subject_ids);
CALL threadleaf_keep('label_print');
