"""Each row of the sharing table: what happens to a record when leave, custody or a place ends."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, connection, transaction

from doors.clock import start_of_day
from doors.errors import NotVisibleError, RefusedError, ServiceError, WrongStateError
from doors.models import (
    Custody,
    Grant,
    Job,
    Jurisdiction,
    LedgerEntry,
    Opening,
    Organization,
    Person,
    Sight,
    Site,
)
from doors.services.custody import accept_custody, offer_custody, refuse_custody
from doors.services.grants import end_grant, grant_leave
from doors.services.jobs import run_waiting_jobs
from doors.services.jurisdictions import establish_jurisdiction
from doors.services.ledger import verify_ledger
from doors.services.openings import add_opening
from doors.services.organizations import register_organization
from doors.services.places import place_site
from doors.services.sites import open_site
from doors.tenancy import acting_for
from inspections.models import Deficiency, Duty, Notice, Owing, ReadLine, Submittal, Visit
from inspections.services.deficiencies import record_repair
from inspections.services.notices import deliver_waiting_notices
from inspections.services.owings import expand_waiting_owings
from inspections.services.places import settle_site
from inspections.services.submittals import ask_for_submittal, file_submittal
from tests.cast import FACTS, SINCE, TOWN, Cast, conforming, findings, today, visit
from tests.clients import client_of

TOO_STRONG = ("set_in_motion_force", "33.4", "lbf")
DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
INSTANT = timedelta(microseconds=1)


def sell(cast: Cast, on: date) -> None:
    """The owner's site passes to the neighbour."""
    with acting_for(cast.owner.id, write=True):
        offer = offer_custody(site_id=cast.site.id, buyer_id=cast.neighbour.id, begins_on=on)
    with acting_for(cast.neighbour.id, write=True):
        accept_custody(offer_id=offer.id)


def visits_of(who: Organization) -> set[UUID]:
    """The visits that an organization sees."""
    with acting_for(who.id, write=False):
        return set(Visit.objects.values_list("id", flat=True))


def end_leave(cast: Cast, on: date) -> None:
    """The owner ends the firm's grant."""
    with acting_for(cast.owner.id, write=True):
        end_grant(grant_id=Grant.objects.get(grantee=cast.firm).id, ends_on=on)


# --- an owner changes its firm on a day -----------------------------------------------------------


def test_the_old_firm_records_nothing_from_the_day_its_leave_ends(cast: Cast) -> None:
    """Refused with the reason, since it knows the door; nothing is stored."""
    end_leave(cast, today())
    with acting_for(cast.firm.id, write=True), pytest.raises(RefusedError) as refused:
        visit(cast.opening, findings(), at=start_of_day(today(), cast.site.time_zone))
    assert refused.value.errors[0].pointer == "/performed_at"
    assert visits_of(cast.owner) == set()


def test_the_old_firm_reads_what_it_authored_and_nothing_newer(cast: Cast) -> None:
    """Its own visit for ever; the next firm's never, nor the owner's."""
    with acting_for(cast.firm.id, write=True):
        own = visit(cast.opening, findings())
    end_leave(cast, today())
    with acting_for(cast.owner.id, write=True):
        newer = visit(cast.opening, findings())
    assert visits_of(cast.firm) == {own.id}
    assert visits_of(cast.owner) == {own.id, newer.id}


def test_the_new_firm_sees_history_only_where_that_is_granted(cast: Cast) -> None:
    """Its work needs the door, what is due and what is wrong; the rest is the owner's to show."""
    with acting_for(cast.firm.id, write=True):
        earlier = visit(cast.opening, findings(TOO_STRONG))
    give(cast, ["record"])
    with acting_for(cast.stranger.id, write=True):
        assert Opening.objects.get().id == cast.opening.id
        assert Duty.objects.exists()
        assert Deficiency.objects.exists()
        assert not Visit.objects.exists()
        own = visit(cast.opening, findings())
    assert visits_of(cast.stranger) == {own.id}
    give(cast, ["history"])
    assert visits_of(cast.stranger) == {earlier.id, own.id}


