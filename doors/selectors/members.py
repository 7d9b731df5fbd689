"""Who serves an organization, and which organizations an account serves."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.db.models import F, QuerySet

from doors.models import ROLES, Member
from doors.selectors.visible import visible
from doors.tenancy import Purpose, looking_up


@dataclass(frozen=True, slots=True)
class Membership:
    """One account's place in one organization, as the pages need it."""

    member_id: UUID
    organization_id: UUID
    organization_name: str
    role: str

    @property
    def reach(self) -> frozenset[str]:
        """The scopes of the role."""
        return ROLES[self.role]


def members() -> QuerySet[Member]:
    """Members of the acting organization, with who they are."""
    return Member.objects.select_related("person", "account")


def member_by_id(member_id: UUID) -> Member:
    """One member with who it is, or nothing by this address."""
    return visible(members().filter(id=member_id))


def memberships_of(account_id: UUID) -> list[Membership]:
    """Where an account serves now, by name of the organization."""
    with looking_up(Purpose.AUTHENTICATION):
        rows = Member.objects.filter(account_id=account_id, ends_at=None)
        found = rows.annotate(name=F("organization__name")).order_by("name", "id")
        return [Membership(m.id, m.organization_id, m.name, m.role) for m in found]


def home_of(account_id: UUID) -> UUID | None:
    """An organization that the account serves, or last served; None where it never did."""
    with looking_up(Purpose.AUTHENTICATION):
        rows = Member.objects.filter(account_id=account_id)
        found = rows.order_by(F("ends_at").desc(nulls_first=True), "id").first()
        return None if found is None else found.organization_id
