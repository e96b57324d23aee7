-- Files that records point at: photos, certificates, curves, spectra, plans. The record tells name, type, size and hash;
-- the bytes lie beside it under their hash, once a lab, however often they are sent.

CREATE TABLE stored_bytes (
  lab_id uuid NOT NULL REFERENCES lab,
  sha256 text NOT NULL CHECK (sha256 ~ '^[0-9a-f]{64}$'),
  bytes  bytea NOT NULL,
  PRIMARY KEY (lab_id, sha256)
);
-- Photos and PDF are packed already: PostgreSQL need not try again.
ALTER TABLE stored_bytes ALTER COLUMN bytes SET STORAGE EXTERNAL;

CREATE TABLE stored_file (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  name         text NOT NULL CHECK (name <> ''),
  media_type   text NOT NULL,
  size_bytes   integer NOT NULL CHECK (size_bytes > 0),
  sha256       text NOT NULL CHECK (sha256 ~ '^[0-9a-f]{64}$'),
  purpose      text NOT NULL CHECK (purpose <> ''),
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, sha256) REFERENCES stored_bytes (lab_id, sha256)
);
CREATE INDEX stored_file_sha256 ON stored_file (lab_id, sha256);

CALL threadleaf_keep('stored_file');
CALL threadleaf_keep('stored_bytes');
