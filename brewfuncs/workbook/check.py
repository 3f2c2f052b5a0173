"""Look a workbook over for what goes wrong with our functions in it; nothing changes unless a repair is asked for."""

from __future__ import annotations

import os
import re
from bisect import bisect_left
from collections.abc import Callable, Collection, Iterator
from dataclasses import asdict, dataclass, field
from typing import Any

from brewfuncs import units
from brewfuncs.catalogue import Function, Parameter, catalogue
from brewfuncs.errors import BrewError, CellError
from brewfuncs.hosts.engine import nearest_function, unknown_function
from brewfuncs.workbook.book import Book
from brewfuncs.workbook.embed import is_embedded, is_intact
from brewfuncs.workbook.explain import Explainer
from brewfuncs.workbook.outcome import distrust, outcome
from brewfuncs.workbook.places import Place, cell_names, shown, written_place
from brewfuncs.workbook.recalculate import kept
from brewfuncs.workbook.report import Kept
from brewfuncs.workbook.versions import VERSION_PROPERTY
from brewfuncs.xlsx.address import Box, address
from brewfuncs.xlsx.formula import (
    functions_in,
    is_external,
    plain_name,
    sheet_name,
    tokenize,
    whole_range,
    without_addin_paths,
)
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value

__all__ = ["CheckReport", "Finding", "check"]

#: what a finding can be, as scripts read it
ERROR, TEXT_IN_SUM, SHARE, UNKNOWN, ADDIN_PATH, STALE, CHANGED_NAME, MISSING_NAME, QUANTITY = (
    "error",
    "text-in-sum",
    "share-over-1",
    "unknown-function",
    "add-in-path",
    "stale-value",
    "changed-name",
    "missing-name",
    "quantity-text",
)
_SUMS = frozenset({"SUM", "AVERAGE", "MIN", "MAX", "PRODUCT", "SUMSQ", "MEDIAN", "STDEV", "STDEV.S", "STDEV.P"})
_MAX_CELLS = 200_000  # of one range


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong, or looks wrong."""

    kind: str
    sheet: str
    cell: str
    name: str | None  # the defined name of the cell
    message: str
    origin: str | None = None  # for an error: the cell where it starts, as Sheet!B4
    repair: str | None = None  # a formula or value that would mend it


@dataclass
class CheckReport:
    """What was found in a workbook."""

    path: str
    findings: list[Finding] = field(default_factory=list)
    kept: list[Kept] = field(default_factory=list)  # of which nothing is known: the engine isn't to be trusted there
    repaired: int = 0
    formulas: int = 0
    notes: list[str] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        """0 where nothing was found, 1 where something was."""
        return 1 if self.findings else 0

    def as_dict(self) -> dict[str, Any]:
        """The report in types that JSON knows."""

        kept = [
            {**vars(one), "value": one.value.code if isinstance(one.value, CellError) else one.value}
            for one in self.kept
        ]
        return {
            "path": self.path,
            "formulas": self.formulas,
            "repaired": self.repaired,
            "findings": [asdict(finding) for finding in self.findings],
            "kept": kept,
            "notes": self.notes,
        }


def check(path: str | os.PathLike[str], *, fix: bool = False) -> CheckReport:
    """Look a workbook over; with `fix`, take other computers' add-in paths out of its formulas first."""
    repaired, notes = _repair(path) if fix else (0, [])
    with Package(path) as package:
        book = Book(package)
        if VERSION_PROPERTY not in package.properties:
            distrust(book)
        result = outcome(book)
        report = CheckReport(package.name, repaired=repaired, notes=notes)
        report.formulas = sum(len(sheet.formulas) for sheet in package.sheets)
        names = cell_names(package)

        def add(kind: str, place: Place, message: str, origin: str | None = None, repair: str | None = None) -> None:
            cell = address(*place[1:])
            report.findings.append(Finding(kind, place[0], cell, names.get(place), message, origin, repair))

        _addin_paths(book, add)
        _unknown(book, add)
        # before the explanations, which work formulas out again
        _shares(book, add)
        _sums(book, add)
        _stale(result.changes, result.volatile, add)
        if any(is_embedded(name) for name in package.names):
            _changed_names(package, report)
            _missing_names(book, add)
            _quantities(book, add)
        for failing in Explainer(book, result.errors).failing(names):
            report.findings.append(
                Finding(
                    ERROR,
                    failing.sheet,
                    failing.cell,
                    failing.name,
                    f"{failing.code}: {failing.sentence or 'the error comes from the cells it reads'}",
                    failing.origin,
                )
            )
        report.kept = kept(book, result, names, book.distrusted)
        return report


