-- The field: what loggers and people report of installed units, what ends an installation, rain, rules of a zone and what
-- they said, how a decision turned out, and the plan of a site.

ALTER TABLE installation ADD COLUMN plant_id uuid, ADD COLUMN photo_file_id uuid,
  ADD FOREIGN KEY (lab_id, plant_id) REFERENCES plant (lab_id, id),
  ADD FOREIGN KEY (lab_id, photo_file_id) REFERENCES stored_file (lab_id, id);
ALTER TABLE trip ADD COLUMN raw_line text;

-- A unit, or the person before it, said how it stands. That nothing was heard is not a fact: it is found by the moment.
CREATE TABLE field_report (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  installation_id     uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  latched             boolean NOT NULL,
  source              text NOT NULL CHECK (source IN ('PERSON','LOGGER')),
  light_power_nw      numeric CHECK (light_power_nw > 0),
  bias_readback_v     numeric,
  raw_line            text,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, installation_id) REFERENCES installation (lab_id, id)
);
CREATE INDEX field_report_installation ON field_report (lab_id, installation_id, observed_at DESC);

-- The latch was opened again by a reset pulse: the unit may trip anew.
CREATE TABLE latch_reset (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  installation_id     uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  opened              boolean NOT NULL,
  note                text,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, installation_id) REFERENCES installation (lab_id, id)
);
CREATE INDEX latch_reset_installation ON latch_reset (lab_id, installation_id, observed_at DESC);

CREATE TABLE installation_end (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  installation_id     uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  reason              text NOT NULL CHECK (reason <> ''),
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, installation_id) REFERENCES installation (lab_id, id)
);
CREATE UNIQUE INDEX installation_end_once ON installation_end (lab_id, installation_id);

CREATE TABLE rain (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  zone                text NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  depth_mm            numeric NOT NULL CHECK (depth_mm >= 0),
  note                text,
  PRIMARY KEY (lab_id, id)
);
CREATE INDEX rain_zone ON rain (lab_id, zone, observed_at DESC);

-- When the trips of a zone ask for water. Versions count within the zone; the newest approved one speaks.
CREATE TABLE zone_rule (
  lab_id             uuid NOT NULL REFERENCES lab,
  id                 uuid NOT NULL,
  recorded_at        timestamptz(3) NOT NULL,
  recorded_by        uuid NOT NULL REFERENCES account,
  content_hash       bytea NOT NULL,
  zone               text NOT NULL,
  version            integer NOT NULL CHECK (version > 0),
  latitude           numeric NOT NULL CHECK (latitude BETWEEN -90 AND 90),
  longitude          numeric NOT NULL CHECK (longitude BETWEEN -180 AND 180),
  needed             integer NOT NULL CHECK (needed > 0),
  windows            integer NOT NULL CHECK (windows > 0),
  hours_around_noon  numeric NOT NULL CHECK (hours_around_noon > 0),
  max_age_hours      numeric NOT NULL CHECK (max_age_hours > 0),
  silent_after_hours numeric NOT NULL CHECK (silent_after_hours > 0),
  min_healthy        integer NOT NULL CHECK (min_healthy > 0),
  lockout_hours      numeric NOT NULL CHECK (lockout_hours >= 0),
  rain_hold_mm       numeric NOT NULL CHECK (rain_hold_mm >= 0),
  rain_hold_hours    numeric NOT NULL CHECK (rain_hold_hours >= 0),
  basis              text NOT NULL CHECK (basis <> ''),
  PRIMARY KEY (lab_id, id)
);
CREATE UNIQUE INDEX zone_rule_version ON zone_rule (lab_id, zone, version);

-- What a rule said at a moment, frozen.
CREATE TABLE zone_advice (
  lab_id       uuid NOT NULL REFERENCES lab,
  id           uuid NOT NULL,
  recorded_at  timestamptz(3) NOT NULL,
  recorded_by  uuid NOT NULL REFERENCES account,
  content_hash bytea NOT NULL,
  code_version text NOT NULL,
  zone         text NOT NULL,
  zone_rule_id uuid NOT NULL,
  made_for     timestamptz(3) NOT NULL,
  document     jsonb NOT NULL,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, zone_rule_id) REFERENCES zone_rule (lab_id, id)
);
CREATE INDEX zone_advice_zone ON zone_advice (lab_id, zone, made_for DESC);

ALTER TABLE decision ADD COLUMN zone_advice_id uuid,
  ADD FOREIGN KEY (lab_id, zone_advice_id) REFERENCES zone_advice (lab_id, id);
CREATE INDEX decision_zone ON decision (lab_id, zone, decided_at DESC);

-- What became of a decision, looked at later.
CREATE TABLE decision_outcome (
  lab_id              uuid NOT NULL REFERENCES lab,
  id                  uuid NOT NULL,
  recorded_at         timestamptz(3) NOT NULL,
  recorded_by         uuid NOT NULL REFERENCES account,
  content_hash        bytea NOT NULL,
  decision_id         uuid NOT NULL,
  observed_at         timestamptz(3) NOT NULL,
  observed_offset_min smallint NOT NULL,
  verdict             text NOT NULL CHECK (verdict IN ('RIGHT','TOO_EARLY','TOO_LATE','NOT_NEEDED','UNCLEAR')),
  seen                text NOT NULL CHECK (seen <> ''),
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, decision_id) REFERENCES decision (lab_id, id)
);
CREATE INDEX decision_outcome_decision ON decision_outcome (lab_id, decision_id);

-- A picture of a site with the coordinates of its edges: the map needs no service from outside.
CREATE TABLE site_plan (
  lab_id         uuid NOT NULL REFERENCES lab,
  id             uuid NOT NULL,
  recorded_at    timestamptz(3) NOT NULL,
  recorded_by    uuid NOT NULL REFERENCES account,
  content_hash   bytea NOT NULL,
  site           text NOT NULL,
  stored_file_id uuid NOT NULL,
  north_deg      numeric NOT NULL CHECK (north_deg BETWEEN -90 AND 90),
  south_deg      numeric NOT NULL CHECK (south_deg BETWEEN -90 AND 90),
  west_deg       numeric NOT NULL CHECK (west_deg BETWEEN -180 AND 180),
  east_deg       numeric NOT NULL CHECK (east_deg BETWEEN -180 AND 180),
  PRIMARY KEY (lab_id, id),
  CHECK (north_deg > south_deg AND east_deg > west_deg),
  FOREIGN KEY (lab_id, stored_file_id) REFERENCES stored_file (lab_id, id)
);
CREATE INDEX site_plan_site ON site_plan (lab_id, site, id DESC);

DO $$
DECLARE kept text;
BEGIN
  FOREACH kept IN ARRAY ARRAY['field_report','latch_reset','installation_end','rain','zone_rule','zone_advice','decision_outcome','site_plan'] LOOP
    CALL threadleaf_keep(kept::regclass);
  END LOOP;
END $$;
