-- What the field's screens read quickly from a season of 10^6 events: the newest trip of an installation, and the few reports
-- of a standing latch among the many of an open one.
CREATE INDEX trip_installation_seen ON trip (lab_id, installation_id, seen_at DESC);
DROP INDEX trip_installation;
CREATE INDEX field_report_latched ON field_report (lab_id, installation_id, observed_at) WHERE latched;
