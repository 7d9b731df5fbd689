"""What every tenant row has in common: whose it is, and which wall stands around it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.db import models
from django.db.models import Q

from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import AUTHORED, OWN, Wall, in_sight


class Row(models.Model):
    """A row with a random id, so that ids tell nothing and can be made by a client."""

    OPEN_TO: frozenset[Purpose] = frozenset()

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


class AuthoredRow(SiteRow):
    """A site's row that its author, the organization that wrote it, keeps sight of for ever."""

    WALL = Wall(read=f"{AUTHORED} OR {in_sight()}", write=f"{AUTHORED} AND {in_sight('record')}")

    author = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    author_name = models.CharField(max_length=200)  # as it was called then

    class Meta:
        abstract = True

    @staticmethod
    def visible_to(context: Context) -> Q:
        """What it wrote, and what stands under the sites it has sight of."""
        return Q(author_id=context.organization_id) | SiteRow.visible_to(context)


def sites_in_sight(context: Context, may: str = "read") -> models.QuerySet[Any, Any]:
    """Subquery: ids of the sites on which the acting organization may do this now."""
    from doors.models.sight import Sight  # noqa: PLC0415 - sight is itself a row of this module

    rows = Sight.active(context.acting, context.now).filter(**{f"may_{may}": True})
    return rows.values("site_id")
