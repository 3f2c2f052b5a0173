"""Recompute existing workbooks and set their input cells; what can't be computed stays as it was, and is said.

The file is scanned, its formulas are put into words the engine understands (in memory only), the engine works them
out, and the values that differ are spliced into the worksheet parts.
"""

from __future__ import annotations

import difflib
import gc
import io
import os
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain
from typing import TYPE_CHECKING, NamedTuple
from xml.sax.saxutils import escape, quoteattr

from brewfuncs import __version__, units
from brewfuncs.errors import BadInput, BrewError, CellError, WorkbookError
from brewfuncs.hosts.engine import CANNOT, Calculation, catalogue, knows, unknown_function
from brewfuncs.workbook.formula import (
    Rewriter,
    Token,
    Untranslatable,
    plain_name,
    reads_whole_lines,
    shift,
    template,
    tokenize,
    whole_range,
    words,
)
from brewfuncs.workbook.package import (
    Box,
    FormulaCell,
    Package,
    Sheet,
    Value,
    address,
    error_value,
    parse_address,
    same_value,
)

if TYPE_CHECKING:
    from brewfuncs.workbook.plan import Input

__all__ = ["Change", "Failing", "Kept", "Report", "Revision", "recalculate", "record"]

VERSION_PROPERTY, REVISIONS_PROPERTY = "brewfuncs_version", "brewfuncs_revisions"

#: a cell: the sheet's name, the row, the column
Place = tuple[str, int, int]

_MAX_PASSES = 50
_MAX_ARRAY = 1_000_000  # cells that one array formula may fill
_VAST = 50_000_000  # cells in the used range of a sheet; below it no formula can read too many
_MAX_READ = 2_000_000_000  # cells that the formulas of a vast workbook may read in all, blank ones included
_MAX_SEARCHED = 200_000  # cells of a range looked through for the one where an error starts
_MAX_EXPLAINED = 2_000  # cells in error whose sentence is worked out


# ---------------------------------------------------------------- what is reported
@dataclass(slots=True)  # and not frozen, which is slow to make: there can be hundreds of thousands
class Change:
    """A stored value that was replaced."""

    sheet: str
    cell: str
    name: str | None  # the defined name of the cell
    old: Value
    new: Value
    rests_on_kept: bool = False  # depends on a formula the engine can't do, whose stored value was used


@dataclass(frozen=True)
class Kept:
    """A formula that wasn't worked out; its stored value stayed."""

    sheet: str
    cell: str
    formula: str
    reason: str
    value: Value


@dataclass(frozen=True)
class Failing:
    """A cell in error that has to do with our functions."""

    sheet: str
    cell: str
    name: str | None
    code: str
    sentence: str | None  # why, where one of our functions says so
    origin: str  # the cell where the error starts, as Sheet!B4


@dataclass(frozen=True)
class Revision:
    """A formula that was corrected since the workbook was made."""

    function: str
    stored: int
    installed: int | None  # None: the function isn't there any more
    changed: tuple[str, ...]  # the cells that call it and changed, as Sheet!B4


@dataclass
class Report:
    """What a run did to a workbook."""

    path: str
    formulas: int = 0
    written: bool = False
    inputs: list[Change] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    kept: list[Kept] = field(default_factory=list)
    failing: list[Failing] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    volatile: int = 0  # cells that differ at every calculation (NOW, RAND) and are no reason to write
    made_by: str | None = None  # the version that made the workbook, where it says so
    installed: str = __version__
    revisions: list[Revision] = field(default_factory=list)


# ---------------------------------------------------------------- a workbook being worked out
class _Plan(NamedTuple):
    """What is to be done about a formula, whatever row it stands in."""

    rewrite: bool
    may_spill: bool
    volatile: bool
    ours: bool
    less_trusted: bool
    unknown: tuple[str, ...]  # the functions nobody knows


#: built-in functions in which the engine is believed rather than a stored value; tests compare them with other programs
_TRUSTED = words(
    """ABS AND AVERAGE CHOOSE COLUMNS CONCATENATE COUNT COUNTA EXACT EXP FALSE IF IFERROR IFNA IFS INDEX INT ISBLANK
    ISERROR ISNA ISNUMBER ISTEXT LEFT LEN LN LOG10 MAX MIN NA NOT NOW OR PI POWER PRODUCT RAND RANDBETWEEN
    RIGHT ROUND ROUNDDOWN ROUNDUP ROWS SINGLE SUM SUMPRODUCT TODAY TRIM TRUE"""
)


