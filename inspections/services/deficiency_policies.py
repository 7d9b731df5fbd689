"""Setting the acting organization's own policy of urgency and deadlines."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from django.db import transaction

from doors.errors import RefusedError
from doors.selectors.organizations import acting_party
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.versions import state_row
from doors.tenancy import acting_organization, current, lock_name
from inspections.models import DeficiencyPolicy
from inspections.selectors.deadlines import day_after, hours_of, policy_document
from inspections.services.interim_measures import LONGEST_WARNING

_HOURS_OF_WARNING = int(LONGEST_WARNING.total_seconds()) // 3600


@transaction.atomic
def set_deficiency_policy(
    *, document: Mapping[str, Any], expected: frozenset[int] | None
) -> tuple[int, Mapping[str, Any]]:
    """Replace the policy; answers its new version. It speaks of what opens from now on.

    `expected` are the versions whoever changes it has seen, 0 where there was none.
    """
    _refuse_what_cannot_hold(document)
    own = acting_party()
    lock_name(f"deficiency policy of {own.id}")
    rows = DeficiencyPolicy.objects.filter(organization_id=acting_organization())
    stated = {"document": dict(document), "changed_at": current().now}
    begun_with = {"organization": own}
    policy = cast(
        "DeficiencyPolicy", state_row(rows, expected=expected, begun_with=begun_with, **stated)
    )
    content = {"version": policy.version, "document_sha256": canonical_digest(dict(document))}
    line = LedgerLine("deficiency_policy_set", policy.id, None, content)
    write_ledger(custodian_id=own.id, lines=[line])
    return policy_document()


def _refuse_what_cannot_hold(document: Mapping[str, Any]) -> None:
    names = [each["name"] for each in document["classes"]]
    for index, name in enumerate(names):
        if name in names[:index]:
            raise RefusedError.at(f"/classes/{index}/name", "A class of this name stands above.")
    for index, each in enumerate(document["classes"]):
        if "within" in each and not _can_be_counted(each["within"]):
            detail = "A time by ISO 8601 in whole numbers, as P14D, P1M or PT24H."
            raise RefusedError.at(f"/classes/{index}/within", detail)
    for index, rule in enumerate(document["rules"]):
        if rule["class"] not in names:
            raise RefusedError.at(f"/rules/{index}/class", "There is no class of this name.")
    before = document.get("warn_before")
    if before is not None and not _can_warn(before):
        detail = "A time by ISO 8601 in hours and days, at most seven days, as PT24H."
        raise RefusedError.at("/warn_before", detail)


def _can_be_counted(within: str) -> bool:
    try:
        day_after(current().now, within, "UTC")
    except (ValueError, OverflowError):
        return False
    return True


def _can_warn(before: str) -> bool:
    try:
        return 0 < hours_of(before) <= _HOURS_OF_WARNING
    except ValueError:
        return False
