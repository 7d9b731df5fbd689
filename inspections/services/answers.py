"""What an authority answers to a filing, and whose records say so."""

from __future__ import annotations

from dataclasses import replace
from uuid import UUID

from django.db import transaction

from doors.errors import RefusedError
from doors.selectors.organizations import acting_party
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.tenancy import acting_for, acting_organization, current
from inspections.models import Filing
from inspections.services.feeds import enter_feed
from inspections.services.submittals import tell_of_filing
from inspections.states import FILING, move


@transaction.atomic
def answer_filing(*, submittal_id: UUID, state: str, remarks: str = "") -> Filing:
    """The authority's answer: accepted, or returned with remarks that say what is wanting."""
    authority_id = acting_organization()
    rows = Filing.objects.select_for_update(of=("self",)).select_related("submittal")
    filing = visible(rows.filter(submittal_id=submittal_id, authority_id=authority_id))
    if state == "returned" and not remarks.strip():
        raise RefusedError.at("/remarks", "Say what is wanting.")
    filing.state = move(FILING, filing.state, state)
    filing.remarks, filing.answered_at = remarks, current().now
    filing.version += 1
    filing.save(update_fields=["state", "remarks", "answered_at", "version"])
    tell_of_filing(filing)
    _enter_answer(filing)
    enter_feed(filing=filing)
    return filing


def _enter_answer(filing: Filing) -> None:
    """Write the answer into the chain of who gave it and of whose building it is about, whoever
    answers for what was its custodian's by now; the chains are taken in the order of their ids.
    """
    content = {
        "submittal": str(filing.submittal_id),
        "authority": filing.authority_name,
        "state": filing.state,
        "remarks_sha256": canonical_digest(filing.remarks),
    }
    line = LedgerLine("submittal_answered", filing.id, None, content)
    with acting_for(filing.custodian_id, write=False):
        owner_id = acting_party().merged_into_id or filing.custodian_id
    sites = {filing.authority_id: None, owner_id: filing.site_id}
    for chain, site_id in sorted(sites.items()):
        with acting_for(chain, author_id=filing.authority_id, write=True):
            write_ledger(custodian_id=chain, lines=[replace(line, site_id=site_id)])
