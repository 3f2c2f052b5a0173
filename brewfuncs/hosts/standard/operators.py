"""What the translator writes in place of operators: numbers compared and written to 15 digits; arrays."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from brewfuncs.errors import BrewError
from brewfuncs.hosts.standard.declare import (
    BUILTINS,
    MISSING,
    MOST,
    UNKNOWN,
    Refusal,
    elements,
    entire,
    rows_of,
    spread,
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


def _single_own(name: str, function: Callable[..., Any]) -> None:
    def called(*arguments: Any) -> Any:
        return spread(function, arguments)

    BUILTINS[name] = called


def _order(one: Any, other: Any) -> int:
    """-1, 0 or 1; numbers go before texts, texts before truth values, and numbers have 15 digits."""
    for value in (one, other):
        if isinstance(value, dict):
            raise Refusal(str(value.get("kind")))
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


def _told(one: Any, other: Any) -> int:
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
#: the numbers of the rows, or of the columns, of a range: _LINES(3,9), _LINES("A3:A9",0); and LOOKUP in an array
LINES, LOOKUP = "_LINES", "_LOOKUP"


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


@entire(LOOKUP)
def _lookup(wanted: Any, vector: Any, results: Any = None) -> Any:
    rows = rows_of(vector)
    across = len(rows[0]) > len(rows)
    searched = rows[0] if across else [row[0] for row in rows]
    itself = rows[-1] if across else [row[-1] for row in rows]
    found = itself if results is None else list(elements([results]))
    if isinstance(wanted, dict):
        raise Refusal(str(wanted.get("kind")))
    if wanted is None or len(found) != len(searched):
        raise Refusal(UNKNOWN)
    # cells of another kind and errors are passed over, so that LOOKUP(2,1/(condition),...) gives the last
    places = [place for place, cell in enumerate(searched) if cell.__class__ is wanted.__class__]
    orders = [_told(searched[place], wanted) for place in places]
    below = sum(order <= 0 for order in orders)
    if any(order > 0 for order in orders[:below]):
        raise Refusal(UNKNOWN)  # not in ascending order: halving leads anywhere
    if not below:
        raise Refusal(MISSING)
    return 0.0 if found[places[below - 1]] is None else found[places[below - 1]]


_single_own(OPERATORS["="], lambda one, other: _order(one, other) == 0)
_single_own(OPERATORS["<>"], lambda one, other: _order(one, other) != 0)
_single_own(OPERATORS["<"], lambda one, other: _told(one, other) < 0)
_single_own(OPERATORS["<="], lambda one, other: _told(one, other) <= 0)
_single_own(OPERATORS[">"], lambda one, other: _told(one, other) > 0)
_single_own(OPERATORS[">="], lambda one, other: _told(one, other) >= 0)
_single_own(DIGITS, written)
#: an element of an array as a sum of products takes it: what isn't a number counts as 0
_single_own(NUMBERS, lambda value: value if value.__class__ in (float, dict) else 0.0)
