"""What may be typed into the inputs: every rule of every kind of generated workbook, read from the file and evaluated.

What must pass and what must not comes from the inputs' declarations, as `record` reads them; a rule is evaluated here
as the file format defines it (ECMA-376 18.3.1.32), its formulas by the engine.
"""

from __future__ import annotations

import datetime
import io
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from typing import Any

import openpyxl
import pytest
from openpyxl.utils.cell import range_boundaries
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from brewfuncs import units
from brewfuncs.batch import demo
from brewfuncs.batch.generate import new
from brewfuncs.batch.inputs import Input
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import input_cells
from brewfuncs.errors import BrewError
from brewfuncs.hosts.engine import evaluate

BOOKS = {
    "metric": lambda: new(Plan.of(demo.HARD_WATER), units="metric"),
    "us": lambda: new(Plan.of(demo.HARD_WATER), units="us"),
    "empty": lambda: new(Plan.empty(with_optional=True)),
}
HUGE = 1e300
#: less than this of one of these was typed for per cent: rarest hops 0.3 %, and 1.2 % is 120 % (by reason, no source)
LEAST = {
    "alpha": 0.003, "yield": 0.01, "efficiency": 0.01, "attenuation": 0.012, "mash_acid_share": 0.011,
    "sparge_acid_share": 0.011, "distilled": 0.011, "slurry_viability": 0.011,
}  # fmt: skip


@pytest.fixture(scope="module", params=BOOKS)
def book(request: pytest.FixtureRequest) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(BOOKS[request.param]()))


def cell_of(book: openpyxl.Workbook, name: str) -> tuple[Worksheet, str]:
    ((sheet, address),) = book.defined_names[name].destinations
    return book[sheet], address.replace("$", "")


def rules_at(sheet: Worksheet, address: str) -> list[DataValidation]:
    return [rule for rule in sheet.data_validations.dataValidation if address in rule.sqref]


def computed(formula: str, address: str, value: Any, names: dict[str, str]) -> Any:
    """A rule's formula worked out, with what was typed in the cell and the units in theirs."""
    for name, text in names.items():
        formula = re.sub(rf"\b{name}\b", f'"{text}"', formula)
    literal = f'"{value}"' if isinstance(value, str) else repr(value)
    formula = re.sub(rf"\b{address}\b", literal, formula)
    return worked_out(f"={formula}")


@cache
def worked_out(formula: str) -> Any:
    return evaluate(formula)


def takes(rule: DataValidation, address: str, value: Any, names: dict[str, str]) -> bool:
    """Whether a spreadsheet program takes what was typed into the cell."""
    low, high = (f and computed(f, address, value, names) for f in (rule.formula1, rule.formula2))
    if rule.type == "list":
        return value in str(low).split(",")
    if rule.type == "custom":
        return low is True
    if rule.type == "textLength":
        value = float(len(str(value)))
    if isinstance(value, str):
        return False
    assert isinstance(low, float), low  # a word in its place, such as an operator, is no rule at all
    match rule.operator or "between":
        case "between":
            assert isinstance(high, float), high
            return low <= value <= high
        case "greaterThan":
            return value > low
        case "greaterThanOrEqual":
            return value >= low
        case "lessThanOrEqual":
            return value <= low
    raise AssertionError(f"{rule.operator} is used nowhere")


def meant(item: Input, number: float, symbol: str) -> bool:
    """Whether the declaration takes it."""
    if item.is_share and 0 < number < LEAST.get(item.key, 0.0):
        return False
    if symbol and item.parameter.limits.low == 0 == units.convert(0.0, item.quantity.symbol, symbol) and number < 0:
        return False  # converted, a colour below none is a small one
    try:
        item.parameter.read(f"{number!r} {symbol}".strip())
    except BrewError:
        return False
    return True


def tried(item: Input, symbol: str) -> Iterator[float]:
    """Numbers about the ends of the range in this unit, and some from everywhere. A rule has ten digits of an end."""
    limits, base = item.parameter.limits, item.quantity.symbol
    ends = [end for end in (limits.low, limits.high) if abs(end) < HUGE]
    for end in ends:
        there = units.convert(end, base, symbol) if symbol else end
        yield from (there - 1e-3 * max(1.0, abs(there)), there + 1e-3 * max(1.0, abs(there)))
        yield from (there - 1e-6 * max(1.0, abs(there)), there + 1e-6 * max(1.0, abs(there)))
        if symbol in ("", base) or end == there == 0:  # converted there and back, it may be off by a digit
            yield there
    yield from (-5000.0, -1.0, 0.5, 1.0, 1.05, 5.0, 12.5, 66.0, 150.0, 5000.0)
    if item.is_share:
        yield from (0.055, 0.00055, 0.73, 5.5, 73.0)
        if least := LEAST.get(item.key):
            yield from (least, least - 1e-6, least + 1e-6)
    if not ends:
        yield 1e6