Add = Callable[..., None]


# ---------------------------------------------------------------- add-in paths and unknown names
def _with_path(book: Book, place: Place) -> str | None:
    """The repaired formula of a cell whose formula names the file our functions once came from."""
    text = book.text(place)
    if "!" not in text:
        return None
    mended = without_addin_paths(text, book.functions)
    return mended if mended != text else None


def _addin_paths(book: Book, add: Add) -> None:
    for place in book.places():
        mended = _with_path(book, place)
        if mended is not None:
            path = next(text for kind, text in tokenize(book.text(place)) if kind == "sheet" and is_external(text))
            add(
                ADDIN_PATH,
                place,
                f"the formula asks another file for our function ({path}), as it does when it was saved on a computer "
                "with another add-in path",
                repair="=" + mended,
            )


def _repair(path: str | os.PathLike[str]) -> tuple[int, list[str]]:
    with Package(path, write=True) as package:
        functions = catalogue()
        parts, count = {}, 0
        for sheet in package.sheets:
            texts = {}
            for place, cell in sheet.formulas.items():
                if b"!" in cell.raw_formula:
                    mended = without_addin_paths(cell.text, functions)
                    if mended != cell.text:
                        texts[place] = mended
            if texts:
                parts[sheet.part] = sheet.with_formulas(texts)
                count += len(texts)
        if parts:
            package.save(parts)
        return count, package.rewritten(parts)


def _unknown(book: Book, add: Add) -> None:
    for place, functions in book.unknown.items():
        for function in functions:
            near = nearest_function(function)
            if near:
                add(UNKNOWN, place, unknown_function(function), repair=near[0])


# ---------------------------------------------------------------- our functions as names of the workbook
def _changed_names(package: Package, report: CheckReport) -> None:
    """Names of ours that another program has written its own way, which Excel takes for something else."""
    changed = sorted(name.name for name in package.names if is_embedded(name) and not is_intact(name))
    if changed:
        names = ", ".join(changed[:3]) + (f" and {len(changed) - 3} more" if len(changed) > 3 else "")
        message = (
            f"{names} can't be read by Excel any more: another program, such as LibreOffice, has written the file "
            "since; `brewfuncs embed` and `brewfuncs recalc` mend that"
        )
        report.findings.append(Finding(CHANGED_NAME, "", "", changed[0], message))


def _missing_names(book: Book, add: Add) -> None:
    """Functions that are called where the others are names, and aren't one."""
    there = {name.name.upper() for name in book.package.names if is_embedded(name)} | {"BREW_REASON"}  # which can't be
    for place in sorted(book.ours):
        for function in sorted(functions_in(book.text(place)) & book.functions.keys() - there):
            there.add(function)
            message = (
                f"{function} isn't among the names of the workbook, as other functions are; `brewfuncs embed` adds it"
            )
            add(MISSING_NAME, place, message)


def _quantities(book: Book, add: Add) -> None:
    """Numbers given as text: the functions understand that as an add-in, not as names."""
    seen: set[tuple[Place, str]] = set()
    for place in book.ours:
        formula = "" if place in book.kept else book.engine.formula(*place) or ""
        for function, index, tokens in _arguments(formula.removeprefix("="), book.functions):
            parameter = function.params[min(index, len(function.params) - 1)]
            if parameter.is_text or parameter.variable:
                continue
            for cell, value in _given(book, place, tokens):
                known = parameter.table is not None and str(value).strip().casefold() in parameter.table
                if not isinstance(value, str) or not value.strip() or known or (cell, value) in seen:
                    continue
                seen.add((cell, value))
                by = "" if cell == place else f" in {written_place(place)}"
                try:
                    number = shown(parameter.read(value))
                except BrewError:
                    continue  # an error whoever reads it
                unit = f" {parameter.symbol}" if parameter.symbol else ""
                add(
                    QUANTITY,
                    cell,
                    f'"{value}" is text, which {function.name}{by} reads as {number}{unit} only where an add-in '
                    f"computes it: as a name of the workbook it gives #VALUE!",
                    repair=number,
                )


