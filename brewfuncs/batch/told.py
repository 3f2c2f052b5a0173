"""What a measurement changed, as a brewer reads it: by sheet, with the labels and units that stand beside the cells.

Everything is read off the workbook itself, so that no sheet has to say twice what its cells are called.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from brewfuncs import units
from brewfuncs.batch.sections import input_cells
from brewfuncs.batch.wording import LOOK_WORD
from brewfuncs.errors import BrewError, CellError
from brewfuncs.workbook.places import Place, cell_names, find_cell
from brewfuncs.workbook.report import Change, Report
from brewfuncs.workbook.versions import VERSION_PROPERTY
from brewfuncs.xlsx.address import parse_address
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value

__all__ = ["Setting", "Told", "settings", "told"]


_SPAN = re.compile(r"[\d.]+ to [\d.]+")  # a figure, although it has spaces
_OF_A_ROW = re.compile(r"^([a-z]+_)\d+_")  # how the names of a table's cells begin
_DAY_OF_A_ROW = re.compile(_OF_A_ROW.pattern + "day")
_NAME_OF_A_ROW = re.compile(_OF_A_ROW.pattern + "named")


@dataclass(frozen=True)
class Told:
    """A cell that changed, in the words beside it; a sentence has no label."""

    sheet: str
    label: str
    old: str
    new: str
    unit: str
    is_input: bool = False

    @property
    def is_sentence(self) -> bool:
        return not self.label


@dataclass(frozen=True)
class Setting:
    """A cell that `record` can set."""

    name: str
    sheet: str
    label: str
    value: str  # as the sheet shows it; "" while it is blank
    unit: str


def told(report: Report) -> list[Told] | None:
    """What changed on the sheets of a batch workbook, to the digits they show; None for any other workbook."""
    with Package(report.path) as package:
        sheets = _Sheets(package)
        if not sheets.ours:
            return None
        found = [sheets.told(change, is_input=True) for change in report.inputs]
        found += [sheets.told(change) for change in report.changes]
        return list(dict.fromkeys(one for one in found if one is not None))  # the same words twice tell nothing new


def settings(path: str) -> list[Setting]:
    """The cells that `record` can set: the inputs of a batch workbook, or every named cell without a formula."""
    with Package(path) as package:
        sheets = _Sheets(package)
        wanted = input_cells()
        listed = []
        for place, name in sheets.names.items():
            if place[0] not in package.sheet_parts or place[1:] in package.sheet(place[0]).formulas:
                continue
            if sheets.ours and name not in wanted:
                continue
            listed.append((place, name))
        order = list(package.sheet_parts)
        listed.sort(key=lambda item: (order.index(item[0][0]), item[0][1:]))
        return [sheets.setting(place, name) for place, name in listed]


class _Sheets:
    """The cells of a workbook with what stands beside them."""

    def __init__(self, package: Package) -> None:
        self.package = package
        self.ours = VERSION_PROPERTY in package.properties
        self._grids: dict[str, dict[tuple[int, int], Value]] = {}

    @cached_property
    def names(self) -> dict[Place, str]:
        return cell_names(self.package)

    @cached_property
    def _places(self) -> dict[str, Place]:
        return {name: place for place, name in self.names.items()}

    def _grid(self, sheet: str) -> dict[tuple[int, int], Value]:
        if sheet not in self._grids:
            self._grids[sheet] = self.package.sheet(sheet).filled()
        return self._grids[sheet]

    def told(self, change: Change, is_input: bool = False) -> Told | None:
        """The change in words; None where nobody would see it: on a hidden sheet, or past the digits shown."""
        if change.sheet in self.package.hidden_sheets:
            return None
        if _NAME_OF_A_ROW.fullmatch(change.name or ""):  # an input's, shown once more
            return None
        place = (change.sheet, *parse_address(change.cell))
        words = change.new if isinstance(change.new, str) and not is_input else ""
        if " " in words and not _SPAN.fullmatch(words):
            # advice and states: the words themselves; what has no name explains others and can be read on the sheet
            if _OF_A_ROW.match(change.name or ""):  # which one is told with it: a hop, a malt, a part
                words = f"{self.label(place)}: {words}"
            named = change.name is not None or words.startswith(LOOK_WORD)
            return Told(change.sheet, "", "", words, "") if named else None
        if words and _is_unit_text(words):  # told with the figure that is in it
            return None
        unit = self.unit(place)
        old, new = (self.written(place, value, unit) for value in (change.old, change.new))
        if old == new or isinstance(change.new, (bool, CellError)):  # an error is told with its reason
            return None
        if not is_input and (unit, change.name) == ("", None) and not isinstance(change.new, float):
            return None
        label = self.label(place) or change.name or ""
        return Told(change.sheet, label, old, new, unit, is_input) if label else None

    def setting(self, place: Place, name: str) -> Setting:
        unit = self.unit(place)
        value = self._grid(place[0]).get(place[1:])
        shown = "" if value is None else self.written(place, value, unit)
        return Setting(name, place[0], self.label(place), shown, unit)

    def label(self, place: Place) -> str:
        """The text to the left of a cell; in a list, the head of its column and the name of its row."""
        known = input_cells().get(self.names.get(place, "")) if self.ours else None
        if known:
            of_row = self._row_name(place) if known[0].key != "name" else ""
            return f"{of_row}, {known[0].label}" if of_row else known[0].label
        sheet, row, column = place
        grid = self._grid(sheet)
        beside_input = self._in_use(place)
        if beside_input:
            return beside_input
        left = [(at, grid[row, at]) for at in range(column - 1, 0, -1) if (row, at) in grid]
        beside = left[0][1] if left else None
        of_row = self._row_name(place)
        is_label = isinstance(beside, str) and not self._is_unit(sheet, row, left[0][0]) and not _is_unit_text(beside)
        if is_label and not of_row:
            return str(beside).rstrip(" :")
        texts = (
            grid[at, column] for at in range(self._top(place) - 1, 0, -1) if isinstance(grid.get((at, column)), str)
        )
        above = (text for text in texts if not _is_unit_text(str(text)))
        head = str(next(above, "")).replace("\n", " ")
        named = of_row or next((str(value) for _, value in reversed(left) if isinstance(value, str)), "")
        return f"{named}, {head}" if named and head else named or head

    def _top(self, place: Place) -> int:
        """The row of a cell, or the first of its table: under the head, whatever words stand between."""
        first = _OF_A_ROW.sub(r"\g<1>1_", self.names.get(place, ""))
        at = self._places.get(first, place)
        return at[1] if at[0] == place[0] else place[1]

    def _row_name(self, place: Place) -> str:
        """What stands in the first column of a cell's table, as far as its name tells: two may stand side by side. A
        table that goes on on another sheet says there what its rows are called."""
        row = _OF_A_ROW.match(self.names.get(place, ""))
        named = (self._places.get(f"{row[0]}{ending}") for ending in ("name", "named")) if row else ()
        at = next((at for at in named if at and at[:2] == place[:2]), None)
        return str(self._grid(at[0]).get(at[1:], "")) if at else self._day(place)

    def _day(self, place: Place) -> str:
        """The day of a reading, left of what is read and of what follows from it."""
        sheet, row, column = place
        days = (at for at in range(1, column) if _DAY_OF_A_ROW.fullmatch(self.names.get((sheet, row, at), "")))
        number = self._grid(sheet).get((row, next(days, 0)))
        return f"Day {number:g}" if isinstance(number, float) else ""

    def _in_use(self, place: Place) -> str:
        """The label of the figure that stands beside a blank reading, right of its unit, and is used in its place."""
        reading = self.names.get((*place[:2], place[2] - 1), "").removesuffix("_unit")
        known = input_cells().get(reading)
        return f"{known[0].label}, in use" if known and f"{reading}_beside" in self._places else ""

    def unit(self, place: Place) -> str:
        """The unit stated beside a cell."""
        name = self.names.get(place, "")
        cell = f"{name}_unit"
        known = input_cells().get(name) if self.ours else None
        for candidate in (known[1] if known else cell, cell):
            if name and self.package.names_called(candidate):
                at = find_cell(self.package, candidate)
                return str(self._grid(at[0]).get(at[1:], ""))
        sheet, row, column = place
        beside = self._grid(sheet).get((row, column + 1))
        return beside if isinstance(beside, str) and _is_unit_text(beside) else ""

    def _is_unit(self, sheet: str, row: int, column: int) -> bool:
        return self.names.get((sheet, row, column), "").endswith("_unit")

    def written(self, place: Place, value: Value, unit: str) -> str:
        """A value with the digits that its cell shows."""
        if value is None or value == "":
            return "blank"
        if isinstance(value, CellError):
            return value.code
        if isinstance(value, bool):
            return str(value).upper()
        if isinstance(value, str):
            return value
        style = self.package.sheet(place[0]).style(*place[1:])
        code = self.package.formats.code(style)
        day = self.package.date(value) if self.package.formats.shows_dates(style) else None
        if day is not None:
            return day.isoformat()
        if self.package.formats.shows_times(style):
            hour, minute = divmod(round(value * 1440) % 1440, 60)  # rounded first: 7:00 may be a hair under it
            return f"{hour:02}:{minute:02}"
        sections = code.split(";")
        pattern = sections[0] if abs(value) < 10 or len(sections) == 1 else sections[1]
        digits = re.search(r"0(?:\.([0#]+))?", pattern)
        if digits is None:
            return f"{value:.6g}"
        places, share = digits[1] or "", "%" in pattern
        if unit == "SG":
            places = max(places, "000", key=len)
        number = round(100 * value if share else value, len(places)) + 0.0  # and not -0.0
        shown = f"{number:.{len(places)}f}"
        for _ in range(places.count("#")):  # digits that are shown where they aren't 0
            shown = shown.removesuffix("0")
        return shown.removesuffix(".") + (" %" if share else "")


def _is_unit_text(text: str) -> bool:
    try:
        units.convert(1.0, text, text)
    except BrewError:
        return False
    return True
