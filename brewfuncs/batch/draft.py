"""The workbook being made: its pages, the names and looks of its cells, and what stands in its inputs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import NamedStyle
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.workbook.properties import CalcProperties
from openpyxl.workbook.views import BookView

from brewfuncs import units
from brewfuncs.batch.formats import house_unit, number_format
from brewfuncs.batch.inputs import Amount, Entered, Input
from brewfuncs.batch.looks import LOOKS, font
from brewfuncs.batch.names import check_name
from brewfuncs.batch.page import Page
from brewfuncs.batch.plan import Plan

__all__ = ["Base", "Draft"]


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
        self.workbook._fonts[0] = font()  # what cells without a look, and widths, go by
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
            self.workbook.add_named_style(NamedStyle(name, number_format=number, **LOOKS[look]))
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
