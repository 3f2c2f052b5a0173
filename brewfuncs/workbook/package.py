"""Read an .xlsx or .xlsm package and change stored values in it, and nothing else.

A workbook is a zip of XML parts. Libraries that load and save one lose what they don't know (sparklines, slicers,
pictures in cells, threaded comments, macros). So nothing is loaded and saved here: a changed value is spliced into the
bytes of its worksheet part, every other member of the zip is copied as it is, and the new file replaces the old one
in a single step.

Worksheet parts are scanned with one strict regular expression, which is fast because nearly every writer produces
the same shape of XML. A part of any other shape (a namespace prefix, comments, CDATA, UTF-16, cells that don't say
where they are) is first put into that shape by `_canonical`, which changes how the XML is written but not what it says.

Standard library only.
"""

from __future__ import annotations

import contextlib
import datetime
import io
import math
import os
import posixpath
import re
import shutil
import stat
import struct
import tempfile
import time
import zipfile
import zlib
from bisect import bisect_left
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import IO, NamedTuple
from xml.etree import ElementTree
from xml.parsers import expat
from xml.sax.saxutils import escape, quoteattr

from brewfuncs.errors import CellError, WorkbookError

try:
    import fcntl
except ImportError:  # Windows, where an open file can't be replaced anyway
    fcntl = None  # type: ignore[assignment]

__all__ = [
    "MAX_COLUMN",
    "MAX_ROW",
    "Box",
    "DefinedName",
    "FormulaCell",
    "Package",
    "Sheet",
    "Table",
    "Value",
    "address",
    "error_value",
    "lock_owner",
    "parse_address",
    "parse_range",
    "same_value",
]

#: what a cell holds: a number, text, a truth value, an error, or nothing
Value = float | str | bool | CellError | None

MAX_ROW, MAX_COLUMN, MAX_TEXT = 1_048_576, 16_384, 32_767
MAX_FILE, MAX_PART, MAX_MEMBERS = 1 << 30, 400 << 20, 20_000
#: deflate can reach 1030 to 1; a worksheet of one repeated row about 60 to 1
MAX_RATIO, RATIO_MATTERS_FROM = 250, 8 << 20
MAX_FORMULA = 8_192
_LARGE = 8 << 20
_CR = {"\r": "&#13;"}  # a bare one would be read as a line feed

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_WORKBOOK_TYPES = re.compile(
    r"application/vnd\.(?:openxmlformats-officedocument\.spreadsheetml\.(?:sheet|template)|"
    r"ms-excel\.(?:sheet|template|addin)\.macroEnabled)\.main\+xml",
    re.IGNORECASE,
)
_LOCK_WAIT_SECONDS = 10.0
_STALE_SECONDS = 3600.0


# ---------------------------------------------------------------- addresses
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


# ---------------------------------------------------------------- values
#: the error values that every program accepts as a stored value; the newer ones (#SPILL!, #CALC!) are stored as #VALUE!
ERROR_CODES = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#GETTING_DATA")
_errors = {code: CellError(code) for code in ERROR_CODES}

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff\ud800-\udfff]")
_ENTITY = re.compile(r"&(?:#(\d+)|#[xX]([0-9A-Fa-f]+)|(\w+));")
_ENTITIES = {"lt": "<", "gt": ">", "amp": "&", "quot": '"', "apos": "'"}


def error_value(code: str) -> CellError:
    """The one object that stands for an error code in a cell."""
    return _errors.get(code) or _errors["#VALUE!"]


def same_value(old: Value, new: Value) -> bool:
    """Whether two values are the same to a reader: numbers within 1e-12 of each other, relative.

    >>> same_value(0.1 + 0.2, 0.3), same_value(1.0, True), same_value("1", 1.0)
    (True, False, False)
    """
    if isinstance(old, CellError) or isinstance(new, CellError):
        return isinstance(old, CellError) and isinstance(new, CellError) and old.code == new.code
    if type(old) is float and type(new) is float:
        return old == new or abs(old - new) <= 1e-12 * max(abs(old), abs(new))
    return type(old) is type(new) and old == new


def _unescape(text: str) -> str:
    """Undo XML's escapes."""
    if "&" not in text:
        return text

    def one(match: re.Match[str]) -> str:
        decimal, hexadecimal, name = match.groups()
        if name:
            return _ENTITIES.get(name, match[0])
        return chr(int(decimal) if decimal else int(hexadecimal, 16))

    return _ENTITY.sub(one, text)


def _read_text(raw: bytes) -> str:
    """Text of an XML element as a spreadsheet reads it: XML's escapes, then the _x000D_ of the file format."""
    text = _unescape(raw.decode("utf-8")).replace("\r\n", "\n").replace("\r", "\n")
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text


def _write_text(text: str) -> bytes:
    if len(text.encode("utf-16-le", "surrogatepass")) // 2 > MAX_TEXT:
        raise WorkbookError(f"a cell holds at most {MAX_TEXT} characters of text")
    text = _ESCAPED.sub(lambda match: "_x005F" + match[0], text)
    return escape(_UNPRINTABLE.sub(lambda match: f"_x{ord(match[0]):04X}_", text)).encode("utf-8")


def _write_number(value: float) -> bytes:
    if value == 0:
        return b"0"  # and not -0.0
    text = repr(value)
    return (text[:-2] if text.endswith(".0") else text).replace("e", "E").encode()


def _read_number(raw: bytes) -> float | None:
    try:
        value = float(raw)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


# ---------------------------------------------------------------- XML
def _check_xml(data: bytes, part: str) -> None:
    """Refuse what isn't well-formed, and document types: no workbook has one, and entities expand without end."""
    parser = expat.ParserCreate()

    def doctype(*_: object) -> None:
        raise WorkbookError(f"{part} has a document type, which no workbook needs and which can hide an attack")

    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise WorkbookError(f"{part} is damaged: {error}") from None
    except (LookupError, ValueError) as error:  # an encoding that isn't known
        raise WorkbookError(f"{part} can't be decoded: {error}") from None


def _tree(data: bytes, part: str) -> ElementTree.Element:
    _check_xml(data, part)
    return ElementTree.fromstring(data)


def _local(name: str) -> str:
    return name.rpartition("}")[2]


