"""The batch workbook's sheets on what is worth a look, the guide and the known answers."""

import copy
import csv
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from brewfuncs.batch import demo
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import SECTIONS, input_cells
from brewfuncs.batch.sheets import known_answers as sheet_known_answers
from brewfuncs.catalogue import catalogue
from brewfuncs.hosts import doctor
from brewfuncs.hosts import known_answers as known_answers_module
from brewfuncs.hosts.known_answers import KnownAnswer, known_answers
from tests.batch_books import Book, TypedBook

TABLES = Path(__file__).parent / "tables"
DATA = Path(known_answers_module.__file__).with_name("known_answers.csv")
SHEETS = ("Cleaning", "Fermentation", "Package", "Worth a look")
ONE_PAGE = ("Fermentation", "Package")
LISTS = ("Functions", "Known answers")

Make = Callable[..., TypedBook]


@pytest.fixture
def make() -> Make:
    """The demo batch, with some sections of it replaced."""

    def made(**sections: Any) -> TypedBook:
        return TypedBook.made(changed(sections))

    return made


def changed(sections: dict[str, Any]) -> Plan:
    given: dict[str, Any] = copy.deepcopy(demo.LANTERN_PALE)
    for key, content in sections.items():
        given[key] = {**given.get(key, {}), **content} if isinstance(content, dict) else content
    return Plan.of(given, measured=True)


@pytest.fixture(scope="module")
def demo_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("second") / "batch.xlsx"
    Book.made(path, Plan.of(demo.LANTERN_PALE | demo.LANTERN_PALE_MEASURED, measured=True))
    return path


@pytest.fixture(scope="module")
def formulas(demo_path: Path) -> openpyxl.Workbook:
    """As openpyxl reads it: for looking at, not for changing."""
    return openpyxl.load_workbook(demo_path)


@pytest.fixture(scope="module")
def values(demo_path: Path) -> openpyxl.Workbook:
    """The same with what its formulas gave."""
    return openpyxl.load_workbook(demo_path, data_only=True)


# -- known answers ---------------------------------------------------------------------------------------------------


def test_known_answers_are_rows_of_the_tables() -> None:
    def read(path: Path) -> list[dict[str, str]]:
        return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))

    tables = {row["id"]: row for path in TABLES.glob("*.csv") for row in read(path)}
    rows = read(DATA)
    assert len(rows) == len({row["id"] for row in rows}) >= 40
    for row in rows:
        assert row == {key: value for key, value in tables[row["id"]].items() if key != "provenance"}


def test_known_answers_cover_every_group_of_functions() -> None:
    groups = {re.match(r"=([A-Z]+)_", answer.formula)[1] for answer in known_answers()}  # type: ignore[index]
    assert groups == {function.group for function in catalogue().values()} - {"BREW"}  # which says nothing of beer


def test_the_doctor_tries_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    ((state, said),) = doctor._engine()
    assert (state, f"{len(known_answers())} known answers come out right" in said) == ("well", True)
    wrong = KnownAnswer("=WATER_DENSITY(25)", 1.0, 1e-6, "nobody")
    monkeypatch.setattr(doctor, "known_answers", lambda: (*known_answers(), wrong))
    ((state, said),) = doctor._engine()
    assert state == "broken"
    assert said.endswith("where nobody has 1.0")
    assert said.count("=") == 1


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


def test_the_guide_has_a_line_for_every_function(formulas: openpyxl.Workbook, values: openpyxl.Workbook) -> None:
    sheet = formulas["Functions"]
    lines = {row[0].value: row for row in sheet.iter_rows(min_col=2, max_col=6) if row[0].value}
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
        worked_out = values["Functions"][value.coordinate].value
        assert isinstance(worked_out, str) == function.gives_text, function.name
        assert not str(worked_out).startswith("#")


