-- Sharing of calibrations between labs. What a lab shares is a statement of its own, sealed as a pack; other labs never read its other
-- tables. A policy beside of_lab lets the audience of a grant see exactly: the grant, the statement, the sealed pack, how it stands.

-- A statement about a calibration version for others: figures, scope, signatures and terms, at the depth the lab allows.
CREATE TABLE calibration_share (
  lab_id                 uuid NOT NULL REFERENCES lab,
  id                     uuid NOT NULL,
  recorded_at            timestamptz(3) NOT NULL,
  recorded_by            uuid NOT NULL REFERENCES account,
  content_hash           bytea NOT NULL,
  calibration_version_id uuid NOT NULL,
  depth                  text NOT NULL CHECK (depth IN ('SUMMARY','RAW')),
  permits                text NOT NULL CHECK (permits IN ('READ','REUSE')),
  licence                text NOT NULL CHECK (licence <> ''),
  citation               text NOT NULL CHECK (citation <> ''),
  document               jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, calibration_version_id) REFERENCES calibration_version (lab_id, id)
);
-- Others know a share by its id alone: no two labs may use one.
CREATE UNIQUE INDEX calibration_share_everywhere ON calibration_share (id);
CREATE INDEX calibration_share_version ON calibration_share (lab_id, calibration_version_id);
CALL threadleaf_keep('calibration_share');

-- Who may see a share, and until when.
CREATE TABLE share_grant (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  share_id     uuid NOT NULL,
  audience     text NOT NULL CHECK (audience IN ('LABS','EVERY_LAB')),
  lab_ids      uuid[] NOT NULL,
  until        timestamptz(3),
  PRIMARY KEY (lab_id, id),
  CHECK ((audience = 'EVERY_LAB') = (cardinality(lab_ids) = 0)),
  FOREIGN KEY (lab_id, share_id) REFERENCES calibration_share (lab_id, id)
);
CREATE INDEX share_grant_share ON share_grant (lab_id, share_id);
CALL threadleaf_keep('share_grant');
CREATE POLICY to_audience ON share_grant FOR SELECT
  USING (current_lab() IS NOT NULL AND (audience = 'EVERY_LAB' OR current_lab() = ANY (lab_ids)));

-- A grant taken back. It says for whom it was, so that they are told without reading anything else of the lab.
CREATE TABLE share_grant_withdrawal (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  grant_id     uuid NOT NULL,
  audience     text NOT NULL CHECK (audience IN ('LABS','EVERY_LAB')),
  lab_ids      uuid[] NOT NULL,
  reason       text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, grant_id) REFERENCES share_grant (lab_id, id)
);
CREATE UNIQUE INDEX share_grant_withdrawal_once ON share_grant_withdrawal (lab_id, grant_id);
CALL threadleaf_keep('share_grant_withdrawal');
CREATE POLICY to_audience ON share_grant_withdrawal FOR SELECT
  USING (current_lab() IS NOT NULL AND (audience = 'EVERY_LAB' OR current_lab() = ANY (lab_ids)));

-- Whether a grant to the lab asking stands now. Asks as that lab, so that it finds only grants to it.
CREATE FUNCTION share_stands_open(giver uuid, share uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
  SELECT EXISTS (
    SELECT FROM share_grant g WHERE g.lab_id = giver AND g.share_id = share AND (g.until IS NULL OR g.until > now())
      AND NOT EXISTS (SELECT FROM share_grant_withdrawal w WHERE w.lab_id = g.lab_id AND w.grant_id = g.id))
$$;
CREATE POLICY to_audience ON calibration_share FOR SELECT USING (share_stands_open(lab_id, id));

-- The sealed pack of a share: what others get, byte for byte. Made from the record once its entry has its place in the ledger, and no part
-- of it: a pack proves itself.
CREATE TABLE shared_pack (
  lab_id    uuid NOT NULL REFERENCES lab,
  share_id  uuid NOT NULL,
  sealed_at timestamptz(3) NOT NULL DEFAULT now(),
  sha256    text NOT NULL CHECK (sha256 ~ '^[0-9a-f]{64}$'),
  bytes     bytea NOT NULL,
  PRIMARY KEY (lab_id, share_id),
  FOREIGN KEY (lab_id, share_id) REFERENCES calibration_share (lab_id, id)
);
ALTER TABLE shared_pack ALTER COLUMN bytes SET STORAGE EXTERNAL;
GRANT SELECT, INSERT ON shared_pack TO threadleaf_app;
ALTER TABLE shared_pack ENABLE ROW LEVEL SECURITY;
ALTER TABLE shared_pack FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON shared_pack USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab());
CREATE POLICY to_audience ON shared_pack FOR SELECT USING (share_stands_open(lab_id, share_id));

