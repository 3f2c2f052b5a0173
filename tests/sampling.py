"""Whole columns against single values, for the tests of each group of functions."""

from typing import Any

import numpy

import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
from brewfuncs.catalogue import find
from brewfuncs.errors import BrewError

ROWS = 200
ROUNDING = 1e-12  # numpy's exp and log may end in another last bit than math's, and solvers carry that along


def assert_columns_agree(name: str, *arguments: Any, answered: float = 0.5) -> None:
    """A pair is a span to draw a column from, anything else is given as it is. Rows without an answer are left out,
    but no more than a share of 1 - `answered` may be.
    """
    function, random = find(name).call, numpy.random.default_rng(20)
    drawn = [random.uniform(*a, ROWS) if isinstance(a, tuple) else [a] * ROWS for a in arguments]
    answers, rows = [], []
    for row in zip(*drawn, strict=True):
        plain = [value if isinstance(value, str) else float(value) for value in row]
        try:
            answers.append(function(*plain))
        except BrewError:
            continue
        rows.append(plain)
    assert len(rows) >= answered * ROWS
    columns = [numpy.array([row[i] for row in rows]) if isinstance(a, tuple) else a for i, a in enumerate(arguments)]
    numpy.testing.assert_allclose(function(*columns), answers, rtol=ROUNDING, atol=0)