def test_worked_examples_are_those_of_published_tables(values: openpyxl.Workbook) -> None:
    """Three lines whose values stand elsewhere: the sheet shows what it says it computes."""
    sheet = values["Functions"]
    shown = {row[3].value: row[4].value for row in sheet.iter_rows(min_col=2, max_col=6)}
    assert shown["=MASH_PASTEUR_UNITS(10,76)"] == pytest.approx(10 * 1.393**16, rel=1e-9)  # Del Vecchio 1951
    assert shown["=HOP_UTILIZATION(60)"] == pytest.approx(0.231, abs=0.0006)  # Tinseth's table
    assert shown['=UNIT_CONVERT(1,"fl oz/gal","mL/L")'] == pytest.approx(1000 / 128, rel=1e-9)  # 128 fl oz a gallon


# -- worth a look ----------------------------------------------------------------------------------------------------


def why(book: TypedBook, title: str) -> Any:
    """The reason that stands beside a rule."""
    rows = [row for row in range(7, 60) if book.get(f"Worth a look!B{row}") == title]
    assert len(rows) == 1
    return book[f"Worth a look!D{rows[0]}"]


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
        ("boil", "look here", {"boil": {"time": "46 min"}, "malts": malt("1.5 mg/kg")}),
        ("boil", "fine", {"boil": {"time": "45 min"}, "malts": malt("1.5 mg/kg")}),
        ("boil", "look here", {"boil": {"kettle": "covered"}, "malts": malt(PALE)}),
        ("boil", "look here", {"boil": {"time": "14 min"}, "malts": malt("0 mg/kg")}),
        ("boil", "fine", {"boil": {"time": "15 min"}, "malts": malt("0.5 mg/kg")}),
        ("boil", "unknown", {"boil": {"time": "60 min"}, "malts": [{"mass": "4.7 kg"}]}),
        ("boil", "not used", {"malts": []}),
        ("boil", "look here", {"boil": {"time": "20 min"}, "malts": malt("12 mg/kg")}),
        ("boil", "uncertain", {"boil": {"time": "60 min"}, "malts": malt(PILSNER)}),
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
        # the demo's label: 2.5 mL/L, 50 mL for its 20 L; a tenth either way, and no excess
        ("acid_dose", "look here", {"cleaning": {"acid_poured": "56 mL"}}),
        ("acid_dose", "look here", {"cleaning": {"acid_poured": "44 mL"}}),
        ("acid_dose", "fine", {"cleaning": {"acid_poured": "46 mL"}}),
        ("acid_dose", "not used", {"cleaning": {"acid_poured": ""}}),
        ("acid_strength", "look here", {"cleaning": {"acid_poured": "51 mL"}}),
        ("acid_strength", "fine", {"cleaning": {"acid_poured": "51 mL", "acid_label_most": "26 mL"}}),
        # 88 mg/L of phosphoric acid are 0.9 mmol/L, and 30 mg/L of alkalinity take 0.6 of them
        ("acid_ph", "look here", {"cleaning": {"acid_label_dose": "2.5 mL", "alkalinity": "30 mg/L"}}),
        ("acid_ph", "fine", {}),
        ("acid_ph", "not used", {"cleaning": {"acid_share": ""}}),
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
        ("steel", "fine", {"parts": part("stainless steel", "chlorine", "rinsed")}),
        ("caustic", "look here", {"parts": part("aluminium", "caustic cleaner", "contact")}),
        ("caustic", "look here", {"parts": part("aluminium", "percarbonate cleaner", "rinsed")}),
        ("caustic", "fine", {"parts": part("aluminium", "alcohol", "contact")}),
        ("caustic", "fine", {"parts": part("stainless steel", "caustic cleaner", "soaked")}),
        ("rise", "look here", {"fermentation": {"temp": "19 °C", "end_temp": "20.9 °C"}}),
        ("rise", "fine", {"fermentation": {"temp": "19 °C", "end_temp": "21 °C"}}),
        ("unfinished", "not used", {}),
        ("unfinished", "look here", {"readings": [{"day": "9 d", "gravity": "1.010"}]}),
        ("unfinished", "fine", {"readings": [{"day": f"{day} d", "gravity": "1.011"} for day in (9, 16)]}),
        ("high_target", "look here", {"package": {"target": "3.1 vol", "rating": ""}}),
        ("high_target", "fine", {"package": {"target": "3 vol", "rating": ""}}),
        ("high_target", "fine", {"package": {"target": "3.1 vol"}}),
        ("alpha", "look here", {"hops": [hop(60, "21 %")]}),
        ("alpha", "look here", {"hops": [hop(60), hop(5, "1.9 %")]}),
        ("alpha", "fine", {"hops": [hop(60, "20 %"), hop(5, "2 %")]}),
        ("efficiency", "look here", {"mash": {"efficiency": "49 %"}}),
        ("efficiency", "look here", {"mash": {"efficiency": "96 %"}}),
        ("efficiency", "fine", {"mash": {"efficiency": "50 %"}}),
        ("efficiency", "not used", {"malts": []}),
        # 4.8 kg of the demo's malts in 14.4 L, 16.4 L to sparge with: 85.5 % in one batch, 93.7 % in very many
        ("lauter", "fine", {"mash": {"efficiency": "85 %"}}),
        ("lauter", "uncertain", {"mash": {"efficiency": "86 %"}}),
        ("lauter", "fine", {"mash": {"efficiency": "85 %", "sparge": "one batch"}}),
        ("lauter", "look here", {"mash": {"efficiency": "86 %", "sparge": "one batch"}}),
        ("lauter", "fine", {"mash": {"efficiency": "86 %", "sparge": "two batches"}}),
        ("lauter", "fine", {"mash": {"efficiency": "93 %", "sparge": "continuous"}}),
        ("lauter", "uncertain", {"mash": {"efficiency": "94 %", "sparge": "continuous"}}),
        ("lauter", "look here", {"mash": {"ratio": "8 L/kg"}, "malts": malt(PALE, "6.3 kg")}),  # no sparge: 72 %
        ("lauter", "unknown", {"mash": {"ratio": "1 L/kg"}}),  # the grain holds all of it
        ("lauter", "not used", {"malts": []}),
        ("evaporation", "look here", {"kettle": {"boil_off": "0.8 L/h"}}),  # of some 21 L: 3.7 %
        ("evaporation", "fine", {"kettle": {"boil_off": "0.9 L/h"}}),
        ("evaporation", "look here", {"kettle": {"boil_off": "4.8 L/h"}}),  # of 23.4 L: 20.5 %
        ("methods", "fine", {"hops": [hop(60)]}),
        ("methods", "look here", {"hops": [hop(2)]}),  # Rager smooth gives 5 % where Tinseth gives 2 %
        ("methods", "not used", {"hops": []}),
    ],
)  # fmt: skip
def test_rules(make: Make, rule: str, state: str, changes: dict[str, Any]) -> None:
    assert make(**changes)[f"look_{rule}"] == state


