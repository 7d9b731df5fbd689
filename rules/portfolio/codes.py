"""The small codes that stand for verdicts and bands in columns."""

from __future__ import annotations

import numpy as np

from rules.judging.outcome import badness
from rules.vocabulary import Band, VerdictWord

CONFORMS = np.int8(badness(VerdictWord.CONFORMS))
INCONCLUSIVE = np.int8(badness(VerdictWord.INCONCLUSIVE))
DOES_NOT_CONFORM = np.int8(badness(VerdictWord.DOES_NOT_CONFORM))
NO_VERDICT, NO_BAND, CLEAR, CONDITIONAL = 0, 0, 1, 2
WORDS = {badness(w): w for w in VerdictWord if badness(w) > NO_VERDICT}
BANDS = {NO_BAND: None, CLEAR: Band.CLEAR, CONDITIONAL: Band.CONDITIONAL}
BAND_CODES: dict[object, int] = {band: code for code, band in BANDS.items()}
