"""Openings to be recorded, one or many: each is looked at by itself, and all are kept at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Q

from doors.clock import civil_date
from doors.errors import AlreadyExistsError, FutureDateError, RefusedError
from doors.models import Opening, OpeningFacts, OpeningTag, Sight, Site
from doors.reactions import Event, react
from doors.selectors.jurisdictions import Place, place_of
from doors.selectors.sight import sight_of
from doors.services.facts import facts_from
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.tenancy import current
from rules.errors import InputError
from rules.quantities import Dimension, quantity


@dataclass
class AtOneSite:
    """Those of one site; what is asked about the site is asked once for all of them."""

    site: Site
    sight: Sight
    today: date
    place: Place
    openings: list[Opening] = field(default_factory=list)
    facts: list[OpeningFacts] = field(default_factory=list)
    tags: list[OpeningTag] = field(default_factory=list)

    @classmethod
    def of(cls, site_id: UUID) -> AtOneSite:
        """A site that the acting organization manages."""
        sight = sight_of(site_id, "manage")
        site = Site.objects.get(id=site_id)
        today = civil_date(current().now, site.time_zone)
        return cls(site, sight, today, place_of(site_id, today))

    def look(
        self,
        *,
        facts: Mapping[str, Any],
        listed_instructions: Sequence[Any] = (),
        in_place_since: date | None = None,
        replaces: UUID | None = None,
        **particulars: Any,
    ) -> Opening:
        """Take one in, not yet kept; raises what is wrong with it by itself."""
        begins_on = in_place_since or self.today
        if begins_on > self.today:
            detail = "An opening cannot stand from a future day."
            raise FutureDateError.at("/in_place_since", detail)
        refuse_other_measure(particulars.get("travel_length"), Dimension.LENGTH, "/travel_length")
        opening = Opening(
            site=self.site,
            replaces=_replaced(self.site.id, replaces) if replaces else None,
            created_at=current().now,
            changed_at=current().now,
            **particulars,
        )
        began = facts_from(
            opening,
            facts,
            listed_instructions,
            begins_on=begins_on,
            place=self.place,
            today=self.today,
        )
        borne = OpeningTag(site=self.site, opening=opening, tag=opening.tag, begins_on=begins_on)
        self.openings.append(opening)
        self.facts.append(began)
        self.tags.append(borne)
        return opening

    def keep(self) -> list[Opening]:
        """Record all that were looked at; their duties begin with them."""
        self._save()
        OpeningFacts.objects.bulk_create(self.facts)
        react(Event.OPENINGS_ADDED, site=self.site, facts=self.facts)
        lines = [
            LedgerLine(
                "opening_added",
                opening.id,
                self.site.id,
                {"facts_sha256": canonical_digest(began.facts), "door_type": opening.door_type},
            )
            for opening, began in zip(self.openings, self.facts, strict=True)
        ]
        write_ledger(custodian_id=self.sight.custodian_id, lines=lines)
        return self.openings

    def _save(self) -> None:
        try:
            with transaction.atomic():
                Opening.objects.bulk_create(self.openings)
                OpeningTag.objects.bulk_create(self.tags)
        except IntegrityError as error:
            clashes = (clash for opening in self.openings if (clash := clash_of(opening)))
            raise next(clashes, error) from error


@dataclass
class Newcomers:
    """Openings of any number of sites that are recorded together, in the transaction at hand.

    `names` are the references and tags that the rows at hand say: what stands under them is looked
    up once for a site; whoever changes one of these makes what was looked up say so.
    """

    names: frozenset[str] = frozenset()
    sites: dict[UUID, AtOneSite] = field(default_factory=dict)
    _standing: dict[UUID, list[Opening]] = field(default_factory=dict)

    def at(self, site_id: UUID) -> AtOneSite:
        """Those of a site."""
        if site_id not in self.sites:
            self.sites[site_id] = AtOneSite.of(site_id)
        return self.sites[site_id]

    def alike(self, site: Site, reference: str, tag: str) -> list[Opening]:
        """The openings that stand at a site by now under that reference or that tag."""
        if not {reference, tag} <= self.names:
            self.names |= {reference, tag}
            self._standing.clear()
        if site.id not in self._standing:
            rows = Opening.objects.select_related("site").filter(site=site, removed_on=None)
            named = rows.filter(Q(reference__in=self.names) | Q(tag__in=self.names))
            self._standing[site.id] = list(named)
        here = self._standing[site.id]
        return [each for each in here if each.reference == reference or each.tag == tag]

    def keep(self) -> None:
        """Record them all; the chains are taken in one order, whoever else takes several."""
        for each in sorted(self.sites.values(), key=lambda at: at.sight.custodian_id):
            if each.openings:
                each.keep()


def _replaced(site_id: UUID, replaced_id: UUID) -> Opening:
    found = Opening.objects.filter(id=replaced_id, site_id=site_id).first()
    if found is None:
        raise RefusedError.at("/replaces", "No opening of this site has this id.")
    if found.removed_on is None:
        raise RefusedError.at("/replaces", "It stands: remove it first, or replace it.")
    if Opening.objects.filter(replaces=found).exists():
        raise AlreadyExistsError.at("/replaces", "Another opening replaces it already.")
    return found


def refuse_other_measure(
    amount: Mapping[str, str] | None, dimension: Dimension, pointer: str
) -> None:
    """Refuse an amount that is not of that dimension, or not above zero."""
    if amount is None:
        return
    measure = quantity(amount["value"], amount["unit"], pointer)
    if measure.unit.dimension is not dimension:
        raise InputError.at(f"{pointer}/unit", "wrong_dimension", f"this is a {dimension}")
    if measure.value <= 0:
        raise InputError.at(f"{pointer}/value", "out_of_range", "this is above zero")


def clash_of(opening: Opening) -> AlreadyExistsError | None:
    """Which of the two names of an opening another one at its site bears, if one does."""
    others = Opening.objects.filter(site_id=opening.site_id, removed_on=None)
    others = others.exclude(id=opening.id)
    if opening.reference and others.filter(reference=opening.reference).exists():
        detail = f"An opening of this site has the reference {opening.reference!r} already."
        return AlreadyExistsError.at("/reference", detail)  # type: ignore[return-value]
    if others.filter(tag=opening.tag).exists():
        detail = f"An opening of this site bears the tag {opening.tag!r} already."
        return AlreadyExistsError.at("/tag", detail)  # type: ignore[return-value]
    return None