def _given(book: Book, place: Place, tokens: list[tuple[str, str]]) -> Iterator[tuple[Place, Value]]:
    """What an argument is where it is nothing but a text, or a reference."""
    if [kind for kind, _ in tokens] == ["text"]:
        yield place, tokens[0][1][1:-1].replace('""', '"')
    else:
        yield from _cells(book, _reference(tokens, place[0]) or _named(book, tokens))


# ---------------------------------------------------------------- values that look wrong
def _stale(changes: dict[Place, tuple[Value, Value]], moving: Collection[Place], add: Add) -> None:
    for place, (old, new) in changes.items():
        if place not in moving:
            stored = "no value is stored" if old is None else f"the stored value {shown(old)} is out of date"
            add(STALE, place, f"{stored}: it is {shown(new)} now", repair=shown(new))


def _arguments(text: str, functions: dict[str, Function]) -> Iterator[tuple[Function, int, list[tuple[str, str]]]]:
    """The arguments of calls of our functions: the function, which argument, and its tokens."""
    calls: list[tuple[Function | None, int, list[tuple[str, str]]]] = []
    for kind, piece in tokenize(text):
        if kind in ("func", "open"):
            for _, _, tokens in calls:
                tokens.append((kind, piece))
            calls.append((functions.get(plain_name(piece)) if kind == "func" else None, 0, []))
            continue
        if calls and (kind == "close" or (kind == "sep" and piece == ",")):
            function, index, tokens = calls.pop()
            if function is not None:
                yield function, index, tokens
            if kind == "sep":
                calls.append((function, index + 1, []))
        for _, _, tokens in calls[: len(calls) - (kind == "sep")]:
            if kind != "space":
                tokens.append((kind, piece))


def _is_share(parameter: Parameter) -> bool:
    dimension = getattr(parameter.quantity, "dimension", None)
    return dimension is not None and dimension.name.startswith("share") and parameter.limits.high <= 1


def _reference(tokens: list[tuple[str, str]], sheet: str) -> tuple[str, str] | None:
    """The sheet and the cells that an argument is, if it is nothing but a reference."""
    if [kind for kind, _ in tokens] == ["sheet", "ref"]:
        return sheet_name(tokens[0][1]), tokens[1][1]
    return (sheet, tokens[0][1]) if [kind for kind, _ in tokens] == ["ref"] else None


def _shares(book: Book, add: Add) -> None:
    """Cells that hold 5.5 where a share of 5.5 % is wanted."""
    seen: set[Place] = set()
    for place in book.ours:
        if book.stands(place):
            continue
        formula = book.engine.formula(*place) or ""
        for function, index, tokens in _arguments(formula.removeprefix("="), book.functions):
            if index >= len(function.params) or not _is_share(function.params[index]):
                continue
            where = _reference(tokens, place[0]) or _named(book, tokens)
            for cell, value in _cells(book, where):
                if isinstance(value, float) and 1 < value <= 100 and cell not in seen:
                    seen.add(cell)
                    add(
                        SHARE,
                        cell,
                        f"{value:g} is used as {function.params[index].name} by {function.name}, which is a share: "
                        f"write {value:g} % or {value / 100:g}",
                        repair=f"{value / 100:g}",
                    )


def _named(book: Book, tokens: list[tuple[str, str]]) -> tuple[str, str] | None:
    if [kind for kind, _ in tokens] != ["name"]:
        return None
    name = book.rewriter.name(tokens[0][1], "")
    if name is None:
        return None
    sheet, _, cells = name.text.rpartition("!")
    return (sheet_name(sheet), cells) if sheet else None


