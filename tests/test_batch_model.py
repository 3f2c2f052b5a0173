"""The workbook against the model of a batch, cell by cell, over plans that differ in all inputs at once."""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from brewfuncs.batch.generate import new
from brewfuncs.batch.inputs import Amount
from brewfuncs.batch.names import suffix
from brewfuncs.batch.sections import SECTIONS
from brewfuncs.batch.sheets.worth_a_look.rules import RULES, WATER_RULES
from brewfuncs.errors import CellError
from brewfuncs.workbook.places import Place
from brewfuncs.xlsx.address import address
from brewfuncs.xlsx.package import Package
from tests import batch_plans
from tests.batch_books import loaded
from tests.batch_model import Batch
from tests.batch_physics import plato
from tests.batch_sheets import Sheets, cells_of, places_of
from tests.batch_units import base_of, converted

#: both sides are exact but for rounding; where an integral or a root is taken in steps, it is good for this
RELATIVE, LEAST = 1e-6, 1e-9
#: the sheet tries the malts' factor three times over; all of it far below what a scale or a label tells
COARSE = re.compile(r"malts_scale|malt_\d+_wanted|alcohol_packaged")
#: results that are shown in the unit of a table's column, without a cell of their own in base units
IN_UNIT_OF = (
    (re.compile(r"malt_\d+_wanted"), "malts_mass_unit", "kg"),
    (re.compile(r"hop_\d+_wanted|schedule_\d+_mass|new_\d+_mass"), "hops_mass_unit", "g"),
    (re.compile(r"reading_\d+_set"), "fermentation_temp_unit", "°C"),
    (re.compile(r"(blend|mash_water|sparge_water)_volume"), "batch_volume_unit", "L"),
)
_READING = re.compile(r"((?:pre|mid|post)boil_(volume|gravity))_(?:plan|cold)")
#: of what the brew day shows of the plan, and of waters
OTHER_UNIT = {
    "day_water": "batch_volume_unit", "day_strike_water": "batch_volume_unit", "day_sparge_water": "batch_volume_unit",
    "day_strike_temp": "mash_temp_unit", "day_mash_temp": "mash_temp_unit", "day_mashout_temp": "mash_temp_unit",
} | {
    f"{water}_{key}": "water_alkalinity_unit"
    for water in ("blend", "mash_water", "sparge_water")
    for key in ("alkalinity", "residual")
}  # fmt: skip


def unit_beside(name: str) -> tuple[str, str]:
    """The name of the unit cell of a result that has no cell of its own in base units, and those base units."""
    reading = _READING.fullmatch(name)
    if reading:
        return f"{reading[1]}_unit", {"volume": "L", "gravity": "SG"}[reading[2]]
    return next(((unit, base) for pattern, unit, base in IN_UNIT_OF if pattern.fullmatch(name)), ("", ""))


def back(value: float, unit: str, base: str) -> float:
    if base == "EBC":  # of a beer; a malt's is converted to °L
        return value * 25 / 12.7 if unit == "SRM" else value
    return converted(value, unit, base)


def differences(cells: dict[str, Any], places: dict[str, Place], model: Batch) -> Iterator[str]:
    """Every cell that isn't as the model has it, by its name, or by its place where it has none."""
    yield from _named(cells, model.named)
    yield from _named(cells, converted_inputs(cells, model))
    yield from _beside(cells, places, model.beside())
    yield from _ranked(cells, model)
    for title, rows in model.tables.items():
        _, top, _ = places[title]
        for n, expected in enumerate(rows):
            for column, value in enumerate(expected, 2):
                found = cells.get(f"Workings!{address(top + 2 + n, column)}", "")
                if value is not None and not alike(title, found, value):
                    yield f"{title}, row {n + 1}, column {column - 1}: {found!r}, by the model {value!r}"
    yield from _sentences(cells, model)
    for key, value in cells.items():
        if isinstance(value, CellError) and not isinstance(model.named.get(key), CellError):
            yield f"{key}: {value!r}"


def converted_inputs(cells: dict[str, Any], model: Batch) -> dict[str, Any]:
    """What is put in, in the units that formulas reckon in, where a cell holds it; a blank row stays blank."""
    found: dict[str, Any] = {}
    for section in SECTIONS:
        for item in section.inputs:
            for n in section.numbers if item.unit_choices else ():
                name = section.name(item.key, n)
                at, value = f"{name}_{suffix(item.quantity.symbol)}", model.given[name]
                if at in cells and (section.rows or value is not None):
                    found[at] = value
    return found


