"""The batch workbook: what is in it, what its sheets work out, and how it behaves when readings come in."""

import copy
import datetime
import io
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import openpyxl
import pytest

from brewfuncs import __version__, units
from brewfuncs.batch import demo, generate
from brewfuncs.batch.examples import EXAMPLES
from brewfuncs.batch.formats import SYSTEMS
from brewfuncs.batch.generate import new
from brewfuncs.batch.inputs import Amount
from brewfuncs.batch.like import carried_over
from brewfuncs.batch.names import check_name
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import INPUTS, SECTIONS
from brewfuncs.catalogue import catalogue
from brewfuncs.errors import CellError, WorkbookError
from brewfuncs.workbook.places import cell_names, find_cell, written_place
from brewfuncs.workbook.recalculate import recalculate
from brewfuncs.xlsx.address import parse_range
from brewfuncs.xlsx.formula import tokenize
from brewfuncs.xlsx.package import Package
from tests.batch_books import COLD, Book, TypedBook, plain
from tests.office import Office
from tests.parity import Code

OURS = ("Plan", "Shorter boil", "Brew day")


@pytest.fixture
def book() -> TypedBook:
    return TypedBook.made()


@pytest.fixture(scope="module")
def demo_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "batch.xlsx"
    path.write_bytes(new())
    return path


@pytest.fixture(scope="module")
def demo_book(demo_path: Path) -> openpyxl.Workbook:
    """As openpyxl reads it: for looking at, not for changing."""
    return openpyxl.load_workbook(demo_path)


@pytest.fixture
def file(demo_path: Path, tmp_path: Path) -> Book:
    return Book(shutil.copy(demo_path, tmp_path / "batch.xlsx"))


# -- the file --------------------------------------------------------------------------------------------------------


def test_the_same_bytes_twice(demo_path: Path) -> None:
    assert new() == demo_path.read_bytes()


def test_the_same_bytes_in_another_process(demo_path: Path, tmp_path: Path) -> None:
    script = f"from brewfuncs.batch.generate import new; open({str(tmp_path / 'b')!r}, 'wb').write(new())"
    subprocess.run([sys.executable, "-c", script], check=True, env={"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo"})
    assert (tmp_path / "b").read_bytes() == demo_path.read_bytes()


def test_recomputing_a_new_workbook_changes_nothing(file: Book) -> None:
    report = recalculate(file.path)
    assert report.formulas > 500
    assert not report.changes
    assert not report.kept
    assert not report.failing
    assert not report.written


def test_it_says_what_made_it(demo_path: Path) -> None:
    with Package(demo_path) as package:
        properties = package.properties
    assert properties["brewfuncs_version"] == __version__
    revisions = dict(pair.split("=") for pair in properties["brewfuncs_revisions"].split())
    assert revisions["HOP_SWAP_MASS"] == str(catalogue()["HOP_SWAP_MASS"].revision)


def test_programs_without_the_functions_keep_the_stored_values(demo_book: openpyxl.Workbook) -> None:
    assert demo_book.calculation.fullCalcOnLoad is False  # else Excel turns them into #NAME? (from memory, not run)


@pytest.mark.parametrize("name", OURS)
def test_sheets_are_protected_without_a_password_and_print_one_page_wide(
    demo_book: openpyxl.Workbook, name: str
) -> None:
    sheet = demo_book[name]
    assert sheet.protection.sheet
    assert not sheet.protection.password
    # recipe and answers side by side fill the first page; brew day's rows leave room to write by hand
    assert sheet.page_setup.orientation == ("landscape" if name == "Plan" else "portrait")
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.oddFooter.left.text == f"{name} – Lantern Pale"
    assert not sheet.sheet_view.showGridLines


def test_inputs_are_free_and_formulas_locked(demo_book: openpyxl.Workbook) -> None:
    inputs = {
        section.name(item.key, n)
        for section in SECTIONS
        for item in section.inputs
        for n in (range(1, section.rows + 1) if section.rows else (None,))
    }
    for name, defined in demo_book.defined_names.items():
        sheet, _, area = defined.attr_text.replace("'", "").replace("$", "").partition("!")
        if ":" in area:
            continue
        cell = demo_book[sheet][area]
        if name in inputs:
            assert cell.data_type != "f", name
            assert not cell.protection.locked, name
        elif cell.data_type == "f":
            assert cell.protection.locked, name


