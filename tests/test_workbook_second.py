"""The batch workbook's sheets on fermentation, cleaning, what is worth a look, the guide and the known answers."""

import copy
import csv
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from brewfuncs.batch import demo
from brewfuncs.batch.plan import SECTIONS, Plan
from brewfuncs.batch.sheets import known_answers as sheet_known_answers
from brewfuncs.hosts import doctor
from brewfuncs.hosts import known_answers as known_answers_module
from brewfuncs.hosts.engine import catalogue
from brewfuncs.hosts.known_answers import KnownAnswer, known_answers
from brewfuncs.workbook.recalculate import recalculate
from tests.test_workbook import Book

TABLES = Path(__file__).parent / "tables"
DATA = Path(known_answers_module.__file__).with_name("known_answers.csv")
ONE_PAGE = ("Fermentation", "Cleaning", "Worth a look")
LISTS = ("Functions", "Known answers")

Make = Callable[..., Book]


@pytest.fixture
def make(tmp_path: Path) -> Make:
    """A workbook of the demo batch, with some sections of it replaced."""

    def made(**sections: Any) -> Book:
        given: dict[str, Any] = copy.deepcopy(demo.LANTERN_PALE)
        for key, content in sections.items():
            given[key] = {**given.get(key, {}), **content} if isinstance(content, dict) else content
        return Book.made(tmp_path / "batch.xlsx", Plan.of(given, measured=True))

    return made


@pytest.fixture(scope="module")
def demo_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("second") / "batch.xlsx"
    Book.made(path, Plan.of(demo.LANTERN_PALE | demo.LANTERN_PALE_MEASURED, measured=True))
    return path


# -- known answers ---------------------------------------------------------------------------------------------------


def test_known_answers_are_rows_of_the_tables() -> None:
    def read(path: Path) -> list[dict[str, str]]:
        return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))

    tables = {row["id"]: row for path in TABLES.glob("*.csv") for row in read(path)}
    rows = read(DATA)
    assert len(rows) == len({row["id"] for row in rows}) >= 40
    for row in rows:
        assert row == tables[row["id"]]


def test_known_answers_cover_every_group_of_functions() -> None:
    groups = {re.match(r"=([A-Z]+)_", answer.formula)[1] for answer in known_answers()}  # type: ignore[index]
    assert groups == {function.group for function in catalogue().values()} - {"BREW"}  # which says nothing of beer


def test_the_doctor_tries_the_same() -> None:
    assert known_answers() == doctor.KNOWN_ANSWERS


def test_one_cell_says_that_this_host_computes_right(demo_path: Path) -> None:
    assert Book(demo_path)["known_answers_state"] == f"All {len(known_answers())} known answers come out right here."


