"""The command line as its user meets it: what is printed, where, and with which exit code."""

import itertools
import json
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result
from openpyxl.workbook.defined_name import DefinedName

from brewfuncs.batch.generate import new as new_workbook
from brewfuncs.batch.sections import input_cells
from brewfuncs.catalogue import catalogue
from brewfuncs.cli import FOUND, MISUSED, REFUSED, main
from brewfuncs.workbook.places import find_cell
from brewfuncs.xlsx.package import Package
from tests import needs


def run(*arguments: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(a) for a in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture(scope="module")
def demo_bytes() -> bytes:
    return new_workbook()


@pytest.fixture
def batch(tmp_path: Path, demo_bytes: bytes) -> Path:
    path = tmp_path / "batch.xlsx"
    path.write_bytes(demo_bytes)
    return path


# -- call ------------------------------------------------------------------------------------------------------------


def test_call_prints_value_and_unit() -> None:
    # 28.349523 g x 0.055 x 1000 / 18.927059 L = 82.38 mg/L of alpha acid, times Tinseth's 0.2307 at 60 min and 1.050
    result = run("call", '=HOP_BITTERNESS("1 oz",5.5%,60,"5 gal",1.050)')
    assert (result.exit_code, result.stdout) == (0, "19.0023 mg/L\n")


@pytest.mark.parametrize(
    ("formula", "printed"),
    [
        ("=WORT_PLATO(1.05)+1", "13.3876\n"),  # no unit for what is no single call
        ("=BOIL_OFF(4.5,60)*BOIL_OFF(2,60)", "9\n"),
        ("boil_off(4.5,60)", "4.5 L\n"),  # the equals sign is no part of a formula
        ('=UNIT_CONVERT(1,"fl oz/gal","mL/L")', "7.8125 mL/L\n"),
        ("=BOIL_OFF(4.5,{30;60})", "2.25 L\n4.5 L\n"),
        ('=BREW_REASON("BOIL_OFF",4.5,-10)', "minutes -10 min is outside 0 to 600 min\n"),
        ("=1=1", "TRUE\n"),
    ],
)
def test_call_shows_whatever_a_formula_gives(formula: str, printed: str) -> None:
    assert run("call", formula).stdout == printed


@pytest.mark.parametrize(
    ("formula", "sentence"),
    [
        ("=HOP_BITTERNESS(28,5.5,60,20)", "alpha 5.5 is over 1: write 5.5 % or 0.055"),
        ("=1/0", "the formula gives #DIV/0!"),
        ("=HOP_BITERNESS(28,5.5%,60,20)", "HOP_BITTERNESS"),
        ('=WORT_EXTRACT("5 kg",1.05)', "volume"),
    ],
)
def test_an_error_is_a_sentence_on_stderr(formula: str, sentence: str) -> None:
    result = run("call", formula)
    assert result.exit_code == FOUND
    assert result.stdout == ""
    assert sentence in result.stderr
    assert "Traceback" not in result.stderr


def test_call_as_json_keeps_every_digit_and_marks_bad_elements() -> None:
    result = run("call", "--json", "=BOIL_OFF(4.5,{20;-1})")
    assert result.exit_code == FOUND
    assert json.loads(result.stdout)["value"] == [
        [1.5],
        [{"error": "#NUM!", "sentence": "minutes -1 min is outside 0 to 600 min"}],
    ]


# -- functions -------------------------------------------------------------------------------------------------------


def test_part_of_a_name_lists_what_has_it() -> None:
    names = [line.split()[0] for line in run("functions", "swap").stdout.splitlines()]
    assert names == ["HOP_SWAP_MASS"]
    assert {line.split("_")[0] for line in run("functions", "dms_").stdout.splitlines()} == {"DMS"}


@pytest.mark.parametrize(
    ("words", "function"),
    [
        ("IBU", "HOP_BITTERNESS"),
        ("brix", "WORT_REFRACTOMETER"),
        ("sugar", "BEER_PRIMING"),
        ("yeast", "BEER_PITCH"),
        ("alcohol", "BEER_ABV"),
        ("abv", "BEER_ABV"),
        ("keg", "BEER_CO2_PRESSURE"),
        ("bottle", "BEER_PRIMING"),
        ("sparge", "MASH_WATER"),
        ("chiller", "BOIL_COOLING"),
        ("whirlpool", "HOP_STAND_BITTERNESS"),
        ("sanitizer", "SANI_DOSE"),
        ("boil time", "BOIL_MINUTES"),
        ("OG", "BEER_FINAL"),
    ],
)
def test_functions_are_found_by_the_words_of_the_trade(words: str, function: str) -> None:
    assert function in [line.split()[0] for line in run("functions", *words.split()).stdout.splitlines() if line]


def test_functions_lists_all_and_shows_one() -> None:
    listing = run("functions").stdout
    groups = ("WORT_", "BOIL_", "HOP_", "DMS_", "MASH_", "SANI_", "BEER_", "WATER_", "UNIT_", "BREW_")
    named = [line.split()[0] for line in listing.splitlines() if line.startswith(groups)]
    assert sorted(named) == sorted(catalogue())
    page = run("functions", "hop_swap_mass").stdout
    for word in ("HOP_SWAP_MASS(mass, old_minutes", "as old_gravity", "Tinseth", "=HOP_SWAP_MASS(30,60,30)"):
        assert word in page
    data = json.loads(run("functions", "--json", "HOP_SWAP_MASS").stdout)
    assert [a["name"] for a in data["arguments"]][:3] == ["mass", "old_minutes", "new_minutes"]


def test_an_unknown_function_is_told_the_nearest() -> None:
    result = run("functions", "HOP_SWAPMASS")
    assert result.exit_code == FOUND
    assert "HOP_SWAP_MASS" in result.stderr


# -- new -------------------------------------------------------------------------------------------------------------


def test_new_writes_a_workbook_whose_formulas_all_have_values(tmp_path: Path) -> None:
    path = tmp_path / "batch.xlsx"
    assert run("new", "-o", path).exit_code == 0
    ours = 0
    with zipfile.ZipFile(path) as package:
        for part in package.namelist():
            if part.startswith("xl/worksheets/sheet"):
                for cell in re.findall(r"<c [^>]*>(?:(?!</c>).)*</c>", package.read(part).decode()):
                    if "<f>" in cell:
                        assert "<v" in cell, (part, cell)
                        assert 't="e"' not in cell, (part, cell)
                        ours += bool(re.search(r"(WORT|HOP|BOIL|DMS)_", cell))
    assert ours > 50


def test_new_refuses_to_overwrite(batch: Path, demo_bytes: bytes) -> None:
    result = run("new", "-o", batch)
    assert result.exit_code == REFUSED
    assert "--force" in result.stderr
    assert batch.read_bytes() == demo_bytes
    assert run("new", "--force", "--name", "Slate Pilsner", "-o", batch).exit_code == 0
    assert batch.read_bytes() != demo_bytes


def test_new_wants_the_right_ending(tmp_path: Path) -> None:
    assert run("new", "-o", tmp_path / "batch.xls").exit_code == MISUSED
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('[batch]\nvolume = "21 L"\ngravity = "1.050"\nvolumme = "3 L"\n', "volumme"),
        ('[batch]\nvolume = "21 kg"\ngravity = "1.050"\n', "mass"),
        ('[batch]\nvolume = "-3 L"\ngravity = "1.050"\n', "volume"),
        ("[batch\n", "plan.toml"),
        ('[batch]\ngravity = "1.050"\n', "volume"),
    ],
)
def test_a_plan_that_cant_be_used_is_refused_with_file_key_and_reason(tmp_path: Path, text: str, sentence: str) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(text, encoding="utf-8")
    result = run("new", plan, "-o", tmp_path / "batch.xlsx")
    assert result.exit_code == REFUSED
    assert "plan.toml" in result.stderr
    assert sentence in result.stderr
    assert not (tmp_path / "batch.xlsx").exists()