@pytest.mark.parametrize(
    ("rule", "state", "changes"),
    [
        ("mash_ph", "fine", {}),
        ("mash_ph", "look here", {"mashed": {"mash_ph_read": 5.61}}),
        ("mash_ph", "look here", {"mashed": {"mash_ph_read": 5.19}}),
        ("mash_ph", "fine", {"mashed": {"mash_ph_read": 5.6}}),
        ("mash_ph", "look here", {"water": {"mash_acid_mass": ""}}),  # 5.73 without acid
        ("mash_ph", "uncertain", {"water": {"mash_acid_mass": "4 g"}}),  # 5.54, and 0.1 either way
        ("mash_ph", "unknown", {"water": {"alkalinity": ""}}),
        ("mash_ph", "unknown", {"water": {"mash_acid_share": ""}}),  # an acid of no known strength
        ("mash_ph", "not used", {"malts": []}),
        ("lime", "look here", {"salts": [{"name": "slaked lime", "mass": "0.1 g"}]}),
        ("lime", "fine", {}),
        ("lime", "not used", {"salts": []}),
    ],
)
def test_rules_of_water(make: Make, rule: str, state: str, changes: dict[str, Any]) -> None:
    given = {key: demo.HARD_WATER[key] for key in ("malts", "water", "salts")}
    merged = {
        key: {**given.get(key, {}), **content} if isinstance(content, dict) else content
        for key, content in changes.items()
    }
    assert make(**given | merged)[f"look_{rule}"] == state