def give(cast: Cast, actions: list[str]) -> None:
    """The owner lets the stranger act at all its sites from today on."""
    with acting_for(cast.owner.id, write=True):
        grant_leave(grantee_id=cast.stranger.id, actions=actions, begins_on=today())


def test_what_is_due_is_worked_out_from_all_visits_whoever_adds_one(cast: Cast) -> None:
    """A firm that may not read the others' visits does not set the clock back."""
    with acting_for(cast.owner.id, write=True):
        visit(cast.opening, conforming(cast.opening, "periodic_inspection"))
        before = dict(Duty.objects.values_list("requirement", "due_on"))
    give(cast, ["record"])
    with acting_for(cast.stranger.id, write=True):
        visit(cast.opening, findings(), at=datetime.fromisoformat("2021-01-01T12:00:00-06:00"))
    with acting_for(cast.owner.id, write=False):
        assert dict(Duty.objects.values_list("requirement", "due_on")) == before


def test_who_files_packets_reads_the_history(cast: Cast) -> None:
    """A packet holds the whole record, so `submit` carries `history`."""
    with acting_for(cast.owner.id, write=False):
        assert "history" in Grant.objects.get(grantee=cast.firm).actions


def test_the_past_of_a_grant_is_not_rewritten(cast: Cast) -> None:
    """It ends today at the earliest: what was done under it was lawful."""
    with acting_for(cast.owner.id, write=True), pytest.raises(RefusedError) as refused:
        end_grant(grant_id=Grant.objects.get().id, ends_on=today() - DAY)
    assert refused.value.errors[0].pointer == "/ends_on"


def test_leave_for_all_sites_covers_one_that_comes_later(cast: Cast) -> None:
    """Opened or bought: nobody must remember to grant it again."""
    with acting_for(cast.owner.id, write=True):
        second = open_site(
            reference="S-2",
            name="Annexe",
            address=["2 High Street"],
            time_zone=cast.site.time_zone,
            jurisdiction_code=TOWN,
        )
    with acting_for(cast.firm.id, write=False):
        assert Site.objects.filter(id=second.id).exists()


# --- a visit made before the leave ended, uploaded after ------------------------------------------


@pytest.mark.parametrize(
    ("after", "taken"), [(DAY, True), (7 * DAY - MINUTE, True), (7 * DAY, False)]
)
def test_a_late_visit_is_taken_for_seven_days_and_flagged(
    cast: Cast, after: timedelta, taken: int, ended: Callable[[timedelta], datetime]
) -> None:
    """Performed before the end; after the grace it is refused with the reason."""
    ended_at = ended(after)
    with acting_for(cast.firm.id, write=True):
        if taken:
            made = visit(cast.opening, findings(TOO_STRONG), at=ended_at - INSTANT)
            assert (made.late, made.author_id) == (True, cast.firm.id)
        else:
            with pytest.raises(RefusedError, match="could be sent for 7 days"):
                visit(cast.opening, findings(), at=ended_at - INSTANT)
    with acting_for(cast.owner.id, write=False):
        assert Visit.objects.filter(late=True).count() == taken
        assert Deficiency.objects.count() == taken
        owed = Owing.objects.filter(custodian=cast.owner, stage="test_failed")
        assert owed.count() == taken
        assert verify_ledger()[1] is None


@pytest.mark.parametrize("later", [timedelta(0), INSTANT])
def test_a_visit_from_the_end_on_is_refused(
    cast: Cast, later: timedelta, ended: Callable[[timedelta], datetime]
) -> None:
    """To the microsecond, by the site's own midnight."""
    ended_at = ended(DAY)
    with acting_for(cast.firm.id, write=True), pytest.raises(RefusedError) as refused:
        visit(cast.opening, findings(), at=ended_at + later)
    assert refused.value.errors[0].pointer == "/performed_at"


@pytest.fixture
def ended(cast: Cast) -> Callable[[timedelta], datetime]:
    """Let the firm's leave have ended so long ago, and say when that was."""

    def end(ago: timedelta) -> datetime:
        with acting_for(cast.owner.id, write=False) as context:
            at = context.now - ago
        rewrite("UPDATE doors_sight SET ends_at = %s WHERE grant_id IS NOT NULL", at)
        rewrite("UPDATE doors_opening SET created_at = %s, version = version + 1", at - DAY)
        return at

    return end


