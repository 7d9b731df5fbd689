"""What may be seen, as SQL over a row: the clauses that walls are made of.

Each has its twin in Python (`doors.models.homes`), and tests hold the two equal.
"""

from __future__ import annotations

ORGANIZATION = "(SELECT app_organization())"
AUTHOR = "(SELECT app_author())"
NOW = "(SELECT app_now())"
OWN = f"organization_id = {ORGANIZATION}"
AUTHORED = f"author_id = {AUTHOR}"
SOMEBODY = f"{ORGANIZATION} IS NOT NULL"
OWN_SANDBOX = f"(SELECT o.sandbox_id FROM doors_organization o WHERE o.id = {ORGANIZATION})"


def in_sight(
    may: str = "read", column: str = "site_id", table: str = "{table}", *, custodian: bool = False
) -> str:
    """SQL: the acting organization has sight of the row's site now, with this action; where
    `custodian` is asked for, under the custodian that the row names.
    """
    named = f" AND s.custodian_id = {table}.custodian_id" if custodian else ""
    return (
        "EXISTS (SELECT 1 FROM doors_sight s WHERE"
        f" s.organization_id = {ORGANIZATION} AND s.site_id = {table}.{column}"
        f" AND s.may_{may} AND s.begins_at <= {NOW}"
        f" AND (s.ends_at IS NULL OR s.ends_at > {NOW}){named})"
    )


def in_own_time(column: str, table: str = "{table}", *, granted: bool = False) -> str:
    """SQL: the acting organization was the site's custodian at the moment in `column`; where
    `granted`, or had leave there. A former owner keeps its time for ever, and nothing later.
    """
    source = "" if granted else " AND s.grant_id IS NULL"
    return (
        "EXISTS (SELECT 1 FROM doors_sight s WHERE"
        f" s.organization_id = {ORGANIZATION} AND s.site_id = {table}.site_id{source}"
        f" AND s.begins_at <= {NOW} AND s.begins_at <= {table}.{column}"
        f" AND (s.ends_at IS NULL OR s.ends_at > {table}.{column}))"
    )