class Book:
    """A workbook in the engine, next to what its file holds."""

    def __init__(self, package: Package, inputs: Mapping[Place, Value] = {}) -> None:
        self.package = package
        self.inputs = dict(inputs)
        self.functions = catalogue()
        self.rewriter = Rewriter(self.functions, package.tables, package.names, package.sheet_parts)
        self.kept: dict[Place, str] = {}
        self.unknown: dict[Place, list[str]] = {}
        self.volatile: list[Place] = []
        self.notes: list[str] = []
        self.ours: set[Place] = set()  # formulas that call a function of ours
        self.less_trusted: list[Place] = []  # formulas of rarer functions, in which the engine may differ
        self.fixed: dict[Place, list[list[Value]]] = {}  # arrays whose range is larger or smaller than their result
        self._uncertain: list[Place] = []  # kept, without a value that could stand in
        self._may_spill: list[Place] = []
        self._arrays: list[Place] = []
        self._masters: dict[tuple[str, str], FormulaCell] = {}
        self._plans: dict[tuple[bytes, str, bool], _Plan] = {}
        self._prepare()
        self.calculate()

    # ------------------------------------------------------------ preparing
    def cell(self, place: Place) -> FormulaCell | None:
        return self.package.sheet(place[0]).formulas.get(place[1:])

    def text(self, place: Place) -> str:
        """The formula of a cell, as the file means it."""
        cell = self.cell(place)
        assert cell is not None
        if cell.kind != "shared" or cell.raw_formula:
            return cell.text
        master = self._masters.get((place[0], cell.shared or ""))
        return shift(master.text, cell.row - master.row, cell.column - master.column) if master else ""

    def _plan(self, place: Place, raw: bytes, ordinary: bool) -> _Plan:
        key = (template(raw), place[0], ordinary)
        plan = self._plans.get(key)
        if plan is None:
            profile = self.rewriter.examine(self.text(place), place[0], ordinary)
            ours = not self.functions.keys().isdisjoint(profile.functions)
            plan = self._plans[key] = _Plan(
                profile.rewrite,
                profile.may_spill,
                profile.volatile,
                ours,
                not ours and not profile.functions <= _TRUSTED,
                tuple(sorted(name for name in profile.functions if not knows(name))),
            )
        return plan

    def _prepare(self) -> None:
        """Decide what the engine is given for each formula, and load it."""
        sheets: dict[str, bytes] = {}
        vast = any(sheet.used[0] * sheet.used[1] > _VAST for sheet in self.package.sheets)
        self._to_read = _MAX_READ if vast else None
        self.given: dict[Place, str] = {}
        for sheet in self.package.sheets:
            formulas, blanks = self._prepare_sheet(sheet)
            sheets[sheet.name] = sheet.for_engine(formulas, blanks)
        names = [
            (name.name, name.text)
            for name in self.package.names
            if self.rewriter.is_simple(name) and not name.name.startswith("_xlnm.")
        ]
        strings = self.package.part(self.package.strings_part) if self.package.strings_part else None
        data = _engine_file(sheets, names, strings)
        del sheets  # a large file is held often enough: as its parts, in the engine's file, in the engine
        try:
            self.engine = Calculation(data, date1904=self.package.date1904, iteration=self.package.iteration)
        except BadInput as error:
            raise WorkbookError(f"{self.package.name} can't be recalculated: {error}") from None
        for place, value in self.inputs.items():
            self.engine.set_value(*place, value)
        for place in self.kept:
            self._stand_in(place)

    def _prepare_sheet(self, sheet: Sheet) -> tuple[dict[tuple[int, int], str | None], set[tuple[int, int]]]:
        formulas: dict[tuple[int, int], str | None] = {}
        blanks: set[tuple[int, int]] = set()
        name = sheet.name
        for cell in sheet.formulas.values():
            if cell.kind == "shared" and cell.raw_formula and cell.shared is not None:
                self._masters[name, cell.shared] = cell
        for (row, column), cell in sheet.formulas.items():
            place = (name, row, column)
            raw = cell.raw_formula
            if cell.kind == "shared" and not raw:
                master = self._masters.get((name, cell.shared or ""))
                if master is None:
                    self._keep(place, "the formula it shares is missing", formulas)
                    continue
                raw = master.raw_formula
            if cell.kind == "dataTable":
                self._keep(place, "it is a what-if data table", formulas)
                continue
            if not raw:
                self._keep(place, "it has no text", formulas)
                continue
            ordinary = cell.kind != "array"
            if self._to_read is not None and self._reads_too_much(place):
                self._keep(place, "it reads more cells than can be gone through", formulas)
                continue
            if not ordinary and cell.box.size > _MAX_ARRAY:
                self._keep(place, f"its array is larger than {_MAX_ARRAY} cells", formulas)
                continue
            plan = self._plan(place, raw, ordinary)
            if cell.dynamic and reads_whole_lines(self.text(place)):
                self._keep(
                    place, "it spreads a whole row or column, of which the engine has the used part only", formulas
                )
                continue
            if not ordinary:
                self._arrays.append(place)
                blanks.update(spot for spot in cell.box.cells() if spot != (row, column))
            if plan.volatile:
                self.volatile.append(place)
            if plan.ours:
                self.ours.add(place)
            if plan.less_trusted:
                self.less_trusted.append(place)
            if plan.unknown:
                self.unknown[place] = list(plan.unknown)
                self._keep(place, unknown_function(plan.unknown[0]), formulas)
            elif plan.rewrite or b"_x" in raw:  # _x000D_ is an escape of the file format
                try:
                    text = self.rewriter.rewrite(self.text(place), name, row, column, ordinary)
                    formulas[row, column] = self.given[place] = text
                except Untranslatable as error:
                    self._keep(place, str(error), formulas)
            if plan.may_spill and place not in self.kept:
                self._may_spill.append(place)
        return formulas, blanks - sheet.formulas.keys()

    def _reads_too_much(self, place: Place) -> bool:
        """Count the cells a formula reads; a hostile sheet can have one that reads 17 thousand million."""
        assert self._to_read is not None
        cells = 0
        for kind, text in tokenize(self.text(place)):
            name = self.rewriter.name(text, place[0]) if kind == "name" else None
            for piece in tokenize(name.text) if name else [Token(kind, text)]:
                if piece.kind == "ref":
                    cells += whole_range(piece.text).size
        if cells > self._to_read:
            return True
        self._to_read -= cells
        return False

    def _keep(self, place: Place, reason: str, formulas: dict[tuple[int, int], str | None] | None = None) -> None:
        self.kept[place] = reason
        if formulas is not None:
            formulas[place[1:]] = None
        cell = self.cell(place)
        assert cell is not None
        if self.package.sheet(place[0]).stored(cell) is None:
            self._uncertain.append(place)

    def _stand_in(self, place: Place) -> None:
        """Give the engine the stored value of a formula it can't do."""
        cell = self.cell(place)
        assert cell is not None
        sheet = self.package.sheet(place[0])
        stored = sheet.stored(cell)
        self.engine.set_value(*place, error_value("#N/A") if stored is None else stored)
        if cell.kind == "array" and cell.box.size <= _MAX_ARRAY:
            others = [spot for spot in cell.box.cells() if spot != place[1:]]
            for spot, value in sheet.values(others).items():
                self.engine.set_value(place[0], *spot, value)

    # ------------------------------------------------------------ calculating
    def calculate(self) -> None:
        """Work everything out, again where something had to be put differently."""
        for _ in range(_MAX_PASSES):
            try:
                self.engine.calculate()
            except BadInput as error:
                raise WorkbookError(f"{self.package.name} can't be recalculated: {error}") from None
            if not (self._tame_spills() | self._fit_arrays() | self._give_up()):
                return
        raise WorkbookError(f"{self.package.name} can't be recalculated: its formulas don't settle")

    def _tame_spills(self) -> bool:
        """An ordinary formula shows one value, whatever the engine would spread over the cells beside it."""
        changed = False
        for place in self._may_spill:
            if place in self.kept:
                continue
            value = self.engine.value(*place)
            blocked = isinstance(value, CellError) and value.code == "#SPILL!"
            if not blocked and self.engine.extent(*place) is None:
                continue
            changed = True
            text = self.given.get(place) or self.text(place)
            where = f"{place[0]}!{address(*place[1:])}"
            first = next((token for token in tokenize(text) if token.kind not in ("space", "op")), None)
            if first is not None and first.kind == "func" and plain_name(first.text) in self.functions:
                self.given[place] = f"@({text})"
                self.engine.set_formula(*place, f"=@({text})")
                self.notes.append(f"{where} gives several values but is not an array formula: it shows the first")
            else:
                self.give_in(place, "it gives several values but is not an array formula")
        return changed

    def _fit_arrays(self) -> bool:
        """An array formula of the old kind fills its range, no more and no less."""
        changed = False
        for place in self._arrays:
            cell = self.cell(place)
            assert cell is not None
            if place in self.kept or place in self.fixed or cell.dynamic:
                continue
            extent = self.engine.extent(*place) or Box(cell.row, cell.column, cell.row, cell.column)
            value = self.engine.value(*place)
            if isinstance(value, CellError) and value.code == "#SPILL!":
                changed = True
                self.give_in(place, "its result doesn't fit into its range")
                continue
            if extent == cell.box:
                continue
            changed = True
            rows = self.engine.values(place[0], extent)
            fitted = _fitted(rows, cell.box)
            self.fixed[place] = fitted
            self.engine.set_value(*place, fitted[0][0])
            for row, column in cell.box.cells():
                self.engine.set_value(place[0], row, column, fitted[row - cell.row][column - cell.column])
        return changed

    def _give_up(self) -> bool:
        """Find the formulas the engine stopped at, and let their stored values stand in."""
        stopped: dict[Place, str] = {}
        for sheet in self.package.sheets:
            for row, column in sheet.formulas:
                value = self.engine.value(sheet.name, row, column)
                if value.__class__ is CellError and not value.code.startswith("#"):
                    stopped[sheet.name, row, column] = value.code
        if not stopped:
            return False
        roots = [
            place
            for place, kind in stopped.items()
            if kind == "Circ"
            or not any(
                other != place and stopped[other] == kind
                for sheet, box in self.engine.precedents(*place)
                for other in _within(stopped, sheet, box)
            )
        ]
        for place in roots or stopped:
            self.give_in(place, CANNOT.get(stopped[place], f"the engine stops with {stopped[place]}"))
        return True

    def give_in(self, place: Place, reason: str) -> None:
        """Let the stored value of a formula stand in for it."""
        self._keep(place, reason)
        self._stand_in(place)

    # ------------------------------------------------------------ what came out
    def blocks(self) -> Iterable[tuple[Place, Box, Box]]:
        """The array formulas that were worked out: where, the cells they filled, the cells they fill now."""
        for place in self._arrays:
            cell = self.cell(place)
            assert cell is not None
            if place not in self.kept:
                old = cell.box
                new = self.engine.extent(*place) or Box(cell.row, cell.column, cell.row, cell.column)
                yield place, old, new if cell.dynamic else old

    def uncertain(self) -> set[Place]:
        """What depends on formulas that have no value at all."""
        return self.engine.dependents(self._uncertain) if self._uncertain else set()


