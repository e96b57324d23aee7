-- What came of computing every result of a lab again, night by night. No part of the record: it can be done again any time.
CREATE TABLE recompute_run (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  ended_at     timestamptz(3) NOT NULL DEFAULT now(),
  -- Null: nobody asked, it is done every night.
  started_by   uuid REFERENCES account,
  code_version text NOT NULL,
  result_count integer NOT NULL CHECK (result_count >= 0),
  differ_count integer NOT NULL CHECK (differ_count BETWEEN 0 AND result_count),
  -- Of those that differ, the first some: kind, id, label, code then, values then and now.
  differing    jsonb NOT NULL,
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX recompute_run_time ON recompute_run (lab_id, ended_at DESC, id);

GRANT SELECT, INSERT ON recompute_run TO threadleaf_app;
ALTER TABLE recompute_run ENABLE ROW LEVEL SECURITY;
ALTER TABLE recompute_run FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON recompute_run USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab());