def rewrite(statement: str, *values: datetime | date | str) -> None:
    """Change what nobody of the service may, as who holds the database."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT current_user")
            role = cursor.fetchone()[0]
            cursor.execute("RESET ROLE")
        cursor.execute(statement, values)
        if connection.vendor == "postgresql":
            cursor.execute(f"SET ROLE {role}")


# --- a site is sold -------------------------------------------------------------------------------


@pytest.fixture
def midnight(cast: Cast) -> datetime:
    """When today began at the site: the earliest moment at which a sale may take effect."""
    return start_of_day(today(), cast.site.time_zone)


def test_the_old_owner_keeps_its_period_and_sees_nothing_later(
    cast: Cast, midnight: datetime
) -> None:
    """The new owner has the whole record; the old one what was performed in its time."""
    with acting_for(cast.firm.id, write=True):
        before = visit(cast.opening, findings(TOO_STRONG), at=midnight - INSTANT)
    sell(cast, today())
    with acting_for(cast.neighbour.id, write=True):
        at_once = visit(cast.opening, findings(), at=midnight)
        after = visit(cast.opening, findings(), at=midnight + INSTANT)
        assert Deficiency.objects.filter(found_by=before).exists()
    assert visits_of(cast.owner) == {before.id}
    assert visits_of(cast.neighbour) == {before.id, at_once.id, after.id}
    with acting_for(cast.owner.id, write=True):
        assert not Site.objects.exists()
        with pytest.raises((NotVisibleError, RefusedError)):
            visit(cast.opening, findings(), at=midnight)


def test_the_old_owner_sees_of_what_stood_open_only_how_it_stood(
    cast: Cast, midnight: datetime
) -> None:
    """Who mends it, and when, is the new owner's business."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(TOO_STRONG), at=midnight - 2 * INSTANT)
    sell(cast, today())
    with acting_for(cast.owner.id, write=False):
        assert [d.state for d in Deficiency.objects.all()] == ["open"]
    with acting_for(cast.neighbour.id, write=True):
        record_repair(
            deficiency_id=Deficiency.objects.get().id,
            done_at=midnight + INSTANT,
            done_by="Ivo Lund",
            words="eased",
        )
    with acting_for(cast.owner.id, write=False):
        assert not Deficiency.objects.exists()


def test_the_old_owners_firm_is_out_and_the_new_owners_is_in(cast: Cast) -> None:
    """Grants go with who gave them."""
    with acting_for(cast.neighbour.id, write=True):
        grant_leave(grantee_id=cast.stranger.id, actions=["record"], begins_on=SINCE)
    sell(cast, today())
    with acting_for(cast.firm.id, write=False):
        assert not Site.objects.filter(id=cast.site.id).exists()
    with acting_for(cast.stranger.id, write=False):
        assert Site.objects.filter(id=cast.site.id).exists()


def test_a_grant_of_the_one_site_ends_with_the_sale(cast: Cast) -> None:
    """In the grant itself, so that its list tells the truth."""
    with acting_for(cast.owner.id, write=True):
        one = grant_leave(
            grantee_id=cast.stranger.id, actions=["record"], begins_on=SINCE, site_id=cast.site.id
        )
    sell(cast, today() + DAY)
    with acting_for(cast.owner.id, write=False):
        assert Grant.objects.get(id=one.id).ends_on == today() + DAY


