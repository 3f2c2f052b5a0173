"""Our functions in LibreOffice Calc, run in a headless LibreOffice with a profile of its own.

Expected bitternesses are Tinseth's utilization table (60 min at 1.050: 0.231; 30 min: 0.177), which has three decimals.
"""

import contextlib
import io
import os
import re
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from brewfuncs import __version__
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.errors import BadInput
from brewfuncs.hosts import calc, calc_install
from brewfuncs.hosts.known_answers import KnownAnswer, known_answers
from tests import parity
from tests.office import Office, OfficeError, require_office
from tests.parity import Code

ROOT = Path(__file__).parents[1]
NUM, VALUE, NA, DIV = Code("#NUM!"), Code("#VALUE!"), Code("#N/A"), Code("#DIV/0!")
NAME = Code("#NAME?")
WHOLE_RANGE_WITH_AN_ERROR = Code("Err:504")  # Calc's own, before any function is called


def bitterness(mass: float, alpha: float, volume: float, utilization: float) -> Any:
    return pytest.approx(mass * alpha * 1000 * utilization / volume, rel=0.0005 / utilization)


HOUR, HALF_HOUR = bitterness(30, 0.055, 20, 0.231), bitterness(30, 0.055, 20, 0.177)


# -- the file --------------------------------------------------------------------------------------------------------


def test_the_bytes_are_the_same_every_time_and_everywhere() -> None:
    code = "import sys; from brewfuncs.hosts.calc import build; sys.stdout.buffer.write(build())"
    environment = {**os.environ, "PYTHONHASHSEED": "7", "TZ": "Pacific/Apia", "PYTHONPATH": str(ROOT)}
    elsewhere = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=True).stdout
    assert elsewhere == calc.build()


def test_the_extension_carries_what_it_needs_and_nothing_else() -> None:
    with zipfile.ZipFile(io.BytesIO(calc.build())) as archive:
        names = archive.namelist()
        assert archive.testzip() is None
        # the formulas run there as they are
        for name in names:
            if name.startswith("pythonpath/") and name != "pythonpath/brewfuncs/__init__.py":
                source = ROOT / name.removeprefix("pythonpath/")
                assert archive.read(name).decode() == source.read_text(encoding="utf-8"), name
        listed = archive.read("META-INF/manifest.xml").decode()
    assert {name.partition("/")[0] for name in names} == {
        "META-INF", "description.xml", "description.txt", "types.rdb", "CalcAddIns.xcu", "addin.components", "Jobs.xcu",
        "repair.components", "addin.py", "repair.py", "probe.py", "Events.xcu", "brewfuncs", "names.txt", "pythonpath",
    }  # fmt: skip
    for part in (
        "types.rdb", "CalcAddIns.xcu", "addin.components", "Jobs.xcu", "repair.components", "Events.xcu", "brewfuncs/",
    ):  # fmt: skip
        assert f'full-path="{part}"' in listed


# -- what a person sees ----------------------------------------------------------------------------------------------


def test_the_function_wizard_has_every_function_with_help_for_every_argument(office: Office) -> None:
    with office.document() as document:  # argument names are read when the functions are first used
        document.enter(0, "A1", [["=WATER_DENSITY(20)"]])
    shown = office.call("functions")
    for function in CATALOGUE.values():
        _, description, arguments = shown[function.name]
        assert description.startswith(function.summary)
        assert [name for name, _, _ in arguments] == [parameter.name for parameter in function.params]
        for (_, text, _), parameter in zip(arguments, function.params, strict=True):
            assert text.startswith(parameter.help)
            if parameter.symbol:
                assert f"in {parameter.symbol}" in text
            if not parameter.variable:
                said = "needed" if parameter.required else f"if left out: {parameter.shown_default}"
                assert text.endswith(said)
            for name in parameter.names or {}:
                assert name in text.casefold()


def test_plain_and_dotted_names_are_the_same_function(office: Office) -> None:
    plain, dotted = office.compute(["=HOP_BITTERNESS(30,0.055,60,20)", "=BREW.HOP_BITTERNESS(30,0.055,60,20)"])
    assert plain == HOUR
    assert dotted == plain


# -- arguments and results -------------------------------------------------------------------------------------------