def test_one_cell_says_how_many_answers_are_wrong(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    wrong = (
        KnownAnswer("=WATER_DENSITY(25)", 1.0, 1e-6, "made up"),
        KnownAnswer("=WATER_DENSITY(-500)", 1.0, 1e-6, "made up: an error"),
        KnownAnswer("=BOIL_OFF(4,30)", 2.0, 1e-9, "definition"),
    )
    monkeypatch.setattr(sheet_known_answers, "known_answers", lambda: wrong)
    state = Book.made(tmp_path / "batch.xlsx")["known_answers_state"]
    assert state.startswith("2 of 3 known answers don't come out right here")


# -- the guide -------------------------------------------------------------------------------------------------------


def test_the_guide_has_a_line_for_every_function(demo_path: Path) -> None:
    sheet = openpyxl.load_workbook(demo_path)["Functions"]
    lines = {row[0].value: row for row in sheet.iter_rows(min_col=2, max_col=6) if row[0].value}
    values = openpyxl.load_workbook(demo_path, data_only=True)["Functions"]
    for function in catalogue().values():
        name, answers, unit, example, value = lines[function.signature]
        assert answers.value == function.summary
        assert unit.value
        assert example.value == function.example
        assert example.data_type == "s"  # text, so that it can be read
        if function.gives_text:
            value = sheet.cell(name.row + 1, 3)
        assert value.data_type == "f"
        assert value.value == function.example
        worked_out = values[value.coordinate].value
        assert isinstance(worked_out, str) == function.gives_text, function.name
        assert not str(worked_out).startswith("#")


def test_worked_examples_are_those_of_published_tables(demo_path: Path) -> None:
    """Three lines whose values stand elsewhere: the sheet shows what it says it computes."""
    sheet = openpyxl.load_workbook(demo_path, data_only=True)["Functions"]
    shown = {row[3].value: row[4].value for row in sheet.iter_rows(min_col=2, max_col=6)}
    assert shown["=MASH_PASTEUR_UNITS(10,76)"] == pytest.approx(10 * 1.393**16, rel=1e-9)  # Del Vecchio 1951
    assert shown["=HOP_UTILIZATION(60)"] == pytest.approx(0.231, abs=0.0006)  # Tinseth's table
    assert shown['=UNIT_CONVERT(1,"fl oz/gal","mL/L")'] == pytest.approx(1000 / 128, rel=1e-9)  # 128 fl oz a gallon


# -- fermentation ----------------------------------------------------------------------------------------------------


def test_the_temperature_to_set_rises_towards_the_end(make: Make) -> None:
    rise = {"temp": "18 °C", "ramp_day": "3 d", "end_temp": "21 °C", "per_day": "1.5 K"}
    book = make(fermentation=rise, readings=[{"day": f"{day} d"} for day in (0, 3, 4, 5, 6, 20)])
    # by hand: 18 until day 3, then 1.5 a day up to 21
    assert [book[f"reading_{n}_set"] for n in range(1, 7)] == pytest.approx([18, 18, 19.5, 21, 21, 21])
    assert book["reading_7_set"] == ""
    book.record(fermentation_temp_unit="°F", fermentation_temp=64.4)
    assert [book[f"reading_{n}_set"] for n in (1, 3, 5)] == pytest.approx([64.4, 67.1, 69.8])


def test_rows_to_be_read_start_with_the_days_of_a_fermentation(tmp_path: Path) -> None:
    book = Book.made(tmp_path / "empty.xlsx", Plan.empty())
    days = [book[f"reading_{n}_day"] for n in range(1, 15)]
    assert days == sorted(set(days))
    assert (days[0], days[-1]) == (0, 28)


READINGS = [
    {"day": "0 d"},
    {"day": "4 d", "gravity": "1.020", "gravity_temp": "20 °C"},
    {"day": "8 d", "gravity": "1.0115"},
    {"day": "10 d", "gravity": "1.011"},
]


def test_the_latest_reading_counts(make: Make) -> None:
    book = make(fermented={"fermenter_gravity": "1.050"}, readings=READINGS)
    assert book["gravity_now"] == pytest.approx(1.011)
    # 12.39 and 2.81 °P by the ASBC table's cubic (from memory)
    assert book["attenuation_now"] == pytest.approx((12.39 - 2.81) / 12.39, abs=0.001)
    assert book["alcohol_now"] == pytest.approx(131.25 * 0.039 / 100, abs=0.002)  # common practice; within 0.2 %
    assert book["reading_1_used"] == ""
    assert book["gravity_steady"] == "Steady"


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ([], "No reading yet"),
        (READINGS[:2], "Look here: read again in two days"),
        (READINGS[:3], "Look here: not steady yet"),
        ([*READINGS[:3], {"day": "9 d", "gravity": "1.0115"}], "Look here: not steady yet"),  # a day is too soon
        ([*READINGS[:2], {"day": "6 d", "gravity": "1.020"}], "Look here: steady, but high"),
        (READINGS, "Steady"),
    ],
)
def test_a_gravity_is_steady_when_two_readings_two_days_apart_agree(make: Make, readings: Any, said: str) -> None:
    assert make(fermented={"fermenter_gravity": "1.050"}, readings=readings)["gravity_steady"] == said


