"""Names that look like one that stands: taken, told of, and never merged."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.test import APIClient

from doors.models import Person
from doors.selectors.lookalikes import looks_like, skeleton
from doors.services.organizations import register_organization
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.test_organizations import OWNER

ALIKE = [
    ("Noor Vale", "Noor Vale"),
    ("Noor Vale", "noor  vale"),
    ("Noor Vale", "N\u043e\u043er V\u0430l\u0435"),  # Cyrillic o, a, e
    ("Noor Vale", "\u039d\u03bf\u03bfr Vale"),  # Greek Nu, omicron
    ("Noor Vale", "\uff2eoo\uff52 V\uff41le"),
    ("Noor Vale", "Noor Va1e"),
    ("Noor Vale", "Noor VaIe"),
    ("Hammond", "Harnmond"),
    ("B0lt 0wners", "Bolt Owners"),
    ("Caf\u00e9 Row", "Cafe\u0301 Row"),
    ("\u05de\u05d8\u05d4", "\u05de\u05d8\u05d4"),
]
APART = [
    ("Noor Vale", "Noor Vail"),
    ("Noor Vale", "Nora Vale"),
    ("Mill Lane 12", "Mill Lane 13"),
    ("Caf\u00e9 Row", "Cafe Row"),
    ("A", "B"),
]


@pytest.mark.parametrize(("one", "other"), ALIKE)
def test_what_looks_alike_is_seen(one: str, other: str) -> None:
    """Other scripts, widths, cases and spaces, and letters that draw another one."""
    assert looks_like(one, other)
    assert looks_like(other, one)


@pytest.mark.parametrize(("one", "other"), APART)
def test_what_reads_differently_is_not(one: str, other: str) -> None:
    """A warning that always comes is read by nobody."""
    assert not looks_like(one, other)


@pytest.mark.parametrize(
    ("text", "drawn"), [("m", "rn"), ("I", "l"), ("1", "l"), ("0", "O"), ("\u0430", "a")]
)
def test_the_skeleton_is_that_of_the_standard(text: str, drawn: str) -> None:
    """Prototypes as Unicode's table of confusables has them; a skeleton's skeleton is itself."""
    assert skeleton(text) == drawn
    assert skeleton(drawn) == drawn


def test_a_person_with_such_a_name_is_added_and_told_of(cast: Cast) -> None:
    """Both stand, each as it was written; only one's own people count."""
    firm = client_of(cast.firm)
    first = firm.post("/v1/people", {"name": "Ottoline Vale"})
    assert (first.status_code, first.json()["warnings"]) == (201, [])
    spoof = "Ott\u043eline Vale"
    second = firm.post("/v1/people", {"name": spoof})
    assert (second.status_code, second.json()["name"]) == (201, spoof)
    (warning,) = second.json()["warnings"]
    assert (warning["code"], warning["id"]) == ("name_looks_alike", first.json()["id"])
    assert "Ottoline Vale" in warning["detail"]
    with acting_for(cast.firm.id, write=False):
        assert Person.objects.filter(name__in=["Ottoline Vale", spoof]).count() == 2
    assert "warnings" not in firm.get(second["Location"]).json()
    elsewhere = client_of(cast.owner).post("/v1/people", {"name": "Ottoline Vale"})
    assert elsewhere.json()["warnings"] == []


def test_a_person_who_is_renamed_so_is_told_of(cast: Cast) -> None:
    """As one who is added; a change that names nobody tells of nobody."""
    firm = client_of(cast.firm)
    first = firm.post("/v1/people", {"name": "Ottoline Vale"}).json()
    other = firm.post("/v1/people", {"name": "Jo Marsh"})["Location"]
    changed = rename(firm, other, "0ttoline Vale")
    assert (changed["name"], [each["id"] for each in changed["warnings"]]) == (
        "0ttoline Vale",
        [first["id"]],
    )
    answer = firm.patch(other, {"position": "Inspector"}, HTTP_IF_MATCH="*")
    assert answer.json()["warnings"] == []
    assert rename(firm, other, "Jo Marsh")["warnings"] == []
    assert "warnings" not in firm.get(other).json()


def test_an_organization_that_is_renamed_so_is_told_of(cast: Cast) -> None:
    """An owner that a firm made, and an organization itself; by what each of them knows."""
    register_organization(name="Lantern Yard", capabilities=["owner"])
    firm = client_of(cast.firm)
    made = firm.post("/v1/organizations", OWNER)
    assert rename(firm, made["Location"], "Lantern Yard")["warnings"] == []
    name = cast.owner.name.upper()
    for address in (made["Location"], "/v1/me", f"/v1/organizations/{cast.firm.id}"):
        told = {each["id"] for each in rename(firm, address, name)["warnings"]}
        assert str(cast.owner.id) in told, address


def rename(client: APIClient, address: str, name: str) -> dict[str, Any]:
    """What is answered to a change of the name."""
    answer = client.patch(address, {"name": name}, format="json", HTTP_IF_MATCH="*")
    assert answer.status_code == 200, answer.content
    changed: dict[str, Any] = answer.json()
    return changed


def test_who_has_left_is_not_told_of(cast: Cast) -> None:
    """Nobody is taken for them any more."""
    firm = client_of(cast.firm)
    gone = firm.post("/v1/people", {"name": "Ottoline Vale"})
    assert firm.post(f"{gone['Location']}/end").status_code == 200
    assert firm.post("/v1/people", {"name": "Ottoline Va1e"}).json()["warnings"] == []


def test_an_owner_with_such_a_name_is_made_and_told_of(cast: Cast) -> None:
    """Under another reference it is another one; an organization one does not know is not told."""
    register_organization(name=str(OWNER["name"]), capabilities=["owner"])
    firm = client_of(cast.firm)
    first = firm.post("/v1/organizations", OWNER)
    assert (first.status_code, first.json()["warnings"]) == (201, [])
    name = str(OWNER["name"]).upper()
    second = firm.post("/v1/organizations", {**OWNER, "reference": "another", "name": name})
    assert second.status_code == 201
    assert [each["id"] for each in second.json()["warnings"]] == [first.json()["id"]]
    again = firm.post("/v1/organizations", {**OWNER, "reference": "another", "name": name})
    assert (again.status_code, again.json()) == (200, second.json())


def test_not_everybody_of_one_name_is_listed(cast: Cast) -> None:
    """Five are enough to see what is going on."""
    firm = client_of(cast.firm)
    told = [firm.post("/v1/people", {"name": "Jo Marsh"}).json()["warnings"] for _ in range(8)]
    assert [len(each) for each in told] == [0, 1, 2, 3, 4, 5, 5, 5]


@pytest.mark.parametrize("hidden", ["\u200b", "\u200d", "\ufeff", "\u202e", "\u2066", "\u00ad"])
@pytest.mark.parametrize(
    ("address", "field"),
    [
        ("/v1/people", "name"),
        ("/v1/organizations", "name"),
        ("/v1/organizations", "reference"),
    ],
)
def test_what_cannot_be_seen_is_refused(cast: Cast, address: str, field: str, hidden: str) -> None:
    """In names and in references: two that draw the same would be two."""
    body = OWNER if address.endswith("organizations") else {"name": "Jo Marsh"}
    refused = client_of(cast.firm).post(address, {**body, field: f"Jo{hidden} Marsh"})
    assert refused.status_code == 400
    assert refused.json()["errors"][0]["pointer"] == f"/{field}"
    assert refused.json()["errors"][0]["code"] in {"invisible_character", "direction_control"}
