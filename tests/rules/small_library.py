"""A small invented library, so that what resolving does rests on no data file."""

from __future__ import annotations

import tomllib
from datetime import date
from decimal import Decimal
from typing import Any

from rules.layers import Layer, Library, Publication
from rules.library import assemble
from rules.loading.layers import read_layer
from rules.loading.publications import read_publication

CODE_2010 = """
[publication]
id = "code-2010"
title = "Door Code"
edition = "2010"
publisher = "Door Council"
series = "code"
edition_year = 2010
reference_in = ["land"]

[[requirement]]
id = "force/motion"
kind = "limit"
title = "Force that sets the leaf in motion"
basis = "construction"
protects = "egress"
standing = "secondary"
citation = { clause = "10.1" }
applies = { door_type = ["swinging", "accordion"] }
required_in = ["periodic_inspection"]
[requirement.limit]
quantity = "set_in_motion_force"
high = "35 lbf"

[[requirement]]
id = "force/existing"
kind = "limit"
title = "Force that sets an existing leaf in motion"
basis = "construction"
protects = "egress"
standing = "secondary"
citation = { clause = "10.2" }
doors = "existing"
[requirement.limit]
quantity = "set_in_motion_force"
high = "50 lbf"

[[requirement]]
id = "yearly"
kind = "interval"
title = "Inspected yearly"
basis = "maintenance"
protects = "closing"
standing = "secondary"
citation = { clause = "20" }
applies = { fire_door = true }
[requirement.interval]
activity = "periodic_inspection"
every = "P1Y"
"""

CODE_2020 = (
    CODE_2010.replace("2010", "2020").replace("35 lbf", "30 lbf").replace("force/existing", "old")
)

OTHER = """
[publication]
id = "other-2015"
title = "Other Standard"
edition = "2015"
publisher = "Another Council"
series = "other"
edition_year = 2015
reference_in = ["land"]

[[requirement]]
id = "motion"
kind = "limit"
title = "Force that sets the leaf in motion"
basis = "construction"
protects = "egress"
standing = "secondary"
citation = { clause = "4" }
[requirement.limit]
quantity = "set_in_motion_force"
high = "32 lbf"

[[requirement]]
id = "remembered"
kind = "limit"
title = "A number from memory"
basis = "maintenance"
protects = "people"
standing = "from_memory"
citation = { clause = "5" }
[requirement.limit]
quantity = "closing_speed"
high = "24 in/s"

[[requirement]]
id = "by-name"
kind = "limit"
title = "Holds only where it is adopted"
basis = "maintenance"
protects = "closing"
standing = "secondary"
citation = { clause = "6" }
adoption_only = true
[requirement.limit]
quantity = "start_delay"
high = "10 s"
"""

HABIT = """
[publication]
id = "habit"
title = "Habits of the trade"
edition = "undated"
publisher = "nobody"
reference_in = ["*"]

[[requirement]]
id = "quarterly"
kind = "interval"
title = "Operated quarterly"
basis = "maintenance"
protects = "closing"
standing = "common_practice"
citation = { clause = "none" }
[requirement.interval]
activity = "operation_test"
every = "P3M"

[[requirement]]
id = "speed"
kind = "limit"
title = "Usual closing speed"
basis = "maintenance"
protects = "people"
standing = "common_practice"
citation = { clause = "none" }
[requirement.limit]
quantity = "closing_speed"
low = "6 in/s"
high = "24 in/s"

[[requirement]]
id = "pause"
kind = "limit"
title = "Pause at an obstruction"
basis = "maintenance"
protects = "people"
standing = "secondary"
citation = { clause = "none" }
[requirement.limit]
quantity = "pause_time"
supplied_per_door = true
comparator = "between"

[[requirement]]
id = "obstruct"
kind = "sequence"
title = "Yields to an obstruction"
basis = "maintenance"
protects = "people"
standing = "secondary"
citation = { clause = "none" }
[requirement.sequence]
sequence = "obstruct"
do = "Hold a soft block in the path."
steps = [{ step = "stops", expect = "it stops" }]
times = [{ quantity = "pause_time", supplied_per_door = true, comparator = "between" },
         { quantity = "start_delay", high = "10 s" }]
"""

LAND = '[jurisdiction]\ncode = "land"\nname = "Land"\nkind = "country"\n'
SHIRE = '[jurisdiction]\ncode = "shire"\nparent = "land"\nname = "Shire"\nkind = "state"\n'
CITED = '{ publication = "Shire Act", edition = "1", clause = "7" }'


def table(text: str) -> dict[str, Any]:
    """The document of a TOML text, as the loader takes it."""
    return tomllib.loads(text, parse_float=Decimal)


def publication(text: str) -> Publication:
    """A publication of a TOML text."""
    return read_publication(table(text), file="publication.toml")


def layer(text: str) -> Layer:
    """A layer of a TOML text, its shape checked alone."""
    return read_layer(table(text), file="layer.toml")


def library(*, shire: str = SHIRE, more: str = "") -> Library:
    """The invented library; `shire` is the text of the state under the one country."""
    texts = [CODE_2010, CODE_2020, OTHER, HABIT, *([more] if more else [])]
    return assemble([publication(text) for text in texts], [layer(LAND), layer(shire)])


def amendment(change: str, since: str, **keys: str) -> str:
    """One amendment block, cited; values are written as TOML values."""
    lines = [f"[[{change}]]", f"from = {since}", f"citation = {CITED}", 'standing = "verified"']
    return "\n".join([*lines, *(f"{key} = {value}" for key, value in keys.items()), ""])


DAY = date(2026, 3, 1)
DOOR = {"door_type": "swinging", "fire_door": True, "installed_on": "2021-05-01"}
