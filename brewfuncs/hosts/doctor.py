"""Is each host there, which version, and do known answers come out right in it?"""

from __future__ import annotations

import platform
import sys
from typing import NamedTuple

from brewfuncs import __version__
from brewfuncs.errors import BrewError
from brewfuncs.hosts.known_answers import known_answers

KNOWN_ANSWERS = known_answers()


class Diagnosis(NamedTuple):
    """One line of the doctor's report; state is "well", "absent", "broken", or "off" where it is this shell's doing."""

    subject: str
    state: str
    sentence: str


def examine() -> list[Diagnosis]:
    """Every host's finding, worst first within the report's fixed order."""
    from brewfuncs.hosts import calc_install, excel_install

    return [
        Diagnosis("brewfuncs", "well", f"version {__version__}, Python {platform.python_version()} ({sys.executable})"),
        _engine(),
        *(Diagnosis("Calc", state, sentence) for state, sentence in calc_install.status()),
        *(Diagnosis("Excel", state, sentence) for state, sentence in excel_install.status()),
    ]


def _engine() -> Diagnosis:
    from importlib.metadata import version

    from brewfuncs.hosts.engine import evaluate

    wrong = []
    for formula, expected, tolerance, source in KNOWN_ANSWERS:
        try:
            value = evaluate(formula)
        except BrewError as error:
            wrong.append(f"{formula} gives {error.code} ({error})")
            continue
        if not isinstance(value, float) or abs(value - expected) > tolerance:
            wrong.append(f"{formula} gives {value} where {source} has {expected}")
    engine = f"formualizer {version('formualizer')}"
    if wrong:
        return Diagnosis("engine", "broken", f"{engine}: " + "; ".join(wrong))
    return Diagnosis("engine", "well", f"{engine}, {len(KNOWN_ANSWERS)} known answers come out right")
