"""The people of an organization: who is told, who does the work, and who has left."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import Any, cast
from uuid import UUID

from django.db import transaction
from django.db.models import F

from doors.errors import WrongStateError
from doors.models import Member, Person
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.lockouts import lock_access
from doors.services.members import end_member
from doors.services.versions import change_row
from doors.tenancy import acting_organization, current


def add_person(
    *,
    name: str,
    email: str = "",
    telephone: str = "",
    position: str = "",
    language: str = "en",
    receives_notices: bool = False,
) -> Person:
    """Add a person to the acting organization."""
    person = Person.objects.create(
        organization_id=acting_organization(),
        name=name,
        email=email,
        telephone=telephone,
        position=position,
        language=language,
        receives_notices=receives_notices,
    )
    _enter("person_added", person, {})
    return person


@transaction.atomic
def change_person(*, person_id: UUID, expected: frozenset[int] | None, **changed: Any) -> Person:
    """Change what is known of a person; refused where `expected` is not what stands, and for
    somebody who has left, whose record is closed.
    """
    rows = Person.objects.filter(id=person_id)
    if rows.filter(ended_at__isnull=False).exists():
        raise WrongStateError("This person has left; what stands of them is kept as it was.")
    person = cast("Person", change_row(rows, expected=expected, **changed))
    if "name" in changed:  # a member is answered with it, under a version of its own
        Member.objects.filter(person_id=person_id).update(version=F("version") + 1)
    _enter("person_changed", person, {"changed_sha256": canonical_digest(changed)})
    return person


@transaction.atomic
def end_person(*, person_id: UUID, reach: AbstractSet[str]) -> Person:
    """Say that a person has left: they are told nothing more and sign in no more. What they did
    keeps their name. `reach` are the scopes of whoever says so: a role beyond is not theirs to end.
    """
    lock_access()
    now = current().now
    person = visible(Person.objects.filter(id=person_id))
    if person.ended_at is not None:
        raise WrongStateError("This person has left already.")
    members = Member.objects.filter(person_id=person_id, ends_at=None)
    for member in members:
        end_member(member_id=member.id, reach=reach)
    rows = Person.objects.filter(id=person_id)
    person = cast("Person", change_row(rows, expected=None, ended_at=now, receives_notices=False))
    _enter("person_ended", person, {})
    return person


def _enter(kind: str, person: Person, content: dict[str, Any]) -> None:
    """Leave a line; who it is stays out of the ledger, which is never cleared."""
    line = LedgerLine(kind, person.id, None, content)
    write_ledger(custodian_id=acting_organization(), lines=[line])
