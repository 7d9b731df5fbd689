"""What every tenant row has in common: whose it is, and which wall stands around it."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, ClassVar
from uuid import uuid4

from django.db import models
from django.db.models import Exists, OuterRef, Q

from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import AUTHORED, OWN, Wall, in_own_time, in_sight


class Row(models.Model):
    """A row with a random id, so that ids tell nothing and can be made by a client.

    Where `BEGINS_WITH_OPENING`, some of its rows are written with the very record of an opening.
    """

    OPEN_TO: frozenset[Purpose] = frozenset()
    BEGINS_WITH_OPENING: ClassVar[bool] = False

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)

    class Meta:
        abstract = True


class OrganizationRow(Row):
    """A row that belongs to one organization and is seen by it alone."""

    WALL = Wall(read=OWN, write=OWN)

    organization = models.ForeignKey(
        "doors.Organization", on_delete=models.PROTECT, related_name="+"
    )

    objects = WalledManager()

    class Meta:
        abstract = True

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Only the acting organization's own."""
        return Q(organization_id=context.organization_id)


class SiteRow(Row):
    """A row whose home is a site: seen by whoever has sight of the site now."""

    WALL = Wall(read=in_sight(), write=in_sight("manage"))

    site = models.ForeignKey("doors.Site", on_delete=models.PROTECT, related_name="+")

    objects = WalledManager()

    class Meta:
        abstract = True

    @staticmethod
    def visible_to(context: Context) -> Q:
        """Rows of the sites the acting organization has sight of."""
        return Q(site_id__in=sites_in_sight(context))


def kept(happened_at: str, may: str = "read") -> str:
    """SQL, as `AuthoredRow` says it: its author's for ever, its time's custodian's for ever."""
    return f"{AUTHORED} OR {in_sight(may)} OR {in_own_time(happened_at)}"


class AuthoredRow(SiteRow):
    """A site's row that its author, the organization that wrote it, keeps sight of for ever.

    `SEEN_WITH` is the action that lets others see it. `HAPPENED_AT` names the column that says
    when it happened: who was the site's custodian then keeps sight of it too.
    """

    SEEN_WITH: ClassVar[str] = "read"
    HAPPENED_AT: ClassVar[str] = ""

    author = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    author_name = models.CharField(max_length=200)  # as it was called then

    class Meta:
        abstract = True

    @classmethod
    def visible_to(cls, context: Context) -> Q:
        """What it wrote, what happened in its custody, and what the sites in its sight let it."""
        own = Q(author_id=context.author) | Q(site_id__in=sites_in_sight(context, cls.SEEN_WITH))
        return own | in_time_of(context, cls.HAPPENED_AT) if cls.HAPPENED_AT else own


@lru_cache(maxsize=64)  # a query is written of it, never run: each use within one context is alike
def sites_in_sight(context: Context, may: str = "read") -> models.QuerySet[Any, Any]:
    """Subquery: ids of the sites on which the acting organization may do this now."""
    from doors.models.sight import Sight  # noqa: PLC0415 - sight is itself a row of this module

    rows = Sight.active(context.acting, context.now).filter(**{f"may_{may}": True})
    return rows.values("site_id")


def in_time_of(context: Context, happened_at: str, *, granted: bool = False) -> Q:
    """The twin of the wall's `in_own_time`."""
    from doors.models.sight import Sight  # noqa: PLC0415 - sight is itself a row of this module

    moment = OuterRef(happened_at)
    sights = Sight._base_manager.filter(
        Q(ends_at__isnull=True) | Q(ends_at__gt=moment),
        organization_id=context.acting,
        site_id=OuterRef("site_id"),
        begins_at__lte=context.now,
    ).filter(begins_at__lte=moment)
    return Q(Exists(sights if granted else sights.filter(grant__isnull=True)))