def test_priming_and_what_is_still_to_come(make: Make) -> None:
    book = make(
        fermented={"fermenter_gravity": "1.050", "package_volume": "20 L", "warmest_temp": "20 °C"},
        yeast={"attenuation": "77.5 %"},
        readings=[{"day": "6 d", "gravity": "1.015"}],
    )
    residual = 3.0378 - 0.050062 * 68 + 2.6555e-4 * 68**2  # quadratic in °F, of the trade (from memory)
    assert book["residual_co2"] == pytest.approx(residual, abs=1e-9)
    # one glucose unit of 162.14 g (half a sucrose, 171.15 g) gives two CO2 of 44.01 g; a volume is 1.977 g/L
    assert book["priming_sugar"] == pytest.approx(20 * (2.4 - residual) * 1.977 * 171.15 / 88.02, rel=1e-3)
    # of 12.39 °P, at 3.82 °P now and at 2.79 °P in the end (77.5 % attenuated: 1.0109), Balling's real extract is
    # 0.1808 and 0.8192 of the two; per litre it is °P times gravity times 9.982 g, and gives 0.9565/2.0665 of CO2
    now, end = (0.1808 * 12.39 + 0.8192 * apparent for apparent in (3.82, 2.79))
    expected = (now * 1.015 - end * 1.0109) * 9.982 * 0.9565 / 2.0665 / 1.977
    assert book["co2_to_come"] == pytest.approx(expected, rel=0.01)  # the °P are rounded
    assert book["co2_in_all"] == pytest.approx(2.4 + book["co2_to_come"])
    assert book["package_state"] == "Look here: not finished"


@pytest.mark.parametrize(
    ("package", "readings", "said"),
    [
        ({}, [], "Look here: take a reading first"),
        ({}, READINGS, "Bottle only at a steady gravity"),
        ({"target": "3.2 vol"}, READINGS, "Look here: over 3 volumes"),
        ({"target": "0.6 vol"}, READINGS, "Look here: it holds more already"),
        ({"kind": "keg"}, [], "Set that pressure"),
        ({"kind": "keg", "target": "3.2 vol"}, [], "Look here: over 3 volumes"),
    ],
)
def test_what_is_said_of_the_package(make: Make, package: Any, readings: Any, said: str) -> None:
    book = make(package=package, readings=readings, fermented={"fermenter_gravity": "1.050"})
    assert book["package_state"] == said
    assert (book["priming_sugar"] > 0) == ("kind" not in package and package.get("target") != "0.6 vol")


def test_the_pressure_is_that_of_the_force_carbonation_table(make: Make) -> None:
    # 60 °F and 2.7 volumes: 25.9 psi by the table's regression (published, read)
    book = make(package={"kind": "keg", "target": "2.7 vol", "temp": "60 °F"})
    assert book["package_pressure"] == pytest.approx(25.9, abs=0.06)
    assert book["package_pressure_unit"] == "psi"


def test_a_refractometer_serves_where_there_is_no_hydrometer(make: Make) -> None:
    readings = [{"day": "1 d", "brix": 13.0}, {"day": "9 d", "brix": 6.2}]
    book = make(fermented={"fermenter_gravity": "1.050"}, readings=readings, instruments={"refractometer_factor": 1.0})
    assert book["reading_1_used"] > 1.05  # above the wort's own: nothing has fermented, so it is read as wort
    i, f = 12.388, 6.2  # °P of 1.050
    novotny = 1 + 1.335e-5 * i * i - 3.239e-5 * i * f + 2.916e-5 * f * f - 2.421e-3 * i + 6.219e-3 * f
    assert book["reading_2_used"] == pytest.approx(novotny, abs=3e-5)  # Novotny 2017, quadratic (from memory)


def test_a_reading_that_cannot_be_is_an_error_wherever_it_is_read(make: Make) -> None:
    book = make(readings=[{"day": "4 d", "gravity": "1.020"}])
    book.typed("reading_1_gravity_temp", 75)  # over the 60 °C up to which a hydrometer's correction holds
    for name in ("reading_1_used", "gravity_now", "gravity_steady", "co2_to_come", "package_state", "look_unfinished"):
        assert getattr(book[name], "code", book[name]) == "#NUM!", name
    assert "1 can't be judged" in worth_a_look_said(book)


