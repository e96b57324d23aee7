-- A secret address of a person's Due in a lab, for calendars that cannot sign in. No part of the record: only the hash of the
-- secret is kept, and a new one takes the place of the old.
CREATE TABLE calendar_feed (
  lab_id      uuid NOT NULL REFERENCES lab,
  account_id  uuid NOT NULL REFERENCES account,
  secret_hash bytea NOT NULL CHECK (octet_length(secret_hash) = 32),
  made_at     timestamptz(3) NOT NULL DEFAULT now(),
  PRIMARY KEY (lab_id, account_id)
);
CREATE UNIQUE INDEX calendar_feed_secret ON calendar_feed (secret_hash);
GRANT SELECT, INSERT, UPDATE (secret_hash, made_at), DELETE ON calendar_feed TO threadleaf_app;
ALTER TABLE calendar_feed ENABLE ROW LEVEL SECURITY;
ALTER TABLE calendar_feed FORCE ROW LEVEL SECURITY;
-- A calendar comes with the secret alone: only then is it known which lab it asks of. Nobody else is unfenced.
CREATE POLICY of_lab_or_unfenced ON calendar_feed FOR SELECT USING (current_lab() IS NULL OR lab_id = current_lab());
CREATE POLICY made_in_lab ON calendar_feed FOR INSERT WITH CHECK (lab_id = current_lab());
CREATE POLICY changed_by_its_person ON calendar_feed FOR UPDATE USING (lab_id = current_lab() AND account_id = current_account());
CREATE POLICY ended_by_its_person ON calendar_feed FOR DELETE USING (lab_id = current_lab() AND account_id = current_account());

-- Whether a trip was decided on is asked for every trip.
CREATE INDEX decision_trips ON decision USING gin (trip_ids);
CREATE INDEX drying_run_opened ON drying_run (lab_id, opened_at);