def test_new_says_when_the_folder_isnt_there(tmp_path: Path) -> None:
    result = run("new", "-o", tmp_path / "nowhere" / "batch.xlsx")
    assert result.exit_code == REFUSED
    assert "batch.xlsx" in result.stderr


# -- record, recalc, check -------------------------------------------------------------------------------------------


def test_record_sets_by_name_converts_and_says_what_changed(batch: Path) -> None:
    result = run(
        "record", batch, "preboil_gravity=1.046", "preboil_gravity_temp=68 °F", "preboil_volume=6.7 gal",
        "preboil_volume_temp=20",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    book = openpyxl.load_workbook(batch, data_only=True)
    (sheet, cell), = book.defined_names["preboil_volume"].destinations  # fmt: skip
    assert book[sheet][cell.replace("$", "")].value == pytest.approx(6.7 * 3.785411784)  # exact
    told = result.stdout.splitlines()
    assert "Hydrometer before the boil: 1.046 SG (was blank)" in told  # the label beside the cell, and its unit
    assert "->" in result.stdout
    again = run("record", batch, "preboil_gravity=1.046")
    assert "nothing to change" in again.stdout


@pytest.mark.parametrize(
    ("measurement", "sentence"),
    [
        ("preboil_gravty=1.046", "preboil_gravity"),  # the nearest name
        ("preboil_volume=much", "much"),
        ("preboil_volume=25 kg", "mass"),
        ("preboil_volume=1,5 L", "comma"),
        ("original_gravity=1.05", "formula"),
        ("postboil_gravity=1046", "postboil_gravity 1046 SG is outside 0.98 to 1.2 SG"),  # as the plan file refuses it
        ("mash_temp=152C", "mash_temp 152 °C is outside 0 to 100 °C"),
        ("hop_1_alpha=5.5", "write 5.5 % or 0.055"),
        ("boil_kettle=shut", "open, covered"),
        ("mash_temp_unit=°R", "°C, °F, K"),
        ("B2=3", "needs its sheet"),
        ("boil_start=7:60", 'boil_start wants a time of day, as 14:05, and "7:60" is none'),
        ("boil_start=25", "no time of day"),
        ("batch_date=14", "14 is no date: write it as 2026-03-14"),
        ("batch_date=36525", "36525 is no date"),  # 1999-12-31
        ("batch_date=tomorrow", "tomorrow"),
        ("batch_date=14.3.2026", 'wants a date, as 2026-03-14, and "14.3.2026" is none'),
        ("batch_date=14/03/2026", "wants a date, as 2026-03-14"),
        ("batch_date=14 March", "wants a date, as 2026-03-14"),
        (f"batch_name={'x' * 81}", "batch_name: text of one line and at most 80 characters is wanted"),
        ("hop_1_name=two\nlines", "one line"),
    ],
)
def test_record_refuses_and_leaves_the_file_as_it_was(
    batch: Path, demo_bytes: bytes, measurement: str, sentence: str
) -> None:
    result = run("record", batch, "preboil_gravity=1.046", measurement)
    assert result.exit_code in (FOUND, REFUSED)
    assert sentence in result.stderr
    assert batch.read_bytes() == demo_bytes


def test_record_takes_a_day_a_time_and_a_text_within_their_limits(batch: Path) -> None:
    result = run("record", batch, "batch_date=2000-01-01", "boil_start=0:00", f"batch_name={'x' * 80}", "hop_1_name=5")
    assert result.exit_code == 0, result.output
    assert "Brew day: 2000-01-01 (was 2026-03-14)" in result.stdout
    assert run("record", batch, "batch_date=36526").stdout.startswith("batch.xlsx: nothing to change")
    assert run("record", batch, "boil_start=23:59").exit_code == 0


def test_one_wrong_reading_is_told_once_however_much_rests_on_it(batch: Path) -> None:
    book = openpyxl.load_workbook(batch)  # typed in a spreadsheet program: record would refuse it
    for name, typed in (("preboil_gravity", 1046), ("preboil_gravity_temp", 20)):
        ((sheet, cell),) = book.defined_names[name].destinations
        book[sheet][cell.replace("$", "")] = typed
    book.save(batch)
    result = run("recalc", batch)
    assert result.exit_code == FOUND
    told = [line for line in result.stdout.splitlines() if "outside" in line]
    assert len(told) == 1
    assert told[0].startswith("in error: preboil_gravity_read #NUM!: reading 1046 SG is outside")
    assert "#NUM!" not in result.stdout.replace(told[0], "")
    cells = json.loads(run("recalc", "--json", batch).stdout)[0]["failing"]
    assert f"; {len(cells) - 1} more with it" in told[0]  # in JSON they are all there
    found = run("check", batch)
    assert found.exit_code == FOUND
    assert len([line for line in found.stdout.splitlines() if "outside" in line]) == 1


def test_record_converts_to_the_unit_of_a_tables_column(batch: Path) -> None:
    told = run("record", batch, "hop_1_mass=1 oz", "--all").stdout
    assert told.startswith("hop_1_mass = 28.3495 (was 28)\n")  # 28.349523 g


def test_record_tells_by_sheet_what_a_brewer_sees(batch: Path) -> None:
    """No internal name, nothing from hidden sheets, nothing that the sheets' own digits don't show, nothing twice."""
    readings = ("preboil_gravity=1.046", "preboil_volume=25.5 L", "preboil_gravity_temp=20", "preboil_volume_temp=20")
    told = run("record", batch, *readings).stdout.splitlines()
    assert "Brew day" in told
    after = told[told.index("Brew day") + 1 :]
    assert after[0].startswith("  ")
    assert not [line for line in told if re.search(r"[a-z]_[a-z]", line)]
    assert not [line for line in told if "Workings" in line]
    changes = [line.strip() for line in told if "->" in line]
    assert changes
    for line in changes:
        old, new = re.fullmatch(r".*?  +(\S+).* -> (\S+).*", line).groups()  # type: ignore[union-attr]
        assert old != new
    for _, block in itertools.groupby(told, key=bool):
        lines = list(block)
        assert len(lines) == len(set(lines)) or lines == [""] * len(lines)


def test_a_difference_that_rounds_away_has_no_sign(batch: Path) -> None:
    with Package(batch) as package:
        sheet, row, column = find_cell(package, "preboil_gravity_expected")
        planned = package.sheet(sheet).value(row, column)
    assert isinstance(planned, float)
    told = run("record", batch, f"preboil_gravity={planned - 0.0001:.4f}", "preboil_gravity_temp=20").stdout
    assert re.search(r"apart +blank -> 0\.000", told), told
    assert "-0.000" not in told


def test_record_lists_what_can_be_set(batch: Path) -> None:
    listed = run("record", batch, "--list").stdout
    assert re.search(r"^  preboil_gravity +– SG +Hydrometer before the boil$", listed, re.MULTILINE)
    assert re.search(r"^  boil_time +60 min +\S", listed, re.MULTILINE)
    found = json.loads(run("record", batch, "--list", "--json").stdout)
    assert {one["name"] for one in found} == set(input_cells(with_optional=False))
    assert "original_gravity" not in listed  # a formula
    assert run("record", batch, "--list", "boil_time=30").exit_code == MISUSED


def test_the_names_of_a_strangers_workbook_are_listed_too(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active["A1"], book.active["B1"], book.active["B2"] = "Kettle", 25, "=B1*2"
    for name, cell in (("kettle", "$B$1"), ("twice", "$B$2")):
        book.defined_names[name] = DefinedName(name, attr_text=f"Sheet!{cell}")
    book.save(tmp_path / "own.xlsx")
    book.active["XFD1048576"] = "the last cell there is"  # what is between them isn't gone through
    book.active["B3"], book.active["B3"].number_format = 3.2e9, "yyyy-mm-dd"  # no day
    book.defined_names["day"] = DefinedName("day", attr_text="Sheet!$B$3")
    book.save(tmp_path / "own.xlsx")
    told = run("record", tmp_path / "own.xlsx", "--list").stdout
    assert re.search(r"^  day +3.2e\+09$", told, re.MULTILINE)
    assert re.search(r"^  kettle +25 +Kettle$", told, re.MULTILINE)
    assert "twice" not in told


def test_record_wants_name_and_value(batch: Path) -> None:
    assert run("record", batch, "1.046").exit_code == MISUSED
    assert run("record", batch).exit_code == MISUSED
    assert run("record", batch, "preboil_gravity=1.04", "preboil_gravity=1.05").exit_code == MISUSED


def test_recalc_of_a_fresh_workbook_has_nothing_to_do(batch: Path) -> None:
    before = batch.stat().st_mtime_ns
    result = run("recalc", batch)
    assert (result.exit_code, result.stdout) == (0, "batch.xlsx: nothing to change\n")
    assert batch.stat().st_mtime_ns == before


def test_recalc_goes_on_after_a_file_it_cant_use(batch: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(b"PK\x03\x04 not a workbook")
    result = run("recalc", broken, tmp_path / "missing.xlsx", batch)
    assert result.exit_code == REFUSED
    assert "broken.xlsx" in result.stderr
    assert "missing.xlsx" in result.stderr
    assert "batch.xlsx: nothing to change" in result.stdout


def test_a_locked_workbook_is_left_alone(batch: Path, demo_bytes: bytes) -> None:
    (batch.parent / ".~lock.batch.xlsx#").write_text(",anna,host,25.11.2026 08:00,file:///x;", encoding="utf-8")
    result = run("record", batch, "preboil_gravity=1.046")
    assert result.exit_code == REFUSED
    assert "LibreOffice" in result.stderr
    assert batch.read_bytes() == demo_bytes


def test_check_finds_nothing_in_a_fresh_workbook_and_a_share_over_one_in_a_bad_one(batch: Path, tmp_path: Path) -> None:
    assert run("check", batch).exit_code == 0
    book = openpyxl.Workbook()
    book.active["A1"] = 5.5
    book.active["B1"] = "=HOP_BITTERNESS(28,A1,60,20)"
    own = tmp_path / "own.xlsx"
    book.save(own)
    result = run("check", own, "--json")
    assert result.exit_code == FOUND
    assert {f["kind"] for f in json.loads(result.stdout)["findings"]} >= {"error", "share-over-1"}


# -- the rest --------------------------------------------------------------------------------------------------------


def test_doctor_tries_known_answers_in_the_engine() -> None:
    result = run("doctor", "--json")
    engine = next(f for f in json.loads(result.stdout) if f["subject"] == "engine")
    assert engine["state"] == "well"
    assert "known answers" in engine["sentence"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts(shell: str) -> None:
    script = run("completion", shell).stdout
    assert "_BREWFUNCS_COMPLETE" in script
    if shell == "bash" and shutil.which("bash"):
        assert subprocess.run(["bash", "-n"], input=script, text=True, check=False).returncode == 0


@pytest.mark.parametrize("addin", [("calc-addin", "x.oxt"), ("excel-addin", "x.xlam")])
def test_add_ins_are_written_once(tmp_path: Path, addin: tuple[str, str]) -> None:
    command, name = addin
    if command == "excel-addin":
        needs.library("xlwings")
    assert run(command, tmp_path / name).exit_code == 0
    assert (tmp_path / name).read_bytes()[:2] == b"PK"
    assert run(command, tmp_path / name).exit_code == REFUSED
    assert run(command, tmp_path / "x.zip").exit_code == MISUSED


def test_runs_as_a_module_and_ends_quietly_when_a_pipe_closes() -> None:
    done = subprocess.run([sys.executable, "-m", "brewfuncs", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("brewfuncs ")
