-- What a server of handsfree records holds. Run once by a database owner, in a database of its own,
-- and again after an update that says so:
--   handsfree sync --schema | psql -v ON_ERROR_STOP=1 DATABASE
-- Stations log in with roles of their own. A member of handsfree_station reads and adds facts of
-- every site; a member of handsfree_site those of the sites that handsfree.members names for it,
-- and none where it names none. Neither can change or delete one.
BEGIN;
DO $$ DECLARE one text; BEGIN
  FOREACH one IN ARRAY ARRAY['handsfree_station', 'handsfree_site'] LOOP
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = one) THEN
      EXECUTE format('CREATE ROLE %I NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE', one);
    END IF;
  END LOOP;
END $$;
CREATE SCHEMA IF NOT EXISTS handsfree;
CREATE TABLE IF NOT EXISTS handsfree.about (
  only_row boolean PRIMARY KEY DEFAULT true CHECK (only_row),
  form integer NOT NULL,                              -- version of this schema
  server_id uuid NOT NULL DEFAULT gen_random_uuid()   -- tells this server from another
);
INSERT INTO handsfree.about (form) VALUES (2) ON CONFLICT DO NOTHING;
-- Facts of version 1 say nothing of sites. They are put aside, and every station offers all that
-- it holds again, because the server is a new one to it.
DO $$ BEGIN
  IF (SELECT form FROM handsfree.about) = 1 THEN
    ALTER TABLE handsfree.facts RENAME TO facts_1;
    UPDATE handsfree.about SET form = 2, server_id = gen_random_uuid();
  END IF;
END $$;
CREATE TABLE IF NOT EXISTS handsfree.members (
  role name NOT NULL,                                  -- a member of handsfree_site
  site_id uuid NOT NULL,                               -- a site: handsfree sync --sites
  PRIMARY KEY (role, site_id)
);
CREATE TABLE IF NOT EXISTS handsfree.dog_sites (
  dog_id uuid NOT NULL,
  site_id uuid NOT NULL,                               -- a site at which the dog is or was
  placed_at text NOT NULL,                             -- by the station's clock; empty: made there
  came_seq bigint NOT NULL,                            -- the fact with which it came
  gone_seq bigint,                                     -- the last fact that is seen there
  PRIMARY KEY (dog_id, site_id)
);
CREATE INDEX IF NOT EXISTS dog_sites_came ON handsfree.dog_sites (site_id, came_seq);
CREATE TABLE IF NOT EXISTS handsfree.facts (
  seq bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, -- order of arrival; stations read by it
  id uuid NOT NULL UNIQUE,                             -- UUID version 7, made by the station
  tab text NOT NULL,                                   -- table of the station
  station_id uuid NOT NULL,                            -- the station that made it
  dog_id uuid,                                         -- the dog that it is about
  site_id uuid,                                        -- the site that it is about
  open boolean NOT NULL,                               -- of no dog and no site: for everybody
  sent_by name NOT NULL DEFAULT session_user,          -- the role that brought it
  arrived timestamptz NOT NULL DEFAULT clock_timestamp(),
  body json NOT NULL,                                  -- the row as it stands there
  CHECK (NOT open OR (dog_id IS NULL AND site_id IS NULL))
);
CREATE INDEX IF NOT EXISTS facts_of_dog ON handsfree.facts (dog_id, seq) WHERE dog_id IS NOT NULL;

CREATE OR REPLACE FUNCTION handsfree.refuse() RETURNS trigger LANGUAGE plpgsql AS
  $$ BEGIN RAISE EXCEPTION 'facts are never changed'; END $$;
CREATE OR REPLACE TRIGGER facts_keep_changed BEFORE UPDATE ON handsfree.facts
  FOR EACH ROW EXECUTE FUNCTION handsfree.refuse();

-- The newest number, also of facts that the asking role does not see.
CREATE OR REPLACE FUNCTION handsfree.newest() RETURNS bigint LANGUAGE sql STABLE
  SECURITY DEFINER SET search_path = pg_catalog AS
  $$ SELECT coalesce(max(seq), 0) FROM handsfree.facts $$;
CREATE OR REPLACE FUNCTION handsfree.sees_all() RETURNS boolean LANGUAGE sql STABLE
  SECURITY DEFINER SET search_path = pg_catalog AS
  $$ SELECT pg_has_role(session_user, 'handsfree_station', 'MEMBER') $$;
CREATE OR REPLACE FUNCTION handsfree.my_sites() RETURNS uuid[] LANGUAGE sql STABLE
  SECURITY DEFINER SET search_path = pg_catalog AS
  $$ SELECT coalesce(array_agg(site_id ORDER BY site_id), '{}')
     FROM handsfree.members WHERE role = session_user $$;
-- A site adds to dogs that are or were there, and to dogs that nobody has placed yet.
CREATE OR REPLACE FUNCTION handsfree.may_add(dog uuid) RETURNS boolean LANGUAGE sql STABLE
  SECURITY DEFINER SET search_path = pg_catalog AS
  $$ SELECT NOT EXISTS (SELECT FROM handsfree.dog_sites WHERE dog_id = dog)
     OR EXISTS (SELECT FROM handsfree.dog_sites
                WHERE dog_id = dog AND site_id = ANY (handsfree.my_sites())) $$;

