"""What an opening's removal means for what was wrong with it."""

from __future__ import annotations

from doors.models import Opening
from doors.selectors.sight import sight_of
from doors.services.ledger import LedgerLine, write_ledger
from inspections.models import Deficiency
from inspections.selectors.deficiencies import STANDING
from inspections.services.deficiencies import withdraw
from inspections.services.happenings import of_deficiency, tell
from inspections.services.untested import forget_untested


def close_as_removed(*, opening: Opening) -> None:
    """Close every standing deficiency of a removed opening, naming the authority's reference."""
    forget_untested(opening=opening)
    standing = Deficiency.objects.select_for_update().filter(
        opening_id=opening.id, state__in=STANDING
    )
    given = f", {opening.removal_reference}" if opening.removal_reference else ""
    reason, why = f"opening removed{given}", Deficiency.WithdrawnFor.REMOVAL
    closed = [withdraw(each, reason=reason, why=why) for each in standing]
    lines = [
        LedgerLine("deficiency_withdrawn", each.id, each.site_id, {"reason": each.reason})
        for each in closed
    ]
    if lines:
        sight = sight_of(opening.site_id, "manage")
        told = [of_deficiency(each) for each in closed]
        tell(happenings=told, site_id=opening.site_id, custodian_id=sight.custodian_id)
        write_ledger(custodian_id=sight.custodian_id, lines=lines)
