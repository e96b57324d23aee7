-- What is said about a shared calibration between labs, and who wants to hear of it.

-- A comment or question on a calibration version: within the lab, or on one of its shares, where the lab that gave it and those it is
-- shared with read it too. It belongs to the lab that says it.
CREATE TABLE calibration_comment (
  lab_id                 uuid NOT NULL REFERENCES lab,
  id                     uuid NOT NULL,
  recorded_at            timestamptz(3) NOT NULL,
  recorded_by            uuid NOT NULL REFERENCES account,
  content_hash           bytea NOT NULL,
  giver_lab_id           uuid NOT NULL,
  calibration_version_id uuid NOT NULL,
  share_id               uuid,
  question               boolean NOT NULL,
  comment_text           text NOT NULL CHECK (comment_text <> ''),
  answers_id             uuid,
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX calibration_comment_version ON calibration_comment (calibration_version_id);
CALL threadleaf_keep('calibration_comment');
CREATE POLICY to_those_who_share ON calibration_comment FOR SELECT
  USING (current_lab() IS NOT NULL AND share_id IS NOT NULL AND (giver_lab_id = current_lab() OR share_stands_open(giver_lab_id, share_id)));

-- Who wants to be told of changes to a share. No part of the record.
CREATE TABLE share_subscription (
  lab_id       uuid NOT NULL REFERENCES lab,
  account_id   uuid NOT NULL REFERENCES account,
  giver_lab_id uuid NOT NULL,
  share_id     uuid NOT NULL,
  since        timestamptz(3) NOT NULL DEFAULT now(),
  PRIMARY KEY (lab_id, account_id, share_id)
);
GRANT SELECT, INSERT, DELETE ON share_subscription TO threadleaf_app;
ALTER TABLE share_subscription ENABLE ROW LEVEL SECURITY;
ALTER TABLE share_subscription FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON share_subscription USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab());

-- News of other labs that this lab's people were told: each lab fetches what it may see, and remembers here how far it has heard.
CREATE TABLE share_news_told (
  lab_id  uuid NOT NULL REFERENCES lab,
  news    text NOT NULL,
  told_at timestamptz(3) NOT NULL DEFAULT now(),
  PRIMARY KEY (lab_id, news)
);
GRANT SELECT, INSERT ON share_news_told TO threadleaf_app;
ALTER TABLE share_news_told ENABLE ROW LEVEL SECURITY;
ALTER TABLE share_news_told FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON share_news_told USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab());
