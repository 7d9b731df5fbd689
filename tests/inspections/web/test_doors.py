"""The page at a door: cautions, the short test, and what a sound may mean, for one door alone."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from doors.models import LedgerEntry
from doors.services.door_codes import make_door_code, revoke_door_code
from doors.tenancy import acting_for
from inspections.models import Deficiency, DoorReport, Notice, Owing, Stage, Visit
from inspections.services.owings import expand_waiting_owings
from inspections.services.sign_tables import set_sign_table
from tests.cast import Cast
from tests.doors.callers import Answer

pytestmark = pytest.mark.django_db
CALLS = [{"who": "Brass Lantern, day and night", "telephone": "+1 555 0100"}]
SOUNDING = {"alarm": "no", "heard": "repeated", "door": "part_way", "mains": "on"}


@pytest.fixture
def made(cast: Cast) -> tuple[str, Any]:
    """The path of a door's page, and its code's row."""
    with acting_for(cast.owner.id, write=True):
        code, url = make_door_code(opening_id=cast.opening.id, label="At the strike", calls=CALLS)
    return url[url.index("/d/") :], code


@pytest.fixture
def path(made: tuple[str, Any]) -> str:
    """The path of a door's page."""
    return made[0]


def shown(client: Client, path: str, **headers: str) -> str:
    """The page, opened well."""
    answer = client.get(path, headers=headers)
    assert answer.status_code == 200
    return str(answer.content.decode())


def form_of(html: str) -> str:
    """The token of the page's forms."""
    found = re.search(r'name="form" value="([^"]+)"', html)
    assert found
    return found[1]


def questions_of(html: str) -> list[str]:
    """The names of the test's questions."""
    return list(dict.fromkeys(re.findall(r'name="((?:checks|sequences):[^"]+)"', html)))


def filled(html: str, said: str = "yes", **more: str) -> dict[str, str]:
    """Every question answered alike."""
    answers = dict.fromkeys(questions_of(html), said)
    return {"form": form_of(html), "way": "test", "told_by": "Rosa Lind", **answers, **more}


def report(html: str, **more: str) -> dict[str, str]:
    """What is heard and seen."""
    return {"form": form_of(html), "way": "report", "told_by": "Rosa Lind", **SOUNDING, **more}


def told(answer: Answer, status: int = 200) -> str:
    """The page that was answered."""
    assert answer.status_code == status, answer.content.decode()[:3000]
    return answer.content.decode()


def visits(cast: Cast) -> list[Visit]:
    """Those of the door, as its owner sees them."""
    with acting_for(cast.owner.id, write=False):
        return list(Visit.objects.all())


def test_a_test_becomes_the_owners_visit(cast: Cast, path: str) -> None:
    """Attested by the person who names themselves, judged as ever."""
    client = Client()
    html = shown(client, path)
    assert html.index("Read this first") < html.index("Send the test")
    told(client.post(path, filled(html, remarks="All as it should be")))
    (visit,) = visits(cast)
    assert (visit.author_id, visit.attested_by) == (cast.owner.id, "Rosa Lind")
    assert visit.activity == "operation_test"
    assert visit.findings["remarks"] == "All as it should be"
    results = {c["check"]: c["result"] for c in visit.findings["checks"]}
    assert set(results.values()) == {"conforms"}
    assert all(step["seen"] for s in visit.findings["sequences"] for step in s["steps"])


def test_a_no_opens_a_deficiency_and_says_what_to_do(cast: Cast, path: str) -> None:
    """And whom to call."""
    client = Client()
    html = shown(client, path)
    answers = filled(html)
    answers["sequences:closes-on-signal"] = "no"
    page = told(client.post(path, answers))
    assert "does not conform" in page
    assert "Never secure a door in a way out shut" in page
    assert CALLS[0]["telephone"] in page
    with acting_for(cast.owner.id, write=False):
        assert Deficiency.objects.filter(subject="sequence:closes-on-signal").exists()


def test_nothing_passes_by_silence(cast: Cast, path: str) -> None:
    """Each question is answered, and what was not tested says why; nothing typed is lost."""
    client = Client()
    html = shown(client, path)
    answers = filled(html, "not_tested", remarks="no key")
    first, *_ = questions_of(html)
    del answers[first]
    page = told(client.post(path, answers), 422)
    assert "Answer this one" in page
    assert "Say why it was not tested" in page
    assert "no key" in page
    assert visits(cast) == []
    answers = filled(page, "not_tested")
    answers |= {f"reason:{name}": "no key" for name in questions_of(page)}
    page = told(client.post(path, answers))
    assert "not complete" in page
    (visit,) = visits(cast)
    assert visit.verdict in {"not_tested", "inconclusive"}


def test_a_double_tap_records_once(cast: Cast, path: str) -> None:
    """The same form sent again answers the same, whatever else it holds."""
    client = Client()
    html = shown(client, path)
    told(client.post(path, filled(html)))
    told(client.post(path, filled(html, "no")))
    assert len(visits(cast)) == 1
    told(client.post(path, report(html)))
    told(client.post(path, report(html)))
    with acting_for(cast.owner.id, write=False):
        assert DoorReport.objects.count() == 1


