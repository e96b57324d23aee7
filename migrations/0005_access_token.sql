-- Access tokens: what a script, a logger or a bench computer acts with, for one person of one lab and within its scopes.
--
-- Making one and revoking it are facts like any other. Only the hash of the secret is kept: whoever reads the database
-- cannot act with it. The secret names its lab and token, so that it is looked for inside that lab's fence.

CREATE TABLE access_token (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  label        text NOT NULL CHECK (label <> ''),
  scopes       text[] NOT NULL CHECK (cardinality(scopes) > 0),
  expires_at   timestamptz(3) NOT NULL,
  secret_hash  text NOT NULL CHECK (secret_hash ~ '^[0-9a-f]{64}$'),
  PRIMARY KEY (lab_id, id)
);
CREATE UNIQUE INDEX access_token_label ON access_token (lab_id, lower(label));

CREATE TABLE access_token_revocation (
  lab_id          uuid NOT NULL REFERENCES lab,
  id              uuid NOT NULL,
  recorded_at     timestamptz(3) NOT NULL,
  recorded_by     uuid NOT NULL REFERENCES account,
  content_hash    bytea NOT NULL,
  access_token_id uuid NOT NULL,
  reason          text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, access_token_id) REFERENCES access_token (lab_id, id)
);
CREATE UNIQUE INDEX access_token_revocation_once ON access_token_revocation (lab_id, access_token_id);

CALL threadleaf_keep('access_token');
CALL threadleaf_keep('access_token_revocation');

-- The token that a write came through, where it did not come from a signed-in hand. It stands in the entry's leaf.
ALTER TABLE ledger_entry ADD COLUMN token_id uuid;