def _find_all(root: ElementTree.Element, name: str) -> Iterator[ElementTree.Element]:
    return (element for element in root.iter() if isinstance(element.tag, str) and _local(element.tag) == name)


def _true(text: str | None) -> bool:
    return text in ("1", "true")


def _integer(text: str | None, default: int) -> int:
    """A count or a number in an attribute, where a damaged file may have anything."""
    try:
        return int(text) if text is not None else default
    except ValueError:
        return default


def _canonical(data: bytes, part: str) -> bytes:
    """The same worksheet written in the shape `Sheet` scans: UTF-8, no prefix, comments or CDATA, every cell placed."""
    out: list[str] = []
    parser = expat.ParserCreate()
    parser.ordered_attributes = True
    parser.buffer_text = True
    prefix = ""
    opened = False  # a start tag not yet closed by > or />
    row = column = 0

    def rename(name: str) -> str:
        return name[len(prefix) :] if prefix and name.startswith(prefix) else name

    def close() -> None:
        nonlocal opened
        if opened:
            out.append(">")
            opened = False

    def start(name: str, flat: list[str]) -> None:
        nonlocal prefix, opened, row, column
        close()
        attributes = dict(zip(flat[::2], flat[1::2], strict=True))
        if not out and ":" in name:
            prefix = name.partition(":")[0] + ":"
            declaration = "xmlns:" + prefix[:-1]
            if "xmlns" in attributes or declaration not in attributes:
                raise WorkbookError(f"{part} mixes namespaces in a way that can't be changed safely")
            attributes = {"xmlns" if key == declaration else key: text for key, text in attributes.items()}
        name = rename(name)
        if name == "row":
            row, column = _integer(attributes.get("r"), row + 1), 0
            attributes = {"r": str(row), **attributes}
        elif name == "c":
            if "r" in attributes:
                row, column = parse_address(attributes.pop("r"))
            else:
                column += 1
            attributes = {"r": address(row, column), **attributes}
        pairs = (f" {key}={quoteattr(text)}" for key, text in attributes.items())
        out.append(f"<{name}" + "".join(pair if pair[-1] == '"' else _double_quoted(pair) for pair in pairs))
        opened = True

    def end(name: str) -> None:
        nonlocal opened
        if opened:
            out.append("/>")
            opened = False
        else:
            out.append(f"</{rename(name)}>")

    def characters(text: str) -> None:
        close()
        out.append(escape(text, _CR))

    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, characters
    parser.Parse(data, True)
    return ('<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n' + "".join(out)).encode("utf-8")


def _double_quoted(pair: str) -> str:
    """quoteattr turns to single quotes where the text has double ones; the scanner knows double quotes only."""
    key, _, text = pair.partition("=")
    return f'{key}="{text[1:-1].replace(chr(34), "&quot;")}"'


# ---------------------------------------------------------------- worksheets
class FormulaCell(NamedTuple):
    """A cell that holds a formula, and where its element stands in `Sheet.data`."""

    row: int
    column: int
    start: int
    end: int
    raw_formula: bytes  # as in the file; empty for the followers of a shared formula
    kind: str  # "", "shared", "array" or "dataTable"
    ref: str | None  # the range of an array or of a shared formula
    shared: str | None  # the index of a shared formula
    dynamic: bool  # a formula that spills
    raw_type: bytes  # the t attribute
    raw_value: bytes | None  # the text of <v>

    @property
    def text(self) -> str:
        """The formula without its equals sign; empty for the followers of a shared formula."""
        text = _unescape(self.raw_formula.decode("utf-8"))
        return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text

    @property
    def address(self) -> str:
        return address(self.row, self.column)

    @property
    def box(self) -> Box:
        """The cells an array formula fills."""
        return parse_range(self.ref) if self.ref else Box(self.row, self.column, self.row, self.column)


_CELL = re.compile(
    rb'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"((?: [A-Za-z:]+="[^"<>]*")*)\s*(?:/>|>\s*'
    rb"(?:<f((?:\s[^<>]*?)?)(?:/>|>([^<]*)</f>)\s*)?"
    rb"(?:<v(?:\s[^<>]*?)?(?:/>|>([^<]*)</v>)\s*)?"
    rb"(<is>.*?</is>\s*|<is/>\s*)?(<extLst>.*?</extLst>\s*)?</c>)",
    re.DOTALL,
)
_ROW = re.compile(rb'<row r="([0-9]+)"([^<>]*?)(/?)>')
_ATTRIBUTE = re.compile(rb'\s([A-Za-z:]+)="([^"]*)"')
_TYPE = re.compile(rb' (?:t|vm)="[^"]*"')
_T = re.compile(rb' t="([^"]*)"')
_CM = re.compile(rb' cm="([^"]*)"')
_TEXT_RUN = re.compile(rb"<t(?:\s[^<>]*)?>([^<]*)</t>")
_PHONETIC = re.compile(rb"<rPh\b.*?</rPh>", re.DOTALL)
_CELL_AT = re.compile(rb'<c r="([A-Z]{1,3})([0-9]{1,7})"')
_FEW = 8  # below it, looking for each cell beats going through all of them
_PROLOG = re.compile(rb"(?:\xef\xbb\xbf)?\s*(?:<\?xml([^?]*)\?>)?\s*")
_ENCODING = re.compile(rb"encoding\s*=\s*[\"']([^\"']+)")