-- How a shared version stands with the lab that gave it, one row a change, written in the transaction of the change: what signatures and
-- stale marks say, in the words that others may read, and no part of the record. Those who were granted it read it for as long as they
-- live with what they took over, also when the grant has ended.
CREATE TABLE share_standing (
  lab_id        uuid NOT NULL REFERENCES lab,
  share_id      uuid NOT NULL,
  number        integer NOT NULL CHECK (number > 0),
  since         timestamptz(3) NOT NULL DEFAULT now(),
  state         text NOT NULL CHECK (state IN ('DRAFT','REVIEWED','APPROVED','SUPERSEDED','WITHDRAWN')),
  stale         boolean NOT NULL,
  reason        text,
  PRIMARY KEY (lab_id, share_id, number),
  FOREIGN KEY (lab_id, share_id) REFERENCES calibration_share (lab_id, id)
);
GRANT SELECT, INSERT ON share_standing TO threadleaf_app;
ALTER TABLE share_standing ENABLE ROW LEVEL SECURITY;
ALTER TABLE share_standing FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON share_standing USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab());
CREATE POLICY to_audience ON share_standing FOR SELECT
  USING (EXISTS (SELECT FROM share_grant g WHERE g.lab_id = share_standing.lab_id AND g.share_id = share_standing.share_id));

-- A shared version taken over into the own lab, from the server or from a file, with where it comes from and what was proven.
CREATE TABLE calibration_adoption (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  stored_file_id      uuid NOT NULL,
  source              text NOT NULL CHECK (source IN ('SERVER','FILE')),
  share_id            uuid NOT NULL,
  origin_lab_id       uuid NOT NULL,
  origin_lab          text NOT NULL,
  origin_ledger       text NOT NULL,
  origin_keys         text[] NOT NULL CHECK (cardinality(origin_keys) > 0),
  origin_version_id   uuid NOT NULL,
  origin_content_hash text NOT NULL CHECK (origin_content_hash ~ '^[0-9a-f]{64}$'),
  checkpoint          text NOT NULL,
  depth               text NOT NULL CHECK (depth IN ('SUMMARY','RAW')),
  licence             text NOT NULL,
  citation            text NOT NULL,
  document            jsonb NOT NULL,
  key_compared_with   text,
  reason              text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id),
  CHECK (source = 'SERVER' OR key_compared_with IS NOT NULL),
  FOREIGN KEY (lab_id, stored_file_id) REFERENCES stored_file (lab_id, id)
);
CREATE INDEX calibration_adoption_share ON calibration_adoption (lab_id, share_id);
CALL threadleaf_keep('calibration_adoption');

ALTER TABLE calibration_version ADD COLUMN calibration_adoption_id uuid;
ALTER TABLE calibration_version ADD FOREIGN KEY (lab_id, calibration_adoption_id) REFERENCES calibration_adoption (lab_id, id);
CREATE UNIQUE INDEX calibration_version_adoption ON calibration_version (lab_id, calibration_adoption_id) WHERE calibration_adoption_id IS NOT NULL;
