"""A site passes from one owner to another: offered by the one, accepted by the other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.clock import civil_date
from doors.errors import AlreadyExistsError, RefusedError, WrongStateError
from doors.models import Capability, Custody, CustodyOffer, Grant, Organization, Site
from doors.reactions import Event, react
from doors.selectors.organizations import acting_party, party_in_reach
from doors.selectors.sight import sight_of
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.sight import derive_sight, lock_sight
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up


@transaction.atomic
def offer_custody(*, site_id: UUID, buyer_id: UUID, begins_on: date) -> CustodyOffer:
    """Offer a site to another owner from a day on, today or later: what happened until now
    happened in the present owner's custody, and who was told of it was the right one.
    """
    owner_id = acting_organization()
    lock_sight(owner_id)
    sight_of(site_id, "manage")
    site = Site.objects.get(id=site_id)
    _refuse_day(site, begins_on)
    buyer = _buyer(buyer_id)
    held = Custody.objects.filter(site=site, owner_id=owner_id, ends_on=None).first()
    if held is None:
        raise WrongStateError("This site passes to another owner already.")
    if begins_on <= held.begins_on:
        raise RefusedError.at("/begins_on", "Custody passes a day after it began, or later.")
    offer = CustodyOffer(
        site=site,
        site_name=site.name,
        site_address=site.address,
        owner_id=owner_id,
        owner_name=acting_party().name,
        buyer_id=buyer.id,
        buyer_name=buyer.name,
        begins_on=begins_on,
        offered_at=current().now,
    )
    _save(offer)
    content = {"buyer": str(buyer.id), "from": begins_on.isoformat()}
    line = LedgerLine("custody_offered", offer.id, site.id, content)
    write_ledger(custodian_id=owner_id, lines=[line])
    return offer


def _refuse_day(site: Site, begins_on: date) -> None:
    if begins_on < civil_date(current().now, site.time_zone):
        raise RefusedError.at("/begins_on", "Custody passes today, by the site's clock, or later.")


def _buyer(buyer_id: UUID) -> Organization:
    if buyer_id == acting_organization():
        raise RefusedError.at("/buyer", "The site is in your own custody already.")
    buyer = party_in_reach(buyer_id)
    if buyer is None or Capability.OWNER not in buyer.capabilities:
        raise RefusedError.at("/buyer", "No owner has this id.")
    return buyer


def _save(offer: CustodyOffer) -> None:
    try:
        with transaction.atomic():
            offer.save(force_insert=True)
    except IntegrityError as error:
        raise AlreadyExistsError("This site is offered to somebody already.") from error


@transaction.atomic
def accept_custody(*, offer_id: UUID) -> CustodyOffer:
    """Take over the site that was offered. In the same transaction the record, what is due and
    what stands open pass on, what waits to be told is told to the new owner, and what the old
    one granted there ends.
    """
    offer = _open_offer(offer_id, as_buyer=True)
    lock_sight(offer.owner_id, offer.buyer_id)
    with _as_seller(offer):
        site = Site.objects.get(id=offer.site_id)
        ended = _end_grants(offer)
    if offer.begins_on < civil_date(current().now, site.time_zone):
        raise WrongStateError("The day of this offer has passed; ask for another.")
    _pass(offer)
    derive_sight(site_ids=[site.id])
    _answer(offer, CustodyOffer.State.ACCEPTED)
    react(Event.CUSTODY_PASSED, site=site, begins_on=offer.begins_on)
    _enter(offer, ended)
    return offer


def refuse_custody(*, offer_id: UUID) -> CustodyOffer:
    """Say no to a site that was offered to the acting organization."""
    return _end_offer(offer_id, CustodyOffer.State.REFUSED, as_buyer=True)


def withdraw_custody_offer(*, offer_id: UUID) -> CustodyOffer:
    """Take back an offer of the acting organization's own that nobody has answered."""
    return _end_offer(offer_id, CustodyOffer.State.WITHDRAWN, as_buyer=False)


@transaction.atomic
def _end_offer(offer_id: UUID, state: str, *, as_buyer: bool) -> CustodyOffer:
    offer = _open_offer(offer_id, as_buyer=as_buyer)
    _answer(offer, state)
    line = LedgerLine(f"custody_offer_{state}", offer.id, offer.site_id, {})
    write_ledger(custodian_id=acting_organization(), lines=[line])
    return offer


def _open_offer(offer_id: UUID, *, as_buyer: bool) -> CustodyOffer:
    """The offer, locked, if it waits for the acting organization's own answer."""
    offer = visible(CustodyOffer.objects.select_for_update().filter(id=offer_id))
    if acting_organization() != (offer.buyer_id if as_buyer else offer.owner_id):
        side = "whom it was offered to" if as_buyer else "who offered it"
        raise WrongStateError(f"Only {side} may do this.")
    if offer.state != CustodyOffer.State.OFFERED:
        raise WrongStateError(f"This offer was {offer.state} already.")
    return offer


def _answer(offer: CustodyOffer, state: str) -> None:
    offer.state, offer.answered_at = state, current().now
    offer.save(update_fields=["state", "answered_at"])


def _pass(offer: CustodyOffer) -> None:
    with looking_up(Purpose.CUSTODY, write=True):
        held = Custody.objects.filter(site_id=offer.site_id, ends_on=None)
        if not held.filter(owner_id=offer.owner_id).update(ends_on=offer.begins_on):
            raise WrongStateError("Who offered this site has not got it any more.")
        Custody.objects.create(
            site_id=offer.site_id,
            owner_id=offer.buyer_id,
            owner_name=offer.buyer_name,
            begins_on=offer.begins_on,
        )


def _end_grants(offer: CustodyOffer) -> list[Grant]:
    """End the seller's grants of this one site; those of all its sites end here by themselves,
    since sight lasts no longer than the custody it comes from.
    """
    ended = []
    for grant in Grant.objects.filter(owner_id=offer.owner_id, site_id=offer.site_id):
        last = max(grant.begins_on, offer.begins_on)
        if grant.ends_on is None or grant.ends_on > last:
            grant.ends_on = last
            grant.save(update_fields=["ends_on"])
            ended.append(grant)
    return ended


@contextmanager
def _as_seller(offer: CustodyOffer) -> Iterator[None]:
    """Act in the seller's name, by its own offer, in the words of the buyer who accepts it."""
    with acting_for(offer.owner_id, write=True, key_id=current().key_id, author_id=offer.buyer_id):
        yield


def _enter(offer: CustodyOffer, ended: list[Grant]) -> None:
    """A line in either chain; whoever locks two heads locks them in the order of their owners."""
    content = {"from": offer.begins_on.isoformat()}
    gone = {"buyer": str(offer.buyer_id), **content}
    passed = [LedgerLine("custody_passed", offer.id, offer.site_id, gone)]
    passed += [LedgerLine("leave_ended", g.id, g.site_id, {"to": str(g.ends_on)}) for g in ended]
    come = {"owner": str(offer.owner_id), **content}
    received = [LedgerLine("custody_received", offer.id, offer.site_id, come)]
    for owner_id in sorted([offer.owner_id, offer.buyer_id]):
        if owner_id == offer.buyer_id:
            write_ledger(custodian_id=owner_id, lines=received)
        else:
            with _as_seller(offer):
                write_ledger(custodian_id=owner_id, lines=passed)
