-- Long work that people start, watch, cancel and repeat. Not part of the record: what a job makes is recorded as a record of
-- its own, and the row here points at it. The queue that hands jobs to processes stands in a schema of its own, made by
-- the migrator from the queue library's migrations; it knows ids only, so that nothing of a lab leaves the lab's fence.
CREATE TABLE job (
  lab_id      uuid NOT NULL REFERENCES lab,
  id          uuid NOT NULL,
  -- What is to be done; says which code does it.
  name        text NOT NULL,
  -- What a person calls it.
  label       text NOT NULL,
  -- Null: nobody asked, it is done every night.
  started_by  uuid REFERENCES account,
  payload     jsonb NOT NULL,
  state       text NOT NULL DEFAULT 'QUEUED' CHECK (state IN ('QUEUED','RUNNING','DONE','FAILED','CANCELLED')),
  -- How often it was begun. Also the fence of a run: one that was taken for dead finds another number here, and concludes nothing.
  attempt     integer NOT NULL DEFAULT 0,
  progress    double precision NOT NULL DEFAULT 0 CHECK (progress BETWEEN 0 AND 1),
  sentence    text,
  result_kind text,
  result_id   uuid,
  -- What it found, where that is no record.
  outcome     jsonb,
  error       text,
  remedy      text,
  queued_at   timestamptz(3) NOT NULL DEFAULT now(),
  began_at    timestamptz(3),
  ended_at    timestamptz(3),
  PRIMARY KEY (lab_id, id),
  CHECK ((result_kind IS NULL) = (result_id IS NULL))
);
CREATE INDEX job_state ON job (lab_id, state, id DESC);

ALTER TABLE job ENABLE ROW LEVEL SECURITY;
ALTER TABLE job FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON job USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab());
GRANT SELECT, INSERT, DELETE ON job TO threadleaf_app;
GRANT UPDATE (state, attempt, progress, sentence, result_kind, result_id, outcome, error, remedy, queued_at, began_at, ended_at) ON job TO threadleaf_app;