class Sheet:
    """One worksheet part: its bytes, its formula cells, and new bytes with other values in it."""

    def __init__(self, name: str, part: str, data: bytes, package: Package) -> None:
        self.name, self.part, self._package = name, part, package
        _check_xml(data, part)
        self.data = data
        self.formulas: dict[tuple[int, int], FormulaCell] = {}
        if not self._scan():
            self.data = _canonical(data, part)
            if not self._scan():
                raise WorkbookError(f"{part} holds cells of a kind that can't be read safely")

    def _is_plain(self) -> bool:
        """Whether the part is written the usual way; what `_canonical` makes always is."""
        data = self.data
        prolog = _PROLOG.match(data)
        assert prolog is not None  # it matches nothing at all, too
        encoding = _ENCODING.search(prolog[1] or b"")
        if encoding and encoding[1].lower() not in (b"utf-8", b"us-ascii", b"ascii"):
            return False
        body = prolog.end()
        if not data.startswith((b"<worksheet ", b"<worksheet>", b"<worksheet\n", b"<worksheet\r"), body):
            return False
        return data.find(b"<!", body) < 0 and data.find(b"<?", body) < 0

    def _scan(self) -> bool:
        """Find the formula cells; false where the part isn't written in the usual shape."""
        if not self._is_plain():
            return False
        data = self.data
        opening = re.search(rb"<sheetData[^<>]*?(/?)>", data)
        if opening is None:
            raise WorkbookError(f"{self.part} has no cells: it isn't a worksheet")
        first = opening.end()
        last = first if opening[1] else data.find(b"</sheetData>", first)
        self._opening, self._first, self._last = opening.span(), first, last
        self.formulas = found = {}
        count = formulas = 0
        columns: dict[bytes, int] = {}
        for match in _CELL.finditer(data, first, last):
            count += 1
            if match.start(4) < 0:
                continue
            formulas += 1
            letters, digits, attributes, formula, text, value = match.group(1, 2, 3, 4, 5, 6)
            row, column = (
                int(digits),
                columns.get(letters) or columns.setdefault(letters, column_number(letters.decode())),
            )
            if row > MAX_ROW:
                raise WorkbookError(f"{self.part} has a cell in row {row}, and there are {MAX_ROW} rows")
            start, end = match.span()
            if not formula and not attributes:
                plain = (row, column, start, end, text or b"", "", None, None, False, b"", value)
                found[row, column] = FormulaCell._make(plain)
                continue
            about = dict(_ATTRIBUTE.findall(formula))
            kind = about.get(b"t", b"").decode()
            cell_type = _T.search(attributes)
            metadata = _CM.search(attributes) if b" cm=" in attributes else None
            found[row, column] = FormulaCell(
                row,
                column,
                start,
                end,
                text or b"",
                "" if kind == "normal" else kind,
                about[b"ref"].decode() if b"ref" in about else None,
                about[b"si"].decode() if b"si" in about else None,
                metadata is not None and metadata[1] != b"0",
                cell_type[1] if cell_type else b"",
                value,
            )
        if len(found) != formulas:
            raise WorkbookError(f"{self.part} has two formulas for one cell")
        cells = data.count(b"<c ", first, last) + data.count(b"<c>", first, last) + data.count(b"<c/>", first, last)
        if cells != count or any(data.find(odd, first, last) >= 0 for odd in (b"<c\n", b"<c\r", b"<c\t")):
            return False
        rows = data.count(b"<row", first, last)
        return rows == data.count(b'<row r="', first, last)

    # ------------------------------------------------------------ reading
    def _decode(self, cell_type: bytes, raw: bytes | None, inline: bytes | None = None) -> Value:
        if cell_type == b"inlineStr":
            return "".join(_read_text(run) for run in _TEXT_RUN.findall(_PHONETIC.sub(b"", inline or b"")))
        if raw is None:
            return "" if cell_type == b"str" else None
        if cell_type == b"str":
            return _read_text(raw)
        if cell_type == b"s":
            strings = self._package.shared_strings
            index = _integer(raw.decode("ascii", "replace"), -1)
            return strings[index] if 0 <= index < len(strings) else None
        if cell_type == b"b":
            return raw.strip() in (b"1", b"true")
        if cell_type == b"e":
            return error_value(raw.decode("utf-8", "replace").strip())
        if cell_type == b"d":
            return self._package.serial(raw.decode("ascii", "replace"))
        return _read_number(raw)

    def stored(self, cell: FormulaCell) -> Value:
        """The value that the file holds for a formula."""
        if cell.raw_value is None and cell.raw_type not in (b"str", b"inlineStr"):
            return None
        return self._decode(cell.raw_type, cell.raw_value)

    def _find(self, row: int, column: int) -> re.Match[bytes] | None:
        at = self.data.find(b'<c r="%s"' % address(row, column).encode(), self._first, self._last)
        return _CELL.match(self.data, at, self._last) if at >= 0 else None

    def _find_all(self, places: Collection[tuple[int, int]]) -> dict[tuple[int, int], re.Match[bytes]]:
        """The elements of those of these cells that are there."""
        if len(places) < _FEW:
            return {place: match for place in places if (match := self._find(*place)) is not None}
        found = {}
        for start in _CELL_AT.finditer(self.data, self._first, self._last):
            place = int(start[2]), column_number(start[1].decode())
            if place in places:
                match = _CELL.match(self.data, start.start(), self._last)
                assert match is not None  # the scan has seen to it
                found[place] = match
        return found

    def values(self, places: Collection[tuple[int, int]]) -> dict[tuple[int, int], Value]:
        """The stored values of those of these cells that are there."""
        found = {}
        for place, match in self._find_all(places).items():
            kind = _T.search(match[3])
            found[place] = self._decode(kind[1] if kind else b"", match[6], match[7])
        return found

    def value(self, row: int, column: int) -> Value:
        """The value of any cell, as stored."""
        return self.values([(row, column)]).get((row, column))

    def style(self, row: int, column: int) -> int:
        """The index of the cell's format."""
        match = self._find(row, column)
        attributes = dict(_ATTRIBUTE.findall(match[3])) if match else {}
        return _integer(attributes.get(b"s", b"0").decode(), 0)

    def for_engine(self, formulas: Mapping[tuple[int, int], str | None], blanks: Collection[tuple[int, int]]) -> bytes:
        """The rows and cells as the engine is given them: some formulas put differently, None for those it can't do
        (their stored value stands in), and cells left out that an array will fill."""
        edits = []
        for place, text in formulas.items():
            cell = self.formulas[place]
            head = b'<c r="%s"' % cell.address.encode()
            if text is not None:
                array = b' t="array" ref="%s"' % cell.ref.encode() if cell.kind == "array" and cell.ref else b""
                new = b"%s><f%s>%s</f></c>" % (head, array, escape(text, _CR).encode("utf-8"))
            elif cell.raw_value is None:
                new = b""
            else:
                new = b'%s t="%s"><v>%s</v></c>' % (head, cell.raw_type or b"n", cell.raw_value)
            edits.append((cell.start, cell.end, new))
        edits += [(match.start(), match.end(), b"") for match in self._find_all(blanks).values()]
        if self.data.find(b' t="d"', self._first, self._last) >= 0:
            edits += self._dates()
        edits.sort()
        return _replaced(self.data, self._first, self._last, edits)

    def _dates(self) -> Iterator[tuple[int, int, bytes]]:
        """Dates written as 2026-05-01, as the numbers they are."""
        for match in _CELL.finditer(self.data, self._first, self._last):
            if b' t="d"' in match[3] and match[4] is None:
                value = self._decode(b"d", match[6])
                number = b"" if value is None else b"<v>%s</v>" % _write_number(float(str(value)))
                yield *match.span(), b'<c r="%s%s">%s</c>' % (match[1], match[2], number)

    @cached_property
    def used(self) -> tuple[int, int]:
        """The last row and the last column that have a cell."""
        at = self.data.rfind(b'<row r="', self._first, self._last)
        row = _ROW.match(self.data, at) if at >= 0 else None
        letters = {match[1] for match in _CELL_AT.finditer(self.data, self._first, self._last)}
        return int(row[1]) if row else 0, max((column_number(text.decode()) for text in letters), default=0)

    def attributes(self, name: str) -> list[dict[str, str]]:
        """The attributes of every element of a name that stands after the cells (`dataValidation` and its like)."""
        pattern = re.compile(rb"<%s((?:\s[^<>]*?)?)/?>" % name.encode())
        return [
            {key.decode(): _unescape(text.decode("utf-8")) for key, text in _ATTRIBUTE.findall(match[1])}
            for match in pattern.finditer(self.data, self._last)
        ]

    # ------------------------------------------------------------ writing
    def patched(
        self,
        values: Mapping[tuple[int, int], Value],
        inputs: Mapping[tuple[int, int], Value] = {},
        refs: Mapping[tuple[int, int], Box] = {},
    ) -> bytes:
        """The part with other stored values.

        `values` are results: of formula cells, or of the cells beside one that its array fills. `inputs` are cells
        without a formula. `refs` are the new extents of arrays that grew or shrank. Cells that aren't there are made.
        """
        edits: list[tuple[int, int, bytes]] = []
        missing: dict[tuple[int, int], Value] = {}
        plain: dict[tuple[int, int], Value] = {}
        data, formulas = self.data, self.formulas
        for place, value in values.items():
            cell = formulas.get(place)
            if cell is None:
                plain[place] = value
            else:
                edits.append((cell.start, cell.end, _with_result(data[cell.start : cell.end], value, refs.get(place))))
        for place, value in inputs.items():
            if place in formulas:
                raise WorkbookError(f"{self.name}!{address(*place)} holds a formula, and a formula can't be set")
            plain[place] = value
        found = self._find_all(plain.keys())
        for place, value in plain.items():
            match = found.get(place)
            if match is not None:
                edits.append((*match.span(), _with_value(match, value, as_input=place in inputs)))
            elif value is not None:
                missing[place] = value
        if missing:
            edits += self._insertions(missing, inputs)
        return _splice(data, edits)

    def with_formulas(self, texts: Mapping[tuple[int, int], str]) -> bytes:
        """The part with other texts for some formulas, and the values as they were."""
        edits = []
        for place, text in texts.items():
            cell = self.formulas[place]
            match = _CELL.match(self.data, cell.start, self._last)
            assert match is not None  # the scan has seen to it
            edits.append((*match.span(5), escape(text).encode("utf-8")))
        return _splice(self.data, edits)

    def _insertions(
        self, missing: Mapping[tuple[int, int], Value], inputs: Mapping[tuple[int, int], Value]
    ) -> list[tuple[int, int, bytes]]:
        edits: list[tuple[int, int, bytes]] = []
        by_row: dict[int, list[int]] = {}
        for row, column in sorted(missing):
            by_row.setdefault(row, []).append(column)

        def cells(row: int, columns: Iterable[int], style: bytes) -> bytes:
            made = []
            for column in columns:
                kind, content = _content(missing[row, column], (row, column) in inputs)
                look = style or self._column_style(column)
                made.append(b'<c r="%s"%s%s>%s</c>' % (address(row, column).encode(), look, kind, content))
            return b"".join(made)

        rows = list(_ROW.finditer(self.data, self._first, self._last))
        numbers = [int(row[1]) for row in rows]
        if numbers != sorted(set(numbers)):
            raise WorkbookError(f"{self.part} has its rows out of order")
        fresh: dict[int, list[bytes]] = {}
        for number, columns in by_row.items():
            index = bisect_left(numbers, number)
            if index == len(rows) or numbers[index] != number:
                at = rows[index].start() if index < len(rows) else self._last
                fresh.setdefault(at, []).append(b'<row r="%d">%s</row>' % (number, cells(number, columns, b"")))
                continue
            line = rows[index]
            attributes = re.sub(rb'\sspans="[^"]*"', b"", line[2])  # a hint, now perhaps wrong
            style = re.search(rb' s="[^"]*"', attributes)
            look = style[0] if style and re.search(rb'customFormat="(?:1|true)"', attributes) else b""
            edits.append((line.start(), line.end(), b'<row r="%s"%s>' % (line[1], attributes)))
            if line[3]:  # an empty row, written as one tag
                edits.append((line.end(), line.end(), cells(number, columns, look) + b"</row>"))
                continue
            end = self.data.find(b"</row>", line.end(), self._last)
            present = [
                (column_number(cell[1].decode()), cell.start()) for cell in _CELL.finditer(self.data, line.end(), end)
            ]
            spots: dict[int, list[int]] = {}
            for column in columns:
                after = next((start for other, start in present if other > column), end)
                spots.setdefault(after, []).append(column)
            edits += [(at, at, cells(number, group, look)) for at, group in spots.items()]
        edits += [(at, at, b"".join(made)) for at, made in fresh.items()]
        if self._first == self._last and self.data[self._opening[1] - 2 : self._opening[1]] == b"/>":
            made = b"".join(new for _, _, new in edits)  # <sheetData/>: no rows at all so far
            edits = [(*self._opening, b"<sheetData>" + made + b"</sheetData>")]
        return edits + self._dimension(missing)

    def _column_style(self, column: int) -> bytes:
        for match in re.finditer(rb"<col\s([^<>]*?)/?>", self.data[: self._first]):
            attributes = dict(_ATTRIBUTE.findall(b" " + match[1]))
            low, high = (_integer(attributes.get(key, b"0").decode(), 0) for key in (b"min", b"max"))
            if low <= column <= high and b"style" in attributes:
                return b' s="%s"' % attributes[b"style"]
        return b""

    def _dimension(self, cells: Iterable[tuple[int, int]]) -> list[tuple[int, int, bytes]]:
        """The used range that the part states, grown to take the new cells in."""
        match = re.search(rb'(<dimension ref=")([^"]*)"', self.data[: self._first])
        if match is None:
            return []
        try:
            box = parse_range(match[2].decode("ascii", "replace"))
        except WorkbookError:
            return []
        rows, columns = zip(*cells, strict=True)
        grown = Box(min(box.top, *rows), min(box.left, *columns), max(box.bottom, *rows), max(box.right, *columns))
        return [] if grown == box else [(match.start(2), match.end(2), str(grown).encode())]