def test_every_published_value_and_every_kind_of_error_is_as_in_python(office: Office) -> None:
    twice = 2  # when the file is opened, and when it is recalculated
    assert parity.differences(office.compute, host="calc", calls=office.calls, rounds=twice) == []


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("=HOP_BITTERNESS(30,0.055,60,20,,)", HOUR),  # optional arguments left out in the middle and at the end
        ('=HOP_BITTERNESS("30 g","5.5 %","1 h","20 L","1.050","Tinseth")', HOUR),
        ('=HOP_BITTERNESS(30,0.055,60,20,"12.4 °P")', HOUR),  # 1.050 in the ASBC table
        ("=HOP_BITTERNESS(ZZ999,0.055,60,20)", 0.0),  # a row without hops adds nothing
        ("=HOP_BITTERNESS(30,0.055,60,20,1.05,ZZ999)", HOUR),  # a blank cell where a name is wanted
        ("=HOP_BITTERNESS(30,0.055,60,ZZ999)", NUM),
        ("=HOP_BITTERNESS(,0.055,60,20)", VALUE),  # a missing argument
        ("=HOP_BITTERNESS(30,5.5,60,20)", NUM),
        ('=HOP_BITTERNESS(30,"5,5 %",60,20)', VALUE),
        ('=HOP_BITTERNESS(30,0.055,60,20,1.05,"dollop")', NA),
        ("=HOP_BITTERNESS(1/0,0.055,60,20)", DIV),  # an error comes out as it went in
        ("=HOP_BITTERNESS(NA(),0.055,60,20)", NA),
        ("=SUM(HOP_BITTERNESS(30,5.5,60,20),1)", NUM),  # so no sum passes over it
        ("=INDEX(HOP_BITTERNESS(30,0.055,{60;30},20),2)", HALF_HOUR),
        ("=INDEX(HOP_BITTERNESS(30,{0.055,5.5},60,20),1,2)", NUM),  # only the bad element is in error
        ("=INDEX(HOP_BITTERNESS(30,{0.055,5.5},60,20),1,1)", HOUR),
        ("=SUM(HOP_BITTERNESS({30;15;15},0.055,60,20))", bitterness(60, 0.055, 20, 0.231)),
        ("=ROUND(HOP_BITTERNESS({30},0.055,{60},20),9)=ROUND(HOP_BITTERNESS(30,0.055,60,20),9)", 1.0),
        ("=IF(ISERROR(HOP_BITTERNESS(30,5.5,60,20)),1,2)", 1.0),
        ("=WATER_DENSITY(TRUE)=WATER_DENSITY(1)", 1.0),
        ('=LEN(BREW_SOURCE("hop_bitterness"))>10', 1.0),
        ('=BREW_REASON("HOP_BITTERNESS",30,5.5,60,20)', "alpha 5.5 is over 1: write 5.5 % or 0.055"),
        ('=BREW_REASON("HOP_BITTERNESS",30,0.055,60,20,,"tinseth")', ""),
        ('=BREW_REASON("HOP_BITTERNESS",,0.055,60,20)', "mass is missing"),
        ('=INDEX(BREW_REASON("BOIL_OFF",4.5,{30;-10}),2)', "minutes -10 min is outside 0 to 600 min"),
        ("=BREW_REASON()", VALUE),
    ],
)
def test_a_cell(office: Office, formula: str, expected: Any) -> None:
    (value,) = office.compute([formula])
    assert value == expected
    assert isinstance(value, Code) == isinstance(expected, Code)