def test_what_waits_to_be_told_is_told_to_the_new_owner_alone(
    cast: Cast, midnight: datetime
) -> None:
    """One thing, one owner: the old one's notice is withdrawn in the same transaction."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(TOO_STRONG), at=midnight - INSTANT)
    expand_waiting_owings()
    sell(cast, today())
    expand_waiting_owings()
    deliver_waiting_notices()
    assert notices_of(cast.owner) == ["withdrawn"]
    assert notices_of(cast.neighbour) == ["done"]


def test_what_the_old_owner_was_told_is_told_to_nobody_else(cast: Cast, midnight: datetime) -> None:
    """No notice of one thing to both."""
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(TOO_STRONG), at=midnight - INSTANT)
    expand_waiting_owings()
    deliver_waiting_notices()
    sell(cast, today())
    expand_waiting_owings()
    deliver_waiting_notices()
    assert notices_of(cast.owner) == ["done"]
    assert notices_of(cast.neighbour) == []


def test_a_sale_to_come_retargets_when_it_comes(cast: Cast, midnight: datetime) -> None:
    """Until then the old owner is told; from then on what waits is the new one's, even before
    any job has run.
    """
    sell(cast, today() + DAY)
    with acting_for(cast.owner.id, write=True):
        visit(cast.opening, findings(TOO_STRONG), at=midnight - INSTANT)
    expand_waiting_owings()
    with acting_for(cast.neighbour.id, write=False):
        assert Job.objects.get(kind="pass_on").not_before == midnight_of(cast, today() + DAY)
        assert not Site.objects.filter(id=cast.site.id).exists()
    for column, source in (("ends_at", cast.owner), ("begins_at", cast.neighbour)):
        rewrite(
            f"UPDATE doors_sight SET {column} = %s WHERE site_id = %s AND organization_id = %s",
            midnight,
            *stored(cast.site.id, source.id),
        )
    deliver_waiting_notices()
    expand_waiting_owings()
    deliver_waiting_notices()
    assert notices_of(cast.owner) == ["withdrawn"]
    assert notices_of(cast.neighbour) == ["done"]


def midnight_of(cast: Cast, on: date) -> datetime:
    """When a day begins at the site."""
    return start_of_day(on, cast.site.time_zone)


def stored(*ids: UUID) -> list[str]:
    """Ids as the database under test keeps them."""
    return [i.hex if connection.vendor == "sqlite" else str(i) for i in ids]


def notices_of(who: Organization) -> list[str]:
    """The states of an organization's notices."""
    with acting_for(who.id, write=False):
        return list(Notice.objects.values_list("state", flat=True))


def test_what_is_due_goes_with_the_site(cast: Cast) -> None:
    """The same duties, seen by the new owner and no longer by the old."""
    with acting_for(cast.owner.id, write=False):
        due = set(Duty.objects.values_list("id", flat=True))
    sell(cast, today())
    with acting_for(cast.neighbour.id, write=False):
        assert due <= set(Duty.objects.values_list("id", flat=True))
    with acting_for(cast.owner.id, write=False):
        assert not Duty.objects.exists()


def test_contacts_and_keys_never_go_with_a_site(cast: Cast) -> None:
    """The building is sold, not the people."""
    sell(cast, today())
    with acting_for(cast.neighbour.id, write=False):
        assert {p.organization_id for p in Person.objects.all()} == {cast.neighbour.id}


def test_both_chains_tell_of_the_sale_and_hold(cast: Cast) -> None:
    """Who gave it in one, who got it in the other."""
    sell(cast, today())
    for who, kind in ((cast.owner, "custody_passed"), (cast.neighbour, "custody_received")):
        with acting_for(who.id, write=False):
            own = LedgerEntry.objects.filter(organization=who)
            assert own.filter(kind=kind, site=cast.site).count() == 1
            assert verify_ledger()[1] is None


def test_nobody_receives_a_building_that_it_did_not_accept(cast: Cast) -> None:
    """An offer changes nothing; refused, it is over."""
    with acting_for(cast.owner.id, write=True):
        offer = offer_custody(site_id=cast.site.id, buyer_id=cast.neighbour.id, begins_on=today())
    with acting_for(cast.neighbour.id, write=True):
        assert not Site.objects.filter(id=cast.site.id).exists()
        refuse_custody(offer_id=offer.id)
        with pytest.raises(WrongStateError):
            accept_custody(offer_id=offer.id)
    with acting_for(cast.owner.id, write=False):
        assert Custody.objects.get(site=cast.site).ends_on is None