def worth_a_look_said(book: Book) -> str:
    text = openpyxl.load_workbook(book.path, data_only=True)["Worth a look"]["B4"].value
    assert isinstance(text, str)
    return text


# -- cleaning --------------------------------------------------------------------------------------------------------

ACID = {
    "acid_volume": "5 gal", "acid_rate": "0.2 fl oz/gal", "acid_share": "50 %", "acid_density": "1.3 kg/L",
    "acid_limit": "", "acid_poured": "", "alkalinity": "0 mg/L",
}  # fmt: skip


def test_dose_strength_and_ph_of_an_acid_sanitizer(make: Make) -> None:
    book = make(cleaning=ACID)
    assert book["acid_dose_in_mL"] == pytest.approx(29.57353, rel=1e-6)  # one US fluid ounce, by definition
    strength = 1.5625 * 1.3 * 0.5 * 1000 / 1.0015625  # mg in a litre of water and 1.5625 mL
    assert book["acid_strength"] == pytest.approx(strength, rel=1e-9)
    assert book["acid_ph"] == pytest.approx(2.27, abs=0.02)  # PHREEQC: 2.270 at 980 mg/L, 2.068 at 1960
    assert book["acid_strength_limit"] == pytest.approx(strength, rel=1e-9)
    assert book["acid_state"] == "As the label says"


def test_chlorine_of_a_bleach(make: Make) -> None:
    book = make(cleaning={"chlorine_volume": "10 L", "chlorine_rate": "1 mL/L", "chlorine_share": "6 %"})
    # available chlorine: NaOCl times 70.906/74.442
    assert book["chlorine_strength"] == pytest.approx(10 * 1.08 * 0.06 * 1000 / 10 * 70.906 / 74.442, rel=1e-9)


@pytest.mark.parametrize(
    ("poured", "limit", "said"),
    [
        (20, "", "Look here: off the label's dose"),
        (28, "", "As the label says"),
        (31, "", "Look here: too strong, rinse as it says"),
        (31, "2 mL/L", "As the label says"),
        (37, "2 mL/L", "Look here: off the label's dose"),
    ],
)
def test_the_dose_against_the_label(make: Make, poured: float, limit: str, said: str) -> None:
    assert make(cleaning={**ACID, "acid_poured": f"{poured} mL", "acid_limit": limit})["acid_state"] == said


@pytest.mark.parametrize("missing", ["acid_rate", "acid_share", "acid_density", "acid_volume"])
def test_what_is_not_stated_is_not_computed(make: Make, missing: str) -> None:
    book = make(cleaning=ACID)
    book.record(**{f"cleaning_{missing}": None})
    assert book["acid_state"] == "Not in use"
    for name in ("acid_dose", "acid_strength", "acid_strength_limit", "acid_ph", "dried_factor", "residue"):
        assert book[name] == "", name


def test_what_drying_does(make: Make) -> None:
    book = make(cleaning={**ACID, "humidity": "32.1 %", "film": "50 µm", "area": "1 m²", "air_temp": "25 °C"})
    assert book["dried_acid"] == pytest.approx(0.75, abs=0.01)  # Innophos, Phosphoric Acid, table 3
    assert book["dried_factor"] == pytest.approx(0.75 / (book["acid_strength"] / 1e6), rel=0.015)
    assert book["residue"] == pytest.approx(50e-6 * 1000 * book["acid_strength"])  # 50 mL of it on a square metre
    drier = book["film_minutes"]
    assert book.record(cleaning_humidity=0.6)["film_minutes"] > drier


def test_the_chart_of_drying_follows_from_what_cannot_evaporate(make: Make) -> None:
    book = make(cleaning={**ACID, "acid_solids": "40 %"})
    stays = 0.4 * 1.5625 / 1001.5625  # volume in volume
    assert book["nonvolatile"] == pytest.approx(stays, rel=1e-9)
    book.record(cleaning_acid_solids=None)
    assert book["nonvolatile"] == pytest.approx(stays / 0.4 * 0.5, rel=1e-9)  # the acid's share instead
    acid, dried = book["acid_strength"] / 1e6, book["dried_acid"]
    water = book["water_that_stays"] * (1 - acid)  # of a gram of solution; beside the acid it is dried again
    assert acid / (acid + water) == pytest.approx(dried, rel=2e-3)


