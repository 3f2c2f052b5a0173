"""SORT and SORTBY."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cmp_to_key
from typing import Any

from brewfuncs.hosts.standard.declare import (
    UNKNOWN,
    VALUE,
    Refusal,
    elements,
    entire,
    handed,
    number,
    rows_of,
    turned,
    whole,
)
from brewfuncs.hosts.standard.operators import told


def _sorted(lines: list[list[Any]], keys: Sequence[tuple[list[Any], int]]) -> list[list[Any]]:
    """Some lines by keys of theirs, the first of which counts most, each up (1) or down (-1); blanks stand last."""
    order = list(range(len(lines)))
    for cells, way in reversed(keys):
        if any(isinstance(cell, dict) for cell in cells) or (
            way < 0 and len({cell.__class__ for cell in cells if cell is not None}) > 1
        ):
            raise Refusal(UNKNOWN)
        full = [place for place in order if cells[place] is not None]
        blank = [place for place in order if cells[place] is None]
        full.sort(key=cmp_to_key(lambda one, other, cells=cells, way=way: way * told(cells[one], cells[other])))  # type: ignore[misc]
        order = full + blank
    return [lines[place] for place in order]


def _shown(rows: list[list[Any]]) -> list[list[Any]]:
    return [[handed(cell) for cell in row] for row in rows]


def _way(value: Any) -> int:
    way = whole(1.0 if value is None else value)
    if way not in (1, -1):
        raise Refusal(VALUE)
    return way


@entire("SORT")
def _sort(array: Any, index: Any = None, order: Any = None, by_column: Any = None) -> Any:
    rows = rows_of(array)
    across = by_column is not None and bool(number(by_column))
    lines = turned(rows) if across else rows
    if isinstance(index, list) or isinstance(order, list):
        raise Refusal(UNKNOWN)
    place = 1 if index is None else whole(index)
    if not 1 <= place <= len(lines[0]):
        raise Refusal(VALUE)
    found = _shown(_sorted(lines, [([line[place - 1] for line in lines], _way(order))]))
    return turned(found) if across else found


@entire("SORTBY")
def _sortby(array: Any, *more: Any) -> Any:
    rows = rows_of(array)
    keys: list[tuple[list[Any], int]] = []
    across = None
    for place in range(0, len(more), 2):
        by = rows_of(more[place])
        this = len(by) == 1 and len(by[0]) > 1
        if across not in (None, this):
            raise Refusal(VALUE)
        across = this
        keys.append((list(elements([by])), _way(more[place + 1] if place + 1 < len(more) else None)))
    lines = turned(rows) if across else rows
    if any(len(cells) != len(lines) for cells, _ in keys) or not keys:
        raise Refusal(VALUE)
    found = _shown(_sorted(lines, keys))
    return turned(found) if across else found
