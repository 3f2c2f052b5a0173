"""A whole batch typed into generated workbooks, in a LibreOffice window, with a keyboard.

The entries are made from the workbook's own inputs, so that a new one is typed without a line here. What the window
then shows is compared, cell by cell on every sheet, with what `record` makes of the same entries.
"""

from __future__ import annotations

import datetime
import math
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils.cell import coordinate_to_tuple

from brewfuncs import units
from brewfuncs.batch import demo
from brewfuncs.batch.entry import least_share
from brewfuncs.batch.generate import new
from brewfuncs.batch.inputs import Amount, Input
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.record import record
from brewfuncs.batch.sections import input_cells
from brewfuncs.errors import BrewError, CellError
from brewfuncs.xlsx.package import Package
from tests.parity import Code
from tests.window import Sheets, Window, require_window

BOOKS = {
    "metric": lambda: new(Plan.of(demo.SLATE_PILSNER), units="metric"),
    "us": lambda: new(Plan.of(demo.HARD_WATER), units="us"),
    "empty": lambda: new(Plan.empty()),
}
ALL_ROWS = "us"  # typed into the book that has every sheet; rows of a table share their rules, the others type two
ROWS = 2
DAY = datetime.date(2026, 4, 18)


@pytest.fixture(scope="module")
def open_window(calc_addin: Path) -> Iterator[Window]:
    """One for all tests of a process: to start it costs as much as a hundred entries."""
    require_window()
    running = Window(calc_addin)
    yield running
    running.close()


@pytest.fixture
def window(open_window: Window) -> Window:
    open_window.entries = 0
    return open_window


