"""The list of inputs, and plan files: what is read, what is refused and how it is said."""

import datetime
from pathlib import Path

import pytest

from brewfuncs import units
from brewfuncs.batch import demo
from brewfuncs.batch.formats import SYSTEMS, house_unit
from brewfuncs.batch.inputs import Amount
from brewfuncs.batch.names import check_name, suffix
from brewfuncs.batch.plan import Plan, load
from brewfuncs.batch.sections import INPUTS, SECTIONS
from brewfuncs.catalogue import catalogue
from brewfuncs.errors import BrewError, WorkbookError

SMALL = """
[batch]
volume = "5 gal"
gravity = 1.050
[kettle]
boil_off = "1 gal/h"
[boil]
time = "1 h"
"""


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


# -- the list --------------------------------------------------------------------------------------------------------


def cell_names() -> list[str]:
    return [
        section.name(item.key, n)
        for section in SECTIONS
        for item in section.inputs
        for n in (range(1, section.rows + 1) if section.rows else (None,))
    ]


def test_names_of_cells_are_names_everywhere_and_used_once() -> None:
    names = cell_names()
    assert len({name.casefold() for name in names}) == len(names)
    for name in names:
        check_name(name)


@pytest.mark.parametrize(
    "name", ["hop1", "dms1", "abc12", "R1C1", "r", "C", "rc", "true", "boil_minutes", "1st", "a b"]
)
def test_names_that_mean_something_else_are_refused(name: str) -> None:
    # a cell's address, R1C1 notation, a constant, one of our functions, not a name at all
    with pytest.raises(ValueError, match=name):
        check_name(name)


def test_names_of_measurements_are_as_promised() -> None:
    assert {"preboil_gravity", "preboil_volume", "batch_volume", "hop_1_mass"} <= set(cell_names())


@pytest.mark.parametrize("key", INPUTS)
def test_every_input_has_help_and_a_default_within_its_own_limits(key: str) -> None:
    item = INPUTS[key].item
    assert item.label
    assert item.help or not item.is_number or item.parameter.help
    item.read(item.default)


@pytest.mark.parametrize("key", [key for key, (_, item) in INPUTS.items() if item.unit_choices])
def test_units_an_input_starts_with_can_be_chosen(key: str) -> None:
    item = INPUTS[key].item
    for system in SYSTEMS:
        assert house_unit(item.quantity.symbol, system) in item.unit_choices


def test_house_units_are_what_brewers_there_use() -> None:
    assert [house_unit("L", system) for system in SYSTEMS] == ["L", "gal", "imp gal"]
    assert [house_unit("°C", system) for system in SYSTEMS] == ["°C", "°F", "°F"]


def test_endings_tell_units_apart() -> None:
    symbols = {item.quantity.symbol for _, item in INPUTS.values() if item.is_number}
    assert len({suffix(symbol) for symbol in symbols if symbol}) == len({symbol for symbol in symbols if symbol})


# -- reading ---------------------------------------------------------------------------------------------------------


def test_a_small_plan(tmp_path: Path) -> None:
    plan = load(written(tmp_path, SMALL))
    assert plan.values["batch.volume"] == Amount(5.0, "gal")
    assert plan.values["batch.gravity"] == Amount(1.05, "SG")
    assert plan.values["boil.time"] == Amount(1.0, "h")
    assert plan.system == "us"
    assert plan.values["mash.temp"] == Amount(151.0, "°F")  # left out: the usual 66 °C, which are 150.8 °F


def test_what_a_plan_leaves_open_is_round_in_its_own_units() -> None:
    """36 L is 9.51 gal, 1.5 L 0.396 gal, 66 °C 150.8 °F, 3 L/kg 1.438 qt/lb (NIST SP 811: 3.785412 L, 0.4535924 kg)."""
    batch = {"volume": "5.5 gal", "gravity": "1.050"}
    given = {"batch": batch, "kettle": {"boil_off": "4 L/h"}, "boil": {"time": 60}, "chill": {"coolant_temp": "15 °C"}}
    plan = Plan.of(given)
    got = {key: plan.values[key] for key in ("kettle.size", "kettle.loss", "mash.temp", "mash.ratio")}
    assert got == {"kettle.size": (9.5, "gal"), "kettle.loss": (0.4, "gal"), "mash.temp": (151, "°F"),
                   "mash.ratio": (1.4, "qt/lb")}  # fmt: skip
    assert plan.values["kettle.boil_off"] == (4, "L/h")
    assert plan.values["chill.coolant_temp"] == (15, "°C")
    metric = Plan.of(given | {"batch": batch | {"volume": "21 L"}})
    assert metric.values["kettle.size"] == (36, "L")