def test_a_report_opens_a_deficiency_and_tells_owner_and_firm(cast: Cast, path: str) -> None:
    """What it may mean comes from common practice while nothing of the door's own is on file."""
    client = Client()
    page = told(client.post(path, report(shown(client, path), words="It beeps since noon")))
    assert "From the common practice of the trade" in page
    assert "What it may mean" in page or "not known" in page
    with acting_for(cast.owner.id, write=False):
        kept = DoorReport.objects.get()
        assert kept.deficiency is not None
        assert kept.deficiency.state == "open"
        assert kept.deficiency.words == "It beeps since noon"
        assert "door_reported" in set(LedgerEntry.objects.values_list("kind", flat=True))
    owed = {}
    for who in (cast.owner, cast.firm):
        with acting_for(who.id, write=False):
            mine = Owing.objects.filter(stage=Stage.DOOR_REPORTED, custodian_id=who.id)
            owed[who.id] = [(o.thing, o.thing_version) for o in mine]
    assert owed == {cast.owner.id: [(kept.id, 1)], cast.firm.id: [(kept.id, 2)]}
    expand_waiting_owings()
    with acting_for(cast.owner.id, write=False):
        assert Notice.objects.filter(stage=Stage.DOOR_REPORTED).count() == 1


def test_the_same_told_twice_is_one_deficiency(cast: Cast, path: str) -> None:
    """By two people, an hour apart."""
    client = Client()
    for who in ("Rosa Lind", "Ben Ash"):
        told(client.post(path, report(shown(client, path), told_by=who)))
    with acting_for(cast.owner.id, write=False):
        assert DoorReport.objects.count() == 2
        assert DoorReport.objects.values("deficiency").distinct().count() == 1


def test_the_doors_own_table_goes_first(cast: Cast, path: str) -> None:
    """And alone: what its own instructions say is not mixed with what is usual."""
    entry = {
        "heard": ["repeated"],
        "may_mean": "The follower has left the track.",
        "do_first": ["Leave it alone."],
        "citation": {"publication": "Instructions of door A-1", "edition": "2019", "clause": "7"},
    }
    with acting_for(cast.firm.id, write=True):
        set_sign_table(opening_id=cast.opening.id, entries=[entry], expected=None)
    client = Client()
    page = told(client.post(path, report(shown(client, path))))
    assert "The follower has left the track." in page
    assert "From this door’s own instructions" in page
    assert "common practice" not in page


def test_an_alarm_comes_before_everything(path: str) -> None:
    """Whoever says that the alarm sounds is told to leave first."""
    client = Client()
    page = told(client.post(path, report(shown(client, path), alarm="yes")))
    assert page.index("leave now") < page.index("<h2>What it may mean")
    assert page.index("call the emergency number") < page.index("Do first")


def test_opening_the_page_changes_nothing(cast: Cast, path: str) -> None:
    """Whatever stands in the address."""
    with acting_for(cast.owner.id, write=False):
        before = LedgerEntry.objects.count()
    for more in ("", "?way=report&told_by=x&heard=steady", "?lang=xx"):
        for method in ("get", "head"):
            assert getattr(Client(), method)(path + more).status_code == 200
    with acting_for(cast.owner.id, write=False):
        assert LedgerEntry.objects.count() == before
    assert visits(cast) == []


def test_a_revoked_code_is_as_if_it_had_never_been(cast: Cast, made: tuple[str, Any]) -> None:
    """By reading and by sending, byte for byte."""
    path, code = made
    client = Client()
    html = shown(client, path)
    with acting_for(cast.owner.id, write=True):
        revoke_door_code(opening_id=cast.opening.id, code_id=code.id)
    never = f"/d/{'0' * 64}"
    assert (client.get(path).status_code, client.get(path).content) == (
        404,
        client.get(never).content,
    )
    gone, unknown = (client.post(p, filled(html)) for p in (path, never))
    assert (gone.status_code, gone.content) == (404, unknown.content)
    assert visits(cast) == []


def test_a_form_is_sent_from_its_page(cast: Cast, path: str) -> None:
    """Neither from elsewhere, nor with a token of another code or none."""
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(path, filled(shown(Client(), path))).status_code == 403
    with acting_for(cast.owner.id, write=True):
        _, other = make_door_code(opening_id=cast.opening.id, label="other")
    client = Client()
    of_other = form_of(shown(client, other[other.index("/d/") :]))
    for token in (of_other, "", "x"):
        html = shown(client, path)
        page = told(client.post(path, {**filled(html), "form": token}), 422)
        assert "open too long" in page
    assert visits(cast) == []


def test_a_code_is_throttled(path: str, settings: Any) -> None:  # noqa: ANN401
    """However many stand at the door."""
    settings.RATE_LIMITS = {**settings.RATE_LIMITS, "door": (2, 600)}
    client = Client()
    html = shown(client, path)
    statuses = [client.post(path, filled(html)).status_code for _ in range(3)]
    assert statuses == [200, 200, 429]


def test_nothing_but_this_door_is_shown(cast: Cast, path: str) -> None:
    """No other door, nobody's name or address, nothing of what was found before."""
    client = Client()
    told(client.post(path, filled(shown(client, path), "no", remarks="secret remark")))
    html = shown(client, path)
    for hidden in ("Rosa Lind", "secret remark", "Ada Quist", "ada@owner.example", cast.firm.name):
        assert hidden not in html.replace(CALLS[0]["who"], "")


def test_the_page_speaks_the_browsers_language(path: str) -> None:
    """And another by a link; the words of the rules too."""
    spanish = shown(Client(), path, accept_language="es-MX,es;q=0.9,en;q=0.5")
    assert '<html lang="es">' in spanish
    assert "Probar esta puerta" in spanish
    assert "la puerta empieza a cerrarse sola" in spanish
    assert 'href="?lang=en"' in spanish
    english = shown(Client(), f"{path}?lang=en", accept_language="es")
    assert '<html lang="en">' in english
    client = Client()
    page = told(client.post(f"{path}?lang=es", report(spanish)))
    assert "Qué puede significar" in page or "No se sabe qué significa" in page
    assert "Haga primero" in page
