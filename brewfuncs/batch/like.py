"""A fresh batch that carries over an earlier one: its plan and equipment, and what was measured on its brew day."""

from __future__ import annotations

import datetime
import os

from brewfuncs.batch.plan import SECTIONS, Amount, Input, Plan, Value
from brewfuncs.errors import BrewError, WorkbookError
from brewfuncs.workbook.places import find_cell
from brewfuncs.xlsx.package import Package

__all__ = ["carried_over"]

#: what the brew day measured takes the place of what was planned (in the formulas' units)
_MEASURED = {"mash.efficiency": "measured_efficiency", "kettle.boil_off": "measured_boil_rate_in_L_h",
             "chill.cooling": "measured_cooling"}  # fmt: skip
#: what belongs to that batch alone
_OF_ONE_BATCH = ("batch.date",)


def carried_over(path: str | os.PathLike[str]) -> Plan:
    """The plan in a batch workbook, with measured efficiency, boil-off and cooling where they were measured.

    Raises WorkbookError where the file isn't a batch workbook, or holds values a plan can't have.
    """
    with Package(path) as package:
        cells = _Cells(package)
        if "brewfuncs_version" not in package.properties or not cells.has("batch_volume"):
            raise WorkbookError(f"{package.name} is not a batch workbook made by brewfuncs new")
        plan = Plan.empty()
        for section in SECTIONS:
            if not section.in_file:
                continue
            if section.rows:
                rows = [
                    {item.key: cells.value(section.name(item.key, n), item) for item in section.inputs}
                    for n in range(1, section.rows + 1)
                ]
                plan.rows[section.key] = [row for row in rows if any(value is not None for value in row.values())]
                continue
            for item in section.inputs:
                key = f"{section.key}.{item.key}"
                if key in _OF_ONE_BATCH:
                    plan.values[key] = None
                    continue
                measured = cells.value(_MEASURED[key], item, item.quantity.symbol) if key in _MEASURED else None
                found = measured if measured is not None else cells.value(section.name(item.key), item)
                if found is not None or item.is_text or item.default is None:
                    plan.values[key] = found
        plan.units = cells.units()
        return plan


class _Cells:
    """The cells of a workbook by their names."""

    def __init__(self, package: Package) -> None:
        self.package = package
        self.names = {name.name.casefold() for name in package.names}

    def has(self, name: str) -> bool:
        return name.casefold() in self.names

    def _raw(self, name: str) -> float | str | None:
        if not self.has(name):
            return None  # an input that an earlier version didn't have
        sheet, row, column = find_cell(self.package, name)
        value = self.package.sheet(sheet).value(row, column)
        return value if isinstance(value, (float, str)) and value != "" else None

    def units(self) -> dict[str, str]:
        """The units of all inputs, measurements too, by the names of their cells."""
        found = {}
        for section in SECTIONS:
            for item in section.inputs:
                for n in range(1, section.rows + 1) if section.rows else (None,):
                    name = section.name(item.key, n)
                    unit = self._raw(f"{name}_unit") if item.unit_choices else None
                    if unit in item.unit_choices:
                        found[name] = str(unit)
        return found

    def value(self, name: str, item: Input, unit: str | None = None) -> Value:
        """What an input may hold; `unit` where it isn't the one of the cell beside it."""
        raw = self._raw(name)
        if raw is None:
            return None
        given: Value | float = raw
        if item.is_date and isinstance(raw, float):
            start = datetime.date(1904, 1, 1) if self.package.date1904 else datetime.date(1899, 12, 30)
            given = start + datetime.timedelta(days=raw)
        elif not item.is_text and not item.is_date:
            if isinstance(raw, str):
                raise WorkbookError(f'{self.package.name}: {name} holds the text "{raw}" where a number is wanted')
            stated = self._raw(f"{name}_unit") if item.unit_choices else item.quantity.symbol
            given = Amount(raw, unit or str(stated or ""))
        try:
            return item.read(given)
        except BrewError as error:
            raise WorkbookError(f"{self.package.name}: {name}: {error}") from None