def test_every_key_can_be_written() -> None:
    given: dict[str, object] = {}
    for section in SECTIONS:
        if section.in_file:
            table = {}
            for item in section.inputs:
                if item.is_text:
                    table[item.key] = item.words[0] if item.words else "=1+1"
                elif item.is_date:
                    table[item.key] = datetime.date(2026, 3, 14)
                else:
                    limits = item.parameter.limits
                    middle = 1.05 if item.quantity.symbol == "SG" else min(limits.high, max(limits.low, 0.2))
                    table[item.key] = f"{middle} {item.quantity.symbol}".strip()
            given[section.key] = [table] * section.rows if section.rows else table
    plan = Plan.of(given)
    assert plan.rows["hops"][11]["name"] == "=1+1"  # text, and nobody's formula
    assert plan.values["batch.date"] == datetime.date(2026, 3, 14)


@pytest.mark.parametrize(
    ("more", "has_water"),
    [
        ({}, False),
        ({"water": {}}, True),  # to be filled in the workbook
        ({"water": {"alkalinity": "12 °dH"}}, True),
        ({"salts": [{"name": "gypsum", "mass": "2 g"}]}, True),
        ({"malts": [{"name": "Pale malt", "mass": "4 kg"}]}, False),
        ({"malts": [{"name": "Pale malt", "mass": "4 kg", "ph": 5.7}]}, True),
    ],
)
def test_a_plan_has_water_where_it_states_something_of_it(more: dict[str, object], has_water: bool) -> None:
    small = {"batch": {"volume": "20 L", "gravity": 1.05}, "kettle": {"boil_off": "4 L/h"}, "boil": {"time": 60}}
    plan = Plan.of(small | more)
    assert plan.has_water is has_water
    assert ("salts" in plan.rows) is has_water


