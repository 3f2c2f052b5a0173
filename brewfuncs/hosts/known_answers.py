"""Published and independently computed values, for the sheet Known answers and for `brewfuncs doctor`.

known_answers.csv holds rows of the tables that the tests run through every host, word for word but for how each value
came here, which is the tests' business.
"""

from __future__ import annotations

import csv
import functools
from pathlib import Path
from typing import NamedTuple

__all__ = ["KnownAnswer", "known_answers"]


class KnownAnswer(NamedTuple):
    """A formula and what it must give, within a tolerance, and the source."""

    formula: str
    expected: float
    tolerance: float
    source: str

    def is_met_by(self, value: object) -> bool:
        """Whether a host that gives this value has it right."""
        if isinstance(value, bool) or not isinstance(value, float | int):
            return False
        return abs(value - self.expected) <= self.tolerance


@functools.cache
def known_answers() -> tuple[KnownAnswer, ...]:
    with Path(__file__).with_name("known_answers.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            KnownAnswer(row["formula"], float(row["expected"]), float(row["tolerance"]), row["source"])
            for row in csv.DictReader(file)
        )
