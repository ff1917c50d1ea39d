-- Rights on a PostgreSQL server: desks record, and nobody at a desk can alter the journal or a table.
--
-- Run it in the centre's database after `fleetbench upgrade`, as a superuser (or as a member of fleetbench_owner who may
-- create roles), with: psql "service=centre" -f desk_roles.sql
-- Upgrades and restores give new tables the rights that these have; run it again at will. Give each desk a role of its own:
--
--     CREATE ROLE desk_1 LOGIN IN ROLE fleetbench_desk;    \password desk_1
--     CREATE ROLE upgrades LOGIN IN ROLE fleetbench_owner; \password upgrades
--
-- fleetbench_owner owns tables: upgrades, restores and `verify --rebuild --write` run as its members, desks never do.
-- Erasing runs at a desk; the tables are rewritten without what was erased by the owner's VACUUM FULL.
-- Several centres on one server: a database and a pair of roles each, since keys, the lock of acts and the journal's chain
-- belong to a database; CONNECT is taken from everybody else below.
-- What this cannot do: a desk's role may write any row that acts write, with any name in it. A forged act stands in the
-- journal and cannot be taken out again; a superuser of the server can do anything. Witnessed heads show both.

DO $$
DECLARE
    role_name text;
    name text;
    erasable CONSTANT text[] := ARRAY['hire_note', 'person_pin', 'person_private', 'signature_drawing', 'signed_page'];
BEGIN
    FOREACH role_name IN ARRAY ARRAY['fleetbench_owner', 'fleetbench_desk'] LOOP
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = role_name) THEN
            EXECUTE format('CREATE ROLE %I NOLOGIN', role_name);
        END IF;
    END LOOP;
    EXECUTE format('REVOKE CONNECT, TEMPORARY ON DATABASE %I FROM PUBLIC', current_database());
    -- verify compares the tables with temporary ones
    EXECUTE format('GRANT CONNECT, TEMPORARY ON DATABASE %I TO fleetbench_owner, fleetbench_desk', current_database());
    -- a restore keeps what stood there in a schema
    EXECUTE format('GRANT CREATE ON DATABASE %I TO fleetbench_owner', current_database());
    REVOKE CREATE ON SCHEMA public FROM PUBLIC;
    GRANT USAGE, CREATE ON SCHEMA public TO fleetbench_owner;
    GRANT USAGE ON SCHEMA public TO fleetbench_desk;
    FOR name IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' LOOP
        EXECUTE format('ALTER TABLE public.%I OWNER TO fleetbench_owner', name);
        EXECUTE format('REVOKE ALL ON TABLE public.%I FROM PUBLIC, fleetbench_desk', name);
        EXECUTE format('GRANT SELECT ON TABLE public.%I TO fleetbench_desk', name);
        CONTINUE WHEN name = 'alembic_version';
        EXECUTE format('GRANT INSERT ON TABLE public.%I TO fleetbench_desk', name);
        CONTINUE WHEN name = 'journal';
        EXECUTE format('GRANT UPDATE ON TABLE public.%I TO fleetbench_desk', name);
        IF name = ANY (erasable) THEN
            EXECUTE format('GRANT DELETE ON TABLE public.%I TO fleetbench_desk', name);
        END IF;
    END LOOP;
    GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO fleetbench_desk;
END $$;
