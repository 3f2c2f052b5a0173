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


def test_every_function_has_an_answer_from_outside() -> None:
    """All that give numbers; what gives a sentence is held to what the sentence must say."""
    asked = {name for row in ROWS for name in re.findall(r"[A-Z]+_[A-Z0-9_]+", row.formula)}
    assert [f.name for f in CATALOGUE.values() if not f.gives_text and f.name not in asked] == []


@pytest.mark.parametrize("row", ROWS, ids=by_id)
def test_in_cells(row: parity.Row) -> None:
    assert parity.python([row.formula])[0] == pytest.approx(row.expected, rel=0, abs=row.tolerance), row.source


@pytest.mark.parametrize("row", ROWS, ids=by_id)
def test_in_the_engine(row: parity.Row) -> None:
    assert engine.evaluate(row.formula) == pytest.approx(row.expected, rel=0, abs=row.tolerance), row.source


@pytest.mark.parametrize("row", ROWS, ids=by_id)
def test_as_python_calls(row: parity.Row) -> None:
    """The formula reads as Python too, its functions in lower case and its inline arrays, one column each, as lists."""
    names: dict[str, Any] = {name: function.call for name, function in CATALOGUE.items()}
    listed = re.sub(r"\{([^{}]*)\}", lambda m: f"[{m[1].replace(';', ', ')}]", row.formula[1:])
    code = re.sub(r'"[^"]*"|\w+', lambda m: f"find('{m[0]}').call" if m[0] in names else m[0], listed)
    assert eval(code, {"find": find}) == pytest.approx(row.expected, rel=0, abs=row.tolerance), row.source