def _within(places: Iterable[Place], sheet: str, box: Box) -> list[Place]:
    if box.top == box.bottom and box.left == box.right:
        place = (sheet, box.top, box.left)
        return [place] if place in places else []
    return [place for place in places if place[0] == sheet and box.holds(*place[1:])]


def _fitted(rows: list[list[Value]], box: Box) -> list[list[Value]]:
    """A result put into the range of an array formula: one row or column is repeated, what is missing is #N/A."""
    missing = error_value("#N/A")
    height, width = len(rows), len(rows[0])
    fitted: list[list[Value]] = []
    for row in range(box.bottom - box.top + 1):
        line = rows[0] if height == 1 else rows[row] if row < height else None
        fitted.append(
            [
                missing if line is None or not (width == 1 or column < width) else line[0 if width == 1 else column]
                for column in range(box.right - box.left + 1)
            ]
        )
    return fitted


_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_CONTENT = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def _engine_file(sheets: Mapping[str, bytes], names: Iterable[tuple[str, str]], strings: bytes | None) -> bytes:
    """A workbook of cells and names alone, for the engine to load: no formats, so that a date is its number."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as package:
        numbers = range(1, len(sheets) + 1)
        package.writestr(
            "[Content_Types].xml",
            f'<Types xmlns="{_PACKAGE}/content-types">'
            f'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Default Extension="xml" ContentType="{_CONTENT}.worksheet+xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{_CONTENT}.sheet.main+xml"/>'
            f'<Override PartName="/xl/strings.xml" ContentType="{_CONTENT}.sharedStrings+xml"/></Types>',
        )

        def relations(pairs: Iterable[tuple[str, str, str]]) -> str:
            inside = "".join(
                f'<Relationship Id="{key}" Type="{_OFFICE}/{kind}" Target="{target}"/>' for key, kind, target in pairs
            )
            return f'<Relationships xmlns="{_PACKAGE}/relationships">{inside}</Relationships>'

        package.writestr("_rels/.rels", relations([("w", "officeDocument", "xl/workbook.xml")]))
        package.writestr(
            "xl/workbook.xml",
            f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>'
            + "".join(
                f'<sheet name={quoteattr(name)} sheetId="{number}" r:id="s{number}"/>'
                for number, name in zip(numbers, sheets, strict=True)
            )
            + "</sheets><definedNames>"
            + "".join(f"<definedName name={quoteattr(name)}>{escape(text)}</definedName>" for name, text in names)
            + "</definedNames></workbook>",
        )
        parts = [(f"s{number}", "worksheet", f"sheet{number}.xml") for number in numbers]
        if strings is not None:
            parts.append(("t", "sharedStrings", "strings.xml"))
            package.writestr("xl/strings.xml", strings)
        package.writestr("xl/_rels/workbook.xml.rels", relations(parts))
        for number, content in zip(numbers, sheets.values(), strict=True):
            with package.open(f"xl/sheet{number}.xml", "w") as part:
                part.write(b'<worksheet xmlns="%s"><sheetData>' % _MAIN.encode())
                part.write(content)
                part.write(b"</sheetData></worksheet>")
    return out.getvalue()


# ---------------------------------------------------------------- what differs
@dataclass
class Outcome:
    """The values of a workbook as they come out, against those its file holds."""

    changes: dict[Place, tuple[Value, Value]]  # old and new
    extents: dict[Place, Box]  # of arrays that grew or shrank
    errors: dict[Place, str]  # cells that show an error, with its code
    blocked: dict[Place, str]  # formulas left alone since they depend on one without a value


def outcome(book: Book) -> Outcome:
    """Compare what came out with what is stored, and believe the file where the engine is less to be trusted.

    A formula of one of the rarer built-in functions that comes out differently although nothing it reads has changed
    was worked out by another program, most likely rightly: its stored value stays.
    """
    while True:
        result = _compare(book)
        doubtful = [
            place for place in book.less_trusted if place in result.changes and result.changes[place][0] is not None
        ]
        if not doubtful:
            return result
        changed = {*result.changes, *book.inputs}
        # not the engine's list of dependents: it doesn't see through names
        roots = [
            place
            for place in doubtful
            if not any(_within(changed, sheet, box) for sheet, box in book.engine.precedents(*place))
        ]
        if not roots:
            return result
        for place in roots:
            book.give_in(
                place, f"the engine makes {shown(result.changes[place][1])} of it, though nothing it reads has changed"
            )
        book.calculate()


def shown(value: Value) -> str:
    """A value as a sentence has it."""
    if value is None:
        return "blank"
    if isinstance(value, CellError):
        return value.code
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    return f"{value:.10g}" if isinstance(value, float) else f'"{value}"'


def _agree(old: Value, new: Value) -> bool:
    # LibreOffice stores TRUE as 1
    return same_value(old, float(new) if new.__class__ is bool and old.__class__ is float else new)


def _compare(book: Book) -> Outcome:
    changes: dict[Place, tuple[Value, Value]] = {}
    errors: dict[Place, str] = {}
    value_of = book.engine.value
    blocked = {
        place: "it depends on a formula without a value"
        for place in book.uncertain()
        if place not in book.kept and book.cell(place) is not None
    }
    for sheet in book.package.sheets:
        name, stored = sheet.name, sheet.stored
        for (row, column), cell in sheet.formulas.items():
            place = (name, row, column)
            if place in book.kept or place in blocked:
                value = stored(cell)
                if value.__class__ is CellError:
                    errors[place] = value.code
                continue
            new = value_of(name, row, column)
            if new.__class__ is CellError:
                errors[place] = new.code
                new = error_value(new.code)
            elif new is None:
                new = 0.0  # a formula that gives a blank cell shows 0
            old = stored(cell)
            if not _agree(old, new):
                changes[place] = (old, new)
    extents: dict[Place, Box] = {}
    for sheet in book.package.sheets:
        wanted: dict[tuple[int, int], Value] = {}
        for place, before, after in book.blocks():
            if place[0] != sheet.name or place in blocked:
                continue
            wanted.update((spot, None) for spot in before.cells())
            if after != before:
                extents[place] = after
            rows = book.engine.values(sheet.name, after) if place not in book.fixed else book.fixed[place]
            for row, column in after.cells():
                new = rows[row - after.top][column - after.left]
                wanted[row, column] = 0.0 if new is None else new
        stored_values = sheet.values(wanted.keys() - sheet.formulas.keys())
        for spot, new in wanted.items():
            if spot in sheet.formulas:
                continue
            old = stored_values.get(spot)
            if isinstance(new, CellError):
                errors[sheet.name, *spot] = new.code
                new = error_value(new.code)
            if not _agree(old, new):
                changes[sheet.name, *spot] = (old, new)
    return Outcome(changes, extents, errors, blocked)


# ---------------------------------------------------------------- why
class Explainer:
    """Finds where an error starts, and the sentence that says why."""

    def __init__(self, book: Book, errors: Mapping[Place, str]) -> None:
        self.book, self.errors = book, errors
        self._sentences: dict[Place, str | None] = {}

    def sentence(self, place: Place) -> str | None:
        if place not in self._sentences:
            code = self.errors.get(place, "")
            known = place in self.book.ours and place not in self.book.kept
            self._sentences[place] = self.book.engine.sentence(*place, code) if known else None
        return self._sentences[place]

    def origin(self, place: Place) -> Place:
        """The cell where the error of a cell starts."""
        code = self.errors[place]
        seen = {place}
        while self.sentence(place) is None:
            following = self._cause(place, code, seen)
            if following is None:
                return place
            place = following
            seen.add(place)
        return place

    def _cause(self, place: Place, code: str, seen: set[Place]) -> Place | None:
        """A cell that a formula reads and that shows the same error."""
        if place in self.book.kept or self.book.cell(place) is None:
            return None
        for sheet, box in self.book.engine.precedents(*place):
            size = box.size
            if size == 1 or size > len(self.errors):
                for candidate in _within(self.errors, sheet, box):
                    if self.errors[candidate] == code and candidate not in seen:
                        return candidate
            if size <= _MAX_SEARCHED and sheet in self.book.package.sheet_parts:
                for spot, value in zip(box.cells(), chain(*self.book.engine.values(sheet, box)), strict=False):
                    candidate = (sheet, *spot)
                    if isinstance(value, CellError) and value.code == code and candidate not in seen:
                        return candidate
        return None

    def failing(self, names: Mapping[Place, str]) -> list[Failing]:
        """The cells in error that have to do with our functions."""
        found = []
        for place, code in list(self.errors.items())[:_MAX_EXPLAINED]:
            origin = self.origin(place)
            if place not in self.book.ours and origin not in self.book.ours:
                continue
            found.append(
                Failing(
                    place[0],
                    address(*place[1:]),
                    names.get(place),
                    code,
                    self._why(place, origin),
                    written_place(origin),
                )
            )
        return found

    def _why(self, place: Place, origin: Place) -> str | None:
        sentence = self.sentence(origin)
        if sentence is None and self.book.cell(origin) is None and origin != place:
            return f"{written_place(origin)} holds {self.errors[place]} itself"
        return sentence


def written_place(place: Place) -> str:
    """A cell as formulas write it, such as Plan!B4."""
    sheet = place[0] if re.fullmatch(r"\w+", place[0]) else "'" + place[0].replace("'", "''") + "'"
    return f"{sheet}!{address(*place[1:])}"


# ---------------------------------------------------------------- names
def cell_names(package: Package) -> dict[Place, str]:
    """The names of single cells."""
    found: dict[Place, str] = {}
    for name in package.names:
        place = _named_place(package, name.text)
        if place is not None and not name.name.startswith("_xlnm.") and (name.sheet is None or place not in found):
            found[place] = name.name
    return found


_CELL_NAME = re.compile(r"(?:'((?:[^']|'')+)'|([^'!]+))!\$?([A-Za-z]{1,3})\$?(\d{1,7})")


def _named_place(package: Package, text: str) -> Place | None:
    match = _CELL_NAME.fullmatch(text)
    if match is None:
        return None
    sheet = package.find_sheet(match[1].replace("''", "'") if match[1] else match[2])
    try:
        return (sheet, *parse_address(match[3] + match[4])) if sheet else None
    except WorkbookError:
        return None


def find_cell(package: Package, name: str) -> Place:
    """The cell a name, or an address such as Plan!B4, stands for."""
    wanted = name.strip()
    matches = [known for known in package.names if known.name.casefold() == wanted.casefold()]
    for known in sorted(matches, key=lambda known: known.sheet is not None):
        place = _named_place(package, known.text)
        if place is None:
            raise WorkbookError(f"{wanted} is not the name of one cell but stands for {known.text}")
        return place
    place = _named_place(package, wanted)
    if place is not None:
        return place
    if re.fullmatch(r"\$?[A-Za-z]{1,3}\$?\d+", wanted):
        first = package.sheets[0].name if package.sheets else "Sheet1"
        raise WorkbookError(f'{wanted} needs its sheet, as in "{first}!{wanted}"; better still, give the cell a name')
    known_names = {known.casefold(): known for known in cell_names(package).values()}
    hint = [known_names[near] for near in difflib.get_close_matches(wanted.casefold(), known_names, n=3, cutoff=0.6)]
    raise WorkbookError(
        f'{package.name} has no cell named "{wanted}"' + (f"; did you mean {' or '.join(hint)}?" if hint else "")
    )


# ---------------------------------------------------------------- setting input cells
_ISO_DATE = re.compile(r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d)?)?")


def _input_value(
    package: Package, name: str, place: Place, given: str | float | bool | None, unit: str | None
) -> Value:
    """What is to stand in an input cell, in the unit that the cell beside it states."""
    sheet = package.sheet(place[0])
    old = sheet.value(*place[1:])
    if given is None or (isinstance(given, str) and not given.strip()):
        return None
    if isinstance(given, (bool, int, float)):
        given = ("TRUE" if given else "FALSE") if isinstance(given, bool) else repr(float(given))
    text = given.strip()
    if isinstance(old, str) and unit is None:
        return text
    if isinstance(old, bool) or (old is None and unit is None and text.upper() in ("TRUE", "FALSE")):
        if text.upper() not in ("TRUE", "FALSE"):
            raise BadInput(f'{name} is TRUE or FALSE, not "{text}"')
        return text.upper() == "TRUE"
    if _ISO_DATE.fullmatch(text) and unit is None and package.shows_dates(sheet.style(*place[1:])):
        serial = package.serial(text)
        if serial is None:
            raise BadInput(f'{name}: "{text}" is not a date')
        return serial
    try:
        number, symbol = units.parse(text)
    except BrewError as error:
        if old is None and unit is None:
            return text  # a blank cell without a unit may well take a note
        raise BadInput(f"{name} wants a number: {error}") from None
    if not symbol:
        return number
    if unit is None:
        if symbol == "%":
            return number / 100
        if old is None:
            return text
        raise BadInput(f'{name} has no unit cell, so "{text}" is to be written as a bare number')
    if symbol == "%" and (unit in ("", "%")) and package.shows_percent(sheet.style(*place[1:])):
        return number / 100
    try:
        return float(units.convert(number, symbol, unit))
    except BrewError as error:
        raise BadInput(f"{name}: {error}") from None


def _unit_of(package: Package, name: str, inputs: Mapping[Place, Value]) -> str | None:
    """The unit stated in the cell named `name_unit`, or to be put there; None where there is no such cell."""
    batch = _batch_input(package, name)
    wanted = (batch[1] if batch else f"{name}_unit").casefold()
    known = next((known for known in package.names if known.name.casefold() == wanted), None)
    place = _named_place(package, known.text) if known else None
    if place is None:
        return None
    value = inputs[place] if place in inputs else package.sheet(place[0]).value(*place[1:])
    return value.strip() if isinstance(value, str) else ""


# ---------------------------------------------------------------- versions
def _revisions(package: Package) -> tuple[str | None, dict[str, int]]:
    """The version and the formula revisions that a workbook says it was made with."""
    properties = package.properties
    revisions = {}
    for pair in properties.get(REVISIONS_PROPERTY, "").split():
        name, _, number = pair.partition("=")
        if number.isdigit():
            revisions[name.upper()] = int(number)
    return properties.get(VERSION_PROPERTY), revisions


# ---------------------------------------------------------------- the two commands
def recalculate(path: str | os.PathLike[str]) -> Report:
    """Work out a workbook's formulas anew and store what differs."""
    return _run(path, {})


