"""Measurements put into a workbook; what a batch workbook's inputs can't hold is refused, as in its plan file."""

from __future__ import annotations

import datetime
import os
from collections.abc import Mapping
from functools import cached_property

from brewfuncs.batch.inputs import FIRST_DAY
from brewfuncs.batch.sections import input_cells
from brewfuncs.errors import BadInput, BrewError
from brewfuncs.workbook import recalculate
from brewfuncs.workbook.places import shown
from brewfuncs.workbook.report import Report
from brewfuncs.workbook.setting import Rules
from brewfuncs.workbook.versions import VERSION_PROPERTY
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value

__all__ = ["record"]


def record(
    path: str | os.PathLike[str], settings: Mapping[str, str | float | bool | None], *, on_open: bool = False
) -> Report:
    """Set input cells of any workbook by their names; where it is a batch workbook, within its inputs' ranges."""
    return recalculate.record(path, settings, _rules, on_open=on_open)


def _rules(package: Package) -> Rules:
    return BatchRules(package) if VERSION_PROPERTY in package.properties else Rules()


class BatchRules(Rules):
    """Every input of a batch workbook has a range, a list of words, or is a text, a day, a time."""

    def __init__(self, package: Package) -> None:
        self.package = package

    @cached_property
    def labels(self) -> Mapping[str, str]:
        known = reversed(input_cells().items())  # of a table's rows the first one stays
        return {item.label: name for name, (item, _) in known}

    def unit_cell(self, name: str) -> str:
        known = input_cells().get(name)
        return known[1] if known else super().unit_cell(name)

    def wants_text(self, name: str) -> bool:
        known = input_cells().get(name)
        return known is not None and known[0].is_text

    def refuse(self, name: str, value: Value, unit: str | None) -> None:
        choices = next((item.unit_choices for item, cell in input_cells().values() if cell == name), ())
        if choices and value not in choices:
            raise BadInput(f"{name}: {'blank' if value is None else shown(value)} is none of: {', '.join(choices)}")
        known = input_cells().get(name)
        if known is None or value is None:
            return
        item = known[0]
        if not item.is_number:
            try:
                item.read(self._day(value) if item.is_date and isinstance(value, float) else value)
            except BrewError as error:
                raise BadInput(f"{name}: {error}") from None
        else:
            symbol = "" if item.is_share else unit or ""
            item.parameter._replace(name=name).read(f"{value!r} {symbol}" if isinstance(value, float) else value)

    def _day(self, number: float) -> datetime.date:
        day = self.package.date(number)
        if day is None or day < FIRST_DAY:
            raise BadInput(f"{number:g} is no date: write it as 2026-03-14")
        return day
