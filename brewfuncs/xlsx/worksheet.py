"""One worksheet part: its formula cells, its values, and new bytes with other values in it.

Worksheet parts are scanned with one strict regular expression, which is fast because nearly every writer produces
the same shape of XML. One prefix before every name is taken off for it, and put back. A part of any other shape
(comments, CDATA, UTF-16, cells that don't say where they are) is first put into that shape by `canonical`, which
changes how the XML is written but not what it says: such a sheet is `rewritten`.
"""

from __future__ import annotations

import io
import re
from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from brewfuncs.errors import CellError, WorkbookError
from brewfuncs.xlsx.address import MAX_ROW, Box, address, column_number, parse_range
from brewfuncs.xlsx.element import formula_end, loaded, type_and_content, with_result, with_value
from brewfuncs.xlsx.formula import shift
from brewfuncs.xlsx.values import (
    Value,
    error_value,
    read_number,
    read_text,
    unescape,
    without_escapes,
    write_number,
    write_text,
)
from brewfuncs.xlsx.xml import canonical, check_xml, escape, integer

if TYPE_CHECKING:
    from brewfuncs.xlsx.package import Package


_HIDDEN = re.compile(rb'hidden(?<=\shidden)="(?:1|true)"')  # begins with a letter: the others are passed over at once
_FILTER = re.compile(rb'<autoFilter\s[^<>]*\bref="([A-Z0-9:]+)"')


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
        return without_escapes(unescape(self.raw_formula.decode("utf-8")))

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
    # up to their own end tags and never past them: else each odd cell would be sought an end for through the whole part
    rb"(<is>[^<]*(?:<(?!/is>)[^<]*)*</is>\s*|<is/>\s*)?(<extLst>[^<]*(?:<(?!/extLst>)[^<]*)*</extLst>\s*)?</c>)",
)
_LOOSE_END = re.compile(rb"</(?:is|extLst|rPh)\s")
_ROW = re.compile(rb'<row((?:\s[^<>]*?)?\sr=")([0-9]+)("[^<>]*?)(/?)>')
_ATTRIBUTE = re.compile(rb'\s([A-Za-z:]+)="([^"]*)"')
_T = re.compile(rb' t="([^"]*)"')
_CM = re.compile(rb' cm="([^"]*)"')
_TEXT_RUN = re.compile(rb"<t(?:\s[^<>]*)?>([^<]*)</t>")
_PHONETIC = re.compile(rb"<rPh\b[^<>]*(?:/>|>[^<]*(?:<(?!/rPh>)[^<]*)*</rPh>)")
_CELL_AT = re.compile(rb'<c r="([A-Z]{1,3})([0-9]{1,7})"')
_FEW = 8  # below it, looking for each cell beats going through all of them
_PROLOG = re.compile(rb"(?:\xef\xbb\xbf)?\s*(?:<\?xml([^?]*)\?>)?\s*")
_PREFIXED = re.compile(rb"<([A-Za-z_][\w.-]*:)worksheet\b")
_BARE_TAG = re.compile(rb"<(/?)(?=[A-Za-z_][\w.-]*[\s/>])")
_ENCODING = re.compile(rb"encoding\s*=\s*[\"']([^\"']+)")


