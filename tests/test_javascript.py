"""The generated JavaScript answers as Python does: value, code and sentence."""

import math
from collections.abc import Sequence
from typing import Any

import pytest

from brewfuncs import cells
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.errors import BrewError
from brewfuncs.translate import javascript
from tests import parity, random_calls
from tests.javascript import JavaScript


@pytest.fixture(scope="module")
def host() -> JavaScript:
    return JavaScript(javascript.core())


def test_it_answers_every_case_as_python_does(host: JavaScript) -> None:
    def compute(formulas: Sequence[str]) -> list[Any]:
        return parity.answered(formulas, host.call)

    assert parity.differences(compute, host="javascript", calls=host.counted) == []


def test_random_calls(host: JavaScript) -> None:
    """30,000 of them; 1e-12 is what the exp and log of different libraries differ by, a few times over."""
    before, different, calls = host.counted(), [], list(random_calls.calls(400))
    for (name, arguments), theirs in zip(calls, host.calls(calls), strict=True):
        ours = cells.apply(CATALOGUE[name], arguments)
        if not _same(ours, theirs):
            different.append(f"{name} {arguments}: {theirs!r}, Python {ours!r}")
    assert different[:20] == []
    assert (host.counted() - before).total() == len(calls) >= 30_000


def _same(ours: Any, theirs: Any) -> bool:
    if isinstance(ours, BrewError):
        return isinstance(theirs, BrewError) and (ours.code, str(ours)) == (theirs.code, str(theirs))
    if isinstance(ours, float):
        return isinstance(theirs, float) and math.isclose(ours, theirs, rel_tol=1e-12, abs_tol=1e-300)
    return bool(ours == theirs)
