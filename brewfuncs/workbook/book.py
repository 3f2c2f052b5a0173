"""A workbook being worked out: its formulas in the engine, what the engine can't do kept as it is."""

from __future__ import annotations

import io
import itertools
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from brewfuncs.catalogue import catalogue
from brewfuncs.errors import BadInput, CellError, WorkbookError
from brewfuncs.hosts.engine import CANNOT, Calculation, knows, unknown_function
from brewfuncs.hosts.rewrite import COMMON, Profile, Rewriter, engine_name, reads_whole_lines
from brewfuncs.hosts.standard import BUILTINS
from brewfuncs.hosts.standard.declare import UNKNOWN
from brewfuncs.workbook.places import Place, within, written_place
from brewfuncs.workbook.reads import Reader, Reading
from brewfuncs.xlsx.address import Box, address
from brewfuncs.xlsx.formula import (
    Untranslatable,
    has_reversed_range,
    parted,
    plain_name,
    template,
    tokenize,
)
from brewfuncs.xlsx.package import Iteration, Package
from brewfuncs.xlsx.values import Value, error_value
from brewfuncs.xlsx.worksheet import FormulaCell, Sheet
from brewfuncs.xlsx.xml import MAIN, escape, quoted

_MAX_PASSES = 50
_MAX_TRIED = 5_000  # formulas tried one by one for the one at which the engine fails
_MAX_ROUNDS_OF_CELLS = 10_000_000  # cells times iterations that are gone through for formulas in a circle
_FEW = 50  # cells set one by one; beyond it loading anew is quicker
_MAX_STARTED = 20_000  # formulas that are started from their stored values
_LOOKED_AT = 1_000  # formulas of a sheet, evenly spread, for which the engine is asked whether it has them
_MAX_ARRAY = 10_000  # cells that one array formula may fill
_MAX_ARRAYS = 200_000  # cells that all of them may fill together
_VAST = 50_000_000  # cells in the used range of a sheet; below it no formula can read too many
_MAX_READ = 2_000_000_000  # cells that the formulas of a vast workbook may read in all, blank ones included


class _Plan(NamedTuple):
    """What is to be done about a formula, whatever row it stands in."""

    examined: str  # the first such formula
    profile: Profile
    common: bool
    ours: bool
    unknown: tuple[str, ...]  # the functions nobody knows
    pieces: dict[str, list[str]]  # of what the engine is given, as `parted` has them, by the formula without its rows


