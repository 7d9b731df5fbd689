"""Random histories of custody, grants, authorship and filings, and who sees what of them.

The reference is plain Python over what was said, without the table of sight: who was custodian
when, what was granted when, who wrote what. It finds midnights by walking the clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from random import Random
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

INSTANT = timedelta(microseconds=1)
ZONES = (
    "America/Chicago",
    "Pacific/Kiritimati",
    "Pacific/Pago_Pago",
    "America/Santiago",  # a midnight that does not exist
    "Australia/Lord_Howe",  # half an hour of summer time
    "UTC",
)
DAYS = (
    date(2024, 3, 10),
    date(2024, 3, 11),
    date(2024, 4, 7),
    date(2024, 9, 8),
    date(2024, 9, 9),
    date(2024, 10, 6),
    date(2024, 11, 3),
    date(2024, 11, 4),
    date(2025, 1, 1),
)
FIRST = date(2024, 1, 1)
ACTIONS = ("history", "plan", "record", "repair", "submit")
Kept = dict[str, Any]


@cache
def first_instant(on: date, zone: str) -> datetime:
    """The first moment of a day there."""
    place = ZoneInfo(zone)
    moment = datetime.combine(on, time(12), place).astimezone(UTC)
    while (moment - timedelta(minutes=1)).astimezone(place).date() == on:
        moment -= timedelta(minutes=1)
    return moment


@dataclass
class History:
    """Everything that happened, as rows of plain values, each with its `id`."""

    aliases: list[Kept] = field(default_factory=list)
    entries: list[Kept] = field(default_factory=list)
    sites: list[Kept] = field(default_factory=list)
    custodies: list[Kept] = field(default_factory=list)
    grants: list[Kept] = field(default_factory=list)
    visits: list[Kept] = field(default_factory=list)
    deficiencies: list[Kept] = field(default_factory=list)
    submittals: list[Kept] = field(default_factory=list)
    filings: list[Kept] = field(default_factory=list)
    reads: list[Kept] = field(default_factory=list)

    def edges(self) -> list[datetime]:
        """Every moment at which something may turn."""
        zones = {site["time_zone"] for site in self.sites}
        dated = [row[end] for row in (*self.custodies, *self.grants) for end in _ENDS]
        midnights = [first_instant(day, z) for day in set(dated) - {None} for z in zones]
        return midnights + [visit["performed_at"] for visit in self.visits]


_ENDS = ("begins_on", "ends_on")


def history(random: Random, parties: dict[str, list[UUID]]) -> History:
    """One random history over these owners, firms and authorities."""
    made = History()
    made.aliases += _aliases(random, parties)
    parties = parties | {"owners": [*parties["owners"], *(a["id"] for a in made.aliases)]}
    everybody = [*parties["owners"], *parties["firms"]]
    for position in range(1, random.randint(2, 5)):
        made.entries.append(
            {"id": _id(random), "organization": random.choice(everybody), "position": position}
        )
    for _ in range(random.randint(1, 2)):
        site = {"id": _id(random), "time_zone": random.choice(ZONES)}
        made.sites.append(site)
        made.custodies += _custodies(random, site, parties["owners"])
    made.grants += [_grant(random, made, parties) for _ in range(random.randint(0, 5))]
    edges = made.edges()
    for _ in range(random.randint(2, 5)):
        made.visits.append(_record(random, made, everybody, performed_at=_near(random, edges)))
    for _ in range(random.randint(0, 3)):
        made.deficiencies.append(_record(random, made, everybody, moved_at=_near(random, edges)))
    for _ in range(random.randint(0, 2)):
        _submit(random, made, everybody, parties["authorities"], edges)
    return made


def _aliases(random: Random, parties: dict[str, list[UUID]]) -> Iterator[Kept]:
    """Owners that a firm made, or nobody; some were taken over by another since."""
    for _ in range(random.randint(0, 2)):
        yield {
            "id": _id(random),
            "author": random.choice([None, *parties["firms"]]),
            "merged_into": random.choice([None, *parties["owners"]]),
            "claimed_at": first_instant(FIRST, "UTC"),
        }


def _id(random: Random) -> UUID:
    return UUID(int=random.getrandbits(128), version=4)


def _near(random: Random, edges: list[datetime]) -> datetime:
    return random.choice(edges) + random.choice([-INSTANT, timedelta(0), INSTANT, DAY, -DAY])


DAY = timedelta(days=1)


def _custodies(random: Random, site: Kept, owners: list[UUID]) -> Iterator[Kept]:
    turns = [FIRST, *sorted(random.sample(DAYS, random.randint(0, 3)))]
    for begins_on, ends_on in zip(turns, [*turns[1:], None], strict=True):
        yield {
            "id": _id(random),
            "site": site["id"],
            "owner": random.choice(owners),
            "begins_on": begins_on,
            "ends_on": ends_on,
        }


def _grant(random: Random, made: History, parties: dict[str, list[UUID]]) -> Kept:
    begins_on = random.choice((FIRST, *DAYS))
    later = [None, begins_on, *(day for day in DAYS if day > begins_on)]
    return {
        "id": _id(random),
        "owner": random.choice(parties["owners"]),
        "grantee": random.choice([*parties["firms"], *parties["owners"]]),
        "site": random.choice([None, *(site["id"] for site in made.sites)]),
        "actions": sorted({"read", *random.sample(ACTIONS, random.randint(0, 3))}),
        "begins_on": begins_on,
        "ends_on": random.choice(later),
    }


def _record(random: Random, made: History, authors: list[UUID], **moment: datetime) -> Kept:
    site = random.choice(made.sites)["id"]
    return {"id": _id(random), "site": site, "author": random.choice(authors), **moment}


def _submit(
    random: Random,
    made: History,
    authors: list[UUID],
    authorities: list[UUID],
    edges: list[datetime],
) -> None:
    submittal = _record(random, made, authors, assembled_at=_near(random, edges))
    made.submittals.append(submittal)
    for authority in random.sample(authorities, random.randint(0, len(authorities))):
        same = {name: submittal[name] for name in ("site", "author")}
        about = {"id": _id(random), "submittal": submittal["id"], "authority": authority, **same}
        made.filings.append({**about, "filed_at": _near(random, edges)})
        if random.random() < 0.5:
            read = {**about, "id": _id(random), "read_at": _near(random, edges)}
            made.reads.append(read)


@dataclass(frozen=True)
class Reference:
    """Who sees what, from the history alone."""

    told: History
    standing: Sequence[UUID]  # who was there before

    def seen_by(self, party: UUID, now: datetime) -> set[tuple[str, UUID]]:
        """Kind and id of each row that the party sees at that moment."""
        made = {alias["id"]: alias for alias in self.told.aliases}
        merged = {id_ for id_, alias in made.items() if alias["merged_into"] == party}
        rules = {
            "organization": (
                [{"id": id_} for id_ in (*self.standing, *made)],
                lambda r: (
                    r["id"] in {party, *merged}
                    or made.get(r["id"], {}).get("author") == party
                    or any({g["owner"], g["grantee"]} == {party, r["id"]} for g in self.told.grants)
                ),
            ),
            "entry": (self.told.entries, lambda r: r["organization"] in {party, *merged}),
            "site": (self.told.sites, lambda r: self._sees(party, r["id"], "read", now)),
            "custody": (
                self.told.custodies,
                lambda r: r["owner"] == party or self._sees(party, r["site"], "read", now),
            ),
            "grant": (self.told.grants, lambda r: party in {r["owner"], r["grantee"]}),
            "visit": (self.told.visits, lambda r: self._kept(party, r, "performed_at", now)),
            "deficiency": (self.told.deficiencies, lambda r: self._stands(party, r, now)),
            "submittal": (
                self.told.submittals,
                lambda r: self._kept(party, r, "assembled_at", now) or self._filed(party, r["id"]),
            ),
            "filing": (
                self.told.filings,
                lambda r: self._kept(party, r, "filed_at", now) or r["authority"] == party,
            ),
            "read": (
                self.told.reads,
                lambda r: (
                    r["authority"] == party
                    or self._sees(party, r["site"], "history", now)
                    or self._own_time(party, r["site"], r["read_at"], now, granted=False)
                ),
            ),
        }
        return {
            (kind, row["id"]) for kind, (rows, sees) in rules.items() for row in rows if sees(row)
        }

    def _times(self, party: UUID, site: UUID) -> Iterator[tuple[Any, Any, set[str], bool]]:
        """From when to when, with which actions, and whether by a grant."""
        zone = next(s["time_zone"] for s in self.told.sites if s["id"] == site)
        for held in (c for c in self.told.custodies if c["site"] == site):
            if held["owner"] == party:
                yield *_span(held, zone), {"read", *ACTIONS}, False
            for grant in self.told.grants:
                if grant["owner"] != held["owner"] or grant["grantee"] != party:
                    continue
                if grant["site"] in {None, site}:
                    (a, b), (c, d) = _span(held, zone), _span(grant, zone)
                    begin, end = max(a, c), min(b, d)
                    if begin < end:
                        yield begin, end, set(grant["actions"]), True

    def _sees(self, party: UUID, site: UUID, action: str, now: datetime) -> bool:
        return any(
            begin <= now < end and action in actions
            for begin, end, actions, _ in self._times(party, site)
        )

    def _own_time(
        self, party: UUID, site: UUID, moment: datetime, now: datetime, *, granted: bool
    ) -> bool:
        return any(
            begin <= now and begin <= moment < end and (granted or not by_grant)
            for begin, end, _, by_grant in self._times(party, site)
        )

    def _kept(self, party: UUID, row: Kept, moment: str, now: datetime) -> bool:
        return (
            row["author"] == party
            or self._sees(party, row["site"], "history", now)
            or self._own_time(party, row["site"], row[moment], now, granted=False)
        )

    def _stands(self, party: UUID, row: Kept, now: datetime) -> bool:
        wrote = row["author"] == party
        return self._sees(party, row["site"], "read", now) or self._own_time(
            party, row["site"], row["moved_at"], now, granted=wrote
        )

    def _filed(self, party: UUID, submittal: UUID) -> bool:
        return any(
            f["submittal"] == submittal and f["authority"] == party for f in self.told.filings
        )


def _span(row: Kept, zone: str) -> tuple[datetime, datetime]:
    end = datetime.max.replace(tzinfo=UTC)
    if row["ends_on"] is not None:
        end = first_instant(row["ends_on"], zone)
    return first_instant(row["begins_on"], zone), end
