-- Discs floating on water until they are turgid: since when, and when and how they were taken out. Until when follows from the protocol.

CREATE TABLE hydration (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  label               text NOT NULL CHECK (label <> ''),
  disc_ids            uuid[] NOT NULL CHECK (cardinality(disc_ids) > 0),
  protocol_id         uuid,
  started_at          timestamptz(3) NOT NULL,
  started_offset_min  smallint NOT NULL,
  water_c             numeric,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, protocol_id) REFERENCES protocol (lab_id, id)
);
CREATE INDEX hydration_discs ON hydration USING gin (disc_ids);
CREATE INDEX hydration_started ON hydration (lab_id, started_at DESC);
CALL threadleaf_keep('hydration');

CREATE TABLE hydration_end (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  hydration_id        uuid NOT NULL,
  taken_out_at        timestamptz(3) NOT NULL,
  taken_out_offset_min smallint NOT NULL,
  water_c             numeric,
  blotted             boolean NOT NULL,
  override_reason     text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, hydration_id) REFERENCES hydration (lab_id, id)
);
CREATE INDEX hydration_end_hydration ON hydration_end (lab_id, hydration_id);
CALL threadleaf_keep('hydration_end');