def _with_result(element: bytes, value: Value, ref: Box | None) -> bytes:
    """A formula cell's element with another stored value."""
    close = element.index(b">")
    head = _without_type(element[:close])
    end = element.find(b"</f>") + 4
    if end < 4:  # <f .../>: a follower of a shared formula
        end = element.index(b">", element.index(b"<f")) + 1
    formula = element[close + 1 : end]
    if ref is not None:
        formula = re.sub(rb'(\sref=")[^"]*', rb"\g<1>" + str(ref).encode(), formula, count=1)
    extension = element.find(b"<extLst", end)
    tail = element[extension:-4] if extension >= 0 else b""
    kind, content = _content(value, False)
    return b"%s%s>%s%s%s</c>" % (head, kind, formula, content, tail)


def _with_value(match: re.Match[bytes], value: Value, as_input: bool) -> bytes:
    """The element of a cell without a formula, with another value."""
    kind, content = _content(value, as_input)
    body = content + (match[8] or b"")
    head = b'<c r="%s%s"%s%s' % (match[1], match[2], _without_type(match[3]), kind)
    return head + (b">%s</c>" % body if body else b"/>")


def _without_type(attributes: bytes) -> bytes:
    """The attributes of a cell without what describes its old value.

    vm points at a richer form of it, such as a picture or the reason of a #SPILL!, and goes with it.
    """
    if b" t=" in attributes or b" vm=" in attributes:
        return _TYPE.sub(b"", attributes)
    return attributes


