"""The words of the trade that the library decides with; each enum is the one list of its kind."""

from __future__ import annotations

from enum import StrEnum


class DoorType(StrEnum):
    """How the leaf moves; `accordion` is the special-purpose horizontally sliding folding door."""

    SWINGING = "swinging"
    HORIZONTAL_SLIDING = "horizontal_sliding"
    ACCORDION = "accordion"
    ROLLING = "rolling"
    VERTICAL_SLIDING = "vertical_sliding"
    SERVICE_COUNTER = "service_counter"


class Operation(StrEnum):
    """What moves the leaf in ordinary use."""

    MANUAL = "manual"
    POWER = "power"
    LOW_ENERGY = "low_energy"


class Activity(StrEnum):
    """What a visit is for. How often is data, never part of the name."""

    ACCEPTANCE_TEST = "acceptance_test"
    OPERATION_TEST = "operation_test"
    PERIODIC_INSPECTION = "periodic_inspection"
    REPAIR_RETEST = "repair_retest"


class Kind(StrEnum):
    """What a requirement asks."""

    LIMIT = "limit"
    CHECK = "check"
    SEQUENCE = "sequence"
    INTERVAL = "interval"
    RECORD = "record"
    RETENTION = "retention"
    QUALIFICATION = "qualification"
    PERMISSION = "permission"
    FILING = "filing"
    IMPAIRMENT = "impairment"


class Basis(StrEnum):
    """Which day's edition governs: the day of permit or alteration, or the day of the visit."""

    CONSTRUCTION = "construction"
    MAINTENANCE = "maintenance"


class Doors(StrEnum):
    """Which doors a requirement speaks of, seen from the day its edition took effect."""

    ANY = "any"
    NEW = "new"
    EXISTING = "existing"


class ExistingDoors(StrEnum):
    """What a change of the rules means for the doors that already stand."""

    AS_BUILT = "as_built"
    THIS_EDITION = "this_edition"


class Protects(StrEnum):
    """What is lost when the requirement is not met."""

    CLOSING = "closing"
    EGRESS = "egress"
    PEOPLE = "people"
    RECORD = "record"


class Standing(StrEnum):
    """How well the source is known. The last two are advisory until somebody adopts them."""

    VERIFIED = "verified"
    SECONDARY = "secondary"
    FROM_MEMORY = "from_memory"
    COMMON_PRACTICE = "common_practice"

    @property
    def advisory(self) -> bool:
        """Whether a requirement of this standing binds nobody by itself."""
        return self in {Standing.FROM_MEMORY, Standing.COMMON_PRACTICE}


class Comparator(StrEnum):
    """Which side of the limit is inside; always inclusive at the limit."""

    AT_MOST = "at_most"
    AT_LEAST = "at_least"
    BETWEEN = "between"


class Governs(StrEnum):
    """Which of several repeats decides."""

    EACH = "each"  # the repeat with the smallest margin
    MEAN = "mean"
    MEDIAN = "median"


class VerdictWord(StrEnum):
    """What can be said of one requirement after a visit."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does_not_conform"
    INCONCLUSIVE = "inconclusive"
    NOT_TESTED = "not_tested"
    NOT_APPLICABLE = "not_applicable"


class Band(StrEnum):
    """Whether the uncertainty reaches the limit (ILAC-G8:09/2019, clause 4)."""

    CLEAR = "clear"
    CONDITIONAL = "conditional"


class DecisionRule(StrEnum):
    """How uncertainty enters the verdict; agreed before measuring."""

    SIMPLE = "simple"
    GUARDED = "guarded"


class Meaning(StrEnum):
    """What a publisher means by a word such as "quarterly"."""

    NOT_LATER_THAN = "not_later_than"  # at most the interval after the last one, no tolerance
    FROM_DATE = "from_date"  # the interval after the last date, with a tolerance each way
    FROM_MONTH = "from_month"  # the interval after the last one's month, tolerance at both ends
    CALENDAR_PERIOD = "calendar_period"  # once in every calendar month, quarter, half-year or year
    BETWEEN = "between"  # a least and a greatest number of months between two


class Adoption(StrEnum):
    """Whether the place is known to have adopted the publication."""

    RECORDED = "recorded"
    NOT_RECORDED = "not_recorded"


class Change(StrEnum):
    """What a layer does to what it inherits."""

    ADD = "add"
    REPLACE = "replace"
    TIGHTEN = "tighten"
    RELAX = "relax"
    WITHDRAW = "withdraw"
    ADOPT = "adopt"


class DutyState(StrEnum):
    """Where a duty stands on a day, in the site's civil calendar."""

    UPCOMING = "upcoming"
    OPEN = "open"
    DUE = "due"
    OVERDUE = "overdue"
    MET = "met"
    SUSPENDED = "suspended"
    ENDED = "ended"