class Book:
    """A workbook in the engine, next to what its file holds."""

    def __init__(self, package: Package) -> None:
        """Load a workbook and work it out as it stands."""
        self.package = package
        self.inputs: dict[Place, Value] = {}
        self.functions = catalogue()
        hidden, filtered = _hidden_rows(package)
        self.rewriter = Rewriter(self.functions, package.tables, package.names, package.sheet_parts, filtered, hidden)
        self.reader = Reader(self.rewriter, package.sheet_parts)
        self.kept: dict[Place, str] = {}
        self.unknown: dict[Place, list[str]] = {}
        self.volatile: list[Place] = []
        self.notes: list[str] = []
        self.ours: set[Place] = set()  # formulas that call a function of ours
        self.unproven: set[Place] = (
            set()
        )  # formulas whose stored value says nothing of the engine: ours, or of the time
        self.distrusting = False  # whether the engine has to prove itself
        self.differing: dict[Place, str] = {}  # formulas of functions that come out right for some numbers only
        self.rare: set[Place] = set()  # formulas of functions that were tried less
        self.distrusted: dict[Place, str] = {}  # formulas whose stored value the engine doesn't reproduce
        self.close: dict[Place, Value] = {}  # what the engine makes of cells, where it differs by rounding alone
        self.members: set[Place] = set()  # cells that an array fills and that some programs mark as formulas, too
        self.fixed: dict[Place, list[list[Value]]] = {}  # arrays whose range is larger or smaller than their result
        self._may_spill: list[Place] = []
        self._hiding: list[Place] = []  # formulas that may hide an error of a function that doesn't know
        self.arrays: list[Place] = []
        self._vast: dict[Place, str] = {}  # those that fill too many cells
        self._in_arrays = 0  # the cells that the others fill
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
        return self.package.sheet(place[0]).text(cell)

    def reading(self, place: Place) -> Reading:
        """The cells that the formula of a cell reads."""
        return self.reader.reading(self.text(place), place)

    def places(self) -> Iterator[Place]:
        """The cells that hold a formula of their own."""
        for sheet in self.package.sheets:
            for spot in sheet.formulas:
                place = (sheet.name, *spot)
                if place not in self.members:
                    yield place

    def _plan(self, place: Place, raw: bytes, ordinary: bool) -> _Plan:
        if b"&#" in raw:  # letters by their numbers, and a name that ends behind one would pass for an address
            raw = self.text(place).encode()
        key = (template(raw), place[0], ordinary)
        plan = self._plans.get(key)
        if plan is None:
            text = self.text(place)
            profile = self.rewriter.examine(text, place[0], ordinary)
            plan = self._plans[key] = _Plan(
                text,
                profile,
                common=profile.functions <= COMMON | BUILTINS.keys(),
                ours=not self.functions.keys().isdisjoint(profile.functions),
                unknown=tuple(sorted(name for name in profile.functions if not knows(name))),
                pieces={},
            )
        return plan

    def _rewritten(self, place: Place, plan: _Plan, ordinary: bool) -> str:
        """A formula in the engine's words: as the first of its template with other numbers of rows, where that goes."""
        text = self.text(place)
        ready = plan.profile.ready
        if ready is None or has_reversed_range(text):
            return self.rewriter.rewrite(text, *place, ordinary)
        source = parted(text)
        rows = source[2::3]
        source[2::3] = [""] * len(rows)
        known = plan.pieces.get("".join(source))
        if known is not None:
            new = known.copy()
            new[2::3] = rows
            return "".join(new)
        new = parted(ready if text == plan.examined else self.rewriter.rewrite(text, *place, ordinary))
        if new[2::3] == rows:  # where each row stands as it did, none of them has had a say in the rest
            plan.pieces["".join(source)] = new
        return "".join(new)

    def _prepare(self) -> None:
        """Decide what the engine is given for each formula, and load it."""
        vast = any(sheet.used[0] * sheet.used[1] > _VAST for sheet in self.package.sheets)
        self._to_read = _MAX_READ if vast else None
        self.given: dict[Place, str] = {}
        self._texts: dict[str, tuple[dict[tuple[int, int], str | None], set[tuple[int, int]]]] = {}
        for sheet in self.package.sheets:
            self._prepare_sheet(sheet)
        self._load()

    def _load(self) -> None:
        """Load everything; formulas at which the engine fails are found one by one, and kept."""
        try:
            self._load_all()
        except BadInput as error:
            self._drop_unreadable(error)
            try:
                self._load_all()
            except BadInput as again:
                raise self._cannot(again) from None

    def _cannot(self, error: BadInput) -> WorkbookError:
        return WorkbookError(f"{self.package.name} can't be recalculated: {error}")

    def _drop_unreadable(self, error: BadInput) -> None:
        """Keep the formulas at which the engine fails by themselves; formulas filled down count as one."""
        engine = self.without_formulas()
        readable: dict[tuple[bytes, str], bool] = {}
        found = False
        for place in self.places():
            if self.stands(place):
                continue
            key = (template(self.given_text(place).encode()), place[0])
            if key not in readable:
                if len(readable) >= _MAX_TRIED:
                    raise self._cannot(error)
                readable[key] = engine.trial(*place, "=" + self.given_text(place), ()) is not None
                engine.set_value(*place, self.stored(place))
            if not readable[key]:
                found = True
                self._keep(place, "the engine can't read it")
        if not found:
            raise self._cannot(error)

    def _free_followers(self) -> None:
        """Give those that share a formula its text where the cell that holds it is given to the engine otherwise."""
        for sheet in self.package.sheets:
            formulas, _ = self._texts[sheet.name]
            for spot, cell in sheet.formulas.items():
                if cell.kind == "shared" and not cell.raw_formula and spot not in formulas:
                    master = sheet.master(cell)
                    if master is not None and (master.row, master.column) in formulas:
                        formulas[spot] = sheet.text(cell)

    def _load_all(self) -> None:
        self._free_followers()
        # in the file, not set afterwards: with one cell set the engine takes a hundred times as long for arrays
        sheets = {
            sheet.name: sheet.for_engine(*self._texts[sheet.name], missing=error_value("#N/A"))
            for sheet in self.package.sheets
        }
        iteration = self.package.iteration
        if iteration and iteration.count * sum(len(s.formulas) for s in self.package.sheets) > _MAX_ROUNDS_OF_CELLS:
            iteration = None
        self.engine = self._calculation(sheets, iteration)
        self.fixed.clear()
        if iteration:
            self._start_from_what_is_stored()

    def _start_from_what_is_stored(self) -> None:
        """Formulas in a circle go on from the values that they have, such as the largest so far."""
        for place in itertools.islice(self.places(), _MAX_STARTED):
            cell, stored = self.cell(place), self.stored(place)
            if stored is None or self.stands(place) or cell is None or cell.kind == "array":
                continue
            self.engine.set_value(*place, stored)
            self.engine.set_formula(*place, "=" + self.given_text(place))

    def _look_for_formulas(self) -> None:
        """Stop where the engine has passed over formulas: it would take all that rests on them for up to date."""
        for sheet in self.package.sheets:
            spots = list(sheet.formulas)
            for spot in (*spots[:: max(1, len(spots) // _LOOKED_AT)], *spots[-1:]):
                place = (sheet.name, *spot)
                if place in self.members or place in self.fixed or self.stands(place):
                    continue
                if self.engine.formula(*place) is None:
                    raise WorkbookError(
                        f"{self.package.name} can't be recalculated: the engine passes over {written_place(place)}"
                    )

    def without_formulas(self) -> Calculation:
        """The workbook in an engine of its own, with stored values where formulas stand."""
        return self._calculation(
            {sheet.name: sheet.for_engine(dict.fromkeys(sheet.formulas), ()) for sheet in self.package.sheets}, None
        )

    def _calculation(self, sheets: dict[str, bytes], iteration: Iteration | None) -> Calculation:
        names = [
            (name.name, name.text)
            for name in self.package.names
            if self.rewriter.is_simple(name) and not name.name.startswith("_xlnm.")
        ]
        strings = self.package.part(self.package.strings_part) if self.package.strings_part else None
        data = _engine_file({engine_name(name): part for name, part in sheets.items()}, names, strings)
        sheets.clear()  # a large file is held often enough: as its parts, in the engine's file, in the engine
        return Calculation(data, sheets=self.package.sheet_parts, date1904=self.package.date1904, iteration=iteration)

    def _prepare_sheet(self, sheet: Sheet) -> None:
        formulas: dict[tuple[int, int], str | None] = {}
        blanks: set[tuple[int, int]] = set()
        self._texts[sheet.name] = formulas, blanks
        name = sheet.name
        for cell in sheet.formulas.values():
            if cell.kind != "array":
                continue
            size = cell.box.size
            if size > _MAX_ARRAY:
                self._vast[name, cell.row, cell.column] = f"its array is larger than {_MAX_ARRAY} cells"
                continue
            if self._in_arrays + size > _MAX_ARRAYS:
                reason = f"the arrays of this workbook fill more than {_MAX_ARRAYS} cells"
                self._vast[name, cell.row, cell.column] = reason
                continue
            self._in_arrays += size
            for spot in sheet.formulas.keys() & set(cell.box.cells()):
                other = sheet.formulas[spot]
                if not other.raw_formula and other.kind == "":
                    self.members.add((name, *spot))
        for (row, column), cell in sheet.formulas.items():
            place = (name, row, column)
            master = sheet.master(cell)
            if master is None:
                self._keep(place, "the formula it shares is missing")
                continue
            raw = master.raw_formula
            if cell.kind == "dataTable":
                self._keep(place, "it is a what-if data table")
                continue
            if not raw:
                if place not in self.members:
                    self._keep(place, "it has no text")
                continue
            ordinary = cell.kind != "array"
            if self._to_read is not None and self._reads_too_much(place):
                self._keep(place, "it reads more cells than can be gone through")
                continue
            if place in self._vast:
                self._keep(place, self._vast[place])
                continue
            plan = self._plan(place, raw, ordinary)
            profile = plan.profile
            if cell.dynamic and reads_whole_lines(self.text(place)):
                self._keep(place, "it spreads a whole row or column, of which the engine has the used part only")
                continue
            if not ordinary:
                self.arrays.append(place)
                blanks.update(spot for spot in cell.box.cells() if spot != (row, column))
            if profile.hides:
                self._hiding.append(place)
            if profile.volatile:
                self.volatile.append(place)
            if plan.ours:
                self.ours.add(place)
            if plan.ours or profile.timed:
                self.unproven.add(place)
            elif profile.differing:
                self.differing[place] = profile.differing
            elif not plan.common:
                self.rare.add(place)
            if plan.unknown:
                self.unknown[place] = list(plan.unknown)
                self._keep(place, unknown_function(plan.unknown[0]))
            elif (
                profile.rewrite
                or b"_x" in raw  # _x000D_ is an escape of the file format
                or (b":" in raw and has_reversed_range(self.text(place) if cell.shared else raw.decode()))
            ):
                try:
                    formulas[row, column] = self.given[place] = self._rewritten(place, plan, ordinary)
                except Untranslatable as error:
                    self._keep(place, str(error))
            if profile.may_spill and place not in self.kept:
                self._may_spill.append(place)
        blanks.difference_update(spot for spot in sheet.formulas if (name, *spot) not in self.members)

    def _reads_too_much(self, place: Place) -> bool:
        """Count the cells a formula reads; a hostile sheet can have one that reads 17 thousand million."""
        assert self._to_read is not None
        cells = sum(box.size for _, box in self.reading(place).boxes)
        if cells > self._to_read:
            return True
        self._to_read -= cells
        return False

    def _keep(self, place: Place, reason: str) -> None:
        self.kept[place] = reason
        self._as_value(place)

    def _as_value(self, place: Place) -> None:
        """Load the stored value of a formula instead of it."""
        formulas, blanks = self._texts[place[0]]
        formulas[place[1:]] = None
        blanks.difference_update(self.filled(place))

    def _stand_in(self, place: Place) -> None:
        """Give the engine the stored value of a formula it can't do."""
        cell = self.cell(place)
        assert cell is not None
        sheet = self.package.sheet(place[0])
        stored = sheet.stored(cell)
        self.engine.set_value(*place, error_value("#N/A") if stored is None else stored)
        for spot, value in sheet.values(self.filled(place)).items():
            self.engine.set_value(place[0], *spot, value)

    # ------------------------------------------------------------ calculating
    def calculate(self) -> None:
        """Work everything out, again where something had to be put differently."""
        failed = False
        for _ in range(_MAX_PASSES):
            try:
                self.engine.calculate()
            except BadInput as error:
                if failed:
                    raise self._cannot(error) from None
                failed = True
                self._drop_unreadable(error)
                self._load_again()
                continue
            if not (self._tame_spills() | self._fit_arrays() | self._give_up() | self._uncover()):
                self._look_for_formulas()  # before, the engine takes long to tell
                return
        raise WorkbookError(f"{self.package.name} can't be recalculated: its formulas don't settle")

    def _tame_spills(self) -> bool:
        """An ordinary formula shows one value, whatever the engine would spread over the cells beside it."""
        changed = False
        for place in self._may_spill:
            if self.stands(place):
                continue
            value = self.engine.value(*place)
            blocked = isinstance(value, CellError) and value.code == "#SPILL!"
            if not blocked and self.engine.extent(*place) is None:
                continue
            changed = True
            text = self.given_text(place)
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
        for place in self.arrays:
            cell = self.cell(place)
            assert cell is not None
            if self.stands(place) or place in self.fixed or cell.dynamic:
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
                for other in within(stopped, sheet, box)
            )
        ]
        found = roots or list(stopped)
        for place in found:
            self._keep(place, CANNOT.get(stopped[place], f"the engine stops with {stopped[place]}"))
        if len(found) <= _FEW:
            for place in found:
                self._stand_in(place)
        else:
            self._load_again()
        return True

    def _uncover(self) -> bool:
        """Keep the formulas that hide an answer that isn't known, as IFERROR(MROUND(2.5,0.2),0) does."""
        if not self.engine.unknown:
            return False
        found = [place for place in self._hiding if not self.stands(place) and self.engine.is_unknown(*place)]
        for place in found:
            self.give_in(place, CANNOT[UNKNOWN])
        return bool(found)

    def _load_again(self) -> None:
        self._load()
        for place, value in self.inputs.items():
            self.engine.set_value(*place, value)

    def stored(self, place: Place) -> Value:
        cell = self.cell(place)
        assert cell is not None
        return self.package.sheet(place[0]).stored(cell)

    def stands(self, place: Place) -> bool:
        """Whether the stored value of a formula stands in for it."""
        return place in self.kept or place in self.distrusted

    def filled(self, place: Place) -> list[tuple[int, int]]:
        """The cells that an array formula fills besides its own."""
        cell = self.cell(place)
        if cell is None or cell.kind != "array" or place in self._vast:
            return []
        return [spot for spot in cell.box.cells() if spot != place[1:]]

    def distrust(self, places: Mapping[Place, str]) -> None:
        """Let stored values stand in for formulas that the engine works out otherwise, and work out what rests on them.

        Setting a cell costs as much as many depend on it, so where there are many to set all is loaded anew.
        """
        self.distrusted.update(places)
        for place in places:
            self._as_value(place)
        if len(places) <= _FEW:
            for place in places:
                self._stand_in(place)
        else:
            self._load()
        self.calculate()

    def set(self, inputs: Mapping[Place, Value]) -> None:
        """Put values into input cells, and work out what depends on them."""
        self.inputs = dict(inputs)
        if self.fixed:  # their values stand where their formulas did
            self._load()
        for place, value in inputs.items():
            self.engine.set_value(*place, value)
        self.calculate()

    def given_text(self, place: Place) -> str:
        """The formula as the engine is given it."""
        return self.given.get(place) or self.text(place)

    def give_in(self, place: Place, reason: str) -> None:
        """Let the stored value of a formula stand in for it."""
        self._keep(place, reason)
        self._stand_in(place)

    # ------------------------------------------------------------ what came out
    def blocks(self) -> Iterable[tuple[Place, Box, Box]]:
        """The array formulas that were worked out: where, the cells they filled, the cells they fill now."""
        for place in self.arrays:
            cell = self.cell(place)
            assert cell is not None
            if not self.stands(place):
                old = cell.box
                new = self.engine.extent(*place) or Box(cell.row, cell.column, cell.row, cell.column)
                yield place, old, new if cell.dynamic else old


def _hidden_rows(package: Package) -> tuple[dict[str, list[int]], dict[str, list[int]]]:
    """The hidden rows of each sheet, by its name in small letters, and those of them that a filter hides."""
    hidden, filtered = {}, {}
    for sheet in package.sheets:
        if sheet.hidden_rows:
            boxes = [*sheet.filtered, *(t.box for t in package.tables if t.sheet == sheet.name and t.filtered)]
            hidden[sheet.name.casefold()] = sheet.hidden_rows
            filtered[sheet.name.casefold()] = [
                row for row in sheet.hidden_rows if any(box.top <= row <= box.bottom for box in boxes)
            ]
    return hidden, filtered


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
            f'<workbook xmlns="{MAIN}" xmlns:r="{_OFFICE}"><sheets>'
            + "".join(
                f'<sheet name={quoted(name)} sheetId="{number}" r:id="s{number}"/>'
                for number, name in zip(numbers, sheets, strict=True)
            )
            + "</sheets><definedNames>"
            + "".join(f"<definedName name={quoted(name)}>{escape(text)}</definedName>" for name, text in names)
            + "</definedNames></workbook>",
        )
        parts = [(f"s{number}", "worksheet", f"sheet{number}.xml") for number in numbers]
        if strings is not None:
            parts.append(("t", "sharedStrings", "strings.xml"))
            package.writestr("xl/strings.xml", strings)
        package.writestr("xl/_rels/workbook.xml.rels", relations(parts))
        for number, content in zip(numbers, sheets.values(), strict=True):
            with package.open(f"xl/sheet{number}.xml", "w") as part:
                part.write(b'<worksheet xmlns="%s"><sheetData>' % MAIN.encode())
                part.write(content)
                part.write(b"</sheetData></worksheet>")
    return out.getvalue()
