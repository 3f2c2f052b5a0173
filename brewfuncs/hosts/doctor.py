"""Is each host there, which version, and do known answers come out right in it?"""

from __future__ import annotations

import platform
import sys
from collections.abc import Callable, Iterable
from typing import NamedTuple

from brewfuncs import __version__
from brewfuncs.errors import BrewError
from brewfuncs.hosts.known_answers import known_answers


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
        *_asked("engine", _engine),
        *_asked("Calc", calc_install.status),
        *_asked("Excel", excel_install.status),
    ]


def _asked(subject: str, status: Callable[[], Iterable[tuple[str, str]]]) -> list[Diagnosis]:
    """One host's diagnoses; whatever goes wrong in asking is one, too."""
    try:
        return [Diagnosis(subject, state, sentence) for state, sentence in status()]
    except Exception as error:
        return [Diagnosis(subject, "broken", f"it can't be examined ({type(error).__name__}: {error})")]


def _engine() -> list[tuple[str, str]]:
    from importlib.metadata import version

    from brewfuncs.hosts.engine import evaluate

    known, wrong = known_answers(), []
    for answer in known:
        try:
            value = evaluate(answer.formula)
        except BrewError as error:
            wrong.append(f"{answer.formula} gives {error.code} ({error})")
            continue
        if not answer.is_met_by(value):
            wrong.append(f"{answer.formula} gives {value} where {answer.source} has {answer.expected}")
    engine = f"formualizer {version('formualizer')}"
    if wrong:
        return [("broken", f"{engine}: " + "; ".join(wrong))]
    return [("well", f"{engine}, {len(known)} known answers come out right")]
