"""Every published or independently computed value, through Python calls, through cells and through the engine."""

import re
from typing import Any

import pytest

from brewfuncs.catalogue import CATALOGUE, find
from brewfuncs.hosts import engine
from tests import parity

ROWS = parity.rows()


def by_id(row: parity.Row) -> str:
    return row.id


def test_every_row_came_along() -> None:
    """A table that is lost, or a row that stands twice, would go unnoticed otherwise."""
    assert len(ROWS) == len({row.id for row in ROWS}) >= 193
    assert all(row.source and row.provenance for row in ROWS)


@pytest.mark.parametrize("row", ROWS, ids=by_id)
def test_in_cells(row: parity.Row) -> None:
    assert parity.python([row.formula])[0] == pytest.approx(row.expected, rel=0, abs=row.tolerance), row.source


@pytest.mark.parametrize("row", ROWS, ids=by_id)
def test_in_the_engine(row: parity.Row) -> None:
    assert engine.evaluate(row.formula) == pytest.approx(row.expected, rel=0, abs=row.tolerance), row.source


@pytest.mark.parametrize("row", ROWS, ids=by_id)
def test_as_python_calls(row: parity.Row) -> None:
    """The formula reads as Python too, its functions in lower case: none of them needs inline arrays."""
    names: dict[str, Any] = {name: function.call for name, function in CATALOGUE.items()}
    code = re.sub(r'"[^"]*"|\w+', lambda m: f"find('{m[0]}').call" if m[0] in names else m[0], row.formula[1:])
    assert eval(code, {"find": find}) == pytest.approx(row.expected, rel=0, abs=row.tolerance), row.source