@pytest.mark.parametrize("who", ["owner", "firm", "stranger", "authority"])
def test_only_whom_it_was_offered_to_accepts(cast: Cast, who: str) -> None:
    """Not even the seller, who sees the offer."""
    with acting_for(cast.owner.id, write=True):
        offer = offer_custody(site_id=cast.site.id, buyer_id=cast.neighbour.id, begins_on=today())
    with acting_for(getattr(cast, who).id, write=True), pytest.raises(ServiceError):
        accept_custody(offer_id=offer.id)


@pytest.mark.parametrize("buyer", ["owner", "firm", "authority"])
def test_a_site_is_offered_to_another_owner_only(cast: Cast, buyer: str) -> None:
    """Not to oneself, nor to who cannot answer for a building."""
    with acting_for(cast.owner.id, write=True), pytest.raises(RefusedError) as refused:
        offer_custody(site_id=cast.site.id, buyer_id=getattr(cast, buyer).id, begins_on=today())
    assert refused.value.errors[0].pointer == "/buyer"


def test_a_sale_of_yesterday_is_refused(cast: Cast) -> None:
    """Who was told and who saw until now was the owner of the time."""
    with acting_for(cast.owner.id, write=True), pytest.raises(RefusedError) as refused:
        offer_custody(site_id=cast.site.id, buyer_id=cast.neighbour.id, begins_on=today() - DAY)
    assert refused.value.errors[0].pointer == "/begins_on"


def test_an_offer_whose_day_has_passed_is_not_accepted(cast: Cast) -> None:
    """The day was part of what was offered."""
    with acting_for(cast.owner.id, write=True):
        offer = offer_custody(site_id=cast.site.id, buyer_id=cast.neighbour.id, begins_on=today())
    rewrite("UPDATE doors_custodyoffer SET begins_on = %s", today() - DAY)
    with acting_for(cast.neighbour.id, write=True), pytest.raises(WrongStateError):
        accept_custody(offer_id=offer.id)


def test_a_sold_site_is_not_sold_again_by_who_sold_it(cast: Cast) -> None:
    """Not before its day either."""
    sell(cast, today() + DAY)
    with acting_for(cast.owner.id, write=True), pytest.raises(WrongStateError):
        offer_custody(site_id=cast.site.id, buyer_id=cast.stranger.id, begins_on=today() + 2 * DAY)


def test_a_late_visit_after_a_sale_is_the_new_owners_record(cast: Cast, midnight: datetime) -> None:
    """The old owner sees it too, since it happened in its time; the new one is told."""
    sell(cast, today())
    with acting_for(cast.firm.id, write=True):
        made = visit(cast.opening, findings(TOO_STRONG), at=midnight - INSTANT)
    assert visits_of(cast.owner) == visits_of(cast.neighbour) == {made.id}
    expand_waiting_owings()
    assert (notices_of(cast.owner), notices_of(cast.neighbour)) == ([], ["waiting"])


# --- a grant is revoked under way -----------------------------------------------------------------


def test_a_grant_revoked_under_way_ends_the_work(cast: Cast) -> None:
    """A job asked for with leave and run without it does nothing, and says why."""
    with acting_for(cast.firm.id, write=True):
        job = ask_for_submittal(site_id=cast.site.id)
    end_leave(cast, today())
    run_waiting_jobs()
    with acting_for(cast.firm.id, write=False):
        ended = Job.objects.get(id=job.id)
    assert (ended.state, ended.result) == ("failed", None)
    with acting_for(cast.owner.id, write=False):
        assert not Submittal.objects.exists()


def test_a_page_asked_for_after_the_revocation_holds_nothing(cast: Cast) -> None:
    """The cursor of the page before gives no right."""
    with acting_for(cast.owner.id, write=True):
        for n in range(3):
            add_opening(
                site_id=cast.site.id,
                tag=f"B-{n}",
                location="Hall",
                door_type="accordion",
                facts=FACTS,
            )
    client = client_of(cast.firm)
    first = client.get("/v1/openings?limit=2").json()
    assert len(first["data"]) == 2
    end_leave(cast, today())
    assert client.get(first["next"]).json()["data"] == []


# --- a boundary moves -----------------------------------------------------------------------------


