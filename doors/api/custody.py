"""Who answers for a site, and its passing on: `/v1/sites/{id}/custody`, `/v1/custody-offers`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import CivilDateField, IdField, StrictSerializer
from doors.errors import NotVisibleError
from doors.models import Capability, Custody, CustodyOffer
from doors.selectors.visible import visible
from doors.services.custody import (
    accept_custody,
    offer_custody,
    refuse_custody,
    withdraw_custody_offer,
)

_OWNERS = frozenset({Capability.OWNER})


class CustodyOut(serializers.Serializer):
    """One owner's time with a site, in civil days of the site."""

    id = serializers.UUIDField(help_text="Id of this time.")
    site = serializers.UUIDField(help_text="Id of the site.")
    owner = serializers.CharField(help_text="The owner's name, as it was then.")
    begins_on = serializers.DateField(help_text="First day, from 00:00 at the site.")
    ends_on = serializers.DateField(allow_null=True, help_text="The first day after; null = open.")


class CustodyOfferIn(StrictSerializer):
    """The offer of a site to another owner."""

    buyer = IdField(help_text="Id of the owner it is offered to.")
    begins_on = CivilDateField(
        help_text="First day of the new custody, from 00:00 at the site; today there, or later."
    )


class CustodyOfferOut(serializers.Serializer):
    """The offer of a site by its owner to another."""

    id = serializers.UUIDField(help_text="Id of the offer.")
    site = serializers.UUIDField(help_text="Id of the site.")
    site_name = serializers.CharField(help_text="The site's name when it was offered.")
    site_address = serializers.ListField(
        child=serializers.CharField(), help_text="Its address when it was offered."
    )
    owner = serializers.CharField(help_text="Name of who offers it.")
    buyer = serializers.CharField(help_text="Name of whom it is offered to.")
    begins_on = serializers.DateField(help_text="First day of the new custody, at the site.")
    state = serializers.ChoiceField(
        choices=CustodyOffer.State.choices, help_text="Offered until one of the two has answered."
    )
    offered_at = serializers.DateTimeField(help_text="When it was offered, UTC.")
    answered_at = serializers.DateTimeField(
        allow_null=True, help_text="When it was answered or withdrawn, UTC; null = it waits."
    )


def custody_row(custody: Custody) -> dict[str, Any]:
    """A time of custody as the API gives it."""
    return {
        "id": custody.id,
        "site": custody.site_id,
        "owner": custody.owner_name,
        "begins_on": custody.begins_on,
        "ends_on": custody.ends_on,
    }


def offer_row(offer: CustodyOffer) -> dict[str, Any]:
    """An offer as the API gives it."""
    return {
        "id": offer.id,
        "site": offer.site_id,
        "site_name": offer.site_name,
        "site_address": offer.site_address,
        "owner": offer.owner_name,
        "buyer": offer.buyer_name,
        "begins_on": offer.begins_on,
        "state": offer.state,
        "offered_at": offer.offered_at,
        "answered_at": offer.answered_at,
    }


class CustodiesView(TenantView):
    """Who answers for a site, from when to when."""

    scope = "custody"
    capabilities = _OWNERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_custody", responses=CustodyOut(many=True))
    def get(self, request: Request, site_id: UUID) -> Response:
        """List the owners of a site in turn; a former owner sees its own time alone."""
        rows = Custody.objects.filter(site_id=site_id)
        if not rows.exists():
            raise NotVisibleError
        return self.page(rows, order=("begins_on", "id"), row=custody_row)

    @extend_schema(
        operation_id="offer_custody", request=CustodyOfferIn, responses={201: CustodyOfferOut}
    )
    def post(self, request: Request, site_id: UUID) -> Response:
        """Offer your site to another owner, who has it when it has accepted."""
        body = CustodyOfferIn(data=request.data)
        body.is_valid(raise_exception=True)
        fields = dict(body.validated_data)
        offer = offer_custody(site_id=site_id, buyer_id=fields.pop("buyer"), **fields)
        headers = {"Location": f"/v1/custody-offers/{offer.id}"}
        return Response(offer_row(offer), status=201, headers=headers)


class CustodyOffersView(TenantView):
    """Sites you offered, and sites you were offered."""

    scope = "custody"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_custody_offers", responses=CustodyOfferOut(many=True))
    def get(self, request: Request) -> Response:
        """List offers, newest first."""
        return self.page(CustodyOffer.objects.all(), order=("-offered_at", "id"), row=offer_row)


class CustodyOfferView(TenantView):
    """One offer."""

    scope = "custody"

    @extend_schema(operation_id="read_custody_offer", responses=CustodyOfferOut)
    def get(self, request: Request, offer_id: UUID) -> Response:
        """Read one offer."""
        offer = visible(CustodyOffer.objects.filter(id=offer_id))
        return Response(offer_row(offer))


class _AnswerView(TenantView):
    """What ends an offer. Nothing is sent along."""

    scope = "custody"
    capabilities = _OWNERS
    answer: ClassVar[Callable[..., CustodyOffer]]

    def _answered(self, offer_id: UUID) -> Response:
        return Response(offer_row(type(self).answer(offer_id=offer_id)))


class CustodyAcceptanceView(_AnswerView):
    """The acceptance of an offer."""

    answer = staticmethod(accept_custody)

    @extend_schema(operation_id="accept_custody", request=None, responses=CustodyOfferOut)
    def post(self, request: Request, offer_id: UUID) -> Response:
        """Take over the site you were offered, with its whole record."""
        return self._answered(offer_id)


class CustodyRefusalView(_AnswerView):
    """The refusal of an offer."""

    answer = staticmethod(refuse_custody)

    @extend_schema(operation_id="refuse_custody", request=None, responses=CustodyOfferOut)
    def post(self, request: Request, offer_id: UUID) -> Response:
        """Say no to the site you were offered."""
        return self._answered(offer_id)


class CustodyWithdrawalView(_AnswerView):
    """The withdrawal of an offer."""

    answer = staticmethod(withdraw_custody_offer)

    @extend_schema(operation_id="withdraw_custody_offer", request=None, responses=CustodyOfferOut)
    def post(self, request: Request, offer_id: UUID) -> Response:
        """Take back your offer while nobody has answered it."""
        return self._answered(offer_id)
