"""A fresh batch that carries over earlier ones: the plan and equipment of the first, and what was measured in all."""

from __future__ import annotations

import datetime
import os

from brewfuncs.batch.brewhouse import Batch, Brewhouse, brewhouse
from brewfuncs.batch.inputs import Amount, Entered, Input
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import INPUTS, SECTIONS
from brewfuncs.errors import BrewError, WorkbookError
from brewfuncs.workbook.places import find_cell
from brewfuncs.xlsx.package import Package

__all__ = ["carried_over", "carried_over_with"]

#: the section with what was moved later in the shorter boil, which no plan file has
_MOVED_LATER = "later"
#: what belongs to that batch alone
_OF_ONE_BATCH = ("batch.date",)


def carried_over(path: str | os.PathLike[str], *others: str | os.PathLike[str], as_brewed: bool = False) -> Plan:
    """The plan in a batch workbook, with what it and the other batches measured in place of what was planned.

    With `as_brewed`, the boil that was brewed becomes the recipe's: its length, and the hops' masses and times.

    Raises WorkbookError where a file isn't a batch workbook, or holds values a plan can't have.
    """
    return carried_over_with(path, *others, as_brewed=as_brewed)[0]


def carried_over_with(
    path: str | os.PathLike[str], *others: str | os.PathLike[str], as_brewed: bool = False
) -> tuple[Plan, Brewhouse]:
    """The plan that several batches lead to, and what they measured."""
    batches = []
    plan = Plan.empty()
    for file in (path, *others):
        with Package(file) as package:
            cells = _Cells(package)
            if "brewfuncs_version" not in package.properties or not cells.has("batch_volume"):
                raise WorkbookError(f"{package.name} is not a batch workbook made by brewfuncs new")
            if file is path:
                plan = _plan(cells, as_brewed)
            batches.append(_batch(cells))
    yeast = str(plan.values.get("yeast.name") or "")
    gravity = plan.base("batch.gravity")
    assert gravity is not None  # a blank leaves the usual one
    measured = brewhouse(batches, yeast, gravity)
    for key, mean in measured.expected.items():
        item = INPUTS[key].item
        plan.values[key] = item.read(Amount(mean, item.quantity.symbol))
    return plan, measured


def _plan(cells: _Cells, as_brewed: bool) -> Plan:
    has_water = cells.has("water_distilled")
    plan = Plan.empty(with_optional=has_water)
    for section in SECTIONS:
        if (not section.in_file and section.key != _MOVED_LATER) or (section.optional and not has_water):
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
            found = cells.value(section.name(item.key), item)
            if found is not None or item.is_text or item.default is None:
                plan.values[key] = found
    plan.units = cells.units()
    if as_brewed and plan.values["shorter.brewed"] == "shorter":
        _take_shorter_boil(plan, cells)
    return plan


def _batch(cells: _Cells) -> Batch:
    """What a batch measured; what it didn't isn't there."""

    def number(name: str) -> float | None:
        value = cells.raw(name)
        return value if isinstance(value, float) else None

    def lost(before: str, after: str) -> float | None:
        """What was left behind between two volumes that were both read."""
        if cells.raw(before) is None or cells.raw(after) is None or cells.raw("water_added") is not None:
            return None
        first, second = number(f"{before}_used"), number(f"{after}_used")
        return first - second if first is not None and second is not None and first >= second else None

    steady = cells.raw("gravity_steady") == "Steady"
    measured = {
        "mash.efficiency": number("measured_efficiency"),
        "kettle.boil_off": number("measured_boil_rate_in_L_h"),
        "chill.cooling": number("measured_cooling"),
        "kettle.loss": lost("postboil_volume", "fermenter_volume"),
        "kettle.fermenter_loss": lost("fermenter_volume", "package_volume"),
        "yeast.attenuation": number("attenuation_now") if steady else None,
    }
    date = cells.value("batch_date", INPUTS["batch.date"].item)
    return Batch(
        str(cells.raw("batch_name") or os.path.basename(cells.package.name)),
        date if isinstance(date, datetime.date) else None,
        str(cells.raw("yeast_name") or ""),
        number("pitch_gravity_now"),
        {key: value for key, value in measured.items() if value is not None},
    )


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


def _without_blank_end(rows: list[dict[str, Entered]]) -> list[dict[str, Entered]]:
    """Rows up to the last that holds something: those in between keep their place, since other tables go by it."""
    filled = [n for n, row in enumerate(rows, 1) if any(value is not None for value in row.values())]
    return rows[: max(filled, default=0)]


class _Cells:
    """The cells of a workbook by their names."""

    def __init__(self, package: Package) -> None:
        self.package = package

    def has(self, name: str) -> bool:
        return bool(self.package.names_called(name))

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
                for n in section.numbers:
                    name = section.name(item.key, n)
                    unit = self.raw(f"{name}_unit") if item.unit_choices else None
                    if unit in item.unit_choices:
                        found[name] = str(unit)
        return found

    def value(self, name: str, item: Input, unit: str | None = None) -> Entered:
        """What an input may hold; `unit` where it isn't the one of the cell beside it."""
        raw = self.raw(name)
        if raw is None:
            return None
        given: Entered | float = raw
        if item.is_date and isinstance(raw, float):
            given = self.package.date(raw) or raw
        elif item.is_number:
            if isinstance(raw, str):
                raise WorkbookError(f'{self.package.name}: {name} holds the text "{raw}" where a number is wanted')
            stated = self.raw(f"{name}_unit") if item.unit_choices else item.quantity.symbol
            given = Amount(raw, unit or str(stated or ""))
        try:
            return item.read(given)
        except BrewError as error:
            raise WorkbookError(f"{self.package.name}: {name}: {error}") from None
