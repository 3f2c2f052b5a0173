"""One sheet while it is made: its cells, the inputs among them, and what goes over its full width: bands, notes,
charts, tables."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat
from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.worksheet.datavalidation import DataValidation

from brewfuncs.batch.block import Block
from brewfuncs.batch.chart import CHART_ROWS, Chart, draw
from brewfuncs.batch.entry import help_text, one_of, rule
from brewfuncs.batch.formats import MOMENT_FORMATS, entered_format, number_format
from brewfuncs.batch.inputs import Input, Section
from brewfuncs.batch.looks import FONT, LOOK, QUIET, align, fill
from brewfuncs.batch.names import suffix
from brewfuncs.batch.sections import find_section
from brewfuncs.batch.wording import asks_for_a_look

if TYPE_CHECKING:
    from brewfuncs.batch.draft import Draft

__all__ = ["Column", "Page", "Result"]

#: the grid that every sheet shares: A is margin, G the gap between the two blocks
_WIDTHS = {"A": 1.5, "B": 25, "C": 10, "D": 9.5, "E": 9, "F": 8, "G": 2,
           "H": 12, "I": 12, "J": 10, "K": 9.5, "L": 9, "M": 8}  # fmt: skip
_FIRST = "B"
_ROW_HEIGHT = 15.0
_LETTER, _A4 = 1, 9  # how the format numbers them
_PER_WIDTH = 1.1  # characters of type 11 that fit into one unit of column width, with some air
_PER_WIDTH_OF_HEADS = 1.25  # the same of type 10
_NOTE_CHARACTERS = 165  # of quiet text that fit in one line over the full width
#: the line under every title: brewery, batch, day
_BATCH_LINE = '=batch_brewery&IF(AND(batch_brewery<>"",batch_name<>"")," – ","")&batch_name'


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
    """One sheet, printed one page wide, on one sheet of paper where `next_sheet_of_paper` says nothing else."""

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
            number = MOMENT_FORMATS.get(str(item.of)) or entered_format(symbol, item.is_share)
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
        rule = FormulaRule([asks_for_a_look(f"${area.split(':')[0]}")], fill=fill(LOOK))
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

    def band(self, row: int, title: str, first: str, last: str) -> None:
        """A band with a title, between two columns."""
        for cell in self.sheet[f"{first}{row}:{last}{row}"][0]:
            self.book.dress(cell, "section")
        self.sheet[f"{first}{row}"].value = title

    def section(self, title: str, first: str = _FIRST, last: str = "") -> None:
        """A band with a title, over the full width."""
        self.band(self.row, title, first, last or self.last)
        self.row += 1

    def notes(self, *texts: str, first: str = _FIRST) -> None:
        """Quiet text over the full width, a row each; in a formula, what stands between quotes is its text."""
        for text in texts:
            self.put(f"{first}{self.row}", text, "note")
            self.merge(first, self.last, self.row)
            shown = "00000".join(re.findall(r'"([^"]*)"', text)) if text.startswith("=") else text
            self.sheet.row_dimensions[self.row].height = 13.5 * max(1, -(-len(shown) // _NOTE_CHARACTERS)) + 1.5
            self.row += 1

    def answer(self, formula: str, lines: int = 1, first: str = _FIRST, last: str = "") -> None:
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
            title.alignment = align(wrap=True, vertical="bottom", indent=column.indent)
        column_name = section.name(item.key)
        unit_address = f"{column.at}{head + 1}"
        # one unit for the whole column: without room for the converted value, the formulas' own
        names = [section.name(item.key, n) for n in range(1, section.rows + 1)]
        unit = book.unit(names, item) if column.converted else base
        for n in range(1, section.rows + 1):
            name, row = section.name(item.key, n), top + n - 1
            self.enter(f"{column.at}{row}", name, item, unit, f"{column_name}_unit")
            if column.indent:
                self.sheet[f"{column.at}{row}"].alignment = align(wrap=True, indent=column.indent)
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