def test_ranges(office: Office) -> None:
    with office.document() as document:
        document.put(0, "A1:C4", [[30, 0.055, 60], [30, 0.055, 30], [30, 5.5, 60], ["", "", ""]])
        document.put(0, "E1:F4", [[5, 0.8], [0.5, 0.75], ["", ""], [1, ""]])
        document.enter(0, "H1:H2", [["=1/0"], ["=1"]])
        document.enter_array(0, "D1:D4", "=HOP_BITTERNESS(A1:A4;B1:B4;C1:C4;20)")
        document.enter(
            0,
            "I1:I5",
            [
                ["=WORT_MASH_GRAVITY(E1:E3;F1:F3;0.75;25)"],
                ["=WORT_MASH_GRAVITY(E1:E4;F1:F4;0.75;25)"],
                ["=SUM(WATER_DENSITY(H1:H2))"],
                ["=WATER_DENSITY(H2:H2)"],
                ['=BREW_REASON("WORT_MASH_GRAVITY";E1:E4;F1:F4;0.75;25)'],
            ],
        )
        assert [row[0] for row in document.values(0, "D1:D4")] == [HOUR, HALF_HOUR, NUM, 0.0]
        gravity, one_sided, with_error, single, reason = (row[0] for row in document.values(0, "I1:I5"))
    # three quarters of 5 x 0.8 + 0.5 x 0.75 kg are 3.281 kg of extract; 25 L of wort at 1.0505 weigh 26.216 kg, so it
    # has 12.52 % of extract, which is 1.0505 in the ASBC table
    assert gravity == pytest.approx(1.0505, abs=0.0001)
    assert one_sided == VALUE
    assert with_error == WHOLE_RANGE_WITH_AN_ERROR
    assert single == pytest.approx(0.9999, abs=0.0001)  # water at 1 °C
    assert reason == "row 4 has malt_masses but no malt_yields"


def test_a_row_of_texts_lifts_like_numbers(office: Office) -> None:
    with office.document() as document:
        document.put(0, "A1:C1", [["tinseth", "RAGER TABLE", "dollop"]])
        document.enter_array(0, "A2:C2", "=HOP_UTILIZATION(60;1.05;A1:C1)")
        document.enter_array(0, "A3:C3", '=BREW_REASON("HOP_UTILIZATION";60;1.05;A1:C1)')
        (utilizations, reasons) = document.values(0, "A2:C3")
    # Rager's table has 30 % for more than 50 minutes
    assert utilizations == [pytest.approx(0.231, abs=0.0005), pytest.approx(0.30), NA]
    assert reasons[:2] == ["", ""]
    assert 'method "dollop" is not listed' in reasons[2]


# -- files -----------------------------------------------------------------------------------------------------------