-- Where a dog is: by the latest of its placements. The site that it leaves sees no later fact of
-- it, the site that it comes to sees all that came before.
CREATE OR REPLACE FUNCTION handsfree.follow_dog() RETURNS trigger LANGUAGE plpgsql
  SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE placed text := NEW.body->>'at'; last text;
BEGIN
  SELECT max(placed_at) INTO last FROM handsfree.dog_sites WHERE dog_id = NEW.dog_id;
  IF NEW.tab = 'placements' AND NEW.site_id IS NOT NULL THEN
    IF last IS NULL OR placed >= last THEN
      INSERT INTO handsfree.dog_sites AS known VALUES
        (NEW.dog_id, NEW.site_id, placed, NEW.seq, NULL)
      ON CONFLICT (dog_id, site_id) DO UPDATE SET placed_at = excluded.placed_at, gone_seq = NULL,
        came_seq = CASE WHEN known.gone_seq IS NULL THEN known.came_seq ELSE NEW.seq END;
      UPDATE handsfree.dog_sites SET gone_seq = NEW.seq
        WHERE dog_id = NEW.dog_id AND site_id <> NEW.site_id AND gone_seq IS NULL;
    ELSE
      INSERT INTO handsfree.dog_sites VALUES
        (NEW.dog_id, NEW.site_id, placed, NEW.seq, NEW.seq) ON CONFLICT DO NOTHING;
    END IF;
  ELSIF last IS NULL AND NOT handsfree.sees_all() THEN
    INSERT INTO handsfree.dog_sites
      SELECT NEW.dog_id, mine, '', NEW.seq, NULL FROM unnest(handsfree.my_sites()) AS mine;
  END IF;
  RETURN NULL;
END $$;
CREATE OR REPLACE TRIGGER facts_follow_dog AFTER INSERT ON handsfree.facts
  FOR EACH ROW WHEN (NEW.dog_id IS NOT NULL) EXECUTE FUNCTION handsfree.follow_dog();

ALTER TABLE handsfree.facts ENABLE ROW LEVEL SECURITY;
ALTER TABLE handsfree.dog_sites ENABLE ROW LEVEL SECURITY;
ALTER TABLE handsfree.members ENABLE ROW LEVEL SECURITY;
DROP POLICY IF EXISTS every_site_reads ON handsfree.facts;
DROP POLICY IF EXISTS every_site_adds ON handsfree.facts;
DROP POLICY IF EXISTS own_sites_read ON handsfree.facts;
DROP POLICY IF EXISTS own_sites_add ON handsfree.facts;
DROP POLICY IF EXISTS own_sites ON handsfree.dog_sites;
CREATE POLICY every_site_reads ON handsfree.facts FOR SELECT TO handsfree_station USING (true);
CREATE POLICY every_site_adds ON handsfree.facts FOR INSERT TO handsfree_station WITH CHECK (true);
CREATE POLICY own_sites_read ON handsfree.facts FOR SELECT TO handsfree_site USING (
  open
  OR sent_by = session_user
  OR (dog_id IS NULL AND site_id = ANY ((SELECT handsfree.my_sites())::uuid[]))
  OR EXISTS (SELECT FROM handsfree.dog_sites AS d WHERE d.dog_id = facts.dog_id
             AND d.site_id = ANY ((SELECT handsfree.my_sites())::uuid[])
             AND (d.gone_seq IS NULL OR facts.seq <= d.gone_seq))
);
CREATE POLICY own_sites_add ON handsfree.facts FOR INSERT TO handsfree_site WITH CHECK (
  (dog_id IS NULL OR handsfree.may_add(dog_id))
  AND (site_id IS NULL OR tab = 'placements' OR site_id = ANY ((SELECT handsfree.my_sites())::uuid[]))
);
CREATE POLICY own_sites ON handsfree.dog_sites FOR SELECT TO handsfree_site
  USING (site_id = ANY ((SELECT handsfree.my_sites())::uuid[]));

REVOKE ALL ON SCHEMA handsfree FROM PUBLIC;
REVOKE ALL ON ALL TABLES IN SCHEMA handsfree FROM PUBLIC, handsfree_station, handsfree_site;
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA handsfree FROM PUBLIC;
GRANT USAGE ON SCHEMA handsfree TO handsfree_station, handsfree_site;
GRANT EXECUTE ON ALL FUNCTIONS IN SCHEMA handsfree TO handsfree_station, handsfree_site;
GRANT SELECT ON handsfree.about, handsfree.facts TO handsfree_station, handsfree_site;
GRANT SELECT ON handsfree.dog_sites TO handsfree_site;
GRANT INSERT (id, tab, station_id, dog_id, site_id, open, body) ON handsfree.facts
  TO handsfree_station, handsfree_site;
COMMIT;
