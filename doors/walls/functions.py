"""The functions that policies and triggers call, made before any of them."""

from __future__ import annotations

from doors.tenancy import Purpose

# Functions that run with the right of the tables' owner. Each needs a review of what it lets pass.
DEFINERS = {
    "app_enter_ledger": "moves the head of a chain, which nobody else may; it lets a line pass only"
    " in its turn, at the database's own time, in the words of whoever acts, hashed as written",
}
_PURPOSES = ", ".join(f"'{purpose}'" for purpose in Purpose)
FUNCTIONS = f"""
CREATE OR REPLACE FUNCTION app_purpose() RETURNS text LANGUAGE plpgsql STABLE AS $body$
DECLARE found text := coalesce(current_setting('app.purpose', true), '');
BEGIN
  IF found = '' OR found IN ({_PURPOSES}) THEN RETURN found; END IF;
  RAISE EXCEPTION 'no such purpose' USING ERRCODE = 'insufficient_privilege';
END $body$;
CREATE OR REPLACE FUNCTION app_organization() RETURNS uuid LANGUAGE plpgsql STABLE AS $body$
DECLARE found text := coalesce(current_setting('app.organization', true), '');
BEGIN
  IF found <> '' THEN RETURN found::uuid; END IF;
  IF app_purpose() <> '' THEN RETURN NULL; END IF;
  RAISE EXCEPTION 'a tenant table was touched without saying on whose behalf'
    USING ERRCODE = 'insufficient_privilege';
END $body$;
CREATE OR REPLACE FUNCTION app_one_circle() RETURNS trigger LANGUAGE plpgsql AS $body$
DECLARE
  added jsonb := to_jsonb(NEW);
  circle uuid;
  first uuid;
  organization text := coalesce(current_setting('app.organization', true), '');
  purpose text := coalesce(current_setting('app.purpose', true), '');
BEGIN
  -- Not by a SET of the function: only a superuser may hang one on a name of our own. A refusal
  -- takes these back with all else that its transaction, or its savepoint, did.
  PERFORM set_config('app.organization', '', true), set_config('app.purpose', 'custody', true);
  FOR i IN 0..TG_NARGS / 2 - 1 LOOP
    CONTINUE WHEN added ->> TG_ARGV[2 * i] IS NULL;
    EXECUTE 'SELECT ' || replace(TG_ARGV[2 * i + 1], '{{id}}', '$1')
      INTO circle USING (added ->> TG_ARGV[2 * i])::uuid;
    IF i = 0 THEN first := circle;
    ELSIF circle IS DISTINCT FROM first THEN
      RAISE EXCEPTION 'CIRCLE: rows of % stay within one sandbox, or outside all', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
    END IF;
  END LOOP;
  PERFORM set_config('app.organization', organization, true),
    set_config('app.purpose', purpose, true);
  RETURN NEW;
END $body$;
CREATE OR REPLACE FUNCTION app_author() RETURNS uuid LANGUAGE plpgsql STABLE AS $body$
BEGIN
  RETURN coalesce(nullif(current_setting('app.author', true), '')::uuid, app_organization());
END $body$;
CREATE OR REPLACE FUNCTION app_now() RETURNS timestamptz LANGUAGE sql STABLE AS $body$
  SELECT statement_timestamp()
$body$;
CREATE OR REPLACE FUNCTION app_enter_ledger() RETURNS trigger LANGUAGE plpgsql
SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $body$
DECLARE
  said jsonb := NEW.body::jsonb;
  skew interval := app_now() - statement_timestamp();
BEGIN
  IF NEW.entry_sha256 IS DISTINCT FROM encode(sha256(convert_to(NEW.body, 'UTF8')), 'hex')
    OR NEW.recorded_at - skew NOT BETWEEN transaction_timestamp() AND clock_timestamp()
    OR (said ->> 'recorded_at')::timestamptz IS DISTINCT FROM NEW.recorded_at
    OR said ->> 'actor' IS DISTINCT FROM app_author()::text
    OR said ->> 'organization' IS DISTINCT FROM NEW.organization_id::text
    OR said ->> 'position' IS DISTINCT FROM NEW.position::text
    OR said ->> 'kind' IS DISTINCT FROM NEW.kind
    OR said ->> 'subject' IS DISTINCT FROM NEW.subject::text
    OR said ->> 'site' IS DISTINCT FROM NEW.site_id::text
  THEN
    RAISE EXCEPTION 'a line of the ledger says what is so, now' USING ERRCODE = 'check_violation';
  END IF;
  UPDATE doors_ledgerhead SET position = NEW.position, entry_sha256 = NEW.entry_sha256
    WHERE organization_id = NEW.organization_id AND position = NEW.position - 1
    AND entry_sha256 = said ->> 'previous';
  IF NOT FOUND THEN
    RAISE EXCEPTION 'a line of the ledger follows the last' USING ERRCODE = 'check_violation';
  END IF;
  RETURN NEW;
END $body$;
CREATE OR REPLACE FUNCTION app_append_only() RETURNS trigger LANGUAGE plpgsql AS $body$
BEGIN
  RAISE EXCEPTION 'rows of % are never changed', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $body$;
"""
