-- A second factor at sign-in and at signing: a secret shared with a person's authenticator (RFC 6238), sealed by a key that
-- is not in the database, and recovery codes of which only hashes are kept. Both are seen by their own account alone.
CREATE TABLE second_factor (
  account_id   uuid PRIMARY KEY REFERENCES account,
  sealed       bytea NOT NULL,
  -- The last time step a code was taken of: no code is good twice.
  last_step    bigint,
  started_at   timestamptz(3) NOT NULL DEFAULT now(),
  -- Set once its person has shown a code of it; until then it is asked for nowhere.
  confirmed_at timestamptz(3)
);

CREATE TABLE recovery_code (
  account_id uuid NOT NULL REFERENCES account,
  code_hash  bytea NOT NULL,
  used_at    timestamptz(3),
  PRIMARY KEY (account_id, code_hash)
);

DO $$
DECLARE own text;
BEGIN
  FOREACH own IN ARRAY ARRAY['second_factor','recovery_code'] LOOP
    EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', own);
    EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', own);
    EXECUTE format('CREATE POLICY of_self ON %I USING (account_id = current_account()) WITH CHECK (account_id = current_account())', own);
    EXECUTE format('GRANT SELECT, INSERT, UPDATE, DELETE ON %I TO threadleaf_app', own);
  END LOOP;
END $$;

-- How the person showed at signing that it was they.
ALTER TABLE signature ADD COLUMN confirmed_by text CHECK (confirmed_by IN ('PASSWORD','PASSWORD_AND_CODE'));
