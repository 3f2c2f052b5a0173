"""A fresh batch that carries over an earlier one: its plan and equipment, and what was measured on its brew day."""

from __future__ import annotations

import datetime
import os

from brewfuncs.batch.plan import INPUTS, SECTIONS, Amount, Input, Plan, Value
from brewfuncs.errors import BrewError, WorkbookError
from brewfuncs.workbook.places import find_cell
from brewfuncs.xlsx.package import Package

__all__ = ["carried_over"]

#: what the brew day measured takes the place of what was planned (in the formulas' units)
_MEASURED = {"mash.efficiency": "measured_efficiency", "kettle.boil_off": "measured_boil_rate_in_L_h",
             "chill.cooling": "measured_cooling"}  # fmt: skip
#: the section with what was moved later in the shorter boil, which no plan file has
_MOVED_LATER = "later"
#: what belongs to that batch alone
_OF_ONE_BATCH = ("batch.date",)


def carried_over(path: str | os.PathLike[str], *, as_brewed: bool = False) -> Plan:
    """The plan in a batch workbook, with measured efficiency, boil-off and cooling where they were measured.

    With `as_brewed`, the boil that was brewed becomes the recipe's: its length, and the hops' masses and times.

    Raises WorkbookError where the file isn't a batch workbook, or holds values a plan can't have.
    """
    with Package(path) as package:
        cells = _Cells(package)
        if "brewfuncs_version" not in package.properties or not cells.has("batch_volume"):
            raise WorkbookError(f"{package.name} is not a batch workbook made by brewfuncs new")
        plan = Plan.empty()
        for section in SECTIONS:
            if not section.in_file and section.key != _MOVED_LATER:
                continue
            if section.rows:
                rows = [
                    {item.key: cells.value(section.name(item.key, n), item) for item in section.inputs}
                    for n in range(1, section.rows + 1)
                ]
                plan.rows[section.key] = _without_blank_end(rows)
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
        if as_brewed and plan.values["shorter.brewed"] == "shorter":
            _take_shorter_boil(plan, cells)
        return plan


def _take_shorter_boil(plan: Plan, cells: _Cells) -> None:
    """Make the shorter boil the recipe's own, with what its sheet has worked out."""
    plan.values["boil.time"] = plan.values["shorter.time"]
    plan.values["shorter.brewed"] = "as found"
    plan.rows[_MOVED_LATER] = []
    hops = INPUTS["hops.mass"].section
    unit = str(cells.raw("hops_mass_unit"))
    rows = []
    for n in range(1, hops.rows + 1):
        row = {item.key: cells.value(hops.name(item.key, n), item) for item in hops.inputs}
        if cells.raw(f"new_{n}_mass") is not None:
            row["mass"] = cells.value(f"new_{n}_mass", hops.find("mass"), unit)
            row["time"] = cells.value(f"new_{n}_minutes", hops.find("time"), "min")
        rows.append(row)
    plan.rows["hops"] = _without_blank_end(rows)


def _without_blank_end(rows: list[dict[str, Value]]) -> list[dict[str, Value]]:
    """Rows up to the last that holds something: those in between keep their place, since other tables go by it."""
    filled = [n for n, row in enumerate(rows, 1) if any(value is not None for value in row.values())]
    return rows[: max(filled, default=0)]


class _Cells:
    """The cells of a workbook by their names."""

    def __init__(self, package: Package) -> None:
        self.package = package
        self.names = {name.name.casefold() for name in package.names}

    def has(self, name: str) -> bool:
        return name.casefold() in self.names

    def raw(self, name: str) -> float | str | None:
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
                    unit = self.raw(f"{name}_unit") if item.unit_choices else None
                    if unit in item.unit_choices:
                        found[name] = str(unit)
        return found

    def value(self, name: str, item: Input, unit: str | None = None) -> Value:
        """What an input may hold; `unit` where it isn't the one of the cell beside it."""
        raw = self.raw(name)
        if raw is None:
            return None
        given: Value | float = raw
        if item.is_date and isinstance(raw, float):
            start = datetime.date(1904, 1, 1) if self.package.date1904 else datetime.date(1899, 12, 30)
            given = start + datetime.timedelta(days=raw)
        elif item.is_number:
            if isinstance(raw, str):
                raise WorkbookError(f'{self.package.name}: {name} holds the text "{raw}" where a number is wanted')
            stated = self.raw(f"{name}_unit") if item.unit_choices else item.quantity.symbol
            given = Amount(raw, unit or str(stated or ""))
        try:
            return item.read(given)
        except BrewError as error:
            raise WorkbookError(f"{self.package.name}: {name}: {error}") from None
