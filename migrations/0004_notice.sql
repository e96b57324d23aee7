-- What a person should know: no part of the record, but told to people one by one and kept until they have seen it.
CREATE TABLE notice (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  account_id   uuid NOT NULL REFERENCES account,
  kind         text NOT NULL CHECK (kind <> ''),
  text         text NOT NULL CHECK (text <> ''),
  subject_kind text NOT NULL,
  subject_id   uuid NOT NULL,
  told_at      timestamptz(3) NOT NULL DEFAULT now(),
  seen_at      timestamptz(3),
  PRIMARY KEY (lab_id, id)
);
-- The same thing is not told twice while it has not been seen: who tells it may simply tell it again.
CREATE UNIQUE INDEX notice_unseen_once ON notice (lab_id, account_id, subject_id, kind, md5(text)) WHERE seen_at IS NULL;
CREATE INDEX notice_of_account ON notice (lab_id, account_id, id DESC);

GRANT SELECT, INSERT, UPDATE (seen_at) ON notice TO threadleaf_app;
ALTER TABLE notice ENABLE ROW LEVEL SECURITY;
ALTER TABLE notice FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON notice FOR SELECT USING (lab_id = current_lab());
CREATE POLICY told_in_lab ON notice FOR INSERT WITH CHECK (lab_id = current_lab());
-- Only the person it is told to has seen it.
CREATE POLICY seen_by_its_person ON notice FOR UPDATE USING (lab_id = current_lab() AND account_id = current_account());