def test_every_input_has_a_note() -> None:
    book = openpyxl.load_workbook(io.BytesIO(new(Plan.empty(with_optional=True))))
    for section in SECTIONS:
        for item in section.inputs:
            name = section.name(item.key, 1 if section.rows else None)
            sheet, _, area = book.defined_names[name].attr_text.replace("'", "").replace("$", "").partition("!")
            assert book[sheet][area].comment is not None, name


def test_notes_are_large_enough_for_their_text(demo_path: Path) -> None:
    texts, heights = [], []
    with zipfile.ZipFile(demo_path) as package:
        for name in package.namelist():
            content = package.read(name).decode() if "omments" in name and not name.endswith(".rels") else ""
            texts += re.findall(r"<comment .*?</comment>", content, re.DOTALL)
            heights += [int(height) for height in re.findall(r"width:320px;height:(\d+)px", content)]
    assert len(texts) == len(heights) > 50
    for text, height in zip(texts, heights, strict=True):
        plain_text = "".join(re.findall(r"<t[^>]*>([^<]*)</t>", text))
        lines = sum(-(-len(line) // 50) for line in plain_text.split("\n"))  # 320 px hold some 50 characters of 9 pt
        assert height >= 18 * lines, plain_text


# -- names -----------------------------------------------------------------------------------------------------------


def test_names_are_names_in_every_program(demo_path: Path) -> None:
    names = Book(demo_path).names()
    assert len({name.casefold() for name in names}) == len(names)
    for name in names:
        check_name(name)


def test_a_unit_cell_holds_a_unit_of_its_value(demo_path: Path) -> None:
    values = Book(demo_path).values()
    checked = 0
    for name, unit in values.items():
        if name.endswith("_unit") and name.removesuffix("_unit") in values:
            assert isinstance(unit, str), name
            units.convert(1.0, unit, unit)  # refuses what isn't a unit
            checked += 1
    assert checked > 100


def test_formulas_refer_to_cells_by_name(demo_book: openpyxl.Workbook) -> None:
    for name in OURS:
        for row in demo_book[name].iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert not [t for t in tokenize(cell.value[1:]) if t.kind == "ref"], f"{name}!{cell.coordinate}"


def test_formulas_use_names_that_are_there_and_functions_that_are_ours_or_old(demo_book: openpyxl.Workbook) -> None:
    # built-in functions from before 2007 resolve in every program without a prefix
    old = {"IF", "AND", "OR", "NOT", "SUM", "MIN", "MAX", "ABS", "FIXED", "CHOOSE", "LEFT", "UNIT_CONVERT", "INDEX",
           "MATCH", "MOD", "SUMPRODUCT"}  # fmt: skip
    names = {name.casefold() for name in demo_book.defined_names}
    for sheet in OURS:
        for row in demo_book[sheet].iter_rows():
            for cell in row:
                for token in tokenize(cell.value[1:]) if cell.data_type == "f" else ():
                    if token.kind == "name" and token.text not in ("TRUE", "FALSE"):
                        assert token.text.casefold() in names, f"{cell.coordinate}: {token.text}"
                    if token.kind == "func":
                        assert token.text.rstrip("(") in old | set(catalogue()), f"{cell.coordinate}: {token.text}"


def test_one_value_a_cell_and_no_arrays(demo_path: Path) -> None:
    with Package(demo_path) as package:
        for sheet in package.sheets:
            assert not [cell.address for cell in sheet.formulas.values() if cell.kind]


# -- what is computed ------------------------------------------------------------------------------------------------


def test_a_boil_of_half_an_hour_instead_of_an_hour() -> None:
    """Worked by hand: 21 L of 1.050 at 4.5 L/h. Mass balance for volumes and gravities; for the hops Tinseth's curve at
    the mean gravities, the kinetics (Malowicki & Shellhammer 2005), Rager's smooth form and his table."""
    hops = [{"mass": "30 g", "alpha": "8 %", "time": 60}]
    book = TypedBook.made(Plan.of(plain(hops=hops, shorter={"time": "30 min"})))
    got = book.values()
    assert got["old_preboil_volume"] == pytest.approx(25.5, abs=0.05)
    assert got["old_preboil_gravity"] == pytest.approx(1.041, abs=0.0005)
    assert got["new_preboil_volume"] == pytest.approx(23.2, abs=0.05)
    assert got["new_preboil_gravity"] == pytest.approx(1.045, abs=0.0005)
    assert got["water_saved"] == pytest.approx(2.25, abs=0.005)  # half an hour of 4.5 L/h; mixing changes 2 mL
    # the kinetics count the chilling too: 60 and 30 min are 61.6 and 31.6 (HOP_EQUIVALENT_MINUTES(20, 15, 0.1))
    expected = {"tinseth": 1.32, "kinetic": 1.56, "rager_smooth": 1.80, "rager_table": 1.96}
    for method, times in expected.items():
        assert got[f"factor_{method}"] == pytest.approx(times, abs=0.006), method  # stated to two decimals
        assert got[f"new_1_{method}_in_g"] == pytest.approx(30 * times, abs=0.2)
    assert got["new_1_time"] == 30
    # bitterness by the method that sized the hops is kept, by the others it isn't
    assert got["new_bitterness_tinseth"] == pytest.approx(got["old_bitterness_tinseth"], rel=1e-12)
    assert got["new_bitterness_rager_table"] < 0.8 * got["old_bitterness_rager_table"]


@pytest.mark.parametrize("method", ["tinseth", "kinetic", "rager smooth", "rager table"])
def test_the_method_chosen_keeps_its_bitterness(method: str) -> None:
    given = copy.deepcopy(demo.LANTERN_PALE)
    given["batch"]["bittering"] = method
    got = TypedBook.made(Plan.of(given)).values()
    name = method.replace(" ", "_")
    assert got[f"new_bitterness_{name}"] == pytest.approx(got[f"old_bitterness_{name}"], rel=1e-12)
    assert got["new_2_mass_in_g"] == 20  # an addition at 10 min stays as it is
    assert got["new_3_mass_in_g"] == 30  # so does a hop stand


def test_an_addition_moved_later_still(book: TypedBook) -> None:
    before = book["new_2_mass_in_g"]
    book.record(later_2_time=5)
    assert book["new_2_time"] == 5
    # 13 min against 8, with the stand's 3 (HOP_EQUIVALENT_MINUTES): (1 - e^-0.52) / (1 - e^-0.32) = 1.48
    assert book["new_2_mass_in_g"] / before == pytest.approx(1.48, abs=0.02)
    book.record(later_2_time=50)  # later only: never earlier than it was
    assert book["new_2_time"] == 10


def test_a_shorter_boil_for_malt_with_much_precursor_says_so() -> None:
    malts = [{"mass": "4.5 kg", "yield": "78 %", "precursor": "12 mg/kg"}]
    book = TypedBook.made(Plan.of(plain(malts=malts)))
    assert book["shorter_state"] == "Look: too short for DMS"
    assert book["new_needed_low"] < book["new_needed"] < book["new_needed_high"]
    assert book["new_dms_low"] < book["new_dms"] < book["new_dms_high"]
    # DMS after the boil it needs is the limit, but for the share that evaporates an hour, which falls with the volume
    book.record(shorter_time=book["new_needed"])
    assert book["new_dms"] == pytest.approx(100, rel=0.06)


def test_bitterness_and_spread_stand_side_by_side(demo_path: Path) -> None:
    got = Book(demo_path).values()
    sums = [got[f"bitterness_{name}"] for name in ("tinseth", "kinetic", "rager_smooth", "rager_table")]
    assert got["bitterness_low"] == min(sums) < max(sums) == got["bitterness_high"]
    assert sums[0] == pytest.approx(sum(got[f"hop_{n}_tinseth"] for n in range(1, 13)))


def test_water_comes_out_where_it_goes_in(demo_path: Path) -> None:
    got = Book(demo_path).values()
    assert got["strike_water"] == pytest.approx(3 * 4.8)
    # water = before the boil + what 4.8 kg of grain hold + what stays in the tun
    assert got["water"] == pytest.approx(got["planned_preboil_volume"] + 4.8 + 0.5)
    assert got["sparge_water"] == pytest.approx(got["water"] - got["strike_water"])


@pytest.mark.parametrize(
    "given", [demo.LANTERN_PALE, demo.SLATE_PILSNER, demo.HARD_WATER], ids=["pale", "pilsner", "hard water"]
)
def test_results_do_not_depend_on_the_units_they_start_in(given: dict[str, Any]) -> None:
    found = [TypedBook.made(Plan.of(given), units=s).values() for s in SYSTEMS]
    compared = 0
    for name, value in found[0].items():
        if "_in_" in name and isinstance(value, float):
            for other in found[1:]:
                assert other[name] == pytest.approx(value, rel=1e-9, abs=1e-9), name
            compared += 1
    assert compared > 100
    assert [values["batch_volume_unit"] for values in found] == ["L", "gal", "imp gal"]
    assert found[1]["planned_preboil_volume"] == pytest.approx(found[0]["planned_preboil_volume"] / 3.785411784)
    assert found[1]["strike_temp"] == pytest.approx(found[0]["strike_temp"] * 1.8 + 32)


def test_units_left_open_are_those_of_the_plan() -> None:
    book = TypedBook.made(Plan.of(plain(volume="5 gal", boil_off="4 L/h")))
    assert (book["batch_volume"], book["batch_volume_unit"]) == (5, "gal")
    assert (book["kettle_boil_off"], book["kettle_boil_off_unit"]) == (4, "L/h")
    assert book["preboil_volume_unit"] == "gal"
    assert book["mash_temp_unit"] == "°F"


# -- extreme plans ---------------------------------------------------------------------------------------------------

_TWELVE = [{"name": "Ostrane of a very long name indeed", "mass": "20 g", "alpha": "12 %", "time": 90 - 8 * n,
            **({"stand_temp": "80 °C"} if n == 11 else {})} for n in range(12)]  # fmt: skip
_EIGHT = [{"name": "Pale malt", "mass": "0.6 kg", "yield": "78 %", "color": "6 EBC", "precursor": "15 mg/kg"}] * 8
EXTREMES = {
    "one hop": plain(hops=[{"mass": "30 g", "alpha": "5 %", "time": 60}]),
    "twelve hops": plain(hops=[{**hop, "time": max(0, hop["time"])} for hop in _TWELVE], malts=_EIGHT, time="90 min"),
    "2 L": plain("2 L", "1.060", "1.2 L/h"),
    "2000 L": plain("2000 L", "12 °P", "150 L/h", malts=[{"mass": "400 kg", "yield": "80 %", "color": "5 EBC"}]),
    "zeros": plain("20 L", "1.0", "0 L/h", "0 min", shorter={"time": "5 min"},
                   mash={"efficiency": 0, "time": 0, "mashout_time": 0}, chill={"time": 0, "cooling": "0 /min"},
                   yeast={"attenuation": 0}, malts=[{"mass": "0 kg", "yield": 0}],
                   hops=[{"mass": "0 g", "alpha": "5 %", "time": 0}]),
    "covered": plain(malts=_EIGHT) | {"boil": {"time": "60 min", "kettle": "covered"}},
    "nothing": plain(),
}  # fmt: skip


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", EXTREMES)
def test_no_cell_is_in_error_and_none_without_a_value(name: str, system: str) -> None:
    cells = TypedBook.made(Plan.of(EXTREMES[name]), units=system).formulas()
    assert len(cells) > 2000
    for place, value in cells.items():
        assert value is not None, written_place(place)
        assert not isinstance(value, CellError), written_place(place)


@pytest.mark.parametrize(("name", "system"), [("twelve hops", "us"), ("zeros", "metric"), ("2000 L", "imperial")])
def test_no_cell_of_the_file_is_in_error_and_none_without_a_value(name: str, system: str) -> None:
    with Package("b.xlsx", data=new(Plan.of(EXTREMES[name]), units=system)) as package:
        for sheet in package.sheets:
            for cell in sheet.formulas.values():
                value = sheet.stored(cell)
                assert value is not None, f"{sheet.name}!{cell.address}"
                assert not isinstance(value, CellError), f"{sheet.name}!{cell.address} {cell.text}"


def test_the_empty_template_has_no_batch_in_it() -> None:
    book = TypedBook.made(Plan.empty())
    assert book["batch_name"] in (None, "")
    assert book["hop_1_mass"] is None
    assert book["bitterness_tinseth"] == 0


LIKE_FORMULAS = ["=1+1", "+cmd", "-2", "@SUM(A1)", '=HYPERLINK("x")', "'quoted", "a & <b>"]


def test_names_that_look_like_formulas_stay_text(tmp_path: Path) -> None:
    given = plain(hops=[{"name": name, "mass": "1 g", "alpha": "5 %", "time": 5} for name in LIKE_FORMULAS])
    given["batch"] |= {"name": LIKE_FORMULAS[0], "brewery": LIKE_FORMULAS[-1]}
    book = Book.made(tmp_path / "b.xlsx", Plan.of(given))
    with Package(book.path) as package:
        for n, name in enumerate(LIKE_FORMULAS, 1):
            assert book[f"hop_{n}_name"] == name
            sheet, row, column = find_cell(package, f"hop_{n}_name")
            assert (row, column) not in package.sheet(sheet).formulas
    assert (book["batch_name"], book["batch_brewery"]) == ("=1+1", "a & <b>")
    assert not recalculate(book.path).changes


@pytest.mark.parametrize("name", LIKE_FORMULAS)
def test_a_batch_whose_name_looks_like_a_formula(name: str) -> None:
    given = plain()
    given["batch"]["name"] = name
    written = generate._saved(generate._build(Plan.of(given), None, False, None))  # nothing is to be worked out here
    with Package("b.xlsx", data=written) as package:
        sheet, row, column = find_cell(package, "batch_name")
        assert package.sheet(sheet).value(row, column) == name
        assert (row, column) not in package.sheet(sheet).formulas


def test_blank_rows_in_between_add_up(book: TypedBook) -> None:
    before = book["bitterness_tinseth"]
    book.record(hop_5_mass="10 g", hop_5_alpha="10 %", hop_5_time=60, malt_6_mass="1 kg", malt_6_yield="80 %")
    assert book["bitterness_tinseth"] > before + 5
    assert book["original_gravity"] > 1.055


# -- brew day --------------------------------------------------------------------------------------------------------


def test_while_nothing_is_measured_the_plan_holds(book: TypedBook) -> None:
    assert book["preboil_volume_used"] == book["planned_preboil_volume_in_L"]
    assert book["preboil_gravity_used"] == book["planned_preboil_gravity_in_SG"]
    assert book["before_gravity_in_SG"] == pytest.approx(book["original_gravity_in_SG"], abs=1e-9)
    assert book["advice_before"] == "Nothing read yet: this is the plan. As wanted: boil 60 min."
    assert book["measured_efficiency"] == ""


def test_readings_with_units_change_the_forecast(book: TypedBook) -> None:
    book.record(preboil_gravity="1.046", preboil_gravity_temp="20 °C", preboil_volume="6.74 gal",
                preboil_volume_temp="68 °F")  # fmt: skip
    assert book["preboil_volume"] == pytest.approx(25.51, abs=0.005)  # in the unit of the cell, L
    assert book["preboil_volume_used"] == pytest.approx(25.51, abs=0.005)
    assert book["preboil_gravity_used"] == 1.046
    # 25.5 L at 1.046 lose 4.5 L of water: mass 26.68 - 4.49 kg, extract 11.4 % of 26.63 kg (by hand)
    assert book["before_gravity"] == pytest.approx(1.0557, abs=0.0003)
    assert book["before_volume"] == pytest.approx(21.0, abs=0.05)
    # a shorter boil would take the minutes from hops that are to boil for all of it
    assert book["advice_before"].startswith("Too strong: boil as planned and add 2.4 L of water at the end")
    assert "below the 60 min that the first hops need" in book["advice_before"]
    # water that brings it down to 1.050: about 5.7/50 of 21 L
    assert book["before_water_to_add"] == pytest.approx(2.4, abs=0.1)
    assert book["before_extract_to_add"] == 0


def test_a_hot_reading_without_its_temperature_is_asked_about_and_not_used() -> None:
    for system in SYSTEMS:
        book = TypedBook.made(units=system)
        plan = book["preboil_volume_used"], book["preboil_gravity_used"]
        book.record(preboil_volume="27 L", preboil_gravity="1.048")
        assert (book["preboil_volume_used"], book["preboil_gravity_used"]) == plan
        assert book["preboil_volume_cold"] == ""
        assert book["preboil_asks"].startswith("Look: how warm was the wort?")
        book.record(preboil_volume_temp="20 °C")
        assert book["preboil_volume_used"] == pytest.approx(27)
        assert book["preboil_asks"].startswith("Look: how warm was the sample?")
        book.record(preboil_gravity_temp="20 °C")
        assert book["preboil_gravity_used"] == pytest.approx(1.048)
        assert book["preboil_asks"] == ""


def test_hot_readings_are_carried_to_20_degrees() -> None:
    book = TypedBook.made(units="us")
    book.record(preboil_volume="26.56 L", preboil_volume_temp="100 °C")
    assert book["preboil_volume_temp"] == pytest.approx(212)
    # wort fills 4 % more at the boil (Kell 1975)
    assert book["preboil_volume_used"] == pytest.approx(26.56 / 1.0416, rel=0.0005)
    # a hydrometer in a sample of 35 °C reads 0.0049 low: 0.9982/0.9940 by water densities, less the glass
    book.record(preboil_gravity="1.038", preboil_gravity_temp="95 °F")
    assert book["preboil_gravity_used"] == pytest.approx(1.0420, abs=0.0003)


def test_a_refractometer_serves_where_there_is_no_hydrometer(book: TypedBook) -> None:
    book.record(preboil_brix="10.92")  # over 1.04: 10.5 °P, 1.0421 by the ASBC table
    assert book["preboil_gravity_used"] == pytest.approx(1.0421, abs=0.0002)
    book.record(preboil_gravity="1.045", preboil_gravity_temp="20 °C")
    assert book["preboil_gravity_used"] == 1.045


def test_extract_that_disagrees_is_a_reading_to_repeat(book: TypedBook) -> None:
    assert book["reading_state"] == "not both taken yet"
    book.record(preboil_volume="25.5 L", preboil_gravity="1.042", postboil_volume="21 L", postboil_gravity="1.0507",
                boiled_minutes=60, **COLD)  # fmt: skip
    assert book["reading_state"] == "they agree"
    # water gone is the mass gone: (25.5 x 1.042 - 21 x 1.0507) L in an hour
    assert book["measured_boil_rate"] == pytest.approx(25.5 * 1.042 - 21 * 1.0507, rel=1e-9)
    book.record(postboil_volume="20 L")  # 5 % of the extract is missing now
    assert book["reading_state"] == "Look: repeat a reading"


def test_efficiency_reached(book: TypedBook) -> None:
    book.record(preboil_volume="25.5 L", preboil_gravity="1.0418", **COLD)
    # the plan's own readings give the plan's efficiency back
    assert book["measured_efficiency"] == pytest.approx(0.73, abs=0.003)


def test_a_reading_in_the_boil(book: TypedBook) -> None:
    book.record(midboil_minutes=30, midboil_gravity="1.045", midboil_gravity_temp="20 °C")
    # half an hour more at 4.5 L/h
    assert book["during_gravity"] > book["midboil_gravity_used"]
    assert book["during_minutes"] == pytest.approx(30, abs=8)
    assert book["advice_before"] == "Read again in the boil: see there."


def test_readings_can_be_taken_back(book: TypedBook) -> None:
    before = book.values()
    book.record(preboil_volume="24 L", preboil_gravity="1.050", **COLD)
    assert book["before_gravity"] != before["before_gravity"]
    book.record(preboil_volume="", preboil_gravity="", **dict.fromkeys(COLD, ""))
    assert book.values() == before


@pytest.mark.parametrize(
    ("name", "value"), [("planned_preboil_volume", "20 L"), ("preboil_volum", "20 L"), ("preboil_volume", "20 kg")]
)
def test_what_cannot_be_recorded_leaves_the_file_alone(file: Book, name: str, value: str) -> None:
    before = file.path.read_bytes()
    with pytest.raises(Exception, match=name):
        file.record(**{name: value})
    assert file.path.read_bytes() == before


# -- like an earlier batch -------------------------------------------------------------------------------------------


def test_a_batch_like_the_last_one(file: Book, tmp_path: Path) -> None:
    file.record(preboil_volume="26 L", preboil_gravity="1.040", postboil_volume="21 L", postboil_gravity="1.0492",
                boiled_minutes=60, chill_start_temp="98 °C", chill_end_temp="20 °C", chilled_minutes=25,
                kettle_size="50 L", mash_temp="152 °F", hop_2_mass="1 oz", **COLD)  # fmt: skip
    again = Book.made(tmp_path / "c.xlsx", like=file.path, name="The next", date=datetime.date(2026, 5, 2))
    assert again["batch_name"] == "The next"
    assert again["batch_date"] == (datetime.date(2026, 5, 2) - datetime.date(1899, 12, 30)).days
    assert again["kettle_size"] == 50
    assert again["mash_temp_in_C"] == pytest.approx((152 - 32) / 1.8)
    assert again["hop_2_mass"] == pytest.approx(28.349523)
    assert again["mash_efficiency"] == pytest.approx(file["measured_efficiency"])
    assert again["kettle_boil_off"] == pytest.approx(file["measured_boil_rate"])
    assert again["chill_cooling"] == pytest.approx(file["measured_cooling"])
    assert again["preboil_volume"] is None  # a fresh brew day


def test_like_an_unmeasured_batch_everything_stays(tmp_path: Path) -> None:
    first = Book.made(tmp_path / "a.xlsx", units="us")
    again = Book.made(tmp_path / "b.xlsx", like=first.path, date=datetime.date(2026, 3, 14))
    assert again.values() == first.values()


def test_like_what_is_no_batch(tmp_path: Path) -> None:
    with pytest.raises(WorkbookError, match="does not exist"):
        new(like=tmp_path / "none.xlsx")
    other = tmp_path / "other.xlsx"
    openpyxl.Workbook().save(other)
    with pytest.raises(WorkbookError, match="is not a batch workbook"):
        new(like=other)


def test_like_a_batch_with_a_text_where_a_number_belongs(file: Book) -> None:
    loaded = openpyxl.load_workbook(file.path)
    sheet, _, area = loaded.defined_names["kettle_size"].attr_text.replace("'", "").replace("$", "").partition("!")
    loaded[sheet][area].value = "big"
    loaded.save(file.path)
    with pytest.raises(WorkbookError, match=r'kettle_size holds the text "big"'):
        carried_over(file.path)


# -- other programs --------------------------------------------------------------------------------------------------


def _stored(path: Path) -> Iterator[tuple[str, str, Any]]:
    with Package(path) as package:
        for sheet in package.sheets:
            for cell in sheet.formulas.values():
                yield sheet.name, cell.address, sheet.stored(cell)


def _same(calc: Any, stored: Any) -> bool:
    if isinstance(stored, bool):
        return bool(calc == stored)
    if isinstance(stored, float):
        return isinstance(calc, (int, float)) and abs(calc - stored) <= 1e-9 * max(1.0, abs(stored))
    return bool((calc or "") == (stored or "") and not isinstance(calc, Code))


@pytest.mark.parametrize("recalculated", [False, True], ids=["without our add-in", "recalculated with it"])
def test_libreoffice_shows_the_same_numbers(
    demo_path: Path, recalculated: bool, request: pytest.FixtureRequest
) -> None:
    office: Office = request.getfixturevalue("office" if recalculated else "bare_office")
    with office.document(demo_path) as document:
        if recalculated:
            document.recalculate()
        blocks = {}
        for name in OURS:
            rows, columns = document.used(name)
            blocks[name] = document.values(name, f"A1:{chr(64 + columns)}{rows}")
    differing = []
    for name, address, stored in _stored(demo_path):
        if name in blocks:
            box = parse_range(address)
            shown = blocks[name][box.top - 1][box.left - 1]
            if not _same(shown, stored):
                differing.append(f"{name}!{address}: {shown!r}, stored {stored!r}")
    assert not differing


def test_charts_name_their_method_and_unit(demo_path: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(demo_path.read_bytes())) as package:
        charts = [package.read(n).decode() for n in package.namelist() if re.match(r"xl/charts/chart\d+\.xml", n)]
    assert len(charts) >= 3
    for chart in charts:
        texts = re.findall(r"<a:t>([^<]*)</a:t>", chart)
        assert texts[0].endswith("?"), texts  # a question
        assert len(texts) >= 3  # both axes have titles
    assert Book(demo_path)["factor_tinseth"] > 1


def test_help_of_inputs_states_range_and_units(demo_book: openpyxl.Workbook) -> None:
    area = demo_book.defined_names["mash_temp"].attr_text.replace("$", "").partition("!")[2]
    note = demo_book["Plan"][area].comment.text
    assert "Range: 0 to 100 °C" in note
    assert "°F" in note
    assert INPUTS["mash.temp"].item.read("152 °F") == Amount(152.0, "°F")


def _content(data: bytes) -> dict[str, str]:
    """The parts of a workbook, without what differs between versions of zlib, XML writers and mathematics libraries:
    how they are packed, how elements are spelled, and the last digits of values."""

    def rounded(match: re.Match[str]) -> str:
        return f"<v>{float(match[1]):.11g}</v>"

    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {
            name: re.sub(r"<v>(-?[0-9][0-9.eE+-]*)</v>", rounded, ElementTree.canonicalize(package.read(name).decode()))
            for name in package.namelist()
        }


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_workbooks_that_come_along_are_up_to_date(name: str, tmp_path: Path) -> None:
    """Looked at cell by cell where they differ: a change that nobody meant shows itself by name."""
    path, made = Path(__file__).parents[1] / "workbooks" / name, tmp_path / name
    made.write_bytes(EXAMPLES[name]())
    stored, fresh = _content(path.read_bytes()), _content(made.read_bytes())
    if stored == fresh:
        return
    parts = sorted(part for part in stored.keys() | fresh.keys() if stored.get(part) != fresh.get(part))
    changes = list(_cell_changes(path, made)) or [f"parts {', '.join(parts)}"]
    pytest.fail("\n".join([*changes[:40], "if that is meant: python -m brewfuncs.batch.examples workbooks"]))


def _cell_changes(old: Path, new: Path) -> Iterator[str]:
    """Each cell whose formula or value differs, by the name it has."""
    with Package(old) as before, Package(new) as after:
        names = cell_names(after)
        for sheet in after.sheets:
            if sheet.name not in {known.name for known in before.sheets}:
                yield f"the sheet {sheet.name} is new"
                continue
            were = before.sheet(sheet.name)
            old_values, new_values = were.filled(), sheet.filled()
            spots = old_values.keys() | new_values.keys() | were.formulas.keys() | sheet.formulas.keys()
            for row, column in sorted(spots):
                formulas = [s.formulas.get((row, column)) for s in (were, sheet)]
                texts = [cell.text if cell else "" for cell in formulas]
                values = [found.get((row, column)) for found in (old_values, new_values)]
                if values[0] != values[1] or texts[0] != texts[1]:
                    place = (sheet.name, row, column)
                    said = f"{values[0]!r} is {values[1]!r} now" if values[0] != values[1] else f"is ={texts[1]} now"
                    yield f"{names.get(place, written_place(place))}: {said}"


def test_a_change_of_a_workbook_is_told_by_the_names_of_cells(demo_path: Path, file: Book) -> None:
    file.record(yeast_attenuation="80 %")
    said = list(_cell_changes(demo_path, file.path))
    assert any(line.startswith("final_gravity: ") for line in said)
    assert not any(line.startswith("original_gravity: ") for line in said)
