"""Openings from a table: found again by the customer's own reference at their site."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db import transaction

from doors.clock import civil_date
from doors.errors import AlreadyExistsError, RefusedError
from doors.models import DOOR_TYPES, PARTICULARS, ImportRow, Opening, Site
from doors.selectors.openings import facts_on
from doors.services.cells import Column, Read, amount, day, flag, line, of_fact, prose, whole, word
from doors.services.facts import KEPT_ELSEWHERE
from doors.services.import_kinds import Came, Kind
from doors.services.leavers import take_back_openings
from doors.services.lives import record_facts, retag_opening
from doors.services.newcomers import Newcomers
from doors.services.openings import change_opening
from doors.tenancy import current
from rules.facts import FACTS

_Outcome = ImportRow.Outcome
_FACTS = tuple(name for name in FACTS if name not in KEPT_ELSEWHERE)


def import_opening(given: dict[str, Any], site: Site | None, newcomers: Newcomers) -> Came:
    """Leave an opening to be recorded, or change what the table says otherwise of it from today on.

    An empty cell says nothing. Another kind of door is another opening and is refused.
    """
    assert site is not None  # noqa: S101 (rows of this kind lie in a site)
    facts = {name: given[name] for name in _FACTS if name in given}
    told = {name: given[name] for name in PARTICULARS if name in given}
    alike = newcomers.alike(site, given["reference"], given["tag"])
    by_reference = {opening.reference: opening for opening in alike}
    known = by_reference.get(given["reference"])
    if known is None:
        if by_reference:
            raise AlreadyExistsError.at("/tag", f"Another door bears the tag {given['tag']!r}.")
        made = newcomers.at(site.id).look(
            tag=given["tag"],
            door_type=given["door_type"],
            facts=facts,
            in_place_since=given.get("in_place_since"),
            **told,
        )
        return Came(_Outcome.CREATED, made.id)
    if known.door_type != given["door_type"]:
        raise RefusedError.at("/door_type", f"It stands as {known.door_type}: replace the door.")
    with transaction.atomic():
        changes = (_particulars(known, told), _facts(known, facts), _tag(known, given["tag"]))
    if any(changes):
        known.refresh_from_db(fields=["tag", *PARTICULARS])  # for the rows that follow
    return Came(_Outcome.UPDATED if any(changes) else _Outcome.UNCHANGED, known.id)


def _particulars(known: Opening, told: dict[str, Any]) -> bool:
    changed = {name: value for name, value in told.items() if getattr(known, name) != value}
    if changed:
        change_opening(opening_id=known.id, expected=None, **changed)
    return bool(changed)


def _facts(known: Opening, facts: dict[str, Any]) -> bool:
    today = civil_date(current().now, known.site.time_zone)
    stands = facts_on(known, today).facts
    changed = {name: value for name, value in facts.items() if stands.get(name) != value}
    if changed:
        record_facts(opening_id=known.id, begins_on=today, facts=changed)
    return bool(changed)


def _tag(known: Opening, tag: str) -> bool:
    if known.tag == tag:
        return False
    retag_opening(opening_id=known.id, tag=tag)
    return True


def known_openings(site_id: UUID | None) -> set[str]:
    """The references of the openings that stand at a site."""
    rows = Opening.objects.filter(removed_on=None).exclude(reference="")
    standing = rows.filter(site_id=site_id) if site_id else rows.none()
    return set(standing.values_list("reference", flat=True))


def free_tags(changed: Collection[UUID], tags: Collection[str]) -> None:
    """Take tags off the doors that earlier rows have changed: where a later row of the same table
    says the tag that such a door bears, the earlier one has given it another.
    """
    for opening in Opening.objects.filter(id__in=changed, tag__in=tags, removed_on=None):
        retag_opening(opening_id=opening.id, tag=str(opening.id))


def _particular(name: str) -> Column:
    """The column of a particular, read as its database column keeps it."""
    field = Opening._meta.get_field(name)
    own: dict[str, Read] = {
        "rating_minutes": whole(1, 480),
        "travel_length": amount,
        "parting": word(*Opening.Parting.values),
        "remarks": prose(2000),
    }
    if name in own:
        read = own[name]
    else:
        longest = getattr(field, "max_length", None)
        read = line(longest) if longest else flag
    required = name in {"reference", "location"}
    sense = name.replace("_", " ")
    example = {"reference": "00417", "location": "Lobby to atrium"}.get(name, "")
    return Column(name, read, sense, example, required=required)


OPENINGS = Kind(
    columns=(
        Column("site_reference", line(100), "the site's reference, unless one is named", "H-01"),
        Column("tag", line(60), "what is written on the door", "E2-07", required=True),
        Column(
            "door_type",
            word(*(name for name, _ in DOOR_TYPES)),
            f"one of {', '.join(name for name, _ in DOOR_TYPES)}",
            "swinging",
            required=True,
        ),
        *(_particular(name) for name in PARTICULARS),
        Column("in_place_since", day, "the first day of its record", "2020-01-31"),
        *(of_fact(FACTS[name]) for name in _FACTS),
    ),
    apply=import_opening,
    known=known_openings,
    in_site=True,
    take_back=take_back_openings,
    taken_back_at_once=100,
    foresee=free_tags,
)
