"""The text of formulas: cut into tokens, shifted to another cell, freed of another computer's add-in paths."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import lru_cache
from typing import NamedTuple

from brewfuncs.errors import BrewError
from brewfuncs.xlsx.address import MAX_COLUMN, MAX_ROW, Box, column_letters, column_number, parse_range


class Token(NamedTuple):
    """One piece of a formula. `kind` is one of the group names of `_TOKEN`."""

    kind: str
    text: str


_WORD = r"[A-Za-z_\\\u0080-\uffff][\w.\\?]*+"
_BRACKETS = r"\[(?:[^\[\]']|'.|\[(?:[^\[\]']|'.)*+\])*+\]"
_TOKEN = re.compile(
    rf"""
  (?P<space>[ \t\r\n]++)
| (?P<text>"(?:[^"]|"")*+")
| (?P<array>\{{(?:"(?:[^"]|"")*+"|[^{{}}"])*+\}})
| (?P<error>\#(?:N/A|NAME\?|DIV/0!|VALUE!|REF!|NUM!|NULL!|SPILL!|CALC!|FIELD!|BLOCKED!|GETTING_DATA))
| (?P<sheet>(?:'(?:[^']|'')++'|\[\d+\][^\s!'"()+\-*/^&=<>,;{{}}\[\]]*+|{_WORD}(?::{_WORD})?)!)
| (?P<func>{_WORD}\()
| (?P<ref>(?:\$?[A-Za-z]{{1,3}}\$?[1-9]\d{{0,6}}(?::\$?[A-Za-z]{{1,3}}\$?[1-9]\d{{0,6}})?
         |\$?[A-Za-z]{{1,3}}:\$?[A-Za-z]{{1,3}}
         |\$?[1-9]\d{{0,6}}:\$?[1-9]\d{{0,6}})(?![\w.(\[!]))
| (?P<number>(?:\d++\.?\d*+|\.\d++)(?:[eE][+-]?\d++)?)
| (?P<table>(?:{_WORD})?{_BRACKETS})
| (?P<name>{_WORD})
| (?P<open>\()
| (?P<close>\))
| (?P<sep>[,;])
| (?P<op><>|<=|>=|[-+*/^&=<>%@\#:])
| (?P<other>.)
""",
    re.VERBOSE | re.DOTALL,
)


class Untranslatable(Exception):
    """A formula the engine can't be given; the text says why."""


def _cut(formula: str) -> tuple[Token, ...]:
    return tuple(Token(match.lastgroup or "other", match[0]) for match in _TOKEN.finditer(formula))


_cut_once = lru_cache(4096)(_cut)
_LONG = 1000  # characters: a file of thousands of longer formulas isn't held in memory


def tokenize(formula: str) -> tuple[Token, ...]:
    """Cut a formula (without its equals sign) into pieces that put together give it back.

    What a formula calls, whether it spills and how the engine reads it are asked one after the other: it is cut once.

    >>> [token.kind for token in tokenize("HOP_MASS(A1,,5.5%)")]
    ['func', 'ref', 'sep', 'sep', 'number', 'op', 'close']
    """
    return _cut(formula) if len(formula) > _LONG else _cut_once(formula)


#: not the ends of names, in whatever language: Größe1
_ROW_NUMBERS = re.compile(
    rb"(?<![A-Za-z0-9_.\\$\x80-\xff])(\$?[A-Za-z]{1,3}\$?)[1-9][0-9]{0,6}(?![A-Za-z0-9_.(\x80-\xff])"
)


def template(formula: bytes) -> bytes:
    """The formula without its row numbers: the same for all rows of a column that was filled down.

    >>> template(b"ROUND(A12*$B$3,2)")
    b'ROUND(A#*$B$#,2)'
    """
    return _ROW_NUMBERS.sub(rb"\1#", formula)


_PARTED = re.compile(
    _ROW_NUMBERS.pattern.decode().replace("[1-9][0-9]{0,6}", "([1-9][0-9]{0,6})").replace(r"\xff", r"\U0010ffff")
)


def parted(formula: str) -> list[str]:
    """A formula in pieces, every third of them the number of a row, as `template` leaves them out.

    >>> parted("A12*2"), parted("ROUND(A12*$B$3,2)")[2::3]
    (['', 'A', '12', '*2'], ['12', '3'])
    """
    return _PARTED.split(formula)


_PREFIX = re.compile(r"(?:_xlfn\.|_xlws\.|_xll\.|_xludf\.)+", re.IGNORECASE)


@lru_cache(1024)
def plain_name(function: str) -> str:
    """A function's name in capitals, without the prefixes that files put before it.

    >>> plain_name("_xlfn._xlws.Sort("), plain_name("_xll.hop_mass"), plain_name("brew.hop_mass")
    ('SORT', 'HOP_MASS', 'HOP_MASS')
    """
    return _PREFIX.sub("", function.rstrip("(")).upper().removeprefix("BREW.")


def functions_in(formula: str) -> set[str]:
    """The plain names of the functions that a formula calls.

    >>> sorted(functions_in("SUM(A1,_xll.BOIL_OFF(A2,30))"))
    ['BOIL_OFF', 'SUM']
    """
    return {plain_name(text) for kind, text in tokenize(formula) if kind == "func"}


_CELL = re.compile(r"(\$?)([A-Za-z]{1,3})(\$?)(\d+)")
_EDGE = re.compile(r"(\$?)([A-Za-z]{1,3}|\d+)")


def _shift_ref(text: str, rows: int, columns: int, wrap: bool) -> str:
    def moved(number: int, fixed: str, by: int, limit: int) -> int:
        if fixed:
            return number
        number += by
        if wrap:  # names count from A1 and go round the edge of the sheet
            number = (number - 1) % limit + 1
        if not 1 <= number <= limit:
            raise OverflowError
        return number

    parts = []
    for part in text.split(":"):
        cell = _CELL.fullmatch(part)
        if cell:
            fixed_column, letters, fixed_row, row = cell.groups()
            column = column_letters(moved(column_number(letters), fixed_column, columns, MAX_COLUMN))
            parts.append(f"{fixed_column}{column}{fixed_row}{moved(int(row), fixed_row, rows, MAX_ROW)}")
            continue
        edge = _EDGE.fullmatch(part)
        assert edge is not None  # the tokenizer makes refs of cells and edges only
        fixed, what = edge.groups()
        if what.isdigit():
            parts.append(f"{fixed}{moved(int(what), fixed, rows, MAX_ROW)}")
        else:
            parts.append(f"{fixed}{column_letters(moved(column_number(what), fixed, columns, MAX_COLUMN))}")
    return ":".join(parts)


def shift(formula: str, rows: int, columns: int, *, wrap: bool = False) -> str:
    """The formula as it reads when filled from one cell to another.

    >>> shift("A1*$B$1+SUM(C:C)", 2, 1)
    'B3*$B$1+SUM(D:D)'
    """
    out = []
    for kind, text in tokenize(formula):
        if kind == "ref":
            try:
                text = _shift_ref(text, rows, columns, wrap)
            except (OverflowError, BrewError):  # over the edge, or a column past XFD
                text = "#REF!"
        out.append(text)
    return "".join(out)


_CORNERS = re.compile(r"(\$?)([A-Za-z]{1,3})(\$?)(\d{1,7}):(\$?)([A-Za-z]{1,3})(\$?)(\d{1,7})")


def in_order(reference: str) -> str:
    """A range from its upper left to its lower right corner, whichever it was written from.

    >>> in_order("B$10:A2")
    'A2:B$10'
    """
    corners = _CORNERS.fullmatch(reference)
    if corners is None:
        return reference
    columns = sorted((corners.group(1, 2), corners.group(5, 6)), key=lambda column: column_number(column[1]))
    rows = sorted((corners.group(3, 4), corners.group(7, 8)), key=lambda row: int(row[1]))
    return ":".join("".join((*column, *row)) for column, row in zip(columns, rows, strict=True))


def has_reversed_range(formula: str) -> bool:
    """Whether a range in a formula isn't written from its upper left to its lower right corner."""
    return any(
        int(row) > int(last_row) or (len(column), column.upper()) > (len(last_column), last_column.upper())
        for _, column, _, row, _, last_column, _, last_row in _CORNERS.findall(formula)
    )


def whole_range(reference: str) -> Box:
    """The cells of a reference, whole rows and columns included.

    >>> whole_range("$B:$C").size
    2097152
    """
    first, _, last = reference.replace("$", "").partition(":")
    last = last or first
    if first.isdigit():
        first, last = f"A{first}", f"{column_letters(MAX_COLUMN)}{last}"
    elif first.isalpha():
        first, last = f"{first}1", f"{last}{MAX_ROW}"
    return parse_range(f"{first}:{last}")


_EXTERNAL = re.compile(r"^\[|\[[^\]]*\]|\.(?:xlam|xla|xll|xlsm|xlsb|xlsx|xls|oxt)'?!$", re.IGNORECASE)


def is_external(sheet: str) -> bool:
    """Whether a prefix such as `[1]Sheet!` or `'C:\\x\\brew.xlam'!` points out of the workbook."""
    return bool(_EXTERNAL.search(sheet))


def without_addin_paths(formula: str, functions: Collection[str]) -> str:
    """The formula with our functions called by their plain names.

    >>> without_addin_paths("'C:\\\\brew.xlam'!HOP_MASS(1)*[1]Sheet!A1", {"HOP_MASS"})
    'HOP_MASS(1)*[1]Sheet!A1'
    """
    tokens = tokenize(formula)
    out = []
    for token, following in zip(tokens, [*tokens[1:], None], strict=False):
        ours = following is not None and following.kind == "func" and plain_name(following.text) in functions
        if not (ours and token.kind == "sheet" and is_external(token.text)):
            out.append(token.text)
    return "".join(out)


def words(text: str) -> frozenset[str]:
    """A set of names, written as one text."""
    return frozenset(text.split())


def is_range(text: str) -> bool:
    return ":" in text and bool(re.search(r"(?:^|!)[^!'\"()]*:[^!'\"()]*$", text))


def sheet_name(prefix: str) -> str:
    """`'My Sheet'!` without what is around the name."""
    name = prefix.removesuffix("!")
    return name[1:-1].replace("''", "'") if name.startswith("'") else name


def quoted(sheet: str) -> str:
    """A sheet's name as formulas write it, with the exclamation mark."""
    return "'" + sheet.replace("'", "''") + "'!"


MAX_FORMULA = 8_192