@pytest.fixture(params=BOOKS)
def book(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path = tmp_path / f"{request.param}.xlsx"
    path.write_bytes(BOOKS[request.param]())
    return path


class Entries:
    """What is typed into a workbook: unit cells first, then inputs, sheet by sheet."""

    def __init__(self, path: Path, all_rows: bool) -> None:
        self.made = openpyxl.load_workbook(path)
        plan = Plan.of(demo.HARD_WATER | demo.LANTERN_PALE_MEASURED, measured=True)
        self.usual = dict(plan.entries())
        self.all_rows = all_rows
        self.units: dict[str, str] = {}
        self.values: dict[str, str] = {}
        for number, (name, (item, unit_cell)) in enumerate(input_cells().items()):
            if not self._wanted(name):
                continue
            if item.unit_choices and unit_cell not in self.units and self._free(unit_cell):
                self.units[unit_cell] = item.unit_choices[number % len(item.unit_choices)]
            self.values[name] = self._value(number, name, item, self.units.get(unit_cell) or self._present(unit_cell))

    def _wanted(self, name: str) -> bool:
        if name not in self.made.defined_names:
            return False  # of the sheet Water, which only one of the books has
        row = next((int(part) for part in name.split("_") if part.isdigit()), 0)
        return self.all_rows or row <= ROWS

    def place(self, name: str) -> tuple[str, str]:
        ((sheet, address),) = self.made.defined_names[name].destinations
        return sheet, address.replace("$", "")

    def order(self, name: str) -> tuple[str, int, bool]:
        """From the top of each sheet to its bottom, a unit before the figure beside it."""
        sheet, address = self.place(name)
        return sheet, coordinate_to_tuple(address)[0], name in self.values

    def _cell(self, name: str) -> Any:
        sheet, address = self.place(name)
        return self.made[sheet][address]

    def _free(self, name: str) -> bool:
        return name in self.made.defined_names and not self._cell(name).protection.locked

    def _present(self, name: str) -> Any:
        return self._cell(name).value if name in self.made.defined_names else None

    def _value(self, number: int, name: str, item: Input, symbol: str | None) -> str:
        """Something else than what is there, within the input's range, as it is typed."""
        present = self._present(name)
        if item.words:
            return next(word for word in reversed(item.words) if word != present)
        if item.is_text:
            return f"{number} {item.label}"  # begins like no other, or the program would complete it
        if item.is_date:
            return (DAY + datetime.timedelta(days=number % 28)).isoformat()
        if item.of == "time":
            return f"{10 + number % 8}:30"
        for share_of_range in (0.62, 0.41, 0.35):
            amount = self._usual(name, item, share_of_range)
            typed = amount * 100 if item.is_share else amount
            if symbol and item.unit_choices:
                typed = units.convert(typed, item.quantity.symbol, symbol)
            digits = 4 if abs(typed) > 1 else 10  # a spoonful in hectolitres
            text = f"{typed:.4g}" if 1e-4 < abs(typed) < 1e4 else f"{typed:.{digits}f}".rstrip("0").rstrip(".")
            shown = float(text) / 100 if item.is_share else float(text)
            if taken(item, shown, symbol) and shown != present:
                return text
        raise AssertionError(f"nothing to type into {name}")

    def _usual(self, name: str, item: Input, share_of_range: float) -> float:
        """A figure of the invented batch where it has one, some other in the range elsewhere, in the formulas' unit."""
        value = self.usual.get(name)
        if isinstance(value, Amount) and share_of_range > 0.6:
            base = item.quantity.symbol
            usual = value.number if value.unit in ("", base) else units.convert(value.number, value.unit, base)
            return usual * 1.02 if taken(item, usual * 1.02, "") else usual
        limits = item.parameter.limits
        low = max(limits.low, least_share(item), -1e6)
        high = min(limits.high, low + 1.0 if limits.high > 1e6 else limits.high)
        return low + share_of_range * (high - low)


def taken(item: Input, number: float, symbol: str | None) -> bool:
    if item.is_share and 0 < number < least_share(item):
        return False
    try:
        item.parameter.read(f"{number!r} {symbol if item.unit_choices and symbol else ''}".strip())
    except BrewError:
        return False
    return True


def as_recorded(item: Input, text: str) -> str:
    return f"{text} %" if item.is_share else text


def test_a_batch_typed_from_plan_to_package_is_what_record_makes_of_it(
    window: Window, book: Path, tmp_path: Path
) -> None:
    entries = Entries(book, all_rows=book.stem == ALL_ROWS)
    recorded = shutil.copy(book, tmp_path / "recorded.xlsx")
    known = input_cells()
    record(recorded, entries.units | {n: as_recorded(known[n][0], text) for n, text in entries.values.items()})
    with window.document(book) as sheets:
        for name in sorted(entries.units | entries.values, key=entries.order):
            if name in entries.units:
                typed = sheets.choose(name, entries.units[name])
            elif known[name][0].words:
                typed = sheets.choose(name, entries.values[name])
            else:
                typed = sheets.type(name, entries.values[name])
            assert not typed.refused, (name, entries.units.get(known.get(name, ("", ""))[1]), typed)
        assert differences(sheets, recorded) == []
    assert window.entries == len(entries.units) + len(entries.values) > (450 if entries.all_rows else 200)


def differences(sheets: Sheets, recorded: Path) -> list[str]:
    """Every cell of every sheet that shows something else in the window than in the recorded file."""
    wrong, compared = [], 0
    with Package(recorded) as package:
        for title in sheets.sheets():
            rows, columns = sheets.used(title)
            last = openpyxl.utils.get_column_letter(columns)
            for y, row in enumerate(sheets.values(title, f"A1:{last}{rows}"), 1):
                for x, shown in enumerate(row, 1):
                    wanted = package.sheet(title).value(y, x)
                    compared += wanted is not None
                    if not same(shown, wanted):
                        wrong.append(f"{title}!{openpyxl.utils.get_column_letter(x)}{y}: {shown!r}, not {wanted!r}")
    assert compared > 1500
    return wrong


def same(shown: Any, wanted: Any) -> bool:
    if isinstance(wanted, CellError):
        return isinstance(shown, Code) and str(shown) == wanted.code
    if isinstance(wanted, bool):
        wanted = float(wanted)
    if isinstance(wanted, float) and isinstance(shown, float):
        return math.isclose(shown, wanted, rel_tol=1e-6, abs_tol=1e-9)  # two programs add in different orders
    return (shown or "") == (wanted or "")


WRONG = [
    ("batch_volume", "sixty", "A number is wanted, more than 0 L."),
    ("batch_volume", "-3", "A number is wanted, more than 0 L."),
    ("mash_temp", "660", "A number is wanted, 0 to 100 °C."),
    ("hop_1_alpha", "0.055", "type 5.5 for 5.5 %"),
    ("mash_efficiency", "0.73", "type 73 for 73 %"),
    ("mash_efficiency", "75%", "type 73 for 73 %"),  # LibreOffice adds a second sign
    ("mash_efficiency", "730", "type 73 for 73 %"),
    ("batch_date", "2026-13-45", "Write a date, such as 2026-03-14."),
    ("batch_date", "14", "Write a date, such as 2026-03-14."),
    ("batch_volume_unit", "zorkmid", "Choose one"),
    ("boil_kettle", "zorkmid", "Choose one of: open, covered."),
    ("batch_name", "x" * 81, "at most 80 characters"),
]


def test_a_wrong_entry_is_refused_with_a_sentence_and_changes_nothing(window: Window, tmp_path: Path) -> None:
    path = tmp_path / "metric.xlsx"
    path.write_bytes(BOOKS["metric"]())
    before = shutil.copy(path, tmp_path / "before.xlsx")
    with window.document(path) as sheets:
        for name, text, sentence in WRONG:
            typed = sheets.type(name, text)
            assert sentence in typed.refused, (name, text, typed)
        assert differences(sheets, before) == []
        assert sheets.type("batch_gravity", "1.0485").shown == "1.0485"
        assert sheets.type("batch_date", "2026-05-09").shown == "2026-05-09"
        assert sheets.type("mash_efficiency", "71.5").shown == "71.5 %"
    assert window.entries == len(WRONG) + 3


WRONG_WATER = [
    ("water_calcium", "-1", "A number is wanted, 0 mg/L or more."),
    ("water_ph", "74", "A number is wanted, 5 to 10 pH."),
    ("water_mash_ph", "54", "A number is wanted, 4.5 to 7 pH."),
    ("water_distilled", "400", "type 73 for 73 %"),
    ("water_distilled", "0.4", "type 73 for 73 %"),
    ("water_mash_acid_share", "0.8", "type 73 for 73 %"),
    ("water_mash_acid", "vinegar", "Choose one of: lactic, phosphoric."),
    ("water_mash_acid_density", "1190", "A number is wanted, 0.9 to 2 kg/L."),
    ("salt_3_name", "plaster", "Choose one"),
    ("salt_3_mass", "-2", "A number is wanted, 0 g or more."),
    ("salt_3_into", "kettle", "Choose one of: mash, sparge, both."),
    ("malt_2_kind", "sour", "Choose one"),
    ("malt_2_ph", "57", "A number is wanted, 3 to 8 pH."),
    ("malt_2_buffering", "0", "A number is wanted, 5 to 200 meq/kg/pH."),
    ("mash_ph_read", "54", "A number is wanted, 3 to 8 pH."),
]


def test_a_slip_on_the_sheet_water_is_refused(window: Window, tmp_path: Path) -> None:
    path = tmp_path / "water.xlsx"
    path.write_bytes(new(Plan.of(demo.HARD_WATER)))
    before = shutil.copy(path, tmp_path / "before.xlsx")
    with window.document(path) as sheets:
        for name, text, sentence in WRONG_WATER:
            typed = sheets.type(name, text)
            assert sentence in typed.refused, (name, text, typed)
        assert differences(sheets, before) == []
        assert sheets.type("water_distilled", "35").shown == "35.0 %"
        assert sheets.type("mash_ph_read", "5.48").shown == "5.48"
    assert window.entries == len(WRONG_WATER) + 2


def test_where_the_functions_are_off_a_line_above_the_sheet_says_so(
    calc_addin: Path, elsewhere: dict[str, str], window: Window, tmp_path: Path
) -> None:
    require_window()
    path = tmp_path / "batch.xlsx"
    path.write_bytes(BOOKS["metric"]())
    with window.document(path) as sheets:
        assert not sheets.infobar("brewfuncs", 3)
    other = Window(calc_addin, elsewhere)
    try:
        with other.document(path) as sheets:
            assert sheets.infobar("brewfuncs", 60)
    finally:
        other.close()
