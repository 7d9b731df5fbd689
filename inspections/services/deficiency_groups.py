"""Putting deficiencies of one cause together."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.db import transaction

from doors.errors import RefusedError
from doors.selectors.organizations import acting_party
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import current
from inspections.models import Deficiency, DeficiencyGroup, GroupedDeficiency


@transaction.atomic
def group_deficiencies(
    *, title: str, deficiencies: Sequence[UUID], words: str = ""
) -> DeficiencyGroup:
    """Put deficiencies in sight together, of one site or several, for the acting organization's
    own eyes. No state of any of them depends on it.
    """
    visible = set(Deficiency.objects.filter(id__in=deficiencies).values_list("id", flat=True))
    for index, wanted in enumerate(deficiencies):
        if wanted not in visible:
            detail = "You see no deficiency of this id."
            raise RefusedError.at(f"/deficiencies/{index}", detail)
    own = acting_party()
    group = DeficiencyGroup.objects.create(
        organization=own, title=title, words=words, created_at=current().now
    )
    GroupedDeficiency.objects.bulk_create(
        GroupedDeficiency(organization=own, group=group, deficiency_id=id_)
        for id_ in dict.fromkeys(deficiencies)
    )
    content = {"deficiencies": sorted(str(id_) for id_ in visible)}
    line = LedgerLine("deficiencies_grouped", group.id, None, content)
    write_ledger(custodian_id=own.id, lines=[line])
    return group