@pytest.fixture
def county(cast: Cast) -> tuple[Organization, Jurisdiction]:
    """A county with an authority of its own, beside the town."""
    authority = register_organization(name="Marsh County Fire", capabilities=["authority"])
    place = establish_jurisdiction(
        code="us-marsh",
        name="Marsh County",
        kind="county",
        parent=cast.town.parent,
        authority=authority,
    )
    return authority, place


def filed(cast: Cast, code: str = TOWN) -> UUID:
    """A submittal filed with the authority of that place."""
    with acting_for(cast.owner.id, write=True):
        job = ask_for_submittal(site_id=cast.site.id)
    run_waiting_jobs()
    with acting_for(cast.owner.id, write=True):
        done = Job.objects.get(id=job.id)
        assert done.result is not None, done.problem
        submittal = UUID(done.result["submittal"])
        file_submittal(submittal_id=submittal, jurisdiction_code=code)
    return submittal


def test_what_was_filed_stays_with_the_authority_it_was_filed_with(
    cast: Cast, county: tuple[Organization, Jurisdiction]
) -> None:
    """A later boundary takes nothing away, and gives the next authority nothing old."""
    submittal = filed(cast)
    with acting_for(cast.owner.id, write=True):
        place_site(site_id=cast.site.id, jurisdictions=["us-marsh"], begins_on=today())
    with acting_for(cast.authority.id, write=False):
        assert Submittal.objects.get().id == submittal
    with acting_for(county[0].id, write=False):
        assert not Submittal.objects.exists()
    newer = filed(cast, "us-marsh")
    with acting_for(county[0].id, write=False):
        assert Submittal.objects.get().id == newer


def test_two_authorities_may_hold_at_once(
    cast: Cast, county: tuple[Organization, Jurisdiction]
) -> None:
    """A city and its county, each with what was filed to it."""
    with acting_for(cast.owner.id, write=True):
        place_site(site_id=cast.site.id, jurisdictions=[TOWN, "us-marsh"], begins_on=today())
    to_town, to_county = filed(cast), filed(cast, "us-marsh")
    for authority, own in ((cast.authority, to_town), (county[0], to_county)):
        with acting_for(authority.id, write=False):
            assert [s.id for s in Submittal.objects.all()] == [own]


def test_nothing_is_filed_with_an_authority_elsewhere(
    cast: Cast, county: tuple[Organization, Jurisdiction]
) -> None:
    """Only where the site lies today."""
    with pytest.raises(RefusedError) as refused:
        filed(cast, "us-marsh")
    assert refused.value.errors[0].pointer == "/jurisdiction"


def test_duties_settle_from_the_day_of_the_boundary(
    cast: Cast, county: tuple[Organization, Jurisdiction]
) -> None:
    """By a job, at that midnight of the site."""
    on = today() + DAY
    with acting_for(cast.owner.id, write=True):
        place_site(site_id=cast.site.id, jurisdictions=["us-marsh"], begins_on=on)
        job = Job.objects.get(kind="settle_site")
        assert job.not_before == midnight_of(cast, on)
        assert settle_site(job) == {"openings": 1}


def test_a_boundary_is_not_drawn_twice_for_one_day(cast: Cast) -> None:
    """What lay where until the last change is history."""
    with acting_for(cast.owner.id, write=True), pytest.raises(RefusedError) as refused:
        place_site(site_id=cast.site.id, jurisdictions=["us"], begins_on=SINCE)
    assert refused.value.errors[0].pointer == "/begins_on"


# --- an authority reads ---------------------------------------------------------------------------


def test_each_read_leaves_exactly_one_line(cast: Cast) -> None:
    """A thousand reads, a thousand lines, and the owner lists every one of them."""
    submittal, client = filed(cast), client_of(cast.authority)
    for _ in range(1000):
        assert client.get(f"/v1/submittals/{submittal}").status_code == 200
    owner, seen, url = client_of(cast.owner), [], "/v1/authority-reads?limit=200"
    while url:
        page = owner.get(url).json()
        seen += page["data"]
        url = page["next"]
    assert len({line["id"] for line in seen}) == len(seen) == 1000
    assert {(line["authority"], line["submittal"]) for line in seen} == {
        (cast.authority.name, str(submittal))
    }


