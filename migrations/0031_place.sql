-- Where things are: a tree of places, and who took what to which of them when.

CREATE TABLE place (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  place_kind   text NOT NULL CHECK (place_kind IN ('SITE','BUILDING','ROOM','STORE','RACK','TRAY','POSITION')),
  label        text NOT NULL,
  inside_id    uuid,
  note         text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, inside_id) REFERENCES place (lab_id, id)
);
CREATE UNIQUE INDEX place_label ON place (lab_id, coalesce(inside_id, '00000000-0000-0000-0000-000000000000'), lower(label));
CREATE INDEX place_code ON place (lab_id, code_key(id));
CREATE INDEX place_words ON place USING gin (letters_in_threes(sample_words(label, id)));
CALL threadleaf_keep('place');

-- No place: the person who recorded it took it along.
CREATE TABLE custody (
  lab_id           uuid NOT NULL REFERENCES lab,
  id               uuid NOT NULL,
  recorded_at      timestamptz(3) NOT NULL,
  recorded_by      uuid NOT NULL REFERENCES account,
  content_hash     bytea NOT NULL,
  subject_kind     text NOT NULL CHECK (subject_kind IN ('plant','leaf','disc','place')),
  subject_id       uuid NOT NULL,
  place_id         uuid,
  moved_at         timestamptz(3) NOT NULL,
  moved_offset_min smallint NOT NULL,
  note             text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, place_id) REFERENCES place (lab_id, id)
);
CREATE INDEX custody_subject ON custody (lab_id, subject_id, moved_at DESC, id DESC);
CREATE INDEX custody_place ON custody (lab_id, place_id);
CALL threadleaf_keep('custody');

-- The newest move of each thing that was not retracted.
CREATE VIEW standing_custody WITH (security_invoker = true) AS
  SELECT DISTINCT ON (c.lab_id, c.subject_id) c.*
  FROM custody c
  WHERE NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = c.lab_id AND a.target_id = c.id)
  ORDER BY c.lab_id, c.subject_id, c.moved_at DESC, c.id DESC;

-- A place is inside what it was moved to, or what it was made in.
CREATE VIEW place_as_moved WITH (security_invoker = true) AS
  SELECT p.lab_id, p.id, p.place_kind, p.label, p.note, CASE WHEN c.id IS NULL THEN p.inside_id ELSE c.place_id END AS inside_id
  FROM place p LEFT JOIN standing_custody c ON c.lab_id = p.lab_id AND c.subject_id = p.id;

GRANT SELECT ON standing_custody, place_as_moved TO threadleaf_app;
