"""A filed packet of which a visit was corrected since."""

from __future__ import annotations

from doors.selectors.sight import as_custodian
from doors.services.ledger import LedgerLine
from doors.tenancy import current
from inspections.models import Amendment, Filing, Submittal, Visit


def note_amendments(visit: Visit) -> list[LedgerLine]:
    """Keep which filed packets hold what this visit corrects; answers the ledger's lines of it."""
    if visit.supersedes_id is None:
        return []
    with as_custodian(visit.site_id):
        filed = Filing.objects.filter(site_id=visit.site_id).values("submittal_id")
        holding = Submittal.objects.filter(
            id__in=filed, document__contains=f'"id":"{visit.supersedes_id}"'
        )
        amended = [
            Amendment(
                site_id=visit.site_id,
                author_id=visit.author_id,
                author_name=visit.author_name,
                submittal_id=submittal_id,
                visit_id=visit.supersedes_id,
                corrected_by=visit,
                reason=visit.reason,
                recorded_at=current().now,
            )
            for submittal_id in holding.values_list("id", flat=True).order_by("id")
        ]
        Amendment.objects.bulk_create(amended)
    return [
        LedgerLine(
            "submittal_amended", each.submittal_id, each.site_id, {"corrected_by": str(visit.id)}
        )
        for each in amended
    ]