def test_every_input_takes_what_its_declaration_takes_and_refuses_the_rest(book: openpyxl.Workbook) -> None:
    counted: dict[bool, int] = defaultdict(int)
    for name, (item, unit_cell) in input_cells().items():
        sheet, address = cell_of(book, name)
        (rule,) = rules_at(sheet, address)
        assert rule.errorStyle in (None, "stop"), name
        assert rule.showErrorMessage, name
        assert rule.error, name
        assert len(rule.error) <= 255
        for value, symbol, wanted in entries(item):
            names = {unit_cell: symbol} if item.unit_choices else {}
            got = takes(rule, address, value, names)
            assert got == wanted, (name, value, symbol, rule.type, rule.operator, rule.formula1, rule.formula2)
            counted[wanted] += 1
    assert min(counted.values()) > 1000, counted


def entries(item: Input) -> Iterator[tuple[Any, str, bool]]:
    """What is typed, the unit beside it, and whether it is to be taken."""
    if item.words:
        yield from ((word, "", True) for word in item.words)
        yield "dollop", "", False
    elif item.is_text:
        yield "Lantern Pale", "", True
        yield from (("x" * 80, "", True), ("x" * 81, "", False))
    elif item.is_date:
        yield serial(datetime.date(2026, 3, 14)), "", True
        yield from ((14.0, "", False), ("2026-13-45", "", False))
        yield from ((serial(datetime.date(2000, 1, 1)), "", True), (serial(datetime.date(1999, 12, 31)), "", False))
    elif item.of == "time":
        yield from ((0.4375, "", True), (10.5, "", False), ("half past", "", False))
        yield from ((0.0, "", True), (1439 / 1440, "", True), (1.0, "", False), (-0.1, "", False))
    else:
        for symbol in item.unit_choices or ("",):
            yield "sixty", symbol, False
            yield from ((number, symbol, meant(item, number, symbol)) for number in tried(item, symbol))


def serial(day: datetime.date) -> float:
    return float((day - datetime.date(1899, 12, 30)).days)


def test_a_share_typed_for_per_cent_is_refused_with_a_sentence_that_says_what_to_type(book: openpyxl.Workbook) -> None:
    sheet, address = cell_of(book, "hop_1_alpha")
    (rule,) = rules_at(sheet, address)
    assert not takes(rule, address, 0.00055, {})  # 0.055 typed into a cell that shows per cent
    assert takes(rule, address, 0.055, {})
    assert rule.error == (
        "A share of 0 % to 65 % is wanted: type 5.5 for 5.5 %, without the sign. Less than 0.3 % can't be meant."
    )
    assert rule.showInputMessage
    assert rule.prompt == "Type 5.5 for 5.5 %"


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("cleaning_humidity", "A share of 0 % to 100 % is wanted: type 73 for 73 %, without the sign."),
        ("mash_temp", "A number is wanted, 0 to 100 °C. Its unit stands in a cell of its own."),
        ("kettle_size", "A number is wanted, more than 0 L. Its unit stands in a cell of its own."),
        ("cleaning_air_moves", "A number is wanted, more than 0 W/m²K."),
        ("batch_date", "Write a date, such as 2026-03-14."),
        ("boil_kettle", "Choose one of: open, covered."),
    ],
)
def test_sentences_say_what_is_wanted(book: openpyxl.Workbook, name: str, sentence: str) -> None:
    sheet, address = cell_of(book, name)
    (rule,) = rules_at(sheet, address)
    assert rule.error == sentence


def test_every_cell_one_can_type_into_has_one_rule_and_no_other_cell_has_one(book: openpyxl.Workbook) -> None:
    counted = 0
    for sheet in book.worksheets:
        merged = {
            (row, column)
            for area in sheet.merged_cells.ranges
            for row, column in [*area.cells][1:]
        }  # fmt: skip
        free = {
            cell.coordinate
            for row in sheet.iter_rows()
            for cell in row
            if not cell.protection.locked and (cell.row, cell.column) not in merged
        }
        ruled = [address for rule in sheet.data_validations.dataValidation for address in cells(rule)]
        assert sorted(ruled) == sorted(free), sheet.title
        counted += len(free)
    assert counted > len(input_cells())  # and the cells that choose a unit


def cells(rule: DataValidation) -> Iterator[str]:
    for area in str(rule.sqref).split():
        left, top, right, bottom = range_boundaries(area)
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                yield f"{openpyxl.utils.get_column_letter(column)}{row}"


def test_a_unit_is_one_of_its_list(book: openpyxl.Workbook) -> None:
    counted = 0
    for item, unit_cell in dict(input_cells().values()).items():
        if item.unit_choices and unit_cell in book.defined_names:
            sheet, address = cell_of(book, unit_cell)
            if sheet[address].protection.locked:
                continue
            (rule,) = rules_at(sheet, address)
            for symbol in item.unit_choices:
                assert takes(rule, address, symbol, {})
            assert not takes(rule, address, "dollop", {})
            counted += 1
    assert counted > 20