def record(path: str | os.PathLike[str], settings: Mapping[str, str | float | bool | None]) -> Report:
    """Set input cells by their names, and work out what depends on them.

    A value is a number in the unit that the cell states, or a quantity such as "6.7 gal", which is converted to it;
    None or "" clears the cell.
    """
    return _run(path, settings)


@contextmanager
def _without_collector() -> Iterator[None]:
    """Hundreds of thousands of small objects and no cycles: the garbage collector would only go through them."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


def _run(path: str | os.PathLike[str], settings: Mapping[str, str | float | bool | None]) -> Report:
    with _without_collector(), Package(path, write=True) as package:
        report = Report(package.name)
        inputs: dict[Place, Value] = {}
        for name in sorted(
            settings, key=lambda name: not name.endswith("_unit")
        ):  # units first: the rest is read in them
            given = settings[name]
            place = find_cell(package, name)
            if place in inputs:
                raise WorkbookError(f"{name} is set twice")
            _refuse_formulas(package, name, place)
            unit = _unit_of(package, name, inputs)
            inputs[place] = value = _input_value(package, name, place, given, unit)
            _refuse_impossible(package, name, value, unit)
        book = Book(package, inputs)
        result = outcome(book)
        names = cell_names(package)
        for place, value in inputs.items():
            old = package.sheet(place[0]).value(*place[1:])
            if not same_value(old, value):
                report.inputs.append(Change(place[0], address(*place[1:]), names.get(place), old, value))
        _fill(report, book, result, names)
        parts = _new_parts(book, result, inputs if report.inputs else {})
        if parts:
            package.save(parts)
            report.written = True
        return report


def _refuse_impossible(package: Package, name: str, value: Value, unit: str | None) -> None:
    """In a batch workbook every input has a range or a list of words, as its plan file has."""
    if VERSION_PROPERTY not in package.properties:
        return
    from brewfuncs.workbook.plan import input_cells

    choices = next((item.unit_choices for item, cell in input_cells().values() if cell == name), ())
    if choices and value not in choices:
        raise BadInput(f"{name}: {'blank' if value is None else shown(value)} is none of: {', '.join(choices)}")
    known = _batch_input(package, name)
    if known is None or value is None:
        return
    item = known[0]
    if item.words:
        try:
            item.read(value)
        except BrewError as error:
            raise BadInput(f"{name}: {error}") from None
    elif not (item.is_text or item.is_date):
        symbol = "" if item.is_share else unit or ""
        item.parameter._replace(name=name).read(f"{value!r} {symbol}" if isinstance(value, float) else value)


def _batch_input(package: Package, name: str) -> tuple[Input, str] | None:
    """The input of that name and the name of its unit's cell, in a batch workbook; None elsewhere."""
    if VERSION_PROPERTY not in package.properties:
        return None
    from brewfuncs.workbook.plan import input_cells

    return input_cells().get(name)


