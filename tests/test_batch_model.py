"""The workbook against the model of a batch, cell by cell, over plans that differ in all inputs at once."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from brewfuncs.batch.generate import new
from brewfuncs.batch.plan import Plan
from brewfuncs.workbook.places import Place, named_place
from brewfuncs.xlsx.package import Package
from tests import batch_plans
from tests.batch_model import Batch, Said, converted

#: both sides are exact but for rounding; where an integral or a root is taken in steps, it is good for this
RELATIVE, LEAST = 1e-6, 1e-9
#: the sheet tries the malts' factor three times over; all of it far below what a scale or a label tells
COARSE = re.compile(r"malts_scale|malt_\d+_wanted|alcohol_packaged")
#: results that are shown in the unit of a table's column, without a cell of their own in base units
IN_UNIT_OF = (
    (re.compile(r"malt_\d+_wanted"), "malts_mass_unit", "kg"),
    (re.compile(r"hop_\d+_wanted|schedule_\d+_mass|new_\d+_mass"), "hops_mass_unit", "g"),
    (re.compile(r"reading_\d+_set"), "fermentation_temp_unit", "°C"),
)
_READING = re.compile(r"((?:pre|mid|post)boil_(volume|gravity))_(?:plan|cold)")
#: of what the brew day shows of the plan
DAY_UNIT = {
    "day_water": "batch_volume_unit", "day_strike_water": "batch_volume_unit", "day_sparge_water": "batch_volume_unit",
    "day_strike_temp": "mash_temp_unit", "day_mash_temp": "mash_temp_unit", "day_mashout_temp": "mash_temp_unit",
}  # fmt: skip
_BASES = {"C": "°C", "L_h": "L/h", "SG": "SG", "EBC": "EBC"}


def named_places(package: Package) -> dict[str, Place]:
    """Every named cell of a workbook."""
    places = {name.name: named_place(package, name.text) for name in package.names}
    return {name: place for name, place in places.items() if place is not None and not name.startswith("_xlnm")}


def cells_of(path: Path) -> dict[str, Any]:
    """What stands in every named cell."""
    with Package(path) as package:
        found = {name: package.sheet(sheet).value(*at) for name, (sheet, *at) in named_places(package).items()}
    return {name: "" if value is None else value for name, value in found.items()}


def unit_beside(name: str) -> tuple[str, str]:
    """The name of the unit cell of a result that has no cell of its own in base units, and those base units."""
    reading = _READING.fullmatch(name)
    if reading:
        return f"{reading[1]}_unit", {"volume": "L", "gravity": "SG"}[reading[2]]
    return next(((unit, base) for pattern, unit, base in IN_UNIT_OF if pattern.fullmatch(name)), ("", ""))


def shown_base(name: str) -> tuple[str, str]:
    """The name of the cell that shows a result, and the base unit that its name tells."""
    match = re.fullmatch(r"(.+)_in_([A-Za-z]+(?:_h)?)", name)
    assert match is not None
    return match[1], _BASES.get(match[2], match[2])


def back(value: float, unit: str, base: str) -> float:
    if base == "EBC":  # of a beer; a malt's is converted to °L
        return value * 25 / 12.7 if unit == "SRM" else value
    return converted(value, unit, base)


def differences(cells: dict[str, Any], model: dict[str, Any]) -> Iterator[str]:
    """Every cell that isn't as the model has it, by its name."""
    for name, expected in model.items():
        if name not in cells:
            continue
        found = cells[name]
        unit, base = unit_beside(name)
        if unit and isinstance(found, float):
            found = back(found, cells[unit], base)
        if not alike(name, found, expected):
            yield f"{name}: {found!r}, by the model {expected!r}"
        elif "_in_" in name:
            shown, base = shown_base(name)
            unit = cells.get(DAY_UNIT.get(shown, f"{shown}_unit"))
            if shown in cells and unit and isinstance(cells[shown], float):
                found = back(cells[shown], unit, base)
                if not alike(name, found, expected):
                    yield f"{shown}: {cells[shown]!r} {unit}, by the model {expected!r} {base}"
            elif shown in cells and expected is None and cells[shown] != "":
                yield f"{shown}: {cells[shown]!r}, by the model blank"


def alike(name: str, found: Any, expected: Any) -> bool:
    if isinstance(expected, Said):
        return isinstance(found, str) and expected.is_in(found)
    if expected is None or isinstance(expected, str) or not isinstance(found, (int, float)):
        return bool(found == ("" if expected is None else expected))
    relative = 1e-4 if COARSE.fullmatch(name) else RELATIVE
    return bool(float(found) == pytest.approx(float(expected), rel=relative, abs=LEAST))


@pytest.mark.parametrize("plan", [pytest.param(plan, id=name) for name, plan in batch_plans.plans()])
def test_every_cell_is_as_the_model_has_it(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "batch.xlsx"
    path.write_bytes(new(plan))
    assert "\n".join(differences(cells_of(path), Batch(plan).named)) == ""


def test_a_wrong_cell_is_named(tmp_path: Path) -> None:
    """The test above can fail."""
    _, plan = next(iter(batch_plans.plans()))
    path = tmp_path / "batch.xlsx"
    path.write_bytes(new(plan))
    cells, model = cells_of(path), Batch(plan).named
    assert len([name for name in model if name in cells]) > 250
    for wrong, value in (("alcohol", 0.06), ("original_gravity", 1.06), ("gravity_state", "Look"), ("dms", "")):
        said = list(differences(cells | {wrong: value}, model))
        assert len(said) == 1, said
        assert said[0].startswith(f"{wrong}: ")