def test_a_plan_without_water_has_no_sheet_of_it_and_no_rules(formulas: openpyxl.Workbook) -> None:
    assert "Water" not in formulas.sheetnames
    of_water = set(input_cells()) - set(input_cells(with_optional=False)) | {"look_mash_ph", "look_lime"}
    assert len(of_water) > 60
    assert not of_water & set(formulas.defined_names)


def test_a_rule_names_the_addition_it_is_about(make: Make) -> None:
    book = make(hops=[hop(60), hop(30), hop(25)])
    assert why(book, "Flavour addition").startswith("Ostrane 30 boils 30 min, and 1 more between 20 and 45: ")


def test_evaporation_is_told_as_it_is(make: Make) -> None:
    """DMS functions answer up to 40 % an hour; what is above it isn't shown as 40 %."""
    book = make(kettle={"boil_off": "1.5 L/h"}, batch={"volume": "2 L"}, boil={"time": "60 min"},
                malts=malt(PALE, "0.45 kg"))  # fmt: skip
    # 1.5 L/h of 2.75 L, the mean of 3.5 L and 2 L
    assert why(book, "Evaporation").startswith("54.5 % of the kettle an hour")


def test_states_are_counted_on_top(make: Make) -> None:
    book = make(hops=[hop(30)], parts=[], boil={"time": "30 min"}, kettle={"boil_off": "4 L/h"})
    assert book["Worth a look!B4"] == "Nothing here asks for a look."
    book = make(hops=[hop(60), hop(30)], parts=part("stainless steel", "chlorine", "dried"), boil={"time": "60 min"},
                malts=malt(PILSNER))  # fmt: skip
    assert book["Worth a look!B4"] == "2 of these 23 rules ask for a look, 1 uncertain."


def test_what_is_recorded_in_the_file_is_looked_at(demo_path: Path, tmp_path: Path) -> None:
    book = Book(shutil.copy(demo_path, tmp_path / "batch.xlsx"))
    before = book["look_kettle_full"], book["look_efficiency"]
    book.record(kettle_size="28 L", mash_efficiency="45 %")
    assert before == ("fine", "fine")
    assert (book["look_kettle_full"], book["look_efficiency"]) == ("look here", "look here")
    sheet = openpyxl.load_workbook(book.path, data_only=True)["Worth a look"]
    asking = [row[1].value for row in sheet.iter_rows(min_row=7, min_col=2, max_col=5)].count("look here")
    assert sheet["B4"].value.startswith(f"{asking} of these 23 rules ask for a look")


def test_every_rule_has_words_and_a_source(values: openpyxl.Workbook) -> None:
    sheet = values["Worth a look"]
    rules = [row for row in sheet.iter_rows(min_row=7, min_col=2, max_col=5) if row[1].value]
    assert len(rules) == 23
    for title, state, why, source in rules:
        assert state.value in ("fine", "look here", "uncertain", "unknown", "not used"), title.value
        assert re.fullmatch(r"[^#].{10,250}\.", why.value), why.value
        assert source.value


# -- the sheets ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*SHEETS, *LISTS])
def test_sheets_print_tidily_and_are_protected_without_a_password(formulas: openpyxl.Workbook, name: str) -> None:
    sheet = formulas[name]
    assert sheet.protection.sheet
    assert not sheet.protection.password
    assert sheet.page_setup.orientation == ("landscape" if name == "Worth a look" else "portrait")
    assert sheet.page_setup.fitToWidth == 1
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.page_setup.fitToHeight == int(name in ONE_PAGE)
    assert bool(sheet.print_title_rows) == (name not in ("Cleaning", "Fermentation", "Package"))


def test_wrapped_text_has_the_room_it_needs(formulas: openpyxl.Workbook, values: openpyxl.Workbook) -> None:
    """By characters: type of 10 points takes at most 1.35 a unit of width in LibreOffice (measured)."""
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
