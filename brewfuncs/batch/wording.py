"""Sentences of the sheets, made of parts: text, and cells between it.

    say("Boil ", number("extra"), " min longer.")   ->   "Boil "&FIXED(extra,0,TRUE)&" min longer."
    pick(("a>b", say("more")), otherwise=say("less"))   ->   IF(a>b,"more","less")

Both give expressions without the equals sign, which go into formulas and into each other.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = [
    "LOOK_WORD",
    "Part",
    "amount",
    "asks_for_a_look",
    "at_least",
    "cell",
    "look",
    "number",
    "percent",
    "pick",
    "say",
    "small",
]


LOOK_WORD = "Look"  # what every state begins with that asks for a look


class Part(NamedTuple):
    """An expression that gives text."""

    formula: str


def cell(expression: str) -> Part:
    """The text in a cell, or of an expression."""
    return Part(expression)


def number(expression: str, decimals: int | str = 0) -> Part:
    """A number, as it is written in a sentence."""
    return Part(f"FIXED({expression},{decimals},TRUE)")


def percent(expression: str, decimals: int = 0) -> Part:
    """A share, in per cent."""
    return Part(f'FIXED(100*{expression},{decimals},TRUE)&" %"')


def small(name: str) -> str:
    """Decimals for a dose or a volume: a second one for a figure under ten."""
    return f"IF({name}<10,2,1)"


def amount(name: str, decimals: int | str = 0) -> Part:
    """A result with the unit it is shown in; `decimals` may be an expression."""
    return Part(f'FIXED({name},{decimals},TRUE)&" "&{name}_unit')


def at_least(name: str, decimals: int = 0) -> Part:
    """A result with its unit, rounded up: a limit that something has to stand."""
    return Part(f'FIXED(ROUNDUP({name},{decimals}),{decimals},TRUE)&" "&{name}_unit')


def say(*parts: str | Part) -> str:
    """An expression for a sentence: texts stand as they are, parts are worked out."""
    return "&".join(part.formula if isinstance(part, Part) else _quoted(part) for part in parts) or '""'


def look(*parts: str | Part) -> str:
    """An expression for a state that asks for a look."""
    return say(f"{LOOK_WORD}: ", *parts)


def asks_for_a_look(address: str) -> str:
    """A condition: whether the state in a cell does, in capitals or not, as spreadsheets compare."""
    return f'LEFT({address},{len(LOOK_WORD)})="{LOOK_WORD}"'


def _quoted(text: str) -> str:
    """A text in a formula, in pieces: no spreadsheet takes one of more than 255 characters."""
    pieces = [text[start : start + 250] for start in range(0, max(1, len(text)), 250)]
    return "&".join('"' + piece.replace('"', '""') + '"' for piece in pieces)


def pick(*cases: tuple[str, str], otherwise: str = '""') -> str:
    """The expression of the first condition that holds."""
    formula = otherwise
    for condition, expression in reversed(cases):
        formula = f"IF({condition},{expression},{formula})"
    return formula
