"""DSUM and its like: a range with headers, asked by a range of conditions."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

from brewfuncs.hosts.standard.declare import (
    NUMBER,
    PLAIN_NUMBER,
    UNKNOWN,
    VALUE,
    Refusal,
    entire,
    handed,
    pattern,
    rows_of,
    whole,
)
from brewfuncs.hosts.standard.statistics import mean, numbers_in, variance


def _meets(criterion: Any) -> Callable[[Any], bool]:
    """The condition in a cell of a criteria range."""
    if isinstance(criterion, dict):
        raise Refusal(UNKNOWN)
    if criterion is None or criterion == "":
        return lambda cell: True
    if isinstance(criterion, bool):
        return lambda cell: cell is criterion
    if isinstance(criterion, (int, float)):
        wanted = float(criterion)
        return lambda cell: cell.__class__ is float and cell == wanted
    match = re.match(r"<>|<=|>=|<|>|=", criterion)
    operator = match[0] if match else ""
    rest = criterion[len(operator) :]
    if operator == "=" and not rest:
        return lambda cell: cell is None
    if operator == "<>" and not rest:
        return lambda cell: cell is not None
    if PLAIN_NUMBER.fullmatch(rest.strip()):
        limit = float(rest)
        compared: dict[str, Callable[[float], bool]] = {
            "": lambda x: x == limit,
            "=": lambda x: x == limit,
            "<>": lambda x: x != limit,
            "<": lambda x: x < limit,
            "<=": lambda x: x <= limit,
            ">": lambda x: x > limit,
            ">=": lambda x: x >= limit,
        }
        holds = compared[operator]
        return lambda cell: holds(cell) if cell.__class__ is float else operator == "<>"
    if operator in ("", "=", "<>") and not (rest[:1].isdigit() or rest.upper() in ("TRUE", "FALSE")):
        wanted_text = pattern(rest + ("" if operator else "*"))  # without a sign of equality: what begins so
        return lambda cell: (isinstance(cell, str) and wanted_text.fullmatch(cell) is not None) is (operator != "<>")
    raise Refusal(UNKNOWN)  # a date, or texts by their order


def _named_column(headers: list[Any], field: Any) -> int:
    if isinstance(field, str):
        known = [str(header).casefold() for header in headers]
        if field.casefold() not in known:
            raise Refusal(VALUE)
        return known.index(field.casefold())
    column = whole(field)
    if not 1 <= column <= len(headers):
        raise Refusal(VALUE)
    return column - 1


def _selected(database: Any, criteria: Any) -> list[list[Any]]:
    """The rows of a database that meet any row of the criteria."""
    headers, *records = rows_of(database)
    asked, *alternatives = rows_of(criteria)
    if not alternatives or not records:
        raise Refusal(VALUE)
    known = [header.casefold() if isinstance(header, str) else header for header in headers]
    columns = []
    for place, name in enumerate(asked):
        key = name.casefold() if isinstance(name, str) else name
        if key is not None and key in known:
            columns.append((place, known.index(key)))
        elif any(row[place] is not None for row in alternatives):
            raise Refusal(UNKNOWN)  # a condition that is a formula
    conditions = [[(column, _meets(row[place])) for place, column in columns] for row in alternatives]
    return [record for record in records if any(all(meets(record[c]) for c, meets in tests) for tests in conditions)]


def _database(name: str, worked_out: Callable[[list[float]], float]) -> None:
    def function(database: Any, field: Any, criteria: Any) -> float:
        column = _named_column(rows_of(database)[0], field)
        return worked_out(numbers_in([[record[column] for record in _selected(database, criteria)]]))

    entire(name)(function)


for _name, _worked_out in (
    ("DSUM", math.fsum),
    ("DPRODUCT", lambda numbers: math.prod(numbers) if numbers else 0.0),
    ("DMAX", lambda numbers: max(numbers, default=0.0)),
    ("DMIN", lambda numbers: min(numbers, default=0.0)),
    ("DAVERAGE", mean),
    ("DVAR", variance),
    ("DVARP", lambda numbers: variance(numbers, 0)),
    ("DSTDEV", lambda numbers: math.sqrt(variance(numbers))),
    ("DSTDEVP", lambda numbers: math.sqrt(variance(numbers, 0))),
):
    _database(_name, _worked_out)


def _counted(database: Any, field: Any, criteria: Any, counts: Callable[[Any], bool]) -> int:
    found = _selected(database, criteria)
    if field is None or field == 0.0:
        return len(found)
    column = _named_column(rows_of(database)[0], field)
    return sum(counts(record[column]) for record in found)


@entire("DCOUNT")
def _dcount(database: Any, field: Any, criteria: Any) -> int:
    return _counted(database, field, criteria, lambda cell: cell.__class__ is float)


@entire("DCOUNTA")
def _dcounta(database: Any, field: Any, criteria: Any) -> int:
    return _counted(database, field, criteria, lambda cell: cell is not None)


@entire("DGET")
def _dget(database: Any, field: Any, criteria: Any) -> Any:
    column = _named_column(rows_of(database)[0], field)
    found = [record[column] for record in _selected(database, criteria)]
    if len(found) != 1:
        raise Refusal(NUMBER if found else VALUE)
    return handed(found[0])
