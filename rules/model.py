"""What the data files say, as frozen values, and what a resolution answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from rules.predicates import Predicate
from rules.quantities import Quantity
from rules.vocabulary import (
    Activity,
    Adoption,
    Basis,
    Change,
    Comparator,
    Doors,
    Governs,
    Kind,
    Meaning,
    Protects,
    Standing,
)


@dataclass(frozen=True, slots=True)
class Citation:
    """Where a thing is written. `note` names the kind of a secondary source, or a gap."""

    publication: str
    edition: str
    clause: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Shared:
    """How the bounds of a limit came of what is published for a share, such as 0.2 in for each
    occupant; `times` is the fact they were multiplied by, None while it is unknown.
    """

    quantity: str
    fact: str
    low: Quantity | None
    high: Quantity | None
    printed_si: str
    times: Fraction | int | None


@dataclass(frozen=True, slots=True)
class LimitSpec:
    """A measured quantity and its bounds in the published unit; both bounds are inside.

    `low` and `high` are None where the bound is not given; both are None where the number is
    to be supplied for each door by its listed instructions (`supplied_per_door`), or follows from
    a fact that is unknown (`shared`). `nominal` is a value that is usual ("about 4 lbf"): it is
    told, and nothing is held against it.
    """

    quantity: str
    comparator: Comparator
    low: Quantity | None
    high: Quantity | None
    printed_si: str = ""
    measurement_point: str = ""
    method: str = ""
    test_load: Quantity | None = None
    repeats: int = 1
    governs: Governs = Governs.EACH
    supplied_per_door: bool = False
    nominal: Quantity | None = None
    shared: Shared | None = None


@dataclass(frozen=True, slots=True)
class CheckSpec:
    """Something a person looks at; `asks` is the question with the answer yes when sound."""

    check: str
    asks: str
    group: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that must be seen in a sequence, in the order given. `do` is what is done for it,
    empty where what was done before goes on; `order` is `any` where it may be seen at any moment;
    `may_be` is `not_provided` where a door may be without what would show it.
    """

    step: str
    expect: str
    do: str = ""
    order: str = ""
    may_be: str = ""


@dataclass(frozen=True, slots=True)
class SequenceSpec:
    """A course of events: what is done, what must be seen in order, and its timed limits.

    `after_parts` names the parts (such as `controller`) whose repair makes a retest of it due.
    """

    sequence: str
    do: str
    steps: tuple[Step, ...]
    times: tuple[LimitSpec, ...] = ()
    caution: str = ""
    after_parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class IntervalSpec:
    """How often an activity is owed and what the publisher means by the word.

    `every` is an ISO 8601 duration (P1Y, P3M). `early` and `late` are the tolerance as ISO 8601
    durations; `least` and `greatest` belong to `Meaning.BETWEEN`. `next_from` tells whether the
    next one runs from the `visit` or from the `due_date`. `met_by` lists the activities that meet
    it. `after` is `repair` or `installation` where an event, not a period, makes it owed.
    `subject` names what is tested where that is not the opening itself (`fire_alarm_system`,
    `smoke_detector`, `battery`): shown with the opening, but no visit there is owed by it.
    """

    activity: Activity
    every: str
    meaning: Meaning
    early: str = ""
    late: str = ""
    least: str = ""
    greatest: str = ""
    next_from: str = "visit"
    met_by: tuple[Activity, ...] = ()
    after: str = ""
    subject: str = ""


@dataclass(frozen=True, slots=True)
class RecordSpec:
    """What a written record must contain, item by item."""

    contents: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RetentionSpec:
    """How long a record is kept: an ISO 8601 duration from the `record`, from the `next_record`, or
    from the `removal` of the door.
    """

    keep: str
    counted_from: str = "record"
    medium: str = ""


@dataclass(frozen=True, slots=True)
class QualificationSpec:
    """Who may do an activity, in words; no register of licences is built in.

    `not_read` is not empty where the row states what was not read of its edition, and so is not
    asked here: the names of requirements or of groups of them, `*` for all.
    """

    activities: tuple[Activity, ...]
    asks: str
    not_read: tuple[str, ...] = ()

    def leaves_out(self, name: str) -> bool:
        """Whether a requirement of that name may stand in the edition and was not read."""
        return any(part in {"*", name} or name.startswith(f"{part}/") for part in self.not_read)