def plan(path: Path) -> Path:
    """A workbook with ordinary and array formulas and none of their values."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet["A1"], sheet["A2"] = 60, 30
    sheet["B1"], sheet["B2"] = "=HOP_BITTERNESS(30,0.055,A1,20)", "=2*BREW.HOP_BITTERNESS(15,0.055,A2,20)"
    sheet["B3"] = '="HOP_BITTERNESS("&ROUND(B1,0)&")"'
    from openpyxl.worksheet.formula import ArrayFormula

    sheet["C1"] = ArrayFormula("C1:C2", "=HOP_BITTERNESS(30,0.055,A1:A2,20)")
    book.save(path)
    return path


ANSWERS = [[HOUR, HOUR], [HALF_HOUR, HALF_HOUR], ["HOP_BITTERNESS(19)", None]]


def test_an_xlsx_keeps_the_plain_names(office: Office, tmp_path: Path) -> None:
    with office.document(plan(tmp_path / "plan.xlsx")) as document:
        assert document.values(0, "B1:C3") == ANSWERS
        saved = document.save(tmp_path / "saved.xlsx")
    sheet = load_workbook(saved).active
    assert sheet is not None
    name = "BREW.HOP_BITTERNESS" if office.version == "7.4" else "HOP_BITTERNESS"  # 7.4 can't but write its own name
    assert sheet["B1"].value == f"={name}(30,0.055,A1,20)"
    assert sheet["B2"].value == f"=2*{name}(15,0.055,A2,20)"
    assert sheet["C1"].value.text == f"={name}(30,0.055,A1:A2,20)"
    with office.document(saved) as document:
        document.recalculate()
        assert document.values(0, "B1:C3") == ANSWERS


def test_an_ods_comes_back(office: Office, tmp_path: Path) -> None:
    with office.document(plan(tmp_path / "plan.xlsx")) as document:
        saved = document.save(tmp_path / "saved.ods")
    with office.document(saved) as document:
        document.recalculate()
        assert document.values(0, "B1:C3") == ANSWERS


@pytest.mark.parametrize("between", [".xlsx", ".ods"])
def test_a_file_that_was_saved_without_the_functions_works_again(
    office: Office, bare_office: Office, tmp_path: Path, between: str
) -> None:
    with office.document(plan(tmp_path / "plan.xlsx")) as document:
        stored = document.save(tmp_path / "stored.xlsx")
    with bare_office.document(stored) as document:
        document.put(0, "A1", [[5]])
        saved = document.save(tmp_path / f"between{between}")
    with office.document(saved) as document:
        assert not document.is_modified()
        document.put(0, "A1", [[60]])
        document.recalculate()
        assert document.values(0, "B1:C3") == ANSWERS


@pytest.mark.parametrize("password", ["", "secret"])
def test_a_protected_sheet_is_repaired_and_stays_protected(
    office: Office, bare_office: Office, tmp_path: Path, password: str
) -> None:
    book = load_workbook(plan(tmp_path / "plan.xlsx"))
    sheet = book.active
    assert sheet is not None
    for row in (1, 2):
        sheet.cell(row, 5).value = f"=HOP_BITTERNESS(30,0.055,A{row},20)"  # a block of nothing but our functions
    sheet.protection.sheet = True
    sheet.protection.formatColumns = False  # allowed
    if password:
        sheet.protection.password = password
    book.save(tmp_path / "protected.xlsx")
    with bare_office.document(tmp_path / "protected.xlsx") as document:
        between = document.save(tmp_path / "between.ods")
    with bare_office.document(between) as document:
        as_it_was = document.save(tmp_path / "was.xlsx")
    with office.document(between) as document:
        assert not document.is_modified()
        document.recalculate()
        assert document.values(0, "E1:E2") == [[HOUR], [HALF_HOUR]]
        # LibreOffice takes no array formula into a sheet whose password isn't known
        assert document.value("C1") == (NAME if password else HOUR)
        saved = document.save(tmp_path / "saved.xlsx")
    assert protection(saved) == protection(as_it_was)


def protection(path: Path) -> str:
    with zipfile.ZipFile(path) as archive:
        (found,) = re.findall(r"<sheetProtection[^>]*>", archive.read("xl/worksheets/sheet1.xml").decode())
    return str(found)


def test_a_document_prints(office: Office, tmp_path: Path) -> None:
    with office.document(plan(tmp_path / "plan.xlsx")) as document:
        printed = document.save(tmp_path / "plan.pdf")
    text = subprocess.run(["pdftotext", "-layout", str(printed), "-"], capture_output=True, check=True).stdout.decode()
    assert "19.03" in text or "19.029" in text


# -- started where another Python comes first ------------------------------------------------------------------------


@contextlib.contextmanager
def started(addin: Path, within: dict[str, str]) -> Iterator[Office]:
    office = Office(addin, within)
    try:
        yield office
    finally:
        with contextlib.suppress(OSError, subprocess.TimeoutExpired):
            office.close()


def without_the_guard(path: Path) -> Path:
    with zipfile.ZipFile(io.BytesIO(calc.build())) as whole, zipfile.ZipFile(path, "w") as archive:
        for name in whole.namelist():
            archive.writestr(name, whole.read(name).replace(b"OnStartApp", b"OnUnfocus"))
    return path


def test_a_file_opens_where_libreoffice_was_started_with_another_python(
    office: Office, elsewhere: dict[str, str], tmp_path: Path
) -> None:
    with office.document(plan(tmp_path / "plan.xlsx")) as document:
        stored = document.save(tmp_path / "stored.xlsx")
    addin = tmp_path / "brewfuncs.oxt"
    addin.write_bytes(calc.build())
    with started(addin, elsewhere) as other:
        with other.document() as document:
            document.enter(0, "A1", [["=1+1"]])
            assert document.value("A1") == 2
        with other.document(stored) as document:
            assert document.values(0, "B1:B3") == [row[:1] for row in ANSWERS]  # as they were stored
            assert document.value("C1") == Code("Err:504")  # LibreOffice works out array formulas anew, and can't
            document.put(0, "A1", [[5]])
            document.recalculate()
            assert isinstance(document.value("B1"), Code)  # no number where nothing was worked out
            saved = document.save(tmp_path / "saved.xlsx")
    with office.document(saved) as document:  # and the functions are still in it
        document.put(0, "A1", [[60]])
        document.recalculate()
        assert document.values(0, "B1:C3") == ANSWERS
    with started(without_the_guard(tmp_path / "without.oxt"), elsewhere) as other, pytest.raises(OfficeError):
        other.document(stored)  # what the guard is for; once this opens, it can go


# -- installing ------------------------------------------------------------------------------------------------------


@pytest.fixture
def empty_profile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of the machine's own LibreOffice is touched: neither the user's profile nor, as root, the shared one."""
    require_office()
    if calc_install.find_office() is None:
        pytest.skip("LibreOffice runs elsewhere")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("UserInstallation", (tmp_path / "config" / "libreoffice" / "4").as_uri())
    monkeypatch.setenv("UNO_SHARED_PACKAGES_CACHE", (tmp_path / "shared").as_uri())