def _content(value: Value, as_input: bool) -> tuple[bytes, bytes]:
    """The t attribute and the inside of a cell that holds a value."""
    if value.__class__ is float and math.isfinite(value):
        return b"", b"<v>%s</v>" % _write_number(value)
    if value is None:
        return b"", b""
    if isinstance(value, CellError):
        return b' t="e"', b"<v>%s</v>" % error_value(value.code).code.encode()
    if isinstance(value, bool):
        return b' t="b"', b"<v>%d</v>" % value
    if isinstance(value, str):
        text = _write_text(value)
        space = b' xml:space="preserve"' if text != text.strip() or b"\n" in text else b""
        if as_input:
            return b' t="inlineStr"', b"<is><t%s>%s</t></is>" % (space, text)
        return b' t="str"', b"<v%s>%s</v>" % (space, text)
    return _content(float(value), as_input) if math.isfinite(value) else (b' t="e"', b"<v>#NUM!</v>")


def _replaced(data: bytes, start: int, end: int, edits: list[tuple[int, int, bytes]]) -> bytes:
    """A stretch of bytes with parts of it replaced."""
    out = io.BytesIO()
    out.writelines(_pieces(data, start, end, edits))  # one at a time: all of them weigh more than the whole
    return out.getvalue()


def _pieces(data: bytes, start: int, end: int, edits: list[tuple[int, int, bytes]]) -> Iterator[bytes]:
    position = start
    for first, last, new in edits:
        if first < position:
            raise WorkbookError("two changes of one cell")
        yield data[position:first]
        yield new
        position = last
    yield data[position:end]


def _splice(data: bytes, edits: list[tuple[int, int, bytes]]) -> bytes:
    # at one place, insertions go before a replacement that starts there, and rows in the order they were made
    return _replaced(data, 0, len(data), sorted(edits, key=lambda edit: edit[:2]))


# ---------------------------------------------------------------- the package
@dataclass(frozen=True)
class DefinedName:
    """A name of the workbook, or of one of its sheets."""

    name: str
    text: str
    sheet: str | None  # the sheet it belongs to; None: the workbook
    hidden: bool = False


@dataclass(frozen=True)
class Table:
    """A table with structured references."""

    name: str
    sheet: str
    box: Box
    columns: tuple[str, ...]
    header_rows: int
    totals_rows: int


@dataclass(frozen=True)
class Iteration:
    """How the workbook wants circular references worked out."""

    count: int
    delta: float


@dataclass
class _Member:
    """One file in the zip, by its record in the central directory."""

    info: zipfile.ZipInfo
    record: bytes  # the central directory's record, verbatim
    end: int = 0  # where the next member, or the central directory, starts


def lock_owner(path: str | os.PathLike[str]) -> str | None:
    """Which program has the workbook open, as its lock file tells, or None."""
    folder, base = os.path.split(os.path.abspath(path))
    for program, lock in (("Excel", f"~${base}"), ("LibreOffice", f".~lock.{base}#")):
        # long names: Excel replaces the first two letters instead of adding two
        for candidate in {lock, "~$" + base[2:]} if program == "Excel" and len(base) > 12 else {lock}:
            if os.path.lexists(os.path.join(folder, candidate)):
                return program
    return None


