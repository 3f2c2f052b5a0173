"""The layer every sheet of the batch workbook is made with: one look, one rhythm, names for everything.

A sheet is made from the top down:

    page = book.page("Plan", "Plan")                      # title, batch line, print set-up, frozen title
    left, right = page.columns()                          # two blocks side by side, each with its own row
    left.inputs("mash")                                   # from plan.SECTIONS: label, value, unit, converted, note
    left.section("Kettle")
    left.input("kettle.size")                             # or one by one
    right.section("Water")
    right.result("strike_temp", "Strike water", "=MASH_STRIKE_TEMP(...)", units.Celsius, "mash_temp_unit")
    right.state("kettle_state", "Kettle", '=IF(kettle_full>85%,"Look: may boil over","Fits")')
    page.skip_to(left, right)                             # both blocks go on under the longer one
    page.table("hops", {...}, results=[...])              # a table over the full width, one unit cell a column
    page.notes("Boiling wort scalds ...")                 # quiet text over the full width
    page.chart(...)                                       # one question, its answer in the cell above

Formulas refer to cells by name. An input x with a unit has three cells: `x`, `x_unit`, and, out of sight on Workings,
the value in the formulas' unit, `x_in_L` (`suffix` makes the ending). A result is worked out there as `x_in_L`, and
shown in the unit of the cell `x_unit`, which follows an input's unit, as `x`. What formulas read of a measurement is
`x_used` on Workings: the plan's value while nothing is measured, shown beside the reading in the reading's unit.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat
from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.workbook.properties import CalcProperties
from openpyxl.workbook.views import BookView
from openpyxl.worksheet.datavalidation import DataValidation

from brewfuncs import units
from brewfuncs.batch.chart import CHART_ROWS, Chart, draw
from brewfuncs.batch.entry import help_text, one_of, rule
from brewfuncs.batch.looks import ACCENT, BAND, FONT, INK, LOOK, PALE, QUIET, RULE
from brewfuncs.batch.plan import (
    DATE,
    INPUTS,
    TIME,
    Amount,
    Entered,
    Input,
    Plan,
    Section,
    find_section,
    house_unit,
    quantity,
)
from brewfuncs.batch.wording import asks_for_a_look
from brewfuncs.hosts.engine import catalogue

__all__ = [
    "FIRST",
    "LAST",
    "Base",
    "Block",
    "Column",
    "Draft",
    "Page",
    "Result",
    "check_name",
    "number_format",
    "suffix",
]

#: the grid that every sheet shares: A is margin, G the gap between the two blocks
_WIDTHS = {"A": 1.5, "B": 25, "C": 10, "D": 9.5, "E": 9, "F": 8, "G": 2,
           "H": 12, "I": 12, "J": 10, "K": 9.5, "L": 9, "M": 8}  # fmt: skip
FIRST, LAST = "B", "M"
_ROW_HEIGHT = 15.0
_LETTER, _A4 = 1, 9  # how the format numbers them
_PER_WIDTH = 1.1  # characters of type 11 that fit into one unit of column width, with some air
_PER_WIDTH_OF_HEADS = 1.25  # the same of type 10
_NOTE_CHARACTERS = 165  # of quiet text that fit in one line over the full width


# ---------------------------------------------------------------- numbers
_SMALL = "[<10]0.00;0.0"  # a second decimal for small batches and for gallons
_FORMATS = {
    "SG": "0.000", "°P": "0.0", "Brix": "0.0",
    "L": _SMALL, "gal": _SMALL, "imp gal": _SMALL, "qt": "0.0", "pt": "0.0", "hL": "0.00", "bbl": "0.00", "mL": "0.0",
    "fl oz": "0.00", "g": "[<10]0.0;0", "oz": "0.00", "kg": _SMALL, "lb": _SMALL, "°C": "0.0", "°F": "0.0",
    "K": "0.0", "Δ°F": "0.0", "min": "0", "h": "0.00", "d": "General",
    "L/h": _SMALL, "gal/h": _SMALL, "imp gal/h": _SMALL,
    "L/kg": "0.0", "qt/lb": "0.00", "m": "0", "ft": "0", "bar": "0.00", "psi": "0.0", "mg/L": "0", "µg/L": "0",
    "mg/kg": "[<10]0.0;0", "EBC": "0", "SRM": "0", "°L": "0.0", "kWh": "0.0", "kW": "0.0", "vol": "0.0",
    "/min": "0.000",
    "mL/L": "0.0", "fl oz/gal": "0.00", "PU": "0", "pH": "0.00", "kcal/100 mL": "0", "billion cells": "0",
    "meq/kg/pH": "0", "billion/g": "0.0", "billion/mL": "0.00", "million/mL": "0",
    "mg/L per point": "0.00", "kg/L": "0.00", "µm": "0", "m²": "0.00", "million/mL/°P": "0.00", "W/m²K": "0",
}  # fmt: skip


_ENTERED = {
    "0.000": "0.000##", "0.0": "0.0##", "0.00": "0.00##", _SMALL: "0.0##", "[<10]0.0;0": "0.0##", "0": "General",
    "0.0 %": "0.0# %",
}  # fmt: skip
_NUMBERS_OF = {DATE: "yyyy-mm-dd", TIME: "hh:mm"}


def number_format(symbol: str, share: bool = False) -> str:
    """How the trade writes a number in this unit."""
    return "0.0 %" if share else _FORMATS.get(symbol, "General" if not symbol else "0.0")


def entered_format(symbol: str, share: bool = False) -> str:
    """The same for what is typed: no digit of it is hidden."""
    return _ENTERED.get(number_format(symbol, share), number_format(symbol, share))


def suffix(symbol: str) -> str:
    """The ending of the name of a cell that holds a value in this unit.

    >>> suffix("°C"), suffix("µg/L"), suffix("/min"), suffix("°L")
    ('in_C', 'in_ug_L', 'in_per_min', 'in_Lovibond')
    """
    if symbol == "°L":
        return "in_Lovibond"
    plain = re.sub(r"^/", "per_", symbol).translate(str.maketrans("µ²/ ", "u2__", "°"))
    return f"in_{plain}"


# ---------------------------------------------------------------- names
_ADDRESS_LIKE = re.compile(r"[A-Za-z]{1,3}\d+|[Rr]\d*|[Cc]\d*|[Rr]\d*[Cc]\d*|true|false", re.IGNORECASE)


def check_name(name: str) -> str:
    """The name, if every spreadsheet program takes it for one; raises ValueError otherwise."""
    if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", name) or len(name) > 60 or _ADDRESS_LIKE.fullmatch(name):
        raise ValueError(f"{name} can't be the name of a cell")
    if name.upper() in catalogue():
        raise ValueError(f"{name} is the name of a function, and a cell of that name would hide it")
    return name


# ---------------------------------------------------------------- looks
def _font(size: float = 11, bold: bool = False, color: str = INK) -> Font:
    return Font(name=FONT, size=size, bold=bold, color=color)


def _fill(color: str) -> PatternFill:
    return PatternFill("solid", fgColor=color, bgColor=color)


_UNDER = Border(bottom=Side("thin", color=RULE))
_FREE = Protection(locked=False)


def _align(horizontal: str = "left", wrap: bool = False, vertical: str = "center", indent: int = 0) -> Alignment:
    return Alignment(horizontal=horizontal, vertical=vertical, wrap_text=wrap, indent=indent)


_LOOKS: dict[str, dict[str, Any]] = {
    "title": {"font": _font(18, True), "alignment": _align()},
    "subtitle": {"font": _font(11, color=QUIET), "alignment": _align()},
    "section": {"font": _font(12, True), "fill": _fill(BAND), "alignment": _align()},
    "section right": {"font": _font(10, color=QUIET), "fill": _fill(BAND), "alignment": _align("right")},
    "label": {"font": _font(), "alignment": _align()},
    "unit": {"font": _font(color=QUIET), "alignment": _align()},
    "unit right": {"font": _font(color=QUIET), "alignment": _align("right")},
    "quiet": {"font": _font(color=QUIET), "alignment": _align("right")},
    "value": {"font": _font(), "alignment": _align("right")},
    "result": {"font": _font(bold=True, color=ACCENT), "alignment": _align("right")},
    "state": {"font": _font(), "alignment": _align()},
    "answer": {"font": _font(bold=True), "alignment": _align(wrap=True)},
    "note": {"font": _font(10, color=QUIET), "alignment": _align(wrap=True, vertical="top")},
    "head": {
        "font": _font(10, color=QUIET), "border": _UNDER, "alignment": _align("right", wrap=True, vertical="bottom"),
    },
    "head left": {"font": _font(10, color=QUIET), "border": _UNDER, "alignment": _align(wrap=True, vertical="bottom")},
    "input": {
        "fill": _fill(PALE), "border": _UNDER, "font": _font(), "alignment": _align("right"), "protection": _FREE,
    },
    "text": {"font": _font(), "alignment": _align(wrap=True)},
    "input text": {
        "fill": _fill(PALE), "border": _UNDER, "font": _font(), "alignment": _align(wrap=True), "protection": _FREE,
    },
    "input unit": {
        "fill": _fill(PALE), "border": _UNDER, "font": _font(color=QUIET), "alignment": _align(), "protection": _FREE,
    },
    "input unit right": {
        "fill": _fill(PALE), "border": _UNDER, "font": _font(color=QUIET), "alignment": _align("right"),
        "protection": _FREE,
    },
    "listed": {"font": _font(10), "alignment": _align(wrap=True, vertical="top")},
    "sentence": {"font": _font(10), "alignment": _align(wrap=True)},
    "listed name": {"font": _font(10, True), "alignment": _align(wrap=True, vertical="top")},
    "listed quiet": {"font": _font(10, color=QUIET), "alignment": _align(wrap=True, vertical="top", indent=1)},
    "listed head": {"font": _font(10, color=QUIET), "border": _UNDER, "alignment": _align(vertical="bottom", indent=1)},
    "listed value": {"font": _font(10, color=ACCENT), "alignment": _align("right", vertical="top")},
    "listed number": {"font": _font(10, color=QUIET), "alignment": _align("right", vertical="top")},
    "total label": {"font": _font(bold=True), "border": Border(top=Side("thin", color=RULE)), "alignment": _align()},
}  # fmt: skip


# ---------------------------------------------------------------- the workbook
@dataclass(frozen=True)
class Base:
    """Values in the formulas' unit: names and formulas, one or a column of them, which has a name too."""

    names: tuple[str, ...]
    formulas: tuple[str, ...]
    number: str
    column: str = ""


