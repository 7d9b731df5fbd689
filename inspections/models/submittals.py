"""Submittals: frozen packets, their filing with an authority, and who read them there."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from doors.models.homes import AuthoredRow, Row, SiteRow, in_time_of, kept, sites_in_sight
from doors.tenancy import Context, Purpose, WalledManager
from doors.walls import AUTHORED, ORGANIZATION, SOMEBODY, Wall, in_own_time, in_sight
from inspections.states import FILING

_FILED_TO = (
    "EXISTS (SELECT 1 FROM inspections_filing f WHERE f.submittal_id = {table}.id"
    f" AND f.authority_id = {ORGANIZATION})"
)


_OF_FILING = (
    "EXISTS (SELECT 1 FROM inspections_filing f WHERE f.id = {table}.filing_id"
    " AND f.submittal_id = {table}.submittal_id AND f.authority_id = {table}.authority_id"
    " AND f.author_id = {table}.author_id)"
)
READABLE = (
    "EXISTS (SELECT 1 FROM inspections_filing f WHERE f.submittal_id = {table}.submittal_id"
    f" AND f.authority_id = {ORGANIZATION})"
)


class Submittal(AuthoredRow):
    """A packet over one site: the frozen document, and the file drawn from it.

    `document` is canonical JSON whose SHA-256 is `content_sha256`, printed inside the file;
    `file_sha256` names the stored file; `missing_attachments` are photos and papers that its visits
    name and that were still to be sent: with one, it is not filed.
    """

    SEEN_WITH = "history"
    HAPPENED_AT = "assembled_at"
    OPEN_TO = frozenset({Purpose.VERIFICATION})
    WALL = Wall(
        read=f"{kept('assembled_at', 'history')} OR {_FILED_TO}",
        write=f"{AUTHORED} AND {in_sight('submit', custodian=True)}",
        homes=(("supersedes_id", "inspections_submittal"),),
        append_only=True,
        open_to=OPEN_TO,
    )

    custodian = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(default=1)
    supersedes = models.OneToOneField("self", on_delete=models.PROTECT, null=True)
    assembled_at = models.DateTimeField()
    document = models.TextField()
    content_sha256 = models.CharField(max_length=64)
    file_name = models.CharField(max_length=120)
    file_size = models.PositiveIntegerField()
    file_sha256 = models.CharField(max_length=64)
    counts = models.JSONField()
    missing_attachments = models.JSONField(default=list)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["id", "site"], name="submittal_home")]

    @classmethod
    def visible_to(cls, context: Context) -> Q:
        """What it wrote, what stands under its sites, and what was filed to it."""
        filed = Filing._base_manager.filter(authority_id=context.organization_id)
        return super().visible_to(context) | Q(id__in=filed.values("submittal_id"))


class Filing(AuthoredRow):
    """A submittal handed to one authority. `feed_position` is its last place in that
    authority's feed: every change takes the next one, gapless and in commit order.
    """

    SEEN_WITH = "history"
    HAPPENED_AT = "filed_at"
    OPEN_TO = frozenset({Purpose.VERIFICATION})
    WALL = Wall(
        read=f"{kept('filed_at', 'history')} OR authority_id = {ORGANIZATION}",
        write=f"{AUTHORED} AND {in_sight('submit', custodian=True)}",
        change=f"authority_id = {ORGANIZATION} OR ({AUTHORED} AND {in_sight('submit')})",
        changeable=("state", "remarks", "answered_at", "version"),
        homes=(("submittal_id", "inspections_submittal"),),
        circle=(
            ("author_id", "doors_organization"),
            ("custodian_id", "doors_organization"),
            ("authority_id", "doors_organization"),
        ),
        open_to=OPEN_TO,
    )

    submittal = models.ForeignKey(Submittal, on_delete=models.PROTECT, related_name="filings")
    custodian = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    jurisdiction = models.ForeignKey(
        "doors.Jurisdiction", on_delete=models.PROTECT, related_name="+"
    )
    authority = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    authority_name = models.CharField(max_length=200)
    state = models.CharField(max_length=20, choices=[(s, s) for s in FILING])
    remarks = models.TextField(blank=True)  # of the authority, with its last answer
    filed_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["submittal", "authority"], name="filed_once"),
        ]
        indexes = [models.Index(fields=["authority", "-filed_at", "id"], name="filing_to")]

    @classmethod
    def visible_to(cls, context: Context) -> Q:
        """What it filed, what was filed to it, and what stands under its sites."""
        return super().visible_to(context) | Q(authority_id=context.organization_id)


class Amendment(AuthoredRow):
    """A visit in a filed packet was corrected since: what its authority must be told."""

    HAPPENED_AT = "recorded_at"
    SEEN_WITH = "history"
    WALL = Wall(
        read=f"{kept('recorded_at', 'history')} OR {READABLE}",
        write=f"{AUTHORED} AND {in_sight('record')}",
        homes=(
            ("submittal_id", "inspections_submittal"),
            ("visit_id", "inspections_visit"),
            ("corrected_by_id", "inspections_visit"),
        ),
        append_only=True,
    )

    submittal = models.ForeignKey(Submittal, on_delete=models.PROTECT, related_name="amendments")
    visit = models.ForeignKey("inspections.Visit", on_delete=models.PROTECT, related_name="+")
    corrected_by = models.ForeignKey(
        "inspections.Visit", on_delete=models.PROTECT, related_name="+"
    )
    reason = models.CharField(max_length=500)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["submittal", "corrected_by"], name="amended_once_by_visit"
            ),
        ]

    @classmethod
    def visible_to(cls, context: Context) -> Q:
        """As its packet: also to the authority with which that was filed."""
        filed = Filing._base_manager.filter(authority_id=context.organization_id)
        return super().visible_to(context) | Q(submittal_id__in=filed.values("submittal_id"))


class FeedHead(Row):
    """The last position given in one authority's feed; locked at the end of a filing."""

    WALL = Wall(read=SOMEBODY, write=SOMEBODY, changeable=("position",), rising="position")

    authority = models.OneToOneField(
        "doors.Organization", on_delete=models.PROTECT, related_name="+"
    )
    position = models.PositiveBigIntegerField(default=0)

    objects = WalledManager()

    @staticmethod
    def visible_to(context: Context) -> Q:
        """A counter without content; whoever files must move it."""
        return Q()