@pytest.mark.usefixtures("empty_profile")
def test_install_look_and_uninstall(elsewhere: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", calc_install.environment()["PATH"])
    ((state, sentence),) = calc_install.status()
    assert (state, sentence.endswith("brewfuncs calc install")) == ("absent", True)
    assert calc_install.uninstall() == "brewfuncs is not installed in LibreOffice Calc"

    assert f"brewfuncs {__version__} is installed in LibreOffice Calc" in calc_install.install()
    assert f"in place of {__version__}" in calc_install.install()
    assert calc_install.installed_version() == __version__
    ((state, sentence),) = calc_install.status()
    assert state == "well", sentence
    assert f"with brewfuncs {__version__}" in sentence
    known, bad, text = calc_install.compute(
        ["=HOP_BITTERNESS(30,0.055,60,20)", "=HOP_BITTERNESS(30,5.5,60,20)", '=BREW_REASON("HOP_BITTERNESS",30,5.5)']
    )
    assert known == HOUR
    assert bad.code == "#NUM!"
    assert text.startswith("alpha 5.5 is over 1")

    monkeypatch.setenv("PATH", elsewhere["PATH"])  # as `brewfuncs doctor` is mostly run
    (state, _), (here, why) = calc_install.status()
    assert (state, here) == ("well", "off")
    assert elsewhere["VIRTUAL_ENV"] in why

    assert "is removed" in calc_install.uninstall()
    assert calc_install.installed_version() is None


@pytest.mark.usefixtures("empty_profile")
def test_a_wrong_answer_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    calc_install.install()
    wrong = KnownAnswer("=WATER_DENSITY(25)", 2.0, 1e-3, "nobody")
    monkeypatch.setattr(calc_install, "known_answers", lambda: (*known_answers(), wrong))
    ((state, sentence),) = calc_install.status()
    assert state == "broken"
    assert f"1 of {len(known_answers()) + 1} known answers are wrong" in sentence
    assert "=WATER_DENSITY(25) gives 0.997" in sentence


def test_without_libreoffice_one_sentence_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("BREWFUNCS_LIBREOFFICE", str(tmp_path))
    assert calc_install.status() == [("absent", "LibreOffice was not found")]
    with pytest.raises(BadInput, match="LibreOffice was not found"):
        calc_install.install()
    with pytest.raises(BadInput, match="LibreOffice was not found"):
        calc_install.uninstall()


@pytest.mark.parametrize(
    ("system", "home", "folder"),
    [
        ("Windows", {"ProgramFiles": "{}"}, "LibreOffice/program"),
        ("Darwin", {"HOME": "{}"}, "Applications/LibreOffice.app/Contents/MacOS"),
    ],
)
def test_where_other_systems_keep_libreoffice(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, system: str, home: dict[str, str], folder: str
) -> None:
    """The places are from memory: neither system was at hand."""
    monkeypatch.setattr(calc_install.platform, "system", lambda: system)
    monkeypatch.setenv("PATH", str(tmp_path))
    for name, value in home.items():
        monkeypatch.setenv(name, value.format(tmp_path))
    assert calc_install.find_office() is None
    (tmp_path / folder).mkdir(parents=True)
    for name in ("soffice", "unopkg"):
        (tmp_path / folder / (name + (".com" if system == "Windows" else ""))).touch()
    assert calc_install.find_office() == tmp_path / folder