def test_plastics_have_their_cautions(make: Make) -> None:
    parts = [
        {"name": "Tap", "plastic": "POM", "chemistry": "acid anionic", "state": "dried"},
        {"name": "Lid", "plastic": "polypropylene", "chemistry": "alcohol"},
        {"name": "Seal", "plastic": "polyketone", "chemistry": "chlorine", "state": "contact"},
    ]
    book = make(parts=parts)
    assert book["part_1_caution"].startswith("Strong caution: acid anionic sanitizer dried on acetal (POM)")
    assert book["part_2_caution"] == ""  # not all of it is stated
    assert book["part_3_caution"].startswith("Not known: chlorine on polyketone is not listed: ask the maker")
    book.record(part_2_state="contact")
    assert book["part_2_caution"].startswith("No harm known: alcohol on polypropylene")


# -- worth a look ----------------------------------------------------------------------------------------------------


def hop(time: float, alpha: str = "6 %", **more: Any) -> dict[str, Any]:
    return {"name": f"Ostrane {time:g}", "mass": "20 g", "alpha": alpha, "time": time, **more}


def part(plastic: str, chemistry: str, state: str) -> list[dict[str, str]]:
    return [{"name": "Tap", "plastic": plastic, "chemistry": chemistry, "state": state}]


PALE, PILSNER = "2 mg/kg", "6 mg/kg"


def malt(precursor: str, mass: str = "4.7 kg") -> list[dict[str, str]]:
    return [{"name": "Malt", "mass": mass, "yield": "79 %", "precursor": precursor}]