def test_the_invented_batches_are_plans() -> None:
    assert Plan.of(demo.LANTERN_PALE).rows["hops"][0]["alpha"] == Amount(9.5, "%")
    assert Plan.of(demo.SLATE_PILSNER).system == "metric"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("[boil]", "[boill]"), "boill is not a key of a plan; did you mean boil?"),
        (("time = ", "timme = "), "boil.timme is not a key of a plan; did you mean time?"),
        (('volume = "5 gal"', ""), "batch.volume is missing"),
        (('"1 gal/h"', '"1 gal"'), 'kettle.boil_off: "1.0 gal" is a volume, not a flow'),
        (('"5 gal"', '"0 gal"'), "batch.volume: 0 L is not more than 0 L"),
        (('"5 gal"', '"-5 gal"'), "batch.volume: -18.9271 L is not more than 0 L"),
        (('"5 gal"', "5"), 'batch.volume: a unit is missing: write it as in "5 L"'),
        (('"5 gal"', '"5,5 gal"'), "has a comma"),
        (('"5 gal"', '"five gal"'), "is not a number or a quantity"),
        (('"5 gal"', '""'), "is not a number or a quantity"),
        (('"5 gal"', "true"), "True is no quantity"),
        (('"5 gal"', "[5]"), "[5] is no quantity"),
        (("1.050", "1.5"), "batch.gravity: 1.5 SG is outside 1 to 1.2 SG"),
        (("1.050", '"12 Brix"'), "is a refractometer reading"),
        (('"1 h"', '"11 h"'), "boil.time: 660 min is outside 0 to 600 min"),
        (("[boil]", "[mash]\nefficiency = 75\n[boil]"), "mash.efficiency: 75 is over 1: write 75 % or 0.75"),
        (("[boil]", '[boil]\nkettle = "ajar"'), '"ajar" is none of: open, covered'),
        (("[boil]", "[boil]\naltitude = nan"), "boil.altitude"),
        (("[boil]", '[boil]\naltitude = ""'), "boil.altitude"),  # nothing, where something is needed
        (("[boil]", '[batch2]\nx = "1"\n[boil]'), "batch2 is not a key of a plan; did you mean batch?"),
        (("[boil]", "[yeast]\nname = 5\n[boil]"), "5 is no text: put it in quotes"),
        (("[boil]", f'[yeast]\nname = "{"x" * 81}"\n[boil]'), "at most 80 characters"),
        (("[boil]", '[yeast]\nname = "a\\nb"\n[boil]'), "text of one line"),
        (("[batch]", '[batch]\ndate = "14.3.2026"'), "write it as 2026-03-14"),
        (("[boil]", "[hops]\nmass = 1\n[boil]"), "hops: a list of rows is wanted, each headed [[hops]]"),
        (("[batch]", "batch2 = 5\n[batch]"), "batch2 is not a key"),
        (("[boil]", '[[hops]]\nmass = "20 g"\ntime = 60\n[boil]'), "hops 1.alpha is missing"),
        (("[boil]", '[[hops]]\nmass = "20 g"\nalpha = 5.5\ntime = 60\n[boil]'), "hops 1.alpha: 5.5 is over 1"),
        (("[boil]", '[[malts]]\nmass = "1 kg"\nyield = "78 %"\ncolour = 5\n[boil]'), "did you mean color?"),
        (("[boil]", '[[hops]]\nmass = "20 g"\nalpha = 0.05\ntime = 60\n' * 13 + "[boil]"), "13 rows, and the sheet"),
        (("[boil]", '[day]\npreboil_volume = "20 L"\n[boil]'), "day is not a key of a plan"),  # measured, not planned
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_file_key_and_reason(tmp_path: Path, change: tuple[str, str], said: str) -> None:
    path = written(tmp_path, SMALL.replace(*change))
    with pytest.raises(WorkbookError) as refused:
        load(path)
    message = str(refused.value)
    assert said in message
    assert message.startswith(f"{path}: ")
    assert "\n" not in message


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"[batch", "is no TOML file"),
        (b"a = " + b"[" * 100_000, "brackets stand too deep"),
        (b"a = " + b"{a=" * 100_000, "brackets stand too deep"),
        (b"a" + b" . 'a'" * 100_000 + b" = 1", "more than 50 parts"),
        (b"[a" + b".a" * 100_000 + b"]", "more than 50 parts"),
        (b"\xff\xfe[batch]", "is no text file in UTF-8"),
        (b"", "batch.volume is missing, and so are batch.gravity, kettle.boil_off and boil.time"),
        (b"[batch]\nvolume='5 gal'\ngravity=1.05\n", "kettle.boil_off is missing, and so is boil.time"),
    ],
)
def test_files_that_are_no_plans(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(content)
    with pytest.raises(WorkbookError, match=said):
        load(path)


def test_files_that_are_not_there(tmp_path: Path) -> None:
    with pytest.raises(WorkbookError, match="does not exist"):
        load(tmp_path / "plan.toml")
    with pytest.raises(WorkbookError, match="can't be read"):
        load(tmp_path)


def test_a_plan_from_python_says_key_and_reason() -> None:
    with pytest.raises(BrewError, match=r"^mash\.temp: 200 °C is outside 0 to 100 °C$"):
        Plan.of({"batch": {"volume": "20 L", "gravity": 1.05}, "mash": {"temp": "200 °C"}})


def test_what_inputs_are_stands_in_the_catalogue_alone() -> None:
    for _, item in INPUTS.values():
        if isinstance(item.of, str) and "." in item.of:
            function, name = item.of.split(".")
            assert name in catalogue()[function].index
    assert INPUTS["boil.time"].item.parameter.limits == catalogue()["BOIL_OFF"].params[1].limits
    assert units.DIMENSIONS[0] is INPUTS["batch.volume"].item.quantity.dimension