def _refuse_formulas(package: Package, name: str, place: Place) -> None:
    sheet = package.sheet(place[0])
    if place[1:] in sheet.formulas:
        raise WorkbookError(f"{name} ({written_place(place)}) holds a formula, and a formula can't be set")
    for cell in sheet.formulas.values():
        if cell.kind in ("array", "dataTable") and cell.ref and cell.box.holds(*place[1:]):
            raise WorkbookError(f"{name} ({written_place(place)}) is filled by the formula in {cell.address}")


def _fill(report: Report, book: Book, result: Outcome, names: Mapping[Place, str]) -> None:
    """Say what happened."""
    package = book.package
    report.formulas = sum(len(sheet.formulas) for sheet in package.sheets)
    report.notes = book.notes
    differing = (book.engine.dependents(book.volatile) | set(book.volatile)) & result.changes.keys()
    report.volatile = len(differing)
    if not report.inputs and differing == result.changes.keys():
        result.changes.clear()  # NOW and RAND alone would make every run write
        result.extents.clear()
    resting = book.engine.dependents(place for place in book.kept) if book.kept else set()
    report.changes = [
        Change(place[0], address(*place[1:]), names.get(place), old, new, place in resting)
        for place, (old, new) in result.changes.items()
    ]
    for place, reason in [*book.kept.items(), *result.blocked.items()]:
        cell = book.cell(place)
        assert cell is not None
        stored = package.sheet(place[0]).stored(cell)
        report.kept.append(Kept(place[0], address(*place[1:]), "=" + book.text(place), reason, stored))
    report.failing = Explainer(book, result.errors).failing(names)
    report.made_by, stored_revisions = _revisions(package)
    for function, revision in sorted(stored_revisions.items()):
        known = book.functions.get(function)
        if known is not None and known.revision == revision:
            continue
        changed = tuple(
            written_place(place)
            for place in result.changes
            if place in book.ours
            and function in {plain_name(t.text) for t in tokenize(book.text(place)) if t.kind == "func"}
        )
        report.revisions.append(Revision(function, revision, known.revision if known else None, changed))


def _new_parts(book: Book, result: Outcome, inputs: Mapping[Place, Value]) -> dict[str, bytes]:
    """The worksheet parts with their new values; none where there is nothing to change."""
    sheets = {sheet.name: sheet for sheet in book.package.sheets}
    values: dict[str, dict[tuple[int, int], Value]] = {name: {} for name in sheets}
    extents: dict[str, dict[tuple[int, int], Box]] = {name: {} for name in sheets}
    settings: dict[str, dict[tuple[int, int], Value]] = {name: {} for name in sheets}
    for (name, row, column), (_, new) in result.changes.items():
        values[name][row, column] = new
    for (name, row, column), box in result.extents.items():
        extents[name][row, column] = box
        # an array's cell gets its new range even where its own value is the same
        values[name].setdefault((row, column), book.engine.value(name, row, column))
    for (name, row, column), value in inputs.items():
        settings[name][row, column] = value
    del book.engine  # all is read from it, and the parts of a large file want the room
    return {
        sheet.part: sheet.patched(values[name], settings[name], extents[name])
        for name, sheet in sheets.items()
        if values[name] or settings[name]
    }
