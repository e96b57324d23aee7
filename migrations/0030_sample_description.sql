-- Samples told more fully; their description amended, their loss told; found by any part of label or id, or by their code.

ALTER TABLE plant ADD COLUMN mother_id uuid, ADD FOREIGN KEY (lab_id, mother_id) REFERENCES plant (lab_id, id);
ALTER TABLE leaf ADD COLUMN photo_id uuid, ADD FOREIGN KEY (lab_id, photo_id) REFERENCES stored_file (lab_id, id);
ALTER TABLE disc ADD COLUMN position text, ADD COLUMN leaf_side text CHECK (leaf_side IN ('ADAXIAL_UP','ABAXIAL_UP'));

-- What was wrong in the description of a sample: members of was and becomes are the columns' names in the entity.
CREATE TABLE sample_amendment (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  subject_kind text NOT NULL CHECK (subject_kind IN ('plant','leaf','disc')),
  subject_id   uuid NOT NULL,
  was          jsonb NOT NULL,
  becomes      jsonb NOT NULL,
  reason       text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX sample_amendment_subject ON sample_amendment (lab_id, subject_id);
CALL threadleaf_keep('sample_amendment');

CREATE TABLE sample_loss (
  lab_id             uuid NOT NULL REFERENCES lab,
  id                 uuid NOT NULL,
  recorded_at        timestamptz(3) NOT NULL,
  recorded_by        uuid NOT NULL REFERENCES account,
  content_hash       bytea NOT NULL,
  subject_kind       text NOT NULL CHECK (subject_kind IN ('plant','leaf','disc')),
  subject_id         uuid NOT NULL,
  outcome            text NOT NULL CHECK (outcome IN ('LOST','DESTROYED')),
  noticed_at         timestamptz(3) NOT NULL,
  noticed_offset_min smallint NOT NULL,
  reason             text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX sample_loss_subject ON sample_loss (lab_id, subject_id);
CALL threadleaf_keep('sample_loss');

-- What stands: the newest amendment of each column wins. The caller's own fence holds in these views.
CREATE VIEW sample_becomes WITH (security_invoker = true) AS
  SELECT a.lab_id, a.subject_id, jsonb_object_agg(change.key, change.value ORDER BY a.recorded_at, a.id) AS becomes
  FROM sample_amendment a CROSS JOIN LATERAL jsonb_each(a.becomes) AS change
  GROUP BY a.lab_id, a.subject_id;

CREATE FUNCTION as_amended(becomes jsonb, member text, recorded text) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE
  AS $$ SELECT CASE WHEN becomes ? member THEN becomes->>member ELSE recorded END $$;

CREATE VIEW plant_as_amended WITH (security_invoker = true) AS
  SELECT p.lab_id, p.id, p.crop_id, p.mother_id, p.label,
    as_amended(b.becomes, 'cultivar', p.cultivar) AS cultivar, as_amended(b.becomes, 'treatment', p.treatment) AS treatment
  FROM plant p LEFT JOIN sample_becomes b ON b.lab_id = p.lab_id AND b.subject_id = p.id;

CREATE VIEW leaf_as_amended WITH (security_invoker = true) AS
  SELECT l.lab_id, l.id, l.plant_id, l.photo_id, l.label,
    as_amended(b.becomes, 'position', l.position) AS position, as_amended(b.becomes, 'growthStage', l.growth_stage) AS growth_stage, l.cut_at, l.cut_offset_min
  FROM leaf l LEFT JOIN sample_becomes b ON b.lab_id = l.lab_id AND b.subject_id = l.id;

CREATE VIEW disc_as_amended WITH (security_invoker = true) AS
  SELECT d.lab_id, d.id, d.leaf_id, d.label,
    as_amended(b.becomes, 'position', d.position) AS position, as_amended(b.becomes, 'leafSide', d.leaf_side) AS leaf_side,
    as_amended(b.becomes, 'diameterMm', d.diameter_mm::text)::numeric AS diameter_mm, d.punched_at, d.punched_offset_min
  FROM disc d LEFT JOIN sample_becomes b ON b.lab_id = d.lab_id AND b.subject_id = d.id;

-- A loss stands until it is retracted: the sample was found again.
CREATE VIEW standing_loss WITH (security_invoker = true) AS
  SELECT DISTINCT ON (l.lab_id, l.subject_id) l.*
  FROM sample_loss l
  WHERE NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = l.lab_id AND a.target_id = l.id)
  ORDER BY l.lab_id, l.subject_id, l.noticed_at DESC, l.id DESC;

GRANT SELECT ON sample_becomes, plant_as_amended, leaf_as_amended, disc_as_amended, standing_loss TO threadleaf_app;

-- Every three letters in a row of a text, small. An array of them can be indexed on any PostgreSQL, without an extension.
CREATE FUNCTION letters_in_threes(text) RETURNS text[] LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE
  AS $$ SELECT coalesce(array_agg(DISTINCT substr(lower($1), i, 3)), '{}') FROM generate_series(1, length($1) - 2) AS i $$;

-- What a sample is searched by: label and id.
CREATE FUNCTION sample_words(label text, id uuid) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE
  AS $$ SELECT label || ' ' || id::text $$;

-- The key behind a printed code: see libs/label.
CREATE FUNCTION code_key(id uuid) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE
  AS $$ SELECT left(encode(sha256(uuid_send(id)), 'hex'), 12) $$;

DO $$
DECLARE sampled text;
BEGIN
  FOREACH sampled IN ARRAY ARRAY['plant','leaf','disc'] LOOP
    EXECUTE format('CREATE INDEX %1$s_words ON %1$s USING gin (letters_in_threes(sample_words(label, id)))', sampled);
    EXECUTE format('CREATE INDEX %1$s_code ON %1$s (lab_id, code_key(id))', sampled);
  END LOOP;
END $$;
CREATE INDEX plant_mother ON plant (lab_id, mother_id) WHERE mother_id IS NOT NULL;