@pytest.mark.parametrize("address", ["", "/file"])
def test_a_read_that_cannot_be_entered_is_not_answered(cast: Cast, address: str) -> None:
    """503, and nothing of the submittal in the body."""
    submittal = filed(cast)
    client, sealed = client_of(cast.authority), client_of(cast.owner)
    rewrite(refusing_lines())
    answer = client.get(f"/v1/submittals/{submittal}{address}")
    assert (answer.status_code, answer.json()["code"]) == (503, "unavailable")
    digest = sealed.get(f"/v1/submittals/{submittal}").json()["file_sha256"]
    assert digest not in str(answer.content)


def refusing_lines() -> str:
    """SQL that lets the table of reads take no row."""
    if connection.vendor == "sqlite":
        return (
            "CREATE TRIGGER full BEFORE INSERT ON inspections_readline"
            " BEGIN SELECT RAISE(ABORT, 'the disk is full'); END"
        )
    return (
        "CREATE TRIGGER full_disk BEFORE INSERT ON inspections_readline"
        " FOR EACH ROW EXECUTE FUNCTION app_append_only()"
    )


@pytest.mark.parametrize(
    "change", ["UPDATE inspections_readline SET what = ''", "DELETE FROM inspections_readline"]
)
def test_nobody_alters_what_was_read(cast: Cast, change: str) -> None:
    """Neither the authority nor the owner."""
    client_of(cast.authority).get(f"/v1/submittals/{filed(cast)}")
    for who in (cast.authority, cast.owner):
        with acting_for(who.id, write=True):
            assert ReadLine.objects.count() == 1
            with pytest.raises(DatabaseError), transaction.atomic():
                connection.cursor().execute(change)


# --- edges of the day, in the site's zone ---------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "on"),
    [
        ("America/Chicago", date(2030, 3, 10)),  # the clocks go forward in that night
        ("America/Chicago", date(2030, 11, 3)),  # and back
        ("Pacific/Kiritimati", date(2030, 1, 1)),  # furthest ahead of UTC
        ("Pacific/Pago_Pago", date(2030, 1, 1)),  # and nearly furthest behind
        ("America/Santiago", date(2030, 9, 8)),  # midnight itself does not exist there
    ],
)
def test_custody_and_leave_turn_at_the_sites_midnight(cast: Cast, zone: str, on: date) -> None:
    """A microsecond before it is the one's, from the first instant of the day the other's."""
    with acting_for(cast.owner.id, write=True):
        site = open_site(
            reference="S-9",
            name="Far",
            address=["9 High Street"],
            time_zone=zone,
            jurisdiction_code=TOWN,
            in_custody_from=SINCE,
        )
        offer = offer_custody(site_id=site.id, buyer_id=cast.neighbour.id, begins_on=on)
    with acting_for(cast.neighbour.id, write=True):
        grant_leave(grantee_id=cast.stranger.id, actions=["record"], begins_on=SINCE)
        accept_custody(offer_id=offer.id)
    at = first_instant(on, zone)
    seen = [may_record(cast, site, moment) for moment in (at - INSTANT, at, at + INSTANT)]
    old, new = {cast.owner.name, cast.firm.name}, {cast.neighbour.name, cast.stranger.name}
    assert seen == [old, new, new]


def may_record(cast: Cast, site: Site, moment: datetime) -> set[str]:
    """Who of the cast may record at a site at a moment."""
    able = set()
    for who in (cast.owner, cast.firm, cast.neighbour, cast.stranger):
        with acting_for(who.id, write=False):
            if Sight.active(who.id, moment).filter(site=site, may_record=True).exists():
                able.add(who.name)
    return able


def first_instant(on: date, zone: str) -> datetime:
    """The first moment of a day there, found by walking from noon backwards minute by minute."""
    place = ZoneInfo(zone)
    moment = datetime.combine(on, time(12), place).astimezone(UTC)
    while (moment - timedelta(minutes=1)).astimezone(place).date() == on:
        moment -= timedelta(minutes=1)
    return moment