def _sentences(cells: dict[str, Any], model: Batch) -> Iterator[str]:
    """Lines without a name: each that the model has stands on its sheet, and no other."""
    for sheet in {sheet for sheet, _ in model.says}:
        said = {words for on, words in model.says if on == sheet}
        there = {value for name, value in cells.items() if name.startswith(f"{sheet}!") and isinstance(value, str)}
        for words in said - there:
            yield f"nothing on the sheet {sheet} says: {words}"
        if sheet != "Worth a look":
            known = said | {value for value in model.named.values() if isinstance(value, str)}
            known |= {value for value in model.beside().values() if isinstance(value, str)}
            for words in there - known:
                if words.count(" ") > 1:
                    yield f"the model doesn't have what the sheet {sheet} says: {words}"


#: of each rule, as the sheet has it beside its state and reason
TITLES = {rule.key: rule.title for rule in RULES + WATER_RULES}
#: in this order they stand on Worth a look
_STATES = ("look here", "in error", "uncertain", "unknown", "fine", "not used")


def _ranked(cells: dict[str, Any], model: Batch) -> Iterator[str]:
    """Worth a look: every rule once, those that ask for a look first, each with its own reason."""
    rules = {
        name.removeprefix("look_"): state for name, state in model.named.items() if f"why_{name[5:]}" in model.named
    }
    rows = sorted(int(name.rpartition("!C")[2]) for name in cells if re.fullmatch(r"Worth a look!C\d+", name))
    states = [cells[f"Worth a look!C{row}"] for row in rows]
    unknown = {name for name in cells if re.match(r"look_(?!count)", name)} - {f"look_{rule}" for rule in rules}
    if unknown:
        yield f"the model doesn't know {', '.join(sorted(unknown))}"
        return
    if states != sorted(rules.values(), key=_STATES.index):
        yield f"Worth a look has the states {states}"
    left = dict(rules)
    for row, state in zip(rows, states, strict=True):
        reason = cells[f"Worth a look!D{row}"]
        title = cells[f"Worth a look!B{row}"]
        same = (state, reason, title)
        fits = [rule for rule, s in left.items() if (s, cells.get(f"why_{rule}"), TITLES[rule]) == same]
        if not fits:
            yield f"Worth a look!D{row}: no rule left whose reason is {reason!r} and whose title is {title!r}"
        else:
            del left[fits[0]]


def _named(cells: dict[str, Any], model: dict[str, Any]) -> Iterator[str]:
    for name, expected in model.items():
        if name not in cells:
            yield f"no cell is named {name}"
            continue
        found = cells[name]
        unit, base = unit_beside(name)
        if unit and isinstance(found, float):
            found = back(found, cells[unit], base)
        if not alike(name, found, expected):
            yield f"{name}: {found!r}, by the model {expected!r}"
        elif "_in_" in name:
            shown, base = name.rpartition("_in_")[0], base_of(name)
            unit = cells.get(OTHER_UNIT.get(shown, f"{shown}_unit"))
            if shown in cells and unit:
                found = cells[shown]
                if not alike(name, back(found, unit, base) if isinstance(found, float) else found, expected):
                    yield f"{shown}: {found!r} {unit}, by the model {expected!r} {base}"


def _beside(cells: dict[str, Any], places: dict[str, Place], model: dict[str, Any]) -> Iterator[str]:
    for key, expected in model.items():
        name, column = key.split()
        sheet, row, _ = places[name]
        if column.endswith("^"):  # the row above: a column's unit
            column, row = column[0], row - 1
        found = cells.get(f"{sheet}!{column}{row}", "")
        if isinstance(expected, tuple):  # a reading less what was expected, in the reading's unit
            unit, base = unit_beside(name)
            read, plan = (onwards(value, cells[unit], base) for value in expected)
            expected = read - plan
        elif column in "DHIJK" and name.startswith("new_") and isinstance(found, float):
            found = back(found, cells["hops_mass_unit"], "g")
        if not alike(key, found, expected):
            yield f"{sheet}!{column}{row}, beside {name}: {found!r}, by the model {expected!r}"


def onwards(value: float, unit: str, base: str) -> float:
    return plato(value) if unit == "°P" else value / converted(1, unit, base)