class Package:
    """A workbook file, open for reading; `save` replaces parts of it in one step."""

    def __init__(self, path: str | os.PathLike[str], *, write: bool = False) -> None:
        """Open a workbook; with `write`, refuse one that another program has open, and keep others out meanwhile."""
        self.name = os.fspath(path)
        self.path = os.path.realpath(path)  # a symbolic link is followed: the file changes, the link stays
        self.write = write
        if write:
            self._check_writable()
        self._file = self._open()
        try:
            self._members = self._directory()
            self._read_workbook()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Package:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._file.close()

    def _fail(self, what: str) -> WorkbookError:
        return WorkbookError(f"{self.name} {what}")

    # ------------------------------------------------------------ opening
    def _check_writable(self) -> None:
        owner = lock_owner(self.path)
        if owner:
            raise self._fail(f"is open in {owner}; close it there first")
        with contextlib.suppress(OSError):  # a file that isn't there is reported by opening it
            if not os.stat(self.path).st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH) or not os.access(
                self.path, os.W_OK
            ):
                raise self._fail("is read-only")
        if os.path.exists(self.path) and not os.access(os.path.dirname(self.path), os.W_OK):
            raise self._fail("is in a folder that can't be written to")

    def _open(self) -> IO[bytes]:
        deadline = time.monotonic() + _LOCK_WAIT_SECONDS
        while True:
            try:
                if not stat.S_ISREG(os.stat(self.path).st_mode):  # a pipe would wait for ever
                    raise self._fail("is a folder" if os.path.isdir(self.path) else "is not a file")
                file = open(self.path, "rb")  # noqa: SIM115  (it stays open as long as the package)
            except FileNotFoundError:
                raise self._fail("does not exist") from None
            except OSError as error:
                raise self._fail(f"can't be read: {(error.strerror or str(error)).lower()}") from None
            self._stat = os.fstat(file.fileno())
            if not self.write or fcntl is None:
                return file
            # another run of ours may be saving: wait for it, then look at the file it left
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                file.close()
                if time.monotonic() > deadline:
                    raise self._fail("is being changed by another run of brewfuncs") from None
                time.sleep(0.05)
                continue
            except OSError:  # a file system without locks
                return file
            with contextlib.suppress(OSError):
                now = os.stat(self.path)
                if (now.st_dev, now.st_ino) == (self._stat.st_dev, self._stat.st_ino):
                    return file
            file.close()

    def _directory(self) -> list[_Member]:
        size = self._stat.st_size
        if size > MAX_FILE:
            raise self._fail(f"is larger than {MAX_FILE >> 20} MB")
        if size == 0:
            raise self._fail("is empty")
        head = self._file.read(8)
        if head == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
            self._file.seek(0)
            if "EncryptedPackage".encode("utf-16-le") in self._file.read(16 << 20):
                raise self._fail("is encrypted: remove its password first")
            raise self._fail("is an old .xls workbook: save it as .xlsx first")
        if not head.startswith(b"PK\3\4"):
            raise self._fail("is not an .xlsx or .xlsm workbook")
        try:
            self._zip = zipfile.ZipFile(self._file)
            infos = self._zip.infolist()
        except (zipfile.BadZipFile, struct.error, OSError, ValueError, NotImplementedError, IndexError) as error:
            raise self._fail(f"is damaged: {error}") from None
        if len(infos) > MAX_MEMBERS:
            raise self._fail(f"has more than {MAX_MEMBERS} parts")
        seen: set[str] = set()
        for info in infos:
            # part names are the same whatever their case, so two such parts are one for some programs
            if info.filename.lower() in seen:
                raise self._fail(f"has two parts named {info.filename!r}, and programs differ in which one they read")
            seen.add(info.filename.lower())
            if info.flag_bits & 1:
                raise self._fail("has parts that are encrypted")
        if any(info.filename.lower().startswith("_xmlsignatures/") for info in infos):
            raise self._fail("is digitally signed, and a change would break the signature")
        if "mimetype" in seen:
            raise self._fail("is an OpenDocument file: save it as .xlsx first")
        members, position = [], self._zip.start_dir
        self._file.seek(position)
        directory = self._file.read()
        at = 0
        for info in infos:
            if directory[at : at + 4] != b"PK\1\2":
                raise self._fail("is damaged: its directory is broken")
            lengths = struct.unpack_from("<3H", directory, at + 28)
            end = at + 46 + sum(lengths)
            members.append(_Member(info, directory[at:end]))
            at = end
        ordered = sorted(members, key=lambda member: member.info.header_offset)
        for member, following in zip(ordered, [*ordered[1:], None], strict=True):
            member.end = following.info.header_offset if following else position
            if member.info.header_offset + 30 + member.info.compress_size > member.end:
                raise self._fail("is damaged: its parts overlap")
        return members

    def part(self, name: str) -> bytes:
        """The content of a part."""
        try:
            info = self._zip.getinfo(name)
        except KeyError:
            info = self._by_lower.get(name.lower())  # type: ignore[assignment]
            if info is None:
                raise self._fail(f"is damaged: it has no part {name!r}") from None
        if info.file_size > MAX_PART or (
            info.file_size > RATIO_MATTERS_FROM and info.file_size > MAX_RATIO * max(info.compress_size, 1)
        ):
            raise self._fail(f"has a part of {info.file_size >> 20} MB ({name}), more than is safe to unpack")
        try:
            return self._zip.read(info)
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, ValueError) as e:
            raise self._fail(f"is damaged: {name} can't be unpacked ({e})") from None
        except MemoryError:
            raise self._fail(f"is too large: {name} doesn't fit into memory") from None
        except Exception as error:  # bz2 and lzma have errors of their own
            if type(error).__module__ in ("_lzma", "bz2"):
                raise self._fail(f"is damaged: {name} can't be unpacked ({error})") from None
            raise

    def has(self, name: str) -> bool:
        return name.lower() in self._by_lower

    @property
    def part_names(self) -> list[str]:
        return [member.info.filename for member in self._members]

    def _relations(self, part: str) -> dict[str, tuple[str, str]]:
        """What a part refers to: id -> (type, part)."""
        folder, base = posixpath.split(part)
        where = posixpath.join(folder, "_rels", base + ".rels")
        if not self.has(where):
            return {}
        found = {}
        for relation in _find_all(_tree(self.part(where), where), "Relationship"):
            target = relation.get("Target", "")
            if relation.get("TargetMode") == "External":
                continue
            path = target[1:] if target.startswith("/") else posixpath.join(folder, target)
            found[relation.get("Id", "")] = (relation.get("Type", ""), posixpath.normpath(path))
        return found

    def _read_workbook(self) -> None:
        self._by_lower = {member.info.filename.lower(): member.info for member in self._members}
        roots = [part for kind, part in self._relations("").values() if kind.endswith("/officeDocument")]
        if not roots or not self.has(roots[0]) or not self.has("[Content_Types].xml"):
            raise self._fail("is not a workbook")
        self.workbook_part = roots[0]
        types = _tree(self.part("[Content_Types].xml"), "[Content_Types].xml")
        kinds = {
            element.get("PartName", "").lstrip("/").lower(): element.get("ContentType", "")
            for element in _find_all(types, "Override")
        }
        defaults = {
            element.get("Extension", "").lower(): element.get("ContentType", "")
            for element in _find_all(types, "Default")
        }
        kind = kinds.get(self.workbook_part.lower()) or defaults.get(self.workbook_part.rpartition(".")[2].lower(), "")
        if not _WORKBOOK_TYPES.fullmatch(kind):
            binary = "binary" in kind
            raise self._fail("is a binary .xlsb workbook: save it as .xlsx first" if binary else "is not a workbook")
        root = _tree(self.part(self.workbook_part), self.workbook_part)
        relations = self._relations(self.workbook_part)
        self.sheet_parts: dict[str, str] = {}
        order: list[str] = []
        for sheet in _find_all(root, "sheet"):
            name = sheet.get("name", "")
            order.append(name)
            key = next((text for key, text in sheet.attrib.items() if _local(key) == "id" and key != "id"), "")
            relation, part = relations.get(key, ("", ""))
            if relation.endswith("/worksheet") and self.has(part):
                self.sheet_parts[name] = part
        self.strings_part = next(
            (part for kind, part in relations.values() if kind.endswith("/sharedStrings") and self.has(part)), None
        )
        self.styles_part = next(
            (part for kind, part in relations.values() if kind.endswith("/styles") and self.has(part)), None
        )
        self.names = []
        for element in _find_all(root, "definedName"):
            local = _integer(element.get("localSheetId"), -1)
            owner = order[local] if 0 <= local < len(order) else None
            hidden = _true(element.get("hidden"))
            self.names.append(DefinedName(element.get("name", ""), (element.text or "").strip(), owner, hidden))
        properties = next(_find_all(root, "workbookPr"), None)
        self.date1904 = properties is not None and _true(properties.get("date1904"))
        calculation = next(_find_all(root, "calcPr"), None)
        self.iteration: Iteration | None = None
        if calculation is not None and _true(calculation.get("iterate")):
            delta = _read_number(calculation.get("iterateDelta", "0.001").encode())
            count = min(max(_integer(calculation.get("iterateCount"), 100), 1), 32_767)
            self.iteration = Iteration(count, 0.001 if delta is None or delta < 0 else delta)
        self._sheets: dict[str, Sheet] = {}
        self._strings: list[str] | None = None

    # ------------------------------------------------------------ what is in it
    @property
    def shared_strings(self) -> list[str]:
        if self._strings is None:
            self._strings = []
            if self.strings_part:
                data = self.part(self.strings_part)
                for item in _find_all(_tree(data, self.strings_part), "si"):
                    runs = []
                    for child in item:  # the text, or runs of rich text; what is phonetic doesn't count
                        texts = [child] if _local(child.tag) == "t" else [t for t in child if _local(t.tag) == "t"]
                        runs += [text.text or "" for text in texts if _local(child.tag) in ("t", "r")]
                    joined = "".join(runs)
                    self._strings.append(_ESCAPED.sub(lambda match: chr(int(match[1], 16)), joined))
        return self._strings

    def sheet(self, name: str) -> Sheet:
        if name not in self._sheets:
            part = self.sheet_parts[name]
            self._sheets[name] = Sheet(name, part, self.part(part), self)
        return self._sheets[name]

    @property
    def sheets(self) -> list[Sheet]:
        return [self.sheet(name) for name in self.sheet_parts]

    def find_sheet(self, name: str) -> str | None:
        """The name of a sheet as the workbook writes it, whatever the case."""
        return next((sheet for sheet in self.sheet_parts if sheet.casefold() == name.casefold()), None)

    @property
    def tables(self) -> list[Table]:
        found = []
        for sheet, part in self.sheet_parts.items():
            for kind, target in self._relations(part).values():
                if not kind.endswith("/table") or not self.has(target):
                    continue
                root = _tree(self.part(target), target)
                columns = tuple(
                    _ESCAPED.sub(lambda match: chr(int(match[1], 16)), column.get("name", ""))
                    for column in _find_all(root, "tableColumn")
                )
                found.append(
                    Table(
                        root.get("displayName") or root.get("name") or "",
                        sheet,
                        parse_range(root.get("ref", "")),
                        columns,
                        _integer(root.get("headerRowCount"), 1),
                        _integer(root.get("totalsRowCount"), 0),
                    )
                )
        return found

    @property
    def properties(self) -> dict[str, str]:
        """The custom document properties."""
        found: dict[str, str] = {}
        for kind, part in self._relations("").values():
            if kind.endswith("/custom-properties") and self.has(part):
                for element in _find_all(_tree(self.part(part), part), "property"):
                    found[element.get("name", "")] = "".join(element.itertext()).strip()
        return found

    def _number_format(self, style: int) -> str:
        """The number format code of a cell format; the built-in ones that matter here spelled out."""
        if not self.styles_part:
            return ""
        root = _tree(self.part(self.styles_part), self.styles_part)
        formats = next(_find_all(root, "cellXfs"), None)
        if formats is None or not 0 <= style < len(formats):
            return ""
        number = _integer(formats[style].get("numFmtId"), 0)
        for element in _find_all(root, "numFmt"):
            if _integer(element.get("numFmtId"), -1) == number:
                return re.sub(r'"[^"]*"|\[[^\]]*\]|\\.', "", element.get("formatCode", "").lower())
        return "d-m-y" if 14 <= number <= 17 or number == 22 else "0%" if number in (9, 10) else ""

    def shows_dates(self, style: int) -> bool:
        """Whether a cell format shows numbers as dates."""
        return bool(re.search(r"[dy]", self._number_format(style)))

    def shows_percent(self, style: int) -> bool:
        """Whether a cell format shows 0.055 as 5.5 %."""
        return "%" in self._number_format(style)

    def serial(self, text: str) -> float | None:
        """The number that stands for a date written as 2026-05-01 or 2026-05-01T12:00:00."""
        try:
            moment = datetime.datetime.fromisoformat(text.strip().removesuffix("Z")).replace(tzinfo=None)
        except ValueError:
            return None
        start = datetime.datetime(1904, 1, 1) if self.date1904 else datetime.datetime(1899, 12, 30)
        days = (moment - start) / datetime.timedelta(days=1)
        if not self.date1904 and days < 61:  # spreadsheets count a 29 February 1900 that never was
            days -= 1
        return days if days >= 0 else None

    # ------------------------------------------------------------ saving
    def save(self, parts: Mapping[str, bytes], before_replace: Callable[[], None] = lambda: None) -> None:
        """Replace parts of the file: it is either the old one or the new one at any moment."""
        folder, base = os.path.split(self.path)
        _remove_leftovers(folder, base)
        try:
            handle, temporary = tempfile.mkstemp(prefix=f".{base[:100]}.", suffix=".brewfuncs-tmp", dir=folder)
        except OSError as error:
            raise self._fail(f"can't be saved: {(error.strerror or str(error)).lower()}") from None
        try:
            try:
                with os.fdopen(handle, "wb") as out:
                    self._write(out, parts)
                    out.flush()
                    os.fsync(out.fileno())
                shutil.copymode(self.path, temporary)
                if hasattr(os, "chown"):
                    with contextlib.suppress(OSError):
                        os.chown(temporary, self._stat.st_uid, self._stat.st_gid)
                now = os.stat(self.path)
                if (now.st_mtime_ns, now.st_size, now.st_ino) != (
                    self._stat.st_mtime_ns,
                    self._stat.st_size,
                    self._stat.st_ino,
                ):
                    raise self._fail("was changed by another program meanwhile; nothing was written")
                owner = lock_owner(self.path)
                if owner:
                    raise self._fail(f"was opened in {owner} meanwhile; nothing was written")
                before_replace()
                if os.name == "nt":
                    self.close()
                os.replace(temporary, self.path)
            except BaseException:
                with contextlib.suppress(OSError):
                    os.unlink(temporary)
                raise
        except OSError as error:
            raise self._fail(f"can't be saved: {(error.strerror or str(error)).lower()}; it is as it was") from None
        if os.name == "posix":
            with contextlib.suppress(OSError):  # so that the new name survives a power cut; some file systems can't
                descriptor = os.open(folder, os.O_RDONLY)
                try:
                    os.fsync(descriptor)
                finally:
                    os.close(descriptor)

    def _write(self, out: IO[bytes], parts: Mapping[str, bytes]) -> None:
        """Copy the zip, record by record, with other content in some of them."""
        new = {self._by_lower[name.lower()].filename: content for name, content in parts.items()}
        records: dict[int, bytes] = {}
        position = 0
        for member in sorted(self._members, key=lambda member: member.info.header_offset):
            info, record = member.info, bytearray(_without_zip64(member))
            start = position
            if info.filename in new:
                local, size, checksum, flags, method = _pack(member, new[info.filename])
                struct.pack_into("<2H", record, 8, flags, method)
                struct.pack_into("<3L", record, 16, checksum, size, len(new[info.filename]))
                out.write(local)
                position += len(local)
            else:
                self._file.seek(info.header_offset)
                left = member.end - info.header_offset
                while left:
                    chunk = self._file.read(min(left, 1 << 20))
                    if not chunk:
                        raise self._fail("is damaged: it ends too early")
                    out.write(chunk)
                    left -= len(chunk)
                position += member.end - info.header_offset
            struct.pack_into("<L", record, 42, start)
            records[id(member)] = bytes(record)
        directory = b"".join(records[id(member)] for member in self._members)
        comment = self._zip.comment
        count = len(self._members)
        end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, len(directory), position, len(comment))
        if position + len(directory) >= 0xFFFFFFFF:
            raise self._fail("would become too large")
        out.write(directory + end + comment)