class Sheet:
    """One worksheet part: its bytes, its formula cells, and new bytes with other values in it."""

    def __init__(self, name: str, part: str, data: bytes, package: Package) -> None:
        self.name, self.part, self._package = name, part, package
        check_xml(data, part)
        self.data, self._prefix = _without_prefix(data)
        self.rewritten = False  # whether more is written otherwise than what has changed
        self.formulas: dict[tuple[int, int], FormulaCell] = {}
        if not self._scan():
            self.data, self._prefix, self.rewritten = canonical(data, part), b"", True
            if not self._scan():
                raise WorkbookError(f"{part} holds cells of a kind that can't be read safely")

    def _is_plain(self) -> bool:
        """Whether the part is written the usual way; what `canonical` makes always is."""
        data = self.data
        prolog = _PROLOG.match(data)
        assert prolog is not None  # it matches nothing at all, too
        encoding = _ENCODING.search(prolog[1] or b"")
        if encoding and encoding[1].lower() not in (b"utf-8", b"us-ascii", b"ascii"):
            return False
        body = prolog.end()
        if not data.startswith((b"<worksheet ", b"<worksheet>", b"<worksheet\n", b"<worksheet\r"), body):
            return False
        # an end tag with a space in it would be sought for through the whole part, again for each cell
        return not any(data.find(odd, body) >= 0 for odd in (b"<!", b"<?")) and not _LOOSE_END.search(data, body)

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
        return rows == data.count(b'<row r="', first, last) or rows == sum(1 for _ in _ROW.finditer(data, first, last))

    # ------------------------------------------------------------ reading
    def _decode(self, cell_type: bytes, raw: bytes | None, inline: bytes | None = None) -> Value:
        if cell_type == b"inlineStr":
            return "".join(read_text(run) for run in _TEXT_RUN.findall(_PHONETIC.sub(b"", inline or b"")))
        if raw is None:
            return "" if cell_type == b"str" else None
        if cell_type == b"str":
            return read_text(raw)
        if cell_type == b"s":
            strings = self._package.shared_strings
            index = integer(raw.decode("ascii", "replace"), -1)
            return strings[index] if 0 <= index < len(strings) else None
        if cell_type == b"b":
            return raw.strip() in (b"1", b"true")
        if cell_type == b"e":
            return error_value(raw.decode("utf-8", "replace").strip())
        if cell_type == b"d":
            return self._package.serial(raw.decode("ascii", "replace"))
        return read_number(raw)

    @cached_property
    def _masters(self) -> dict[str | None, FormulaCell]:
        """The cells that hold the text of a shared formula, by its index."""
        shared = (cell for cell in self.formulas.values() if cell.kind == "shared")
        return {cell.shared: cell for cell in shared if cell.raw_formula}

    def master(self, cell: FormulaCell) -> FormulaCell | None:
        """The cell that holds a formula's text, mostly itself; None where the formula it shares is missing."""
        return cell if cell.kind != "shared" or cell.raw_formula else self._masters.get(cell.shared)

    def text(self, cell: FormulaCell) -> str:
        """A formula without its equals sign, as the file means it."""
        master = self.master(cell)
        if master is None or master is cell:
            return cell.text
        return shift(master.text, cell.row - master.row, cell.column - master.column)

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
        return {place: self._stored_in(match) for place, match in self._find_all(places).items()}

    def filled(self) -> dict[tuple[int, int], Value]:
        """The stored values of all cells that show one."""
        cells = (
            ((int(match[2]), column_number(match[1].decode())), self._stored_in(match))
            for match in _CELL.finditer(self.data, self._first, self._last)
        )
        return {place: value for place, value in cells if value is not None and value != ""}

    def _stored_in(self, match: re.Match[bytes]) -> Value:
        kind = _T.search(match[3])
        return self._decode(kind[1] if kind else b"", match[6], match[7])

    def value(self, row: int, column: int) -> Value:
        """The value of any cell, as stored."""
        return self.values([(row, column)]).get((row, column))

    def style(self, row: int, column: int) -> int:
        """The index of the cell's format."""
        match = self._find(row, column)
        attributes = dict(_ATTRIBUTE.findall(match[3])) if match else {}
        return integer(attributes.get(b"s", b"0").decode(), 0)

    def for_engine(
        self,
        formulas: Mapping[tuple[int, int], str | None],
        blanks: Collection[tuple[int, int]],
        missing: CellError | None = None,
    ) -> bytes:
        """The rows and cells as the engine is given them: some formulas put differently, None for those it can't do
        (their stored value stands in, or what is given for a missing one), and cells left out that an array will fill.
        """
        edits = []
        for place, text in formulas.items():
            cell = self.formulas[place]
            head = b'<c r="%s"' % cell.address.encode()
            if text is not None:
                array = b' t="array" ref="%s"' % cell.ref.encode() if cell.kind == "array" and cell.ref else b""
                new = b"%s><f%s>%s</f></c>" % (head, array, escape(text).replace("\r", "&#13;").encode("utf-8"))
            elif cell.raw_value is None:
                new = b""
                if missing is not None and self.stored(cell) is None:  # empty text is stored without a value
                    new = b'%s t="e"><v>%s</v></c>' % (head, missing.code.encode())
            else:
                new = loaded(head, cell.raw_type, cell.raw_value)
            edits.append((cell.start, cell.end, new))
        edits += [(match.start(), match.end(), b"") for match in self._find_all(blanks).values()]
        if self.data.find(b' t="d"', self._first, self._last) >= 0:
            edits += self._dates()
        if b"_x" in self.data:
            edits += self._escapes()
        edits.sort()
        return _replaced(self.data, self._first, self._last, edits)

    def _escapes(self) -> Iterator[tuple[int, int, bytes]]:
        """Texts with the escapes of the file format, which the engine undoes in inline ones only."""
        for match in _CELL.finditer(self.data, self._first, self._last):
            if match[4] is None and match[6] is not None and b"_x" in match[6] and b' t="str"' in match[3]:
                yield *match.span(), loaded(b'<c r="%s%s"' % (match[1], match[2]), b"str", match[6])

    def _dates(self) -> Iterator[tuple[int, int, bytes]]:
        """Dates written as 2026-05-01, as the numbers they are."""
        for match in _CELL.finditer(self.data, self._first, self._last):
            if b' t="d"' in match[3] and match[4] is None:
                value = self._decode(b"d", match[6])
                number = b"" if value is None else b"<v>%s</v>" % write_number(float(str(value)))
                yield *match.span(), b'<c r="%s%s">%s</c>' % (match[1], match[2], number)

    @cached_property
    def hidden_rows(self) -> list[int]:
        hidden = _HIDDEN.finditer(self.data, self._first, self._last)
        rows = (_ROW.match(self.data, self.data.rfind(b"<", self._first, found.start())) for found in hidden)
        return [int(row[2]) for row in rows if row]

    @cached_property
    def filtered(self) -> list[Box]:
        """The ranges of the sheet's own filters, where a filter is set; those of tables stand with them."""
        after = self.data[self._last :].partition(b"<customSheetViews")[0]
        found = _FILTER.search(after)
        return [parse_range(found[1].decode())] if found and b"<filterColumn" in after else []

    @cached_property
    def used(self) -> tuple[int, int]:
        """The last row and the last column that have a cell."""
        at = self.data.rfind(b"<row", self._first, self._last)
        row = _ROW.match(self.data, at) if at >= 0 else None
        letters = {match[1] for match in _CELL_AT.finditer(self.data, self._first, self._last)}
        return int(row[2]) if row else 0, max((column_number(text.decode()) for text in letters), default=0)

    def attributes(self, name: str) -> list[dict[str, str]]:
        """The attributes of every element of a name that stands after the cells (`dataValidation` and its like)."""
        pattern = re.compile(rb"<%s((?:\s[^<>]*?)?)/?>" % name.encode())
        return [
            {key.decode(): unescape(text.decode("utf-8")) for key, text in _ATTRIBUTE.findall(match[1])}
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
                edits.append((cell.start, cell.end, with_result(data[cell.start : cell.end], value, refs.get(place))))
        for place, value in inputs.items():
            if place in formulas:
                raise WorkbookError(f"{self.name}!{address(*place)} holds a formula, and a formula can't be set")
            plain[place] = value
        found = self._find_all(plain.keys())
        for place, value in plain.items():
            match = found.get(place)
            if match is not None:
                edits.append((*match.span(), with_value(match, value, as_input=place in inputs)))
            elif value is not None:
                missing[place] = value
        if missing:
            edits += self._insertions(missing, inputs)
        return self._spliced(edits)

    def with_formulas(self, texts: Mapping[tuple[int, int], str]) -> bytes:
        """The part with other texts for some formulas, and the values as they were."""
        edits = []
        for place, text in texts.items():
            cell = self.formulas[place]
            match = _CELL.match(self.data, cell.start, self._last)
            assert match is not None  # the scan has seen to it
            edits.append((*match.span(5), write_text(text)))
        return self._spliced(edits)

    def with_arrays(self, texts: Mapping[tuple[int, int], str], metadata: int) -> bytes:
        """The part with these formulas as array formulas of one cell that may spill, as today's Excel writes them.

        metadata: which of the workbook's cell metadata says so; 0 makes them ordinary formulas.
        """
        edits = []
        for place, text in texts.items():
            cell = self.formulas[place]
            match = _CELL.match(self.data, cell.start, self._last)
            assert match is not None  # the scan has seen to it
            attributes = _CM.sub(b"", match[3]) + (b' cm="%d"' % metadata if metadata else b"")
            kind = b' t="array" ref="%s"' % cell.address.encode() if metadata else b""
            formula = b"<f%s>%s</f>" % (kind, write_text(text))
            rest = match[0][formula_end(match[0]) :]
            new = b'<c r="%s"%s>%s%s' % (cell.address.encode(), attributes, formula, rest)
            edits.append((*match.span(), new))
        return self._spliced(edits)

    def _spliced(self, edits: list[tuple[int, int, bytes]]) -> bytes:
        # at one place, insertions go before a replacement that starts there, and rows in the order they were made
        edits.sort(key=lambda edit: edit[:2])
        return _with_prefix(_replaced(self.data, 0, len(self.data), edits), self._prefix)

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
                kind, content = type_and_content(missing[row, column], (row, column) in inputs)
                look = style or self._column_style(column)
                made.append(b'<c r="%s"%s%s>%s</c>' % (address(row, column).encode(), look, kind, content))
            return b"".join(made)

        rows = list(_ROW.finditer(self.data, self._first, self._last))
        numbers = [int(row[2]) for row in rows]
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
            attributes = re.sub(rb'\sspans="[^"]*"', b"", line[1] + line[2] + line[3])  # a hint, now perhaps wrong
            style = re.search(rb'\ss="[^"]*"', attributes)
            look = style[0] if style and re.search(rb'customFormat="(?:1|true)"', attributes) else b""
            edits.append((line.start(), line.end(), b"<row%s>" % attributes))
            if line[4]:  # an empty row, written as one tag
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

    @cached_property
    def _column_styles(self) -> list[tuple[int, int, bytes]]:
        """From which to which column a format holds, in their order: such ranges don't overlap."""
        found = []
        for match in re.finditer(rb"<col(\s[^<>]*?)/?>", self.data[: self._first]):
            attributes = dict(_ATTRIBUTE.findall(match[1]))
            low, high = (integer(attributes.get(key, b"0").decode(), 0) for key in (b"min", b"max"))
            if b"style" in attributes:
                found.append((low, high, b' s="%s"' % attributes[b"style"]))
        return sorted(found)

    def _column_style(self, column: int) -> bytes:
        index = bisect_left(self._column_styles, (column + 1,)) - 1
        if index < 0:
            return b""
        _, high, style = self._column_styles[index]
        return style if column <= high else b""

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


def _without_prefix(data: bytes) -> tuple[bytes, bytes]:
    """A part without the prefix that all its elements have, and the prefix; as it is where that can't be undone."""
    prolog = _PROLOG.match(data)
    assert prolog is not None  # it matches nothing at all, too
    root = _PREFIXED.match(data, prolog.end())
    if root is None:
        return data, b""
    bare = re.sub(rb"<(/?)" + re.escape(root[1]), rb"<\1", data)
    return (bare, root[1]) if _with_prefix(bare, root[1]) == data else (data, b"")


def _with_prefix(data: bytes, prefix: bytes) -> bytes:
    return _BARE_TAG.sub(rb"<\1" + prefix, data) if prefix else data
