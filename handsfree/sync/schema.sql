-- What a server of handsfree records holds. Run once by a database owner, in a database of its own:
--   handsfree sync schema | psql -v ON_ERROR_STOP=1 DATABASE
-- Stations log in with roles that are members of handsfree_station: they may read and add facts,
-- and can neither change nor delete one.
BEGIN;
DO $$ BEGIN
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'handsfree_station') THEN
    CREATE ROLE handsfree_station NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE;
  END IF;
END $$;
CREATE SCHEMA IF NOT EXISTS handsfree;
CREATE TABLE IF NOT EXISTS handsfree.about (
  only_row boolean PRIMARY KEY DEFAULT true CHECK (only_row),
  form integer NOT NULL,                              -- version of this schema
  server_id uuid NOT NULL DEFAULT gen_random_uuid()   -- tells this server from another
);
INSERT INTO handsfree.about (form) VALUES (1) ON CONFLICT DO NOTHING;
CREATE TABLE IF NOT EXISTS handsfree.facts (
  seq bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, -- order of arrival; stations read by it
  id uuid NOT NULL UNIQUE,                             -- UUID version 7, made by the station
  tab text NOT NULL,                                   -- table of the station
  station_id uuid NOT NULL,                            -- the station that made it
  arrived timestamptz NOT NULL DEFAULT clock_timestamp(),
  body json NOT NULL                                   -- the row as it stands there
);
CREATE OR REPLACE FUNCTION handsfree.refuse() RETURNS trigger LANGUAGE plpgsql AS
  $$ BEGIN RAISE EXCEPTION 'facts are never changed'; END $$;
CREATE OR REPLACE TRIGGER facts_keep_changed BEFORE UPDATE ON handsfree.facts
  FOR EACH ROW EXECUTE FUNCTION handsfree.refuse();
REVOKE ALL ON SCHEMA handsfree FROM PUBLIC;
REVOKE ALL ON ALL TABLES IN SCHEMA handsfree FROM PUBLIC;
GRANT USAGE ON SCHEMA handsfree TO handsfree_station;
GRANT SELECT ON handsfree.about TO handsfree_station;
GRANT SELECT, INSERT ON handsfree.facts TO handsfree_station;
COMMIT;