@pytest.mark.parametrize(
    ("rule", "state", "changes"),
    [
        ("flavour", "look here", {"hops": [hop(60), hop(20)]}),
        ("flavour", "look here", {"hops": [hop(60), hop(45)]}),
        ("flavour", "fine", {"hops": [hop(60), hop(46), hop(19)]}),
        ("flavour", "fine", {"hops": [hop(30), hop(5)]}),  # the earliest, however late
        ("flavour", "fine", {"hops": [hop(60), hop(20, stand_temp="80 °C")]}),
        ("flavour", "not used", {"hops": []}),
        ("boil_long", "look here", {"boil": {"time": "46 min"}, "malts": malt(PALE)}),
        ("boil_long", "fine", {"boil": {"time": "45 min"}, "malts": malt(PALE)}),
        ("boil_long", "fine", {"boil": {"time": "60 min"}, "malts": malt("9 mg/kg")}),  # which needs some 50 min
        ("boil_long", "not used", {"boil": {"kettle": "covered"}}),
        ("boil_short", "look here", {"boil": {"time": "14 min"}, "malts": malt("0 mg/kg")}),
        ("boil_short", "fine", {"boil": {"time": "15 min"}, "malts": malt("0.5 mg/kg")}),
        ("boil_short", "not used", {"boil": {"time": "15 min"}, "malts": malt("0 mg/kg")}),
        ("boil_long", "not used", {"boil": {"time": "90 min"}, "malts": malt("0 mg/kg")}),
        ("boil_short", "look here", {"boil": {"time": "20 min"}, "malts": malt("10 mg/kg")}),
        ("boil_short", "uncertain", {"boil": {"time": "60 min"}, "malts": malt(PILSNER)}),
        ("covered", "look here", {"boil": {"kettle": "covered"}}),
        ("covered", "look here", {"kettle": {"boil_off": "0 L/h"}}),
        ("covered", "fine", {}),
        # Newton: ln((99.5 - 15)/(80 - 15)) = 0.262, divided by the cooling constant; 5 min at 0.0525
        ("slow_chill", "look here", {"chill": {"cooling": "0.052 /min"}, "hops": [hop(60), hop(15)]}),
        ("slow_chill", "fine", {"chill": {"cooling": "0.053 /min"}, "hops": [hop(60), hop(15)]}),
        ("slow_chill", "look here", {"chill": {"cooling": "0 /min", "time": "6 min"}, "hops": [hop(5)]}),
        ("slow_chill", "not used", {"chill": {"cooling": "0.01 /min"}, "hops": [hop(60), hop(16)]}),
        ("kettle_full", "look here", {"kettle": {"size": "31 L"}}),  # 25.5 L, 4 % more when hot: 26.5
        ("kettle_full", "fine", {"kettle": {"size": "31.5 L"}}),
        ("acid_dose", "look here", {"cleaning": {**ACID, "acid_poured": "33 mL"}}),
        ("acid_dose", "look here", {"cleaning": {**ACID, "acid_poured": "26 mL"}}),
        ("acid_dose", "fine", {"cleaning": {**ACID, "acid_poured": "32 mL"}}),
        ("acid_strength", "look here", {"cleaning": {**ACID, "acid_poured": "30 mL"}}),  # any excess
        ("acid_strength", "fine", {"cleaning": {**ACID, "acid_poured": "32 mL", "acid_limit": "1.7 mL/L"}}),
        ("acid_ph", "look here", {"cleaning": {**ACID, "acid_rate": "0.25 mL/L", "alkalinity": "30 mg/L"}}),
        ("acid_ph", "fine", {"cleaning": ACID}),
        ("chlorine_dose", "look here", {"cleaning": {"chlorine_poured": "23 mL"}}),
        ("chlorine_dose", "fine", {"cleaning": {"chlorine_poured": "21 mL"}}),
        ("chlorine_strength", "look here", {"cleaning": {"chlorine_poured": "21 mL"}}),
        ("acetal", "look here", {"parts": part("acetal", "phosphoric acid", "soaked")}),
        ("acetal", "look here", {"parts": part("POM", "iodophor", "dried")}),
        ("acetal", "fine", {"parts": part("acetal", "acid anionic", "rinsed")}),
        ("acetal", "fine", {"parts": part("acetal", "alcohol", "dried")}),
        ("acetal", "not used", {"parts": []}),
        ("steel", "look here", {"parts": part("stainless steel", "chlorine", "contact")}),
        ("steel", "fine", {"parts": part("stainless steel", "acid anionic", "dried")}),
        ("rise", "look here", {"fermentation": {"temp": "19 °C", "end_temp": "20.9 °C"}}),
        ("rise", "fine", {"fermentation": {"temp": "19 °C", "end_temp": "21 °C"}}),
        ("unfinished", "not used", {}),
        ("unfinished", "look here", {"readings": READINGS[:2]}),
        ("unfinished", "fine", {"readings": [{"day": "9 d", "gravity": "1.010"}]}),
        ("high_target", "look here", {"package": {"target": "3.1 vol"}}),
        ("high_target", "fine", {"package": {"target": "3 vol"}}),
        ("alpha", "look here", {"hops": [hop(60, "21 %")]}),
        ("alpha", "look here", {"hops": [hop(60), hop(5, "1.9 %")]}),
        ("alpha", "fine", {"hops": [hop(60, "20 %"), hop(5, "2 %")]}),
        ("efficiency", "look here", {"mash": {"efficiency": "49 %"}}),
        ("efficiency", "look here", {"mash": {"efficiency": "96 %"}}),
        ("efficiency", "fine", {"mash": {"efficiency": "50 %"}}),
        ("efficiency", "not used", {"malts": []}),
        ("evaporation", "look here", {"kettle": {"boil_off": "0.8 L/h"}}),  # of some 21 L: 3.7 %
        ("evaporation", "fine", {"kettle": {"boil_off": "0.9 L/h"}}),
        ("evaporation", "look here", {"kettle": {"boil_off": "4.8 L/h"}}),  # of 23.4 L: 20.5 %
        ("methods", "fine", {"hops": [hop(60)]}),
        ("methods", "look here", {"hops": [hop(2)]}),  # Rager smooth gives 5 % where Tinseth gives 2 %
        ("methods", "not used", {"hops": []}),
    ],
)  # fmt: skip
def test_rules(make: Make, rule: str, state: str, changes: dict[str, Any]) -> None:
    book = make(**changes)
    assert book[f"look_{rule}"] == state
    assert not recalculate(book.path).kept


