-- A chain of centres on one PostgreSQL server: each centre keeps the heads of its journal where it can add and read its
-- own alone and alter none, and the office of the chain reads all of them.
--
-- A centre has a database of its own: keys, the lock of acts and the journal's chain belong to a database, and `verify`
-- must see every row, so that rows of several centres cannot share tables under row-level security. What the chain
-- shares stands in one more database. Run this there, as a superuser, with: psql "dbname=chain" -f chain_of_centres.sql
-- Run it again at will. Give each centre and the office a role:
--
--     CREATE ROLE lakeside LOGIN IN ROLE chain_centre; \password lakeside
--     CREATE ROLE office LOGIN IN ROLE chain_office;   \password office
--
-- A centre adds the lines of its witness folder in psql; those that stand there already change nothing:
--
--     \set lines `cat heads-0123456789abcdef.jsonl`
--     INSERT INTO witnessed_head (line) SELECT line::jsonb FROM regexp_split_to_table(:'lines', '\n') AS line
--         WHERE line <> '' ON CONFLICT DO NOTHING;
--
-- The office writes them into files again, a line each (psql -Atc "SELECT line FROM witnessed_head WHERE centre = ...").
-- `fleetbench verify --witness` compares such a file with a centre's records: signatures are over the fields, not the text.

DO $$
DECLARE
    role_name text;
BEGIN
    FOREACH role_name IN ARRAY ARRAY['chain_centre', 'chain_office'] LOOP
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = role_name) THEN
            EXECUTE format('CREATE ROLE %I NOLOGIN NOBYPASSRLS', role_name);
        END IF;
    END LOOP;
    EXECUTE format('REVOKE CONNECT, TEMPORARY ON DATABASE %I FROM PUBLIC', current_database());
    EXECUTE format('GRANT CONNECT ON DATABASE %I TO chain_centre, chain_office', current_database());
    REVOKE CREATE ON SCHEMA public FROM PUBLIC;
    GRANT USAGE ON SCHEMA public TO chain_centre, chain_office;
END $$;

CREATE TABLE IF NOT EXISTS witnessed_head (
    centre name NOT NULL DEFAULT session_user,
    brought_at timestamptz NOT NULL DEFAULT now(),
    line jsonb NOT NULL CHECK (line ?& ARRAY['at', 'database', 'entry', 'hash', 'key', 'signature']),
    UNIQUE (centre, line)
);
ALTER TABLE witnessed_head ENABLE ROW LEVEL SECURITY;
ALTER TABLE witnessed_head FORCE ROW LEVEL SECURITY;
REVOKE ALL ON witnessed_head FROM PUBLIC, chain_centre, chain_office;
GRANT SELECT, INSERT (line) ON witnessed_head TO chain_centre;
GRANT SELECT ON witnessed_head TO chain_office;

DROP POLICY IF EXISTS own_heads ON witnessed_head;
DROP POLICY IF EXISTS add_own_heads ON witnessed_head;
DROP POLICY IF EXISTS all_heads ON witnessed_head;
CREATE POLICY own_heads ON witnessed_head FOR SELECT TO chain_centre USING (centre = session_user);
CREATE POLICY add_own_heads ON witnessed_head FOR INSERT TO chain_centre WITH CHECK (centre = session_user);
CREATE POLICY all_heads ON witnessed_head FOR SELECT TO chain_office USING (true);