class Draft:
    """The workbook being made: its pages, names, looks, and what stands in its inputs."""

    def __init__(self, plan: Plan, system: str | None) -> None:
        """`system` gives the units that inputs start with; None leaves them as the plan has them."""
        self.system, self.units = (plan.system, plan.units) if system is None else (system, {})
        self.workbook = Workbook()
        del self.workbook["Sheet"]
        self.workbook.calculation = CalcProperties(calcId=191029, fullCalcOnLoad=False)
        self.workbook.views = [BookView(windowWidth=22000, windowHeight=16000)]
        self.workbook._fonts[0] = _font()  # what cells without a look, and widths, go by
        self.values, self.has_water = dict(plan.entries()), plan.has_water
        self.pages: list[Page] = []
        self.bases: list[Base] = []
        self._looks: dict[tuple[str, str], Any] = {}
        self.names: set[str] = set()

    def page(self, name: str, title: str, **settings: Any) -> Page:
        return Page(self, name, title, **settings)

    def finish(self) -> None:
        """When every page is made."""
        for page in self.pages:
            page.finish()

    def define(self, name: str, page: Page, area: str) -> str:
        """Give a cell, or a range, a name of the workbook."""
        check_name(name)
        if name.casefold() in self.names:
            raise ValueError(f"{name} is named twice")
        self.names.add(name.casefold())
        absolute = ":".join(re.sub(r"([A-Z]+)(\d+)", r"$\1$\2", corner) for corner in area.split(":"))
        self.workbook.defined_names[name] = DefinedName(name, attr_text=f"'{page.name}'!{absolute}")
        return name

    def base(self, names: Sequence[str], formulas: Sequence[str], symbol: str, column: str = "") -> None:
        """Put values in the formulas' unit on Workings, out of sight: one, or a column with a name of its own."""
        self.bases.append(Base(tuple(names), tuple(formulas), number_format(symbol), column))

    def dress(self, cell: Cell, look: str, number: str = "General") -> None:
        """Give a cell a look. The named style is made once; a cell then takes a copy of its numbers, which is fast."""
        key = (look, number)
        if key not in self._looks:
            name = f"brewfuncs {look}" + (f" {number}" if number != "General" else "")
            self.workbook.add_named_style(NamedStyle(name, number_format=number, **_LOOKS[look]))
            cell.style = name
            self._looks[key] = cell._style
        cell._style = copy(self._looks[key])  # its own, so that what is changed on one cell stays on it

    def unit(self, names: Iterable[str], item: Input) -> str:
        """The unit that inputs start with, all the same one: the first that the plan chose, or the system's."""
        if not item.unit_choices:
            return item.quantity.symbol
        chosen = (self.units[name] for name in names if name in self.units)
        return next(chosen, item.unit or house_unit(item.quantity.symbol, self.system))

    def start(self, name: str, symbol: str) -> Any:
        """What an input holds at first, in this unit."""
        value: Entered = self.values.get(name)
        if not isinstance(value, Amount):
            return value
        return value.number if value.unit == symbol else units.convert(value.number, value.unit, symbol)


