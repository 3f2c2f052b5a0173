"""Declaring a function of spreadsheet programs, and what comes across the border to the engine and back."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import wraps
from typing import Any


class Refusal(Exception):
    """An error value in place of an answer."""

    def __init__(self, kind: str) -> None:
        super().__init__(kind)
        self.kind = kind


DIVISION, MISSING, NUMBER, VALUE = "Div", "Na", "Num", "Value"
#: what right is can't be told: stops the formula, whose stored value stays
UNKNOWN = "NImpl"

#: the functions by name, as the engine calls them: with floats, texts, truth values, None for blanks, errors as dicts
BUILTINS: dict[str, Callable[..., Any]] = {}

#: stands for an argument left out, `F(1,,3)`; the engine alone would deliver 0 (nobody types this character)
OMITTED_TEXT = "\ue000"
MOST = 200_000  # elements of arrays that are gone through


class Unknown:
    """How often an answer was UNKNOWN: a formula may have taken the error for one of its data, as IFERROR does."""

    count = 0


def error(kind: str) -> dict[str, str]:
    """An error value as the engine takes it."""
    if kind == UNKNOWN:
        Unknown.count += 1
    return {"type": "Error", "kind": kind}


# ---------------------------------------------------------------- what is given
PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


def sound(value: Any) -> Any:
    """A cell that isn't an error; an error that is given is the answer, too."""
    if isinstance(value, dict):
        raise Refusal(str(value.get("kind")))
    return value


def number(value: Any) -> float:
    """A cell where a number is wanted."""
    if value.__class__ is float:
        return value
    if value is None:
        return 0.0
    if isinstance(value, (bool, int)):
        return float(value)
    text = str(sound(value)).strip()
    if PLAIN_NUMBER.fullmatch(text):
        return float(text)
    # a date, an amount of money, a number with separators, a percentage: by the country
    raise Refusal(UNKNOWN if any(sign.isdigit() for sign in text) else VALUE)


def whole(value: Any) -> int:
    return math.trunc(number(value))


def pattern(text: str) -> re.Pattern[str]:
    """* and ? stand for any characters and any one; a tilde before them takes that away."""
    parts = re.findall(r"~[*?~]|.", text, re.DOTALL)
    signs = {"*": ".*", "?": "."}
    return re.compile(
        "".join(signs.get(part) or re.escape(part.removeprefix("~") if len(part) > 1 else part) for part in parts),
        re.IGNORECASE | re.DOTALL,
    )


def elements(values: Iterable[Any]) -> Iterator[Any]:
    """All cells of some arguments, single ones and arrays."""
    for value in values:
        if isinstance(value, list):
            for row in value:
                yield from row
        else:
            yield value


def rows_of(value: Any) -> list[list[Any]]:
    return value if isinstance(value, list) else [[value]]


def turned(rows: list[list[Any]]) -> list[list[Any]]:
    """Columns as rows."""
    return [list(line) for line in zip(*rows, strict=True)]


def handed(cell: Any) -> Any:
    """A cell as a formula shows it that hands it on: a blank one is 0."""
    return 0.0 if cell is None else cell


def answered(function: Callable[..., Any], arguments: Sequence[Any]) -> Any:
    """A function's answer, errors as the engine takes them; an argument left out is None."""
    try:
        if OMITTED_TEXT in arguments:
            arguments = [None if argument == OMITTED_TEXT else argument for argument in arguments]
        answer = function(*arguments)
        if isinstance(answer, int) and not isinstance(answer, bool):
            answer = float(answer)
    except Refusal as refusal:
        return error(refusal.kind)
    except (ZeroDivisionError, OverflowError, ValueError):
        return error(NUMBER)
    except TypeError:  # too many or too few arguments, which no program would have let be typed
        return error(UNKNOWN)
    if isinstance(answer, float) and not math.isfinite(answer):
        return error(NUMBER)
    return answer


def element(given: Any, row: int, column: int) -> Any:
    """An element of an array; one row or column is repeated, and #N/A where there is none."""
    if not isinstance(given, list):
        return given
    row, column = row if len(given) > 1 else 0, column if len(given[0]) > 1 else 0
    inside = row < len(given) and column < len(given[0])
    return given[row][column] if inside else error(MISSING)


def spread(function: Callable[..., Any], arguments: Sequence[Any]) -> Any:
    """A function of single values, called for each element where it is given arrays."""
    blocks = [argument for argument in arguments if isinstance(argument, list)]
    if not blocks:
        return answered(function, arguments)
    height = max(len(block) for block in blocks)
    width = max(len(block[0]) for block in blocks)
    if height * width > MOST:
        return error(UNKNOWN)
    return [
        [answered(function, [element(argument, row, column) for argument in arguments]) for column in range(width)]
        for row in range(height)
    ]


_Declare = Callable[[Callable[..., Any]], Callable[..., Any]]


def _declared(names: Sequence[str], call: Callable[[Callable[..., Any], Sequence[Any]], Any]) -> _Declare:
    def declare(function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def called(*arguments: Any) -> Any:
            return call(function, arguments)

        BUILTINS.update(dict.fromkeys(names, called))
        return function

    return declare


def single(*names: str) -> _Declare:
    """Declare a function that takes single values, and arrays element by element."""
    return _declared(names, spread)


def entire(*names: str) -> _Declare:
    """Declare a function that takes ranges and arrays as they are."""
    return _declared(names, answered)
