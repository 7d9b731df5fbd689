"""Requirements for fire doors as dated, cited data, and what follows from them.

A pure-Python library: what it answers depends on its arguments and its packaged data alone.
"""

from __future__ import annotations

import sys

if not (3, 11) <= sys.version_info[:2] <= (3, 13):
    raise ImportError(  # named, so that `python -m rules` says it in one line
        f"the rules library runs on Python 3.11 to 3.13, not on {sys.version.split()[0]}",
        name="rules",
    )

from rules.asking import requirements
from rules.comparing import compare
from rules.duties import duties
from rules.judging import judge
from rules.library import load
from rules.lint import lint, parse_layer, published_layer
from rules.measurement import measure
from rules.planning import visit_plan
from rules.planning.retests import retest_scope
from rules.practice.parts import parts
from rules.practice.signs import signs
from rules.presentation import requirement_json
from rules.remarks import remarks

__version__ = "0.1.0"

__all__ = [
    "__version__",
    "compare",
    "duties",
    "judge",
    "lint",
    "load",
    "measure",
    "parse_layer",
    "parts",
    "published_layer",
    "remarks",
    "requirement_json",
    "requirements",
    "retest_scope",
    "signs",
    "visit_plan",
]
