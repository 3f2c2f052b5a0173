"""What can be wrong, and what a cell shows for it.

BrewError
├── OutOfRange     #NUM!    outside the stated range, no solution, a share over 1
├── BadInput       #VALUE!  text that isn't a number or quantity, wrong dimension, shapes that don't fit
├── NotListed      #N/A     a name that isn't in a table
├── CellError      as it is any other error value met in a formula, such as 1/0
└── WorkbookError  (no cell: a file that can't be read, written or trusted)

Every message is one sentence a brewer can act on. Python raises it, the command line prints it, a sheet shows
`code` and BREW_REASON the sentence.
"""

from __future__ import annotations

__all__ = ["BadInput", "BrewError", "CellError", "NotListed", "OutOfRange", "WorkbookError", "first_of"]


class BrewError(Exception):
    """Base of every error this package raises on purpose; `code` is what a cell shows."""

    code = "#VALUE!"


class OutOfRange(BrewError, ValueError):
    """A value outside the stated range, a share over 1, or a question with no answer."""

    code = "#NUM!"


class BadInput(BrewError, ValueError):
    """Text that isn't a number or quantity, a quantity of another kind, or shapes that don't fit."""

    code = "#VALUE!"


class NotListed(BrewError, LookupError):
    """A name that isn't in a table."""

    code = "#N/A"

    def __str__(self) -> str:  # LookupError's subclasses differ in how they print; a sentence is a sentence
        return str(self.args[0]) if self.args else ""


class CellError(BrewError):
    """An error value met in a formula that no function of ours gave, such as #DIV/0! from 1/0.

    >>> CellError("#DIV/0!").code
    '#DIV/0!'
    """

    def __init__(self, code: str, message: str = "") -> None:
        super().__init__(message or f"the formula gives {code}")
        self.code = code


class WorkbookError(BrewError):
    """A workbook, plan or folder that can't be read, written or trusted; nothing was changed."""


def first_of(where: str, first: BrewError, bad: int, count: int) -> BrewError:
    """What to raise where `bad` of `count` elements have no answer."""
    if count == 1:
        return first
    return type(first)(f"{bad} of {count} elements; the first, at {where}: {first}")
