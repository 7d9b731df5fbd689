"""What a portfolio comes to, as columns of small codes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from rules.judging.outcome import badness
from rules.portfolio.arrays import Codes, Limits, Numbers, Slot
from rules.vocabulary import Band, VerdictWord

CONFORMS = np.int8(badness(VerdictWord.CONFORMS))
INCONCLUSIVE = np.int8(badness(VerdictWord.INCONCLUSIVE))
DOES_NOT_CONFORM = np.int8(badness(VerdictWord.DOES_NOT_CONFORM))
NO_VERDICT, NO_BAND, CLEAR, CONDITIONAL = 0, 0, 1, 2
WORDS = {badness(w): w for w in VerdictWord if badness(w) > NO_VERDICT}
BANDS = {NO_BAND: None, CLEAR: Band.CLEAR, CONDITIONAL: Band.CONDITIONAL}
BAND_CODES: dict[object, int] = {band: code for code, band in BANDS.items()}


class Line(NamedTuple):
    """Verdicts as columns: for each visit named, one requirement with its verdict and band."""

    visit: Numbers
    cell: Numbers
    slot: Slot
    verdict: Codes
    band: Codes

    @property
    def requirement(self) -> Numbers:
        """The numbers of the requirements; worked out only where somebody asks."""
        return self.slot.requirement[self.cell]


@dataclass(frozen=True)
class Judged:
    """What the readings come to; the lines number the requirements of `limits`."""

    limits: Limits
    lines: tuple[Line, ...]

    def worst(self, visits: int) -> Codes:
        """For each of so many visits the worst binding verdict, NO_VERDICT where there is none."""
        worst = np.zeros(visits, np.int8)
        for line in self.lines:
            np.maximum.at(worst, line.visit, line.verdict * self.limits.binding[line.requirement])
        return worst

    def counts(self) -> Numbers:
        """How often each requirement, by row, came to each verdict, by its code in `WORDS`."""
        counts = np.zeros((len(self.limits.requirements), max(WORDS) + 1), np.int64)
        for line in self.lines:
            np.add.at(counts, (line.requirement, line.verdict), 1)
        return counts
