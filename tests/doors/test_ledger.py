"""The ledger is one chain per custodian, and says where it was altered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable

import pytest
import rfc8785
from django.conf import settings
from django.db import connection
from hypothesis import HealthCheck, example, given
from hypothesis import settings as trying
from hypothesis import strategies as st

from doors.models import LedgerEntry, LedgerHead
from doors.services.ledger import (
    FIRST,
    LedgerFault,
    canonical_digest,
    canonical_json,
    verify_ledger,
)
from doors.tenancy import acting_for
from doors.walls import raise_walls
from tests.cast import Cast


def _entries(cast: Cast) -> list[LedgerEntry]:
    with acting_for(cast.owner.id, write=False):
        own = LedgerEntry.objects.filter(organization=cast.owner)
        return list(own.order_by("position"))


def test_every_act_stands_in_the_custodians_chain(cast: Cast) -> None:
    """In order, each naming the one before, the first naming none."""
    entries = _entries(cast)
    kinds = ["person_added", "site_opened", "opening_added", "leave_granted"]
    assert [e.kind for e in entries] == kinds
    assert [e.position for e in entries] == [1, 2, 3, 4]
    previous = [json.loads(e.body)["previous"] for e in entries]
    assert previous == [FIRST, *(e.entry_sha256 for e in entries[:3])]


def test_what_is_hashed_is_what_is_stored(cast: Cast) -> None:
    """Anybody can recompute it from the text, which is canonical JSON by RFC 8785."""
    for entry in _entries(cast):
        assert hashlib.sha256(entry.body.encode()).hexdigest() == entry.entry_sha256
        assert rfc8785.dumps(json.loads(entry.body)).decode() == entry.body


def test_an_untouched_chain_is_whole(cast: Cast) -> None:
    """No false alarm."""
    with acting_for(cast.owner.id, write=False):
        assert verify_ledger() == (4, None)


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ("UPDATE doors_ledgerentry SET body = replace(body, 'S-1', 'S-2') WHERE position = 2", 2),
        ("UPDATE doors_ledgerentry SET kind = 'nothing' WHERE position = 2", 2),
        ("DELETE FROM doors_ledgerentry WHERE position = 2", 3),
        ("UPDATE doors_ledgerentry SET position = 9 WHERE position = 4", 9),
    ],
)
def test_an_altered_chain_names_the_first_bad_entry(
    cast: Cast, change: str, found: int, unwalled: Callable[[str], None]
) -> None:
    """Text, columns, gaps and order are all checked."""
    unwalled(f"{change} AND organization_id = '{_stored(cast)}'")
    with acting_for(cast.owner.id, write=False):
        _, fault = verify_ledger()
    assert isinstance(fault, LedgerFault)
    assert fault.position == found


def test_a_cut_tail_shows_in_the_head(cast: Cast, unwalled: Callable[[str], None]) -> None:
    """The chain's own head names the last entry; who alters both needs an outside anchor."""
    unwalled(
        f"DELETE FROM doors_ledgerentry WHERE position = 4 AND organization_id = '{_stored(cast)}'"
    )
    with acting_for(cast.owner.id, write=False):
        _, fault = verify_ledger()
    assert fault is not None


def _stored(cast: Cast) -> str:
    return cast.owner.id.hex if connection.vendor == "sqlite" else str(cast.owner.id)


@pytest.fixture
def unwalled(cast: Cast) -> Callable[[str], None]:
    """Run a statement as somebody who holds the database itself."""

    def run(statement: str) -> None:
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute("RESET ROLE")
                cursor.execute("SET LOCAL session_replication_role = replica")  # no triggers
                cursor.execute(statement)
                cursor.execute("SET LOCAL session_replication_role = DEFAULT")
                cursor.execute(f"SET ROLE {settings.RUNTIME_ROLE}")
                return
            for verb in ("update", "delete"):
                cursor.execute(f"DROP TRIGGER doors_ledgerentry_append_only_{verb}")
            cursor.execute(statement)
        raise_walls()

    return run


def test_numbers_are_hashed_as_json_writes_them() -> None:
    """Vector of RFC 8785, 3.2.3: keys in UTF-16 order, the shortest form of a number."""
    text = rfc8785.dumps({"numbers": [333333333.33333329, 1e30, 4.5, 2e-3], "literals": [None]})
    assert text == b'{"literals":[null],"numbers":[333333333.3333333,1e+30,4.5,0.002]}'
    assert canonical_digest({"b": 1, "a": 2}) == hashlib.sha256(b'{"a":2,"b":1}').hexdigest()


_TEXT = st.text(st.characters(exclude_categories=["Cs"]))
_JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(-1e9, 1e9) | _TEXT,
    lambda inside: st.lists(inside) | st.dictionaries(_TEXT, inside),
)


@trying(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_JSON)
@example([chr(point) for point in range(0xD800)])
@example([chr(point) for point in range(0xE000, 0x11000)])
@example({"\U00010000": 1, "\uffff": 2, "\u20ac": 3, "\r": 4, "1": 5, "": 6, "\x7f": 7})
@example({"big": 2**53 - 1, "small": 1 - 2**53, "yes": True, "none": None, "half": 1e-7})
@example([[], {}, [[]], {"a": {}}])
def test_the_quicker_writer_writes_the_same_bytes(content: object) -> None:
    """As the one that follows RFC 8785 to the letter."""
    assert canonical_json(content) == rfc8785.dumps(content)  # type: ignore[arg-type]


@pytest.mark.parametrize("content", [2**53, -(2**53), ["\ud800"], {1: "a"}, {"a": float("nan")}])
def test_what_no_canonical_json_has_is_refused(content: object) -> None:
    """Whichever writer meets it."""
    with pytest.raises(rfc8785.CanonicalizationError):
        canonical_json(content)


def test_each_custodian_has_its_own_head(cast: Cast) -> None:
    """Nobody's activity shows in another's count."""
    with acting_for(cast.neighbour.id, write=False):
        assert LedgerHead.objects.get(organization=cast.neighbour).position == 3