def _cells(book: Book, where: tuple[str, str] | None) -> Iterator[tuple[Place, Value]]:
    """The cells of a reference with their values; nothing of what is too large or isn't there."""
    if where is None:
        return
    sheet = book.package.find_sheet(where[0])
    box = _clipped(book, sheet, where[1]) if sheet else None
    if sheet is None or box is None:
        return
    for row, values in enumerate(book.engine.values(sheet, box), box.top):
        for column, value in enumerate(values, box.left):
            yield (sheet, row, column), value


def _clipped(book: Book, sheet: str, reference: str) -> Box | None:
    """The used part of a reference such as B2:B9, B:B or 3:4."""
    last_row, last_column = book.package.sheet(sheet).used
    try:
        box = whole_range(reference)
    except BrewError:
        return None
    box = Box(box.top, box.left, min(box.bottom, last_row), min(box.right, last_column))
    if box.top > box.bottom or box.left > box.right:
        return None
    return box if box.size <= _MAX_CELLS else None


class _Texts:
    """The cells of a workbook that hold text, each sheet gone through once however many ranges are asked for."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._found: dict[str, dict[int, list[tuple[int, str]]]] = {}

    def within(self, where: tuple[str, str]) -> Iterator[tuple[Place, str]]:
        sheet = self._book.package.find_sheet(where[0])
        box = _clipped(self._book, sheet, where[1]) if sheet else None
        if sheet is None or box is None:
            return
        if sheet not in self._found:
            self._found[sheet] = self._read(sheet)
        for column, cells in self._found[sheet].items():
            if box.left <= column <= box.right:
                for at in range(bisect_left(cells, (box.top, "")), len(cells)):
                    row, text = cells[at]
                    if row > box.bottom:
                        break
                    yield (sheet, row, column), text

    def _read(self, sheet: str) -> dict[int, list[tuple[int, str]]]:
        found: dict[int, list[tuple[int, str]]] = {}
        rows, columns = self._book.package.sheet(sheet).used
        step = max(1, _MAX_CELLS // max(columns, 1))
        for top in range(1, rows + 1, step):
            box = Box(top, 1, min(top + step - 1, rows), columns)
            for row, values in enumerate(self._book.engine.values(sheet, box), top):
                for column, value in enumerate(values, 1):
                    if isinstance(value, str) and value.strip():
                        found.setdefault(column, []).append((row, value))
        return found


def _sums(book: Book, add: Add) -> None:
    """Texts that a sum passes over without a word."""
    done: set[tuple[str, str]] = set()
    seen: set[Place] = set()
    texts = _Texts(book)
    for place in book.places():
        if book.stands(place):
            continue
        cell = book.cell(place)
        if cell is not None and cell.kind != "shared" and not _SUM.search(cell.raw_formula):
            continue
        formula = (book.engine.formula(*place) or "").removeprefix("=")
        for function, where in _summed(formula, place[0]):
            if where in done:
                continue
            done.add(where)
            whole = not re.search(r"\d", where[1]) or not re.search(r"[A-Za-z]", where[1])
            for spot, value in texts.within(where):
                if spot in seen:
                    continue
                number = _is_quantity(value)
                if whole and not number:
                    continue  # a heading: whole columns are summed heading and all
                seen.add(spot)
                kind = "looks like a number but is text" if number else "is text"
                add(TEXT_IN_SUM, spot, f'"{value}" {kind}, and {function} in {written_place(place)} passes over it')


_SUM = re.compile(rb"(?i)SUM|AVERAGE|MIN|MAX|PRODUCT|MEDIAN|STDEV")


def _summed(formula: str, sheet: str) -> Iterator[tuple[str, tuple[str, str]]]:
    """The ranges that are arguments of a sum."""
    calls: list[str] = []
    prefix = sheet
    for kind, text in tokenize(formula):
        if kind in ("func", "open"):
            calls.append(plain_name(text) if kind == "func" else "")
        elif kind == "close" and calls:
            calls.pop()
        elif kind == "sheet":
            prefix = sheet_name(text)
            continue
        elif kind == "ref" and calls and calls[-1] in _SUMS:
            yield calls[-1], (prefix, text)
        prefix = sheet


def _is_quantity(text: str) -> bool:
    try:
        units.parse(text)
    except BrewError:
        return False
    return True