@dataclass(frozen=True, slots=True)
class PermissionSpec:
    """Under which facts a door of this kind may stand here at all."""

    permitted_when: Predicate
    says: str


@dataclass(frozen=True, slots=True)
class FilingSpec:
    """A report owed to the authority within a time of an event; `within` is ISO 8601, empty where
    no time is named.
    """

    event: str
    within: str = ""
    business_days: bool = False
    says: str = ""


@dataclass(frozen=True, slots=True)
class ImpairmentSpec:
    """What is owed while a protection is out of service, from a cumulative duration on."""

    system: str
    response: str
    over: str = ""
    within: str = ""


Spec = (
    LimitSpec
    | CheckSpec
    | SequenceSpec
    | IntervalSpec
    | RecordSpec
    | RetentionSpec
    | QualificationSpec
    | PermissionSpec
    | FilingSpec
    | ImpairmentSpec
)


@dataclass(frozen=True, slots=True)
class Requirement:
    """One rule as published. `required_in` are the activities that must look at it;
    `may_stay_untested_in` those in which leaving it untested with a reason does not leave a
    duty unmet. `doors` tells whether it speaks of new doors, existing ones or any; one that is
    `adoption_only` stands outside the reference list and holds only where a place adopts it.
    """

    id: str
    kind: Kind
    title: str
    basis: Basis
    protects: Protects
    applies: Predicate
    spec: Spec
    citation: Citation
    standing: Standing
    in_force_from: date | None = None
    in_force_until: date | None = None
    required_in: frozenset[Activity] = frozenset()
    may_stay_untested_in: frozenset[Activity] = frozenset()
    doors: Doors = Doors.ANY
    adoption_only: bool = False

    @property
    def states_a_gap(self) -> bool:
        """Whether it only tells what of its edition was not read for such an opening."""
        return isinstance(self.spec, QualificationSpec) and bool(self.spec.not_read)


@dataclass(frozen=True, slots=True)
class LineageStep:
    """One change on the way: which layer did what, since when, where that is written, and the
    requirement as it stood before (None for the first).
    """

    layer: str
    change: Change
    since: date | None
    citation: Citation
    before: Requirement | None = None


@dataclass(frozen=True, slots=True)
class Held:
    """A requirement as it bound before a layer changed it, and the first day on which it did."""

    requirement: Requirement
    since: date | None


@dataclass(frozen=True, slots=True)
class Resolved:
    """A requirement as it stands for one opening on one day, with the way it came there.

    `layer` is the code of the place, `listed_instructions` or `variance:<number>` that set it
    last. `missing_facts` is not empty where it cannot be told whether it applies.
    `since` is the first day on which this requirement holds at this place.
    `applied_edition` is the edition of its publication that governs, empty where a layer wrote it;
    the citation names the edition in which its text was read, which may be an earlier one.
    `earlier` is how it bound before layers changed it, oldest first.
    """

    requirement: Requirement
    layer: str
    adoption: Adoption
    advisory: bool
    lineage: tuple[LineageStep, ...]
    missing_facts: tuple[str, ...] = ()
    since: date | None = None
    applied_edition: str = ""
    earlier: tuple[Held, ...] = ()

    @property
    def binds(self) -> bool:
        """Whether it is known to apply here, and is more than advice."""
        return not self.advisory and not self.missing_facts

    @property
    def adopted_by(self) -> Citation | None:
        """By which text the place adopted it, where one did; its own citation stays the source."""
        adopted = [step.citation for step in self.lineage if step.change is Change.ADOPT]
        return adopted[-1] if adopted else None


@dataclass(frozen=True, slots=True)
class RequirementSet:
    """Everything that applies to one opening on one day. `digest` is SHA-256 in hex over the
    canonical form of `items`; equal digests judge alike.
    """

    items: tuple[Resolved, ...]
    digest: str
    jurisdiction: str
    on: date
    facts: dict[str, object] = field(default_factory=dict)
