"""Where cells are: addresses, columns by letter, rectangles of cells."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from brewfuncs.errors import WorkbookError

MAX_ROW, MAX_COLUMN = 1_048_576, 16_384


class Box(NamedTuple):
    """A rectangle of cells, all four edges included, counted from 1."""

    top: int
    left: int
    bottom: int
    right: int

    def holds(self, row: int, column: int) -> bool:
        return self.top <= row <= self.bottom and self.left <= column <= self.right

    @property
    def size(self) -> int:
        """How many cells these are."""
        return (self.bottom - self.top + 1) * (self.right - self.left + 1)

    def cells(self) -> Iterator[tuple[int, int]]:
        for row in range(self.top, self.bottom + 1):
            for column in range(self.left, self.right + 1):
                yield row, column

    def __str__(self) -> str:
        first, last = address(self.top, self.left), address(self.bottom, self.right)
        return first if first == last else f"{first}:{last}"


_ADDRESS = re.compile(r"\$?([A-Za-z]{1,3})\$?([0-9]{1,7})")
_letters: dict[int, str] = {}
_columns: dict[str, int] = {}


def column_letters(column: int) -> str:
    """1 is A, 27 is AA.

    >>> column_letters(16384)
    'XFD'
    """
    if column not in _letters:
        text, rest = "", column
        while rest:
            rest, digit = divmod(rest - 1, 26)
            text = chr(65 + digit) + text
        _letters[column] = text
    return _letters[column]


def column_number(letters: str) -> int:
    """A is 1, AA is 27."""
    number = _columns.get(letters)
    if number is None:
        number = 0
        for letter in letters.upper():
            number = number * 26 + ord(letter) - 64
        if not 1 <= number <= MAX_COLUMN:
            raise WorkbookError(f"there is no column {letters}")
        _columns[letters] = number
    return number


def address(row: int, column: int) -> str:
    """
    >>> address(3, 28)
    'AB3'
    """
    return f"{column_letters(column)}{row}"


def parse_address(text: str) -> tuple[int, int]:
    """
    >>> parse_address("$AB$3")
    (3, 28)
    """
    match = _ADDRESS.fullmatch(text)
    if not match or not 1 <= int(match[2]) <= MAX_ROW:
        raise WorkbookError(f"{text!r} is not the address of a cell")
    return int(match[2]), column_number(match[1])


def parse_range(text: str) -> Box:
    """
    >>> parse_range("B2:C9")
    Box(top=2, left=2, bottom=9, right=3)
    """
    first, _, last = text.partition(":")
    (top, left), (bottom, right) = parse_address(first), parse_address(last or first)
    return Box(min(top, bottom), min(left, right), max(top, bottom), max(left, right))