def _without_zip64(member: _Member) -> bytes:
    """The directory record with plain sizes: files of 4 GB are refused, so none is needed."""
    record = member.record
    name_length, extra_length, _ = struct.unpack_from("<3H", record, 28)
    start = 46 + name_length
    extra, kept = record[start : start + extra_length], b""
    at = 0
    while at + 4 <= len(extra):
        tag, length = struct.unpack_from("<2H", extra, at)
        if tag != 1:
            kept += extra[at : at + 4 + length]
        at += 4 + length
    if at == 0 or len(kept) == len(extra) or at != len(extra):
        return record
    plain = bytearray(record[:start] + kept + record[start + extra_length :])
    struct.pack_into("<2L", plain, 20, member.info.compress_size, member.info.file_size)
    struct.pack_into("<H", plain, 30, len(kept))
    return bytes(plain)


def _pack(member: _Member, content: bytes) -> tuple[bytes, int, int, int, int]:
    """A member with new content: its record, packed size, checksum, flags and method."""
    info = member.info
    stored = info.compress_type == zipfile.ZIP_STORED
    packed = content
    if not stored:
        level = 6 if len(content) < _LARGE else 3  # twice as fast, and a tenth larger
        deflate = zlib.compressobj(level, zlib.DEFLATED, -15)
        packed = deflate.compress(content) + deflate.flush()
    method = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
    flags = info.flag_bits & ~0x0008  # sizes stand in front, not behind
    name_length = struct.unpack_from("<H", member.record, 28)[0]
    name = member.record[46 : 46 + name_length]
    checksum = zlib.crc32(content)
    moment = struct.unpack_from("<2H", member.record, 12)
    header = struct.pack(
        "<4s5H3L2H", b"PK\3\4", 20, flags, method, *moment, checksum, len(packed), len(content), name_length, 0
    )
    return header + name + packed, len(packed), checksum, flags, method


def _remove_leftovers(folder: str, base: str) -> None:
    """Remove what a run that was killed left behind, once it can't be running any more."""
    with contextlib.suppress(OSError):
        for path in Path(folder).glob(f".{_glob_escape(base[:100])}.*.brewfuncs-tmp"):
            if time.time() - path.stat().st_mtime > _STALE_SECONDS:
                path.unlink()


def _glob_escape(text: str) -> str:
    return re.sub(r"([*?\[])", r"[\1]", text)
