"""The rows that the history of an opening is made of, each table read through its own walls."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery

from doors.clock import start_of_day
from doors.models import Custody, Opening
from doors.tenancy import current
from inspections.models import Amendment, Deficiency, Filing, Submittal, Visit


def of(model: Any) -> Callable[[Opening], QuerySet[Any]]:  # noqa: ANN401 (any walled model)
    """Rows that hang on the opening itself."""
    return lambda opening: model.objects.filter(opening_id=opening.id)


def itself(opening: Opening) -> QuerySet[Opening]:
    """The opening."""
    return Opening.objects.filter(id=opening.id)


def custodies(opening: Opening) -> QuerySet[Custody]:
    """Who answered for its site."""
    return Custody.objects.filter(site_id=opening.site_id)


def visits(*, corrections: bool) -> Callable[[Opening], QuerySet[Visit]]:
    """Its visits that correct others, or those that do not."""
    return lambda opening: Visit.objects.filter(
        opening_id=opening.id, supersedes__isnull=not corrections
    )


def proven(opening: Opening) -> QuerySet[Deficiency]:
    """What was proven to be mended, with who proved it as far as that is seen."""
    by = Visit.objects.filter(id=OuterRef("proven_by_id")).values("author_name")[:1]
    rows = Deficiency.objects.filter(opening_id=opening.id, state="proven")
    return rows.annotate(proven_by_name=Subquery(by))


def withdrawn(opening: Opening) -> QuerySet[Deficiency]:
    """What was withdrawn."""
    return Deficiency.objects.filter(opening_id=opening.id, state="withdrawn")


def about(model: Any) -> Callable[[Opening], QuerySet[Any]]:  # noqa: ANN401 (any walled model)
    """Rows about a deficiency that is itself in sight: both walls look at the two tables alike."""

    def rows(opening: Opening) -> QuerySet[Any]:
        standing = Deficiency.objects.filter(opening_id=opening.id)
        title = Deficiency.objects.filter(id=OuterRef("deficiency_id")).values("title")[:1]
        found = model.objects.filter(deficiency_id__in=standing.values("id"))
        marked: QuerySet[Any] = found.annotate(title=Subquery(title))
        return marked

    return rows


def packets(opening: Opening) -> QuerySet[Submittal]:
    """Packets of its site that were assembled while it stood, the day of its removal included,
    as those see them who see the site: whom a packet was filed to sees no door by that.
    """
    seen = super(Submittal, Submittal).visible_to(current())
    stood = Q(assembled_at__gte=opening.created_at)
    if opening.removed_on is not None:
        gone = start_of_day(opening.removed_on + timedelta(days=1), opening.site.time_zone)
        stood &= Q(assembled_at__lt=gone)
    return Submittal.objects.filter(seen, stood, site_id=opening.site_id)


def filings(opening: Opening) -> QuerySet[Filing]:
    """Where those packets were filed."""
    seen = super(Filing, Filing).visible_to(current())
    return Filing.objects.filter(seen, submittal_id__in=packets(opening).values("id"))


def amendments(opening: Opening) -> QuerySet[Amendment]:
    """Of those packets, that a visit to it was corrected since."""
    of_it = Visit.objects.filter(opening_id=opening.id).values("id")
    rows = Amendment.objects.filter(visit_id__in=of_it)
    return rows.filter(submittal_id__in=packets(opening).values("id"))
