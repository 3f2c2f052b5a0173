"""What the translator writes in place of operators: numbers compared and written to 15 digits; arrays."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

from brewfuncs.errors import BrewError
from brewfuncs.hosts.standard.declare import (
    MISSING,
    MOST,
    UNKNOWN,
    VALUE,
    Refusal,
    elements,
    entire,
    handed,
    number,
    rows_of,
    single,
    sound,
    turned,
    whole,
)
from brewfuncs.xlsx.formula import whole_range, words


def _digits(x: float) -> str:
    """A number as it is joined to text: 15 digits."""
    if x == 0:
        return "0"
    if not 1e-4 <= abs(x) < 1e15:  # programs change to an exponent at different sizes
        if x.is_integer() and abs(x) < 1e15:
            return str(int(x))
        raise Refusal(UNKNOWN)
    text = f"{x:.15g}"
    return text if "e" not in text else str(int(float(text)))


def written(value: Any) -> Any:
    """A cell where text is wanted; numbers as spreadsheet programs write them, all else as it is."""
    return _digits(value) if value.__class__ is float else value


def _order(one: Any, other: Any) -> int:
    """-1, 0 or 1; numbers go before texts, texts before truth values, and numbers have 15 digits."""
    sound(one), sound(other)
    if one is None:
        one = "" if isinstance(other, str) else False if isinstance(other, bool) else 0.0
    if other is None:
        other = "" if isinstance(one, str) else False if isinstance(one, bool) else 0.0
    kinds = [0 if isinstance(v, float) else 2 if isinstance(v, bool) else 1 for v in (one, other)]
    if kinds[0] != kinds[1]:
        return -1 if kinds[0] < kinds[1] else 1
    if kinds[0] == 0 and one != other:
        if abs(one - other) > 4e-15 * max(abs(one), abs(other)):
            return -1 if one < other else 1
        if f"{one:.14e}" != f"{other:.14e}":
            raise Refusal(UNKNOWN)  # programs part between 15 and 16 digits
        return 0
    if kinds[0] == 1:
        one, other = one.casefold(), other.casefold()
        if one != other and not (one + other).replace(" ", "").isalnum():
            return 2  # not equal; which goes first hangs on the language
    return 0 if one == other else -1 if one < other else 1


def told(one: Any, other: Any) -> int:
    order = _order(one, other)
    if order == 2:
        raise Refusal(UNKNOWN)
    return order


#: what the translator writes in place of operators: their answers hang on 15 digits, where the engine has 17
OPERATORS = {"=": "_EQ", "<>": "_NE", "<": "_LT", "<=": "_LE", ">": "_GT", ">=": "_GE"}
DIGITS, NUMBERS = "_DIGITS", "_NUMBERS"
#: calls a function of the engine for each element: _EACH("LEN",A1:A9); a Calculation has it
EACH = "_EACH"
#: which arguments of a function of ranges are (e)ach single, and which the (w)hole range; the last two repeat
SLOTS = {
    **dict.fromkeys(words("COUNTIF COUNTIFS LARGE SMALL PERCENTILE PERCENTILE.INC QUARTILE QUARTILE.INC"), "we"),
    **dict.fromkeys(words("SUMIF AVERAGEIF"), "wew"),
    **dict.fromkeys(words("SUMIFS AVERAGEIFS MINIFS MAXIFS"), "wwe"),
    **dict.fromkeys(words("MATCH RANK RANK.EQ RANK.AVG"), "ewe"),
    **dict.fromkeys(words("VLOOKUP HLOOKUP"), "ewee"),
}


def slot(name: str, place: int) -> str:
    """How a function takes its argument in a place, counted from 0: as in SLOTS; "" for a function that isn't there."""
    pattern = SLOTS.get(name, "")
    return pattern[place if place < len(pattern) else -2 + (place - len(pattern)) % 2] if pattern else ""


#: the numbers of the rows, or of the columns, of a range: _LINES(3,9), _LINES("A3:A9",0)
LINES = "_LINES"
#: searches that may stop beside what is sought
APPROXIMATE = {"LOOKUP": "_LOOKUP", "MATCH": "_MATCH", "VLOOKUP": "_VLOOKUP", "HLOOKUP": "_HLOOKUP"}