class FeedChange(Row):
    """One change of one filing at one position of its authority's feed."""

    WALL = Wall(
        read=f"authority_id = {ORGANIZATION} OR author_id = {ORGANIZATION}",
        write=f"(author_id = {ORGANIZATION} OR authority_id = {ORGANIZATION}) AND {_OF_FILING}",
        append_only=True,
    )

    authority = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    author = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    position = models.PositiveBigIntegerField()
    filing = models.ForeignKey(Filing, on_delete=models.PROTECT, related_name="+")
    submittal = models.ForeignKey(Submittal, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=20)
    changed_at = models.DateTimeField()

    objects = WalledManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["authority", "position"], name="feed_position"),
        ]

    @staticmethod
    def visible_to(context: Context) -> Q:
        """The authority's own feed, and what the acting organization put into one."""
        own = Q(authority_id=context.organization_id)
        return own | Q(author_id=context.organization_id)


class ReadLine(SiteRow):
    """An authority read a submittal: written in the same transaction, or there is no read."""

    WALL = Wall(
        read=(
            f"authority_id = {ORGANIZATION} OR {in_sight('history')} OR {in_own_time('read_at')}"
        ),
        write=f"authority_id = {ORGANIZATION} AND {READABLE}",
        homes=(("submittal_id", "inspections_submittal"),),
        append_only=True,
    )

    submittal = models.ForeignKey(Submittal, on_delete=models.PROTECT, related_name="+")
    authority = models.ForeignKey("doors.Organization", on_delete=models.PROTECT, related_name="+")
    key = models.ForeignKey("doors.Key", on_delete=models.PROTECT, null=True, related_name="+")
    authority_name = models.CharField(max_length=200)
    source_address = models.GenericIPAddressField(null=True)
    what = models.CharField(max_length=24)
    file_sha256 = models.CharField(max_length=64)
    read_at = models.DateTimeField()

    @staticmethod
    def visible_to(context: Context) -> Q:
        """The authority's own reads, and those of the sites whose history is seen."""
        own = Q(authority_id=context.organization_id) | in_time_of(context, "read_at")
        return own | Q(site_id__in=sites_in_sight(context, "history"))