# ---------------------------------------------------------------- a page
@dataclass(frozen=True)
class Column:
    """A column of a table that holds inputs; `converted` is where the value in the formulas' unit stands."""

    at: str
    converted: str = ""
    head: str = ""
    indent: int = 0  # of text that stands right of numbers


@dataclass(frozen=True)
class Result:
    """A column of a table that holds formulas: {n} in one stands for the row's number."""

    at: str
    head: str
    formula: str
    unit: str = ""
    number: str = "General"
    name: str = ""  # with {n}
    look: str = "result"


class Page:
    """One sheet, printed as one page."""

    def __init__(
        self,
        book: Draft,
        name: str,
        title: str,
        subtitle: str = "",
        widths: Mapping[str, float] = _WIDTHS,
        row_height: float = _ROW_HEIGHT,
    ) -> None:
        self.book, self.name, self.row_height = book, name, row_height
        self.sheet = book.workbook.create_sheet(name)
        book.pages.append(self)
        self.row = 4
        self.prints = True  # whether it is one of the sheets that are printed
        self._papers = [1]  # rows with which a sheet of paper begins
        self._free: list[str] = []  # the cells one types into
        self._rules: dict[tuple[Any, ...], DataValidation] = {}
        for letter, width in widths.items():
            self.sheet.column_dimensions[letter].width = width
        self.last = list(widths)[-1]
        self._set_up()
        self.put("B1", title, "title")
        self.sheet.row_dimensions[1].height = 28
        self.put("B2", subtitle or _BATCH_LINE, "subtitle")

    def _set_up(self) -> None:
        sheet = self.sheet
        sheet.sheet_view.showGridLines = False
        sheet.freeze_panes = "A4"
        sheet.sheet_format.defaultRowHeight = self.row_height
        sheet.sheet_format.customHeight = True
        sheet.protection.sheet = True
        sheet.protection.formatColumns = sheet.protection.formatRows = False  # False: allowed
        sheet.page_setup.orientation = "portrait"
        sheet.page_setup.paperSize = _LETTER if self.book.system == "us" else _A4
        sheet.page_setup.fitToWidth = sheet.page_setup.fitToHeight = 1
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        margins = sheet.page_margins
        margins.left = margins.right = margins.top = 0.5
        margins.bottom, margins.header, margins.footer = 0.6, 0.3, 0.3
        sheet.print_options.horizontalCentered = True
        name = self.book.values.get("batch_name")
        sheet.oddFooter.left.text = f"{self.name}" + (f" – {str(name).replace('&', '&&')}" if name else "")
        sheet.oddFooter.right.text = "&P of &N"
        for part in (sheet.oddFooter.left, sheet.oddFooter.right):
            part.font, part.size, part.color = f"{FONT},Regular", 9, QUIET

    def finish(self) -> None:
        """What can be said of a page when all is on it: what of it is printed, and where the cursor stands at first."""
        bottom = self.sheet.max_row
        ends = [row - 1 for row in self._papers[1:]] + [bottom]
        papers = zip(self._papers, ends, strict=True) if self.prints else ()
        areas = [f"A{first}:{self.last}{last}" for first, last in papers]
        # Areas beside it that are hidden: where there are two, LibreOffice draws no lines of page breaks, which it
        # otherwise draws where its standard page would end; and with no other, nothing of the sheet is printed.
        for row in range(bottom + 2, bottom + 4 - len(areas)):
            self.sheet.row_dimensions[row].hidden = True
            areas.append(f"A{row}:A{row}")
        self.sheet.print_area = ",".join(areas)
        first = min(self._free, key=lambda address: coordinate_to_tuple(address), default=self.sheet.freeze_panes)
        for selection in self.sheet.sheet_view.selection:
            selection.activeCell = selection.sqref = first

    # ------------------------------------------------------------ cells
    def put(self, address: str, value: Any, look: str, number: str = "General") -> Cell:
        """Write a cell. A text that isn't ours stays text, even where it looks like a formula: `put_text`."""
        cell: Cell = self.sheet[address]
        cell.value = value
        self.book.dress(cell, look, number)
        return cell

    def put_text(self, address: str, text: str, look: str) -> Cell:
        """Write text of the user's, which is never a formula."""
        cell = self.put(address, None, look)
        if text:
            cell.value = text
            cell.data_type = "s"
            if text[0] in "=+-@'":
                cell.quotePrefix = True
        return cell

    def merge(self, first: str, last: str, row: int, rows: int = 1) -> None:
        self.sheet.merged_cells.add(f"{first}{row}:{last}{row + rows - 1}")  # merge_cells looks at borders: slow

    def note(self, address: str, text: str) -> None:
        """A note on a cell, large enough for its text."""
        if not text:
            return
        lines = sum(-(-len(line) // 44) for line in text.split("\n"))
        self.sheet[address].comment = Comment(text, "brewfuncs", width=320, height=19 * lines + 16)

    def choices(self, address: str, words: Sequence[str]) -> None:
        """A drop-down with these words."""
        self._validate(address, one_of(words))

    def _validate(self, address: str, rule: DataValidation) -> None:
        """Put a cell under a rule; cells under the same share it."""
        key = (rule.type, rule.operator, rule.formula1, rule.formula2, rule.error, rule.prompt)
        if key not in self._rules:
            self._rules[key] = rule
            self.sheet.add_data_validation(rule)
        self._rules[key].add(address)

    def enter(self, address: str, name: str, item: Input, symbol: str = "", unit_cell: str = "") -> str:
        """Make a cell an input, with what stands in it at first; gives the unit it is in, where none was wanted.
        `unit_cell` is the name of the cell that states it, where that isn't the input's own `name_unit`."""
        if item.is_number:
            symbol = symbol or self.book.unit([name], item)
        value = self.book.start(name, symbol)
        if item.is_text:
            self.put_text(address, value or "", "input text")
        else:
            number = _NUMBERS_OF.get(str(item.of)) or entered_format(symbol, item.is_share)
            self.put(address, value, "input text" if item.is_date else "input", number)
        self._free.append(address)
        self._validate(address, rule(item, address, unit_cell or f"{name}_unit"))
        self.book.define(name, self, address)
        self.note(address, help_text(item))
        return symbol

    def unit(self, address: str, item: Input, symbol: str, side: str = "") -> None:
        """The cell with the unit of an input: a drop-down where there is a choice."""
        if item.unit_choices:
            self.put(address, symbol, f"input unit{side}")
            self.choices(address, item.unit_choices)
        else:
            self.put(address, symbol, f"unit{side}")

    def look_here(self, area: str) -> None:
        """Mark the states that ask for a look; the word stands in the cell, the colour only helps to find it."""
        rule = FormulaRule([asks_for_a_look(f"${area.split(':')[0]}")], fill=_fill(LOOK))
        self.sheet.conditional_formatting.add(area, rule)

    def as_gravity(self, area: str, unit_address: str, entered: bool = False) -> None:
        """Gravity is written with three decimals, and with one where its unit is °P; what is entered, in full."""
        column, row = re.fullmatch(r"([A-Z]+)(\d+)", unit_address).groups()  # type: ignore[union-attr]
        number = (entered_format if entered else number_format)("°P")
        style = DifferentialStyle(numFmt=NumberFormat(numFmtId=191 if entered else 190, formatCode=number))
        rule = FormulaRule([f'${column}${row}="°P"'])
        rule.dxf = style
        self.sheet.conditional_formatting.add(area, rule)

    # ------------------------------------------------------------ parts of a page
    def columns(self) -> tuple[Block, Block]:
        """Two blocks side by side, inputs on the left, results on the right."""
        return Block(self, "BCDEF", self.row), Block(self, "HJKLM", self.row)

    def skip_to(self, *blocks: Block, gap: int = 1) -> None:
        """Go on under the longest of these blocks."""
        self.row = max(block.row for block in blocks) + gap

    def next_sheet_of_paper(self) -> None:
        """What follows is printed on a sheet of paper of its own, whatever room there is before it."""
        self.sheet.page_setup.fitToHeight = 0
        self._papers.append(self.row)

    def section(self, title: str, first: str = FIRST, last: str = "") -> None:
        """A band with a title, over the full width."""
        _band(self, self.row, title, first, last or self.last)
        self.row += 1

    def notes(self, *texts: str, first: str = FIRST) -> None:
        """Quiet text over the full width, a row each; in a formula, what stands between quotes is its text."""
        for text in texts:
            self.put(f"{first}{self.row}", text, "note")
            self.merge(first, self.last, self.row)
            shown = "00000".join(re.findall(r'"([^"]*)"', text)) if text.startswith("=") else text
            self.sheet.row_dimensions[self.row].height = 13.5 * max(1, -(-len(shown) // _NOTE_CHARACTERS)) + 1.5
            self.row += 1

    def answer(self, formula: str, lines: int = 1, first: str = FIRST, last: str = "") -> None:
        """The answer to a chart's question, in the cell above it."""
        self.put(f"{first}{self.row}", formula, "answer")
        self.merge(first, last or self.last, self.row)
        self.sheet.row_dimensions[self.row].height = _ROW_HEIGHT * lines
        self.row += 1

    def charts(self, *charts: Chart) -> Block:
        """One or two charts side by side, each with its answer above; gives the block beside a single one."""
        beside = Block(self, "HJKLM", self.row + 1)
        for chart, (first, last) in zip(charts, (("B", "F"), ("H", "M")), strict=False):
            self.put(f"{first}{self.row}", chart.answer, "answer")
            self.merge(first, last, self.row)
            self.sheet.add_chart(draw(chart), f"{first}{self.row + 1}")
        self.sheet.row_dimensions[self.row].height = 2 * _ROW_HEIGHT
        self.row += CHART_ROWS + 2
        return beside

    def table(
        self,
        section_key: str,
        inputs: Mapping[str, Column],
        results: Sequence[Result] = (),
    ) -> None:
        """A table of inputs over the full width, results to their right; its band comes from the section.

        Every row's cells have names: `hop_1_mass`, `hop_1_mass_in_g`; a column's unit cell is `hops_mass_unit`, which
        each row's `hop_1_mass_unit` also names; whole columns are `hops_mass`, `hops_mass_in_g`.
        """
        section = find_section(section_key)
        head, top = self.row, self.row + 2
        bottom = top + section.rows - 1
        heads = [(column.at, column.head or section.find(key).label) for key, column in inputs.items()]
        heads += [(result.at, result.head) for result in results]
        lines = max(self._lines(text, at, _PER_WIDTH_OF_HEADS) for at, text in heads)
        self.sheet.row_dimensions[head].height = 14 * max(lines, 2)
        for key, column in inputs.items():
            self._input_column(section, section.find(key), column, head, top, bottom)
        for result in results:
            self._result_column(section, result, head, top, bottom)
        self.row = bottom + 1

    def _input_column(self, section: Section, item: Input, column: Column, head: int, top: int, bottom: int) -> None:
        book, base = self.book, item.quantity.symbol if item.is_number else ""
        title = self.put(f"{column.at}{head}", column.head or item.label, "head left" if item.is_text else "head")
        if column.indent:
            title.alignment = _align(wrap=True, vertical="bottom", indent=column.indent)
        column_name = section.name(item.key)
        unit_address = f"{column.at}{head + 1}"
        # one unit for the whole column: without room for the converted value, the formulas' own
        names = [section.name(item.key, n) for n in range(1, section.rows + 1)]
        unit = book.unit(names, item) if column.converted else base
        for n in range(1, section.rows + 1):
            name, row = section.name(item.key, n), top + n - 1
            self.enter(f"{column.at}{row}", name, item, unit, f"{column_name}_unit")
            if column.indent:
                self.sheet[f"{column.at}{row}"].alignment = _align(wrap=True, indent=column.indent)
            self._fit(column.at, row)
            if item.unit_choices:
                book.define(f"{name}_unit", self, unit_address)
        if column.converted:
            book.base(
                [f"{name}_{suffix(base)}" for name in names],
                [f'=IF({name}="","",UNIT_CONVERT({name},{name}_unit,"{base}"))' for name in names],
                base,
                f"{column_name}_{suffix(base)}",
            )
        book.define(column_name, self, f"{column.at}{top}:{column.at}{bottom}")
        if item.unit_choices and column.converted:
            self.unit(unit_address, item, unit, " right")
        else:
            self.put(unit_address, unit, "unit right")
        if item.unit_choices:
            book.define(f"{column_name}_unit", self, unit_address)

    def _lines(self, text: str, column: str, per_width: float = _PER_WIDTH) -> int:
        """How many lines a text takes in a column."""
        return len(textwrap.wrap(text, int(self.sheet.column_dimensions[column].width * per_width)))

    def _fit(self, column: str, row: int) -> None:
        """Make a row high enough for a long name. Programs do so for what is typed later."""
        text = self.sheet[f"{column}{row}"].value
        if isinstance(text, str) and (lines := self._lines(text, column)) > 1:
            height = self.sheet.row_dimensions[row].height or 0
            self.sheet.row_dimensions[row].height = max(height, _ROW_HEIGHT * lines)

    def _result_column(self, section: Section, result: Result, head: int, top: int, bottom: int) -> None:
        self.put(f"{result.at}{head}", result.head, "head left" if result.look == "text" else "head")
        self.put(f"{result.at}{head + 1}", result.unit, "unit right")
        for n in range(1, section.rows + 1):
            address = f"{result.at}{top + n - 1}"
            self.put(address, result.formula.replace("{n}", str(n)), result.look, result.number)
            if result.name:
                self.book.define(result.name.replace("{n}", str(n)), self, address)


#: the line under every title: brewery, batch, day
_BATCH_LINE = '=batch_brewery&IF(AND(batch_brewery<>"",batch_name<>"")," – ","")&batch_name'


def _band(page: Page, row: int, title: str, first: str, last: str) -> None:
    for cell in page.sheet[f"{first}{row}:{last}{row}"][0]:
        page.book.dress(cell, "section")
    page.sheet[f"{first}{row}"].value = title


# ---------------------------------------------------------------- a block
class Block:
    """Rows of label, value, unit and converted value; `columns` are the letters of label, value, unit, converted
    value and its unit."""

    def __init__(self, page: Page, columns: str, row: int) -> None:
        self.page, self.book, self.row = page, page.book, row
        self.label, self.value, self.unit, self.converted, self.base = tuple(columns)

    def _at(self, letter: str) -> str:
        return f"{letter}{self.row}"

    def section(self, title: str) -> None:
        _band(self.page, self.row, title, self.label, self.base)
        self.row += 1

    def gap(self) -> None:
        self.row += 1

    def _labelled(self, label: str) -> None:
        self.page.put(self._at(self.label), label, "label")

    def input(self, key: str, label: str = "") -> None:
        """An input of the plan: label, value, unit, and the value in the unit formulas use."""
        section, item = INPUTS[key]
        name = section.name(item.key)
        self._labelled(label or item.label)
        symbol = self.page.enter(self._at(self.value), name, item)
        if not item.is_number:
            wide = (self.unit,) if item.words else (self.unit, self.converted, self.base)  # names need more room
            for letter in wide:
                self.page.put(self._at(letter), None, "input text")
            self.page.merge(self.value, wide[-1], self.row)
        elif item.unit_choices:
            self._unit_and_converted(name, item, symbol)
        elif symbol:
            self.page.put(self._at(self.unit), symbol, "unit")
        self.row += 1

    def inputs(self, section_key: str) -> None:
        """All inputs of a section, under its band."""
        section = find_section(section_key)
        self.section(section.title)
        for item in section.inputs:
            self.input(f"{section.key}.{item.key}")

    def _unit_and_converted(self, name: str, item: Input, symbol: str) -> None:
        base = item.quantity.symbol
        self.page.unit(self._at(self.unit), item, symbol)
        self.book.define(f"{name}_unit", self.page, self._at(self.unit))
        formula = f'UNIT_CONVERT({name},{name}_unit,"{base}")'
        if item.default is None and item.quantity.dimension.name == "temperature":
            formula = f'IF({name}="","",{formula})'  # a blank is no temperature: 0 °F would be -18 °C
        self.book.base([f"{name}_{suffix(base)}"], [f"={formula}"], base)
        if base == "SG":
            self.page.as_gravity(self._at(self.value), self._at(self.unit), entered=True)

    def result(
        self,
        name: str,
        label: str,
        formula: str,
        what: Any = None,
        unit: str = "",
        note: str = "",
        number: str = "",
        look: str = "result",
        blank: bool = False,
    ) -> None:
        """A result. `formula` gives it in the unit of `what`; `unit` names the cell whose unit it is shown in. With
        `blank` it may be "" while there is nothing to tell."""
        self._labelled(label)
        base = quantity(what).symbol if what is not None else ""
        share = what is not None and quantity(what).dimension.name.startswith("share")
        shown = number or number_format(base, share)
        if unit:
            inner = f"{name}_{suffix(base)}"
            self.book.base([inner], [formula], base)
            value = f'UNIT_CONVERT({inner},"{base}",{name}_unit)'
            self.page.put(self._at(self.value), f'=IF({inner}="","",{value})' if blank else f"={value}", look, shown)
            self.page.put(self._at(self.unit), f"={unit}", "unit")
            self.book.define(f"{name}_unit", self.page, self._at(self.unit))
            if base == "SG":
                self.page.as_gravity(self._at(self.value), self._at(self.unit))
        else:
            self.page.put(self._at(self.value), formula, look, shown)
            if not share:
                self.page.put(self._at(self.unit), base, "unit")
        self.book.define(name, self.page, self._at(self.value))
        self.page.note(self._at(self.value), note)
        self.row += 1

    def measurement(self, key: str, used: str = "") -> None:
        """A reading still to be taken. `used` is what formulas read as x_used: the reading in the formulas' unit
        (written {x}) or, while it is blank, something else, such as the plan's value. Without it, a reading that only
        serves others."""
        section, item = INPUTS[key]
        name, base = section.name(item.key), item.quantity.symbol
        self._labelled(item.label)
        symbol = self.page.enter(self._at(self.value), name, item)
        if item.unit_choices:
            self.page.unit(self._at(self.unit), item, symbol)
            self.book.define(f"{name}_unit", self.page, self._at(self.unit))
            if base == "SG":
                self.page.as_gravity(self._at(self.value), self._at(self.unit), entered=True)
        else:
            self.page.put(self._at(self.unit), symbol, "unit")
        if used:
            self._used(name, item, used)
        self.row += 1

    def _used(self, name: str, item: Input, used: str) -> None:
        """What formulas read, on Workings; beside a blank reading, what is used in its place, in the reading's unit."""
        base = item.quantity.symbol
        reading, beside, unit = name, f"{name}_used", f'"{base}"'
        if item.unit_choices:
            unit = f"{name}_unit"
            reading, beside = (f'UNIT_CONVERT({name},{unit},"{base}")', f'UNIT_CONVERT({name}_used,"{base}",{unit})')
        self.book.base([f"{name}_used"], [used.replace("{x}", reading)], base)
        # a number, since programs without the functions keep it, while they work an empty text out anew
        self.book.base([f"{name}_beside"], [f'=IF(OR({name}_used="",{name}<>""),0,1)'], "")
        at = self._at(self.converted)
        self.page.put(at, f'=IF({name}_beside=0,"",{beside})', "quiet", number_format(base))
        self.page.put(self._at(self.base), f'=IF({name}_beside=0,"",{unit})', "unit")
        if base == "SG":
            self.page.as_gravity(at, self._at(self.base))

    def state(self, name: str, label: str, formula: str, note: str = "") -> None:
        """A state in words; one that begins with "Look" is marked."""
        self._labelled(label)
        self.page.put(self._at(self.value), formula, "state")
        self.page.look_here(f"{self._at(self.value)}:{self._at(self.base)}")
        self.book.define(name, self.page, self._at(self.value))
        self.page.note(self._at(self.value), note)
        self.row += 1

    def line(self, formula: str, look: str = "state", name: str = "") -> None:
        """A line of text over the block's width."""
        self.page.put(self._at(self.label), formula, look)
        self.page.merge(self.label, self.base, self.row)
        if name:
            self.book.define(name, self.page, self._at(self.label))
        self.row += 1

    def note(self, text: str, lines: int = 1) -> None:
        """Quiet text over the block's width."""
        self.page.put(self._at(self.label), text, "note")
        self.page.merge(self.label, self.base, self.row)
        self.page.sheet.row_dimensions[self.row].height = 13.5 * lines + 1.5
        self.row += 1