def alike(name: str, found: Any, expected: Any) -> bool:
    if expected is None or isinstance(expected, str) or not isinstance(found, float):
        return bool(found == ("" if expected is None else expected))
    relative = 1e-4 if COARSE.fullmatch(name) else RELATIVE
    return bool(float(found) == pytest.approx(float(expected), rel=relative, abs=LEAST))


PLANS = dict(batch_plans.plans())


@pytest.fixture(scope="module")
def sheets() -> dict[bool, Sheets]:
    """By whether they have a sheet Water."""
    return {has_water: loaded(has_water) for has_water in (False, True)}


@pytest.mark.parametrize("name", PLANS)
def test_every_cell_is_as_the_model_has_it(name: str, sheets: dict[bool, Sheets]) -> None:
    """Each is typed into the workbook that held the plan before it."""
    there = sheets[PLANS[name].has_water]
    there.type(PLANS[name])
    assert "\n".join(differences(there.cells(), there.places, Batch(PLANS[name]))) == ""


def in_error(sheets: Sheets) -> Iterator[str]:
    """What isn't said of rules that read an error: each says so, and they are counted."""
    rules = [name.removeprefix("look_") for name in sheets.places if re.match(r"look_(?!count)", name)]
    before: list[Any] = []
    places = (sheets.places[f"look_{rule}"] for rule in rules)
    sheets.put([(sheet, address(row, column), "=NA()") for sheet, row, column in places], before)
    cells = sheets.cells()
    sheets.put_back(before)
    for rule in rules:
        if cells[f"why_{rule}"] != "A value that this rule reads is in error.":
            yield f"why_{rule}: {cells[f'why_{rule}']!r}"
    shown = [value for name, value in cells.items() if re.fullmatch(r"Worth a look!C\d+", name)]
    if shown != ["in error"] * len(rules):
        yield f"Worth a look has the states {shown}"
    all_of_them = f"{len(rules)} can't be judged, since a value they read is in error."
    if cells["Worth a look!B4"] != f"0 of these {len(rules)} rules ask for a look; {all_of_them}":
        yield f"Worth a look says {cells['Worth a look!B4']!r}"


@pytest.mark.parametrize("name", ["pale", "granite, water"])
def test_a_rule_that_reads_an_error_says_so(name: str, sheets: dict[bool, Sheets]) -> None:
    there = sheets[PLANS[name].has_water]
    there.type(PLANS[name])
    assert list(in_error(there)) == []


def test_a_ph_that_no_water_has_is_no_reason_for_no_acid(sheets: dict[bool, Sheets]) -> None:
    """Pasted over its validation: 74 for 7.4."""
    hard = PLANS["hard water"]
    sheets[True].type(replace(hard, values=hard.values | {"water.ph": Amount(74.0, "pH")}))
    cells = sheets[True].cells()
    assert all(isinstance(cells[name], CellError) for name in ("sparge_acid_mass", "sparge_says"))


@pytest.mark.parametrize("name", ["nothing yet", "granite, measured", "hedge", "granite, water"])
def test_a_generated_workbook_holds_what_typing_the_plan_gives(name: str, sheets: dict[bool, Sheets]) -> None:
    there = sheets[PLANS[name].has_water]
    there.type(PLANS[name])
    with Package("batch.xlsx", data=new(PLANS[name])) as package:
        stored, places = cells_of(package), places_of(package)
    found = there.cells()
    assert places == there.places
    assert [key for key in places if not alike(key, found[key], stored[key])] == []


def test_a_wrong_cell_is_named(sheets: dict[bool, Sheets]) -> None:
    """The test above can fail."""
    plan = PLANS["pale"]
    model = Batch(plan)
    sheets[False].type(plan)
    cells, places = sheets[False].cells(), sheets[False].places
    assert len([name for name in model.named if name in cells]) > 300
    assert len(converted_inputs(cells, model)) > 90
    wrongs = [("alcohol", 0.06), ("original_gravity", 1.06), ("gravity_state", "Look"), ("dms", "")]
    for wrong, value in wrongs:
        said = list(differences(cells | {wrong: value}, places, model))
        assert len(said) == 1, said
        assert said[0].startswith(f"{wrong}: ")
    chart = places["Chart: temperature to set"]
    said = list(differences(cells | {f"Workings!{address(chart[1] + 3, 3)}": 99.0}, places, model))
    assert said == ["Chart: temperature to set, row 2, column 2: 99.0, by the model 19.0"]