def test_a_rule_names_the_addition_it_is_about(make: Make) -> None:
    book = make(hops=[hop(60), hop(30), hop(25)])
    values = openpyxl.load_workbook(book.path, data_only=True)["Worth a look"]
    said = next(row[2].value for row in values.iter_rows(min_col=2, max_col=5) if row[0].value == "Flavour addition")
    assert said.startswith("Ostrane 30 boils 30 min, and 1 more between 20 and 45: ")


def test_evaporation_is_told_as_it_is(make: Make) -> None:
    """DMS functions answer up to 40 % an hour; what is above it isn't shown as 40 %."""
    book = make(kettle={"boil_off": "1.5 L/h"}, batch={"volume": "2 L"}, boil={"time": "60 min"})
    values = openpyxl.load_workbook(book.path, data_only=True)["Worth a look"]
    said = next(row[2].value for row in values.iter_rows(min_col=2, max_col=5) if row[0].value == "Evaporation")
    assert said.startswith("54.5 % of the kettle an hour")  # 1.5 L/h of 2.75 L, the mean of 3.5 L and 2 L


def test_states_are_counted_on_top(make: Make) -> None:
    book = make(hops=[hop(60)], parts=[], boil={"time": "30 min"}, kettle={"boil_off": "4 L/h"})
    assert worth_a_look_said(book) == "Nothing here asks for a look."
    book = make(hops=[hop(60), hop(30)], parts=part("stainless steel", "chlorine", "dried"), boil={"time": "60 min"},
                malts=malt(PILSNER))  # fmt: skip
    assert worth_a_look_said(book) == "3 of these 20 rules ask for a look, 1 uncertain."


def test_every_rule_has_words_and_a_source(demo_path: Path) -> None:
    sheet = openpyxl.load_workbook(demo_path, data_only=True)["Worth a look"]
    rules = [row for row in sheet.iter_rows(min_row=7, min_col=2, max_col=5) if row[1].value]
    assert len(rules) == 20
    for title, state, why, source in rules:
        assert state.value in ("fine", "look here", "uncertain", "not used"), title.value
        assert re.fullmatch(r"[^#].{10,250}\.", why.value), why.value
        assert source.value


# -- the sheets ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*ONE_PAGE, *LISTS])
def test_sheets_print_tidily_and_are_protected_without_a_password(demo_path: Path, name: str) -> None:
    sheet = openpyxl.load_workbook(demo_path)[name]
    assert sheet.protection.sheet
    assert not sheet.protection.password
    assert sheet.page_setup.orientation == "portrait"
    assert sheet.page_setup.fitToWidth == 1
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.page_setup.fitToHeight == (0 if name in LISTS else 1)
    assert bool(sheet.print_title_rows) == (name != "Fermentation" and name != "Cleaning")


def test_wrapped_text_has_the_room_it_needs(demo_path: Path) -> None:
    """By characters: type of 10 points takes at most 1.35 a unit of width in LibreOffice (measured)."""
    formulas = openpyxl.load_workbook(demo_path)
    values = openpyxl.load_workbook(demo_path, data_only=True)
    for name in ("Worth a look", *LISTS):
        for row in values[name].iter_rows(min_row=7):
            for cell in row:
                if (
                    isinstance(cell.value, str)
                    and cell.alignment.wrap_text
                    and cell.coordinate not in formulas[name].merged_cells
                ):
                    width = formulas[name].column_dimensions[cell.column_letter].width
                    lines = -(-len(cell.value) // int(width * 1.35))
                    height = formulas[name].row_dimensions[cell.row].height or 15
                    assert 12.5 * lines <= height, f"{name}!{cell.coordinate}: {cell.value}"


def test_plans_in_files_hold_what_these_sheets_ask_for() -> None:
    in_file = {section.key for section in SECTIONS if section.in_file}
    assert {"fermentation", "package", "cleaning", "parts"} <= in_file
    assert not {"readings", "fermented"} & in_file  # measurements
