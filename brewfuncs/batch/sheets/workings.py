"""Workings: values on the way from inputs to results that no brewer reads on a wet brew day, and what charts draw.

The last sheet of the workbook, hidden. Blank cells of the tables are 0 here, so that rows can be left empty.
"""

from __future__ import annotations

from collections.abc import Sequence

from brewfuncs.batch.draft import Base, Draft
from brewfuncs.batch.page import Page
from brewfuncs.batch.sections import find_section

__all__ = ["Workings"]

_LETTERS = "BCDEFGHIJKLM"


class Workings:
    """The page, filled column by column and cell by cell while the others are made."""

    def __init__(self, book: Draft) -> None:
        self.book = book
        widths = {"A": 1.5, **dict.fromkeys(_LETTERS, 12.0)}
        self.page = Page(
            book, "Workings", "Workings", "Values between inputs and results, and what the charts draw", widths
        )
        self.page.sheet.page_setup.fitToHeight = 0
        self.page.prints, self.page.sheet.sheet_state = False, "hidden"
        self.row = 4

    @property
    def next_row(self) -> int:
        """Where the first row of the next `columns` will stand, for formulas that refer to their own row."""
        return self.row + 2

    def _title(self, title: str) -> None:
        self.page.row = self.row
        self.page.section(title)
        self.row = self.page.row

    def cells(self, title: str, formulas: dict[str, tuple[str, str]]) -> None:
        """Single values: name -> (formula, number format), three columns each."""
        self._title(title)
        for name, (formula, number) in formulas.items():
            self.page.put(f"B{self.row}", name, "label")
            self.page.put(f"E{self.row}", formula, "value", number)
            self.book.define(name, self.page, f"E{self.row}")
            self.row += 1
        self.row += 1

    def columns(self, title: str, heads: Sequence[str], formulas: Sequence[Sequence[tuple[str, str]]]) -> int:
        """Columns side by side, of formulas with number formats; gives the row of the first."""
        self._title(title)
        for letter, head in zip(_LETTERS, heads, strict=False):
            self.page.put(f"{letter}{self.row}", head, "head")
        self.page.sheet.row_dimensions[self.row].height = 28
        self.row += 1
        top = self.row
        for line in formulas:
            for letter, (formula, number) in zip(_LETTERS, line, strict=False):
                self.page.put(f"{letter}{self.row}", formula, "value", number)
            self.row += 1
        self.row += 1
        return top

    def count(self, section_key: str) -> int:
        """How many rows a table of inputs has."""
        return find_section(section_key).rows

    def rows(self, section_key: str, title: str, columns: dict[str, tuple[str, str]], whole: dict[str, str]) -> None:
        """For each row of a table of inputs: name with {n} -> (formula with {n}, format). `whole` names columns."""
        section = find_section(section_key)
        lines = [
            [(formula.replace("{n}", str(n)), number) for formula, number in columns.values()]
            for n in range(1, section.rows + 1)
        ]
        heads = [name.replace("_{n}", "").replace("_", " ") for name in columns]
        top = self.columns(title, heads, lines)
        for letter, name in zip(_LETTERS, columns, strict=False):
            for n in range(section.rows):
                self.book.define(name.replace("{n}", str(n + 1)), self.page, f"{letter}{top + n}")
            if name in whole:
                self.book.define(whole[name], self.page, f"{letter}{top}:{letter}{top + section.rows - 1}")

    def bases(self) -> None:
        """What the sheets show in units of choice, in the formulas' unit; goes last, when all of them are made."""
        single = [base for base in self.book.bases if not base.column]
        cells = {base.names[0]: (base.formulas[0], base.number) for base in single}
        self.cells("Inputs and results in the formulas' units", cells)
        tables = [base for base in self.book.bases if base.column]
        for start in range(0, len(tables), len(_LETTERS)):
            self._tables(tables[start : start + len(_LETTERS)])

    def _tables(self, tables: Sequence[Base]) -> None:
        lines = [
            [(base.formulas[n], base.number) if n < len(base.formulas) else ("", "General") for base in tables]
            for n in range(max(len(base.formulas) for base in tables))
        ]
        top = self.columns("Columns of tables in the formulas' units", [base.column for base in tables], lines)
        for letter, base in zip(_LETTERS, tables, strict=False):
            for n, name in enumerate(base.names):
                self.book.define(name, self.page, f"{letter}{top + n}")
            self.book.define(base.column, self.page, f"{letter}{top}:{letter}{top + len(base.names) - 1}")