@entire(LINES)
def _lines(first: Any, last: float, across: bool = False) -> list[list[float]]:
    if not isinstance(first, float):
        try:
            box = whole_range(first.rpartition("!")[2])
        except (BrewError, AttributeError, ValueError, AssertionError):
            raise Refusal(UNKNOWN) from None
        first, last = (box.left, box.right) if across else (box.top, box.bottom)
    if last - first >= MOST:
        raise Refusal(UNKNOWN)
    numbers = [float(line) for line in range(int(first), int(last) + 1)]
    return [numbers] if across else [[line] for line in numbers]


def _nearest(wanted: Any, searched: list[Any]) -> int:
    """The last of some cells in ascending order that isn't more than what is sought; halving leads anywhere else.

    Cells of another kind and errors are passed over, so that LOOKUP(2,1/(condition),...) gives the last.
    """
    if sound(wanted) is None:
        raise Refusal(UNKNOWN)
    places = [place for place, cell in enumerate(searched) if cell.__class__ is wanted.__class__]
    below = [place for place in places if told(searched[place], wanted) <= 0]
    if below != places[: len(below)]:
        raise Refusal(UNKNOWN)
    if len(below) != len(places):  # what is more than all ends at the last in whatever order
        cells = [searched[place] for place in places]
        if any(told(one, next_one) > 0 for one, next_one in itertools.pairwise(cells)):
            raise Refusal(UNKNOWN)
    if not below:
        raise Refusal(MISSING)
    return below[-1]


@entire(APPROXIMATE["LOOKUP"])
def _lookup(wanted: Any, vector: Any, results: Any = None) -> Any:
    rows = rows_of(vector)
    across = len(rows[0]) > len(rows)
    itself = rows[-1] if across else [row[-1] for row in rows]
    found = itself if results is None else list(elements([results]))
    searched = rows[0] if across else [row[0] for row in rows]
    if len(found) != len(searched):
        raise Refusal(UNKNOWN)
    return handed(found[_nearest(wanted, searched)])


@entire(APPROXIMATE["MATCH"])
def _match(wanted: Any, vector: Any, how: Any = 1.0) -> float:
    searched = list(elements([vector]))
    if number(how) < 0:
        sound(wanted)
        if any(cell.__class__ is not wanted.__class__ for cell in searched):
            raise Refusal(UNKNOWN)
        if any(told(one, next_one) < 0 for one, next_one in itertools.pairwise(searched)):
            raise Refusal(UNKNOWN)
        above = [place for place, cell in enumerate(searched) if told(cell, wanted) >= 0]
        if not above:
            raise Refusal(MISSING)
        found = searched[above[-1]]
        return 1.0 + next(place for place in above if told(searched[place], found) == 0)
    return 1.0 + _nearest(wanted, searched)


def _table(wanted: Any, lines: list[list[Any]], line: Any) -> Any:
    place = whole(line)
    if place < 1:
        raise Refusal(VALUE)
    if place > len(lines):
        raise Refusal("Ref")
    return handed(lines[place - 1][_nearest(wanted, lines[0])])


@entire(APPROXIMATE["VLOOKUP"])
def _vlookup(wanted: Any, table: Any, column: Any, _: Any = True) -> Any:
    return _table(wanted, turned(rows_of(table)), column)


@entire(APPROXIMATE["HLOOKUP"])
def _hlookup(wanted: Any, table: Any, row: Any, _: Any = True) -> Any:
    return _table(wanted, rows_of(table), row)


_OPERATIONS: dict[str, Callable[..., Any]] = {
    OPERATORS["="]: lambda one, other: _order(one, other) == 0,
    OPERATORS["<>"]: lambda one, other: _order(one, other) != 0,
    OPERATORS["<"]: lambda one, other: told(one, other) < 0,
    OPERATORS["<="]: lambda one, other: told(one, other) <= 0,
    OPERATORS[">"]: lambda one, other: told(one, other) > 0,
    OPERATORS[">="]: lambda one, other: told(one, other) >= 0,
    DIGITS: written,
    # an element of an array as a sum of products takes it: what isn't a number counts as 0
    NUMBERS: lambda value: value if value.__class__ in (float, dict) else 0.0,
}
for _name, _function in _OPERATIONS.items():
    single(_name)(_function)
