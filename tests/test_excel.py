"""Excel's way to Python (see excel_harness.py for what of it is real), and the files that carry it."""

import datetime
import io
import locale
import os
import re
import signal
import sys
import tomllib
import zipfile
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.chart import BarChart, Reference

from tests import needs

needs.library("pyopenvba")
needs.library("xlwings")
from pyopenvba import ExcelFile, check_file
from pyopenvba.interpreter import MISSING

from brewfuncs import __version__, cells
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.errors import CellError, WorkbookError
from brewfuncs.hosts import excel_build, excel_install, excel_vba
from brewfuncs.xlsx.package import Package
from tests import excel_harness, parity
from tests.excel_harness import Excel, Range, Server
from tests.office import Office

NUM, VALUE = "#NUM!", "#VALUE!"


@pytest.fixture
def excel() -> Excel:
    return Excel()


def code(value: Any) -> Any:
    """An error as its code, so that lists compare."""
    if isinstance(value, list):
        return [[code(cell) for cell in row] for row in value]
    return value.code if isinstance(value, CellError) else value


# -- the same answers as everywhere ----------------------------------------------------------------------------------


def test_every_case_comes_out_as_in_python() -> None:
    """Table rows, examples, every kind of error of every argument, and the sentences; blocks come from cells."""
    compute = partial(excel_harness.compute, ranges=True)
    assert parity.differences(compute, host="excel", calls=Server.calls.copy) == []


def test_inline_arrays_come_out_as_in_python() -> None:
    compute = partial(excel_harness.compute, ranges=False)
    blocks = [case for case in parity.cases() if "{" in case.formula]
    assert len(blocks) > 1000
    assert parity.differences(compute, host="excel", calls=Server.calls.copy, of=blocks) == []


# -- what arrives, and in which shape it goes back (4.5 L/h for 30 min are 2.25 L) -----------------------------------


def test_shapes_come_back(excel: Excel) -> None:
    rate = Range([[4.5]])
    assert excel.call("BOIL_OFF", rate, 30) == 2.25
    assert excel.call("BOIL_OFF", rate, Range([[30.0], [60.0]])) == [[2.25], [4.5]]
    assert excel.call("BOIL_OFF", rate, Range([[30.0, 60.0]])) == [[2.25, 4.5]]
    assert excel.call("BOIL_OFF", rate, [[30.0, 60.0]]) == [[2.25, 4.5]]  # {30,60}: one dimension only
    assert excel.call("BOIL_OFF", rate, [[30.0], [60.0]]) == [[2.25], [4.5]]
    assert excel.call("BOIL_OFF", Range([[4.5], [9.0]]), [[30.0, 60.0]]) == [[2.25, 4.5], [4.5, 9.0]]


def test_only_the_bad_element_is_an_error(excel: Excel) -> None:
    column = Range([[30.0], [-1.0], ["half an hour"], [CellError("#DIV/0!")], [None], [60.0]])
    assert code(excel.call("BOIL_OFF", 4.5, column)) == [[2.25], [NUM], [VALUE], ["#DIV/0!"], [0.0], [4.5]]
    row = [[30.0, -1.0, CellError("#N/A")]]
    assert (
        code(excel.call("BOIL_OFF", 4.5, Range(row))) == code(excel.call("BOIL_OFF", 4.5, row)) == [[2.25, NUM, "#N/A"]]
    )


@pytest.mark.parametrize("error", excel_vba.NUMBERS)
def test_an_error_value_comes_out_as_it_went_in(excel: Excel, error: str) -> None:
    assert code(excel.call("BOIL_OFF", CellError(error), 30)) == error
    assert code(excel.call("BOIL_OFF", Range([[4.5], [CellError(error)]]), 30)) == [[2.25], [error]]


def test_blank_is_not_left_out(excel: Excel) -> None:
    """BOIL_TEMP's altitude is 0 by default; HOP_UTILIZATION's gravity 1.05, and 0 is no gravity."""
    assert excel.call("BOIL_TEMP", Range([[None]])) == excel.call("BOIL_TEMP") == excel.call("BOIL_TEMP", 0)
    assert excel.call("HOP_UTILIZATION", 60, MISSING) == excel.call("HOP_UTILIZATION", 60, 1.05)
    assert code(excel.call("HOP_UTILIZATION", 60, Range([[None]]))) == NUM
    assert excel.call("HOP_UTILIZATION", 60, 1.05, Range([[None]])) == excel.call("HOP_UTILIZATION", 60, 1.05)
    assert code(excel.call("BOIL_OFF", MISSING, 30)) == VALUE


def test_reasons(excel: Excel) -> None:
    assert excel.call("BREW_REASON", "BOIL_OFF", 4.5, 30) == ""
    assert excel.call("BREW_REASON", "BOIL_OFF", MISSING, 30) == "boil_off_rate is missing"
    assert "-1 min" in excel.call("BREW_REASON", "BOIL_OFF", Range([[4.5]]), -1)
    assert excel.call("BREW_REASON", "BOIL_OFF", 4.5, Range([[30.0], [-1.0]]))[0] == [""]
    assert code(excel.call("BREW_REASON")) == VALUE


def test_a_union_of_ranges_is_refused(excel: Excel) -> None:
    assert code(excel.call("BOIL_OFF", Range([[4.5]], areas=2), 30)) == VALUE


def test_a_whole_column_ends_where_the_sheet_does(excel: Excel) -> None:
    """Else a million cells would go to Python for each formula. What is above the first used row stays."""
    column = Range([[None], [None], [30.0], [60.0]], whole=True, first=3)
    assert excel.call("BOIL_OFF", 4.5, column) == [[0.0], [0.0], [2.25], [4.5]]
    assert excel.call("BOIL_OFF", 4.5, Range([[30.0]], whole=True)) == 2.25


def test_values_that_only_other_vba_passes() -> None:
    """Currency arrives as Decimal, Date as datetime, Integer as int (pywin32, from memory); cells never send them."""
    call = excel_harness.com_server.XLPython().CallUDF
    module = "brewfuncs.hosts.excel"
    assert call(module, "BOIL_OFF", (Decimal("4.5"), 30)) == 2.25
    day = datetime.datetime(1900, 1, 29, tzinfo=datetime.UTC)  # serial 30
    assert call(module, "BOIL_OFF", (4.5, day)) == 2.25
    assert call(module, "BOIL_OFF", (4.5, ((30,), (60,)))) == [[2.25], [4.5]]


# -- when something breaks -------------------------------------------------------------------------------------------


def test_a_mistake_of_ours_is_an_error_value_and_status_tells(excel: Excel, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> Any:
        raise RuntimeError("a nut came loose")

    monkeypatch.setattr(cells, "apply", broken)
    monkeypatch.setattr(excel_harness.functions, "_fault", "")
    assert code(excel.call("BOIL_OFF", 4.5, 30)) == VALUE
    assert "BOIL_OFF: RuntimeError: a nut came loose" in excel.call("BREW_STATUS")


def test_status_names_both_versions(excel: Excel, monkeypatch: pytest.MonkeyPatch) -> None:
    assert excel.call("BREW_STATUS") == f"brewfuncs {__version__}, Python {sys.version.split()[0]} ({sys.executable})"
    monkeypatch.setattr(excel_harness.functions, "__version__", "99.1")
    said = excel.call("BREW_STATUS")
    assert "brewfuncs 99.1" in said
    assert f"built with brewfuncs {__version__}" in said
    assert "brewfuncs excel install" in said


class Unreachable(Excel):
    """No Python: what BrewServer raises is what status has to tell."""

    reachable = False

    def start_server(self) -> Server:
        if not self.reachable:
            from pyopenvba.exceptions import VBARuntimeError

            raise VBARuntimeError(1003, "brewfuncs is not set up on this computer")
        return super().start_server()


def test_without_python_cells_are_errors_and_status_says_why() -> None:
    excel = Unreachable()
    noon = datetime.datetime(2026, 1, 1, 12)
    excel.vba.freeze(noon)
    assert code(excel.call("BOIL_OFF", 4.5, 30)) == VALUE
    assert excel.starts == 2
    assert code(excel.call("BOIL_OFF", 4.5, [[30.0], [60.0]])) == VALUE
    assert excel.starts == 2, "the next cell waits for nothing"
    assert excel.call("BREW_STATUS") == "Python can't be reached: brewfuncs is not set up on this computer"
    assert excel.starts == 2, "nor does status, which every recalculation asks for"
    excel.reachable = True
    excel.vba.freeze(noon + datetime.timedelta(seconds=9))
    assert code(excel.call("BOIL_OFF", 4.5, 30)) == VALUE
    assert excel.call("BREW_STATUS").startswith("Python can't be reached")
    excel.vba.freeze(noon + datetime.timedelta(seconds=11))
    assert excel.call("BREW_STATUS").startswith("brewfuncs ")
    assert excel.call("BOIL_OFF", 4.5, 30) == 2.25


def test_what_takes_long_to_fail_is_tried_once_and_left_alone_for_ten_times_as_long() -> None:
    class Slow(Unreachable):
        clock = datetime.datetime(2026, 1, 1, 12)

        def wait(self, seconds: float) -> None:
            self.clock += datetime.timedelta(seconds=seconds)
            self.vba.freeze(self.clock)

        def start_server(self) -> Server:
            self.wait(120)
            return super().start_server()

    excel = Slow()
    excel.wait(0)
    assert code(excel.call("BOIL_OFF", 4.5, 30)) == VALUE
    assert excel.starts == 1
    excel.wait(1200)
    assert excel.call("BREW_STATUS").startswith("Python can't be reached")
    assert excel.starts == 1
    excel.wait(11)
    excel.reachable = True
    assert excel.call("BOIL_OFF", 4.5, 30) == 2.25


def test_one_server_serves_all_and_a_dead_one_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    excel = Excel()
    for _ in range(3):
        assert excel.call("BOIL_OFF", 4.5, 30) == 2.25
    assert excel.starts == 1
    real, deaths = Server._call_udf, []

    def dying(self: Server, *given: Any) -> Any:
        if not deaths:
            from pyopenvba.exceptions import VBARuntimeError

            deaths.append(1)
            raise VBARuntimeError(462, "The remote server machine does not exist or is unavailable")
        return real(self, *given)

    monkeypatch.setattr(Server._vba_members["calludf"], "getter", dying)
    assert excel.call("BOIL_OFF", 4.5, 30) == 2.25
    assert (len(deaths), excel.starts) == (1, 2)


# -- what xlwings makes of the module --------------------------------------------------------------------------------


def test_xlwings_registers_the_whole_catalogue() -> None:
    for name, function in CATALOGUE.items():
        registered = getattr(excel_harness.functions, name).__xlfunc__
        assert registered["name"] == name
        assert [argument["name"] for argument in registered["args"]] == [p.name for p in function.params]
        assert [argument["vararg"] for argument in registered["args"]] == [p.variable for p in function.params]
        assert all(argument["options"] == {"convert": "raw"} for argument in registered["args"])
        assert registered["ret"]["options"] == {"convert": "raw"}


def test_xlwings_own_generator_takes_the_module() -> None:
    """What "Import Functions" would write has the functions ours has."""
    from xlwings import udfs

    book = type("Workbook", (), {"Name": "any.xlsm"})
    out = io.StringIO()
    udfs.generate_vba_wrapper("brewfuncs.hosts.excel", excel_harness.functions, out, book)
    theirs = set(re.findall(r"^Function (\w+)\(", out.getvalue(), re.MULTILINE))
    ours = set(re.findall(r"^Public Function (\w+)\(", excel_vba.modules()["brew_functions"], re.MULTILINE))
    assert theirs == ours == {*CATALOGUE, "BREW_STATUS"}


def test_the_vba_calls_the_dll_as_xlwings_does() -> None:
    """Name, entry point and version, from the VBA that this version of xlwings ships."""
    import xlwings

    theirs = (Path(xlwings.__file__).parent / "xlwings_custom_addin.bas").read_text(encoding="utf-8")
    assert xlwings.__version__ == excel_vba.XLWINGS
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert f"xlwings=={excel_vba.XLWINGS}" in project["optional-dependencies"]["excel"]
    ours = excel_vba.modules()["brew_server"]
    for bits in (64, 32):
        dll = f"xlwings{bits}-{excel_vba.XLWINGS}.dll"
        assert f'XLPyDLLActivateAuto Lib "{dll}" (ByRef Result As Variant, Optional ByVal Config As String' in theirs
        assert f'Lib "{dll}" Alias "XLPyDLLActivateAuto"' in ours
    assert "xlwings.serve('$(CLSID)')" in theirs
    assert "xlwings.serve('$(CLSID)')" in ours
    assert "cmd.exe" not in ours.lower()


def test_the_licence_of_xlwings_goes_along() -> None:
    from importlib.metadata import distribution

    licence = distribution("xlwings").read_text("licenses/LICENSE.txt")
    assert licence is not None
    words = licence[licence.index("Copyright") :].split()
    assert " ".join(words) in " ".join(excel_vba.notice().split())
    commented = excel_vba.modules()["brew_server"].replace("\r\n' ", " ").replace("\r\n'", " ")
    assert " ".join(words) in " ".join(commented.split())


# -- the files -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def workbook() -> bytes:
    """A workbook with what a macro must not disturb: odd names, a chart, a chart sheet, a hidden sheet, validation."""
    from openpyxl.worksheet.datavalidation import DataValidation

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Plan & Kühlung"
    sheet["A1"], sheet["A2"], sheet["A3"] = 4.5, "=BOIL_OFF(A1,30)", "=SUM(A1:A2)"
    rule = DataValidation(type="list", formula1='"tinseth,kinetic"')
    rule.add("B1")
    sheet.add_data_validation(rule)
    other = book.create_sheet("Hop's")
    other.sheet_properties.tabColor = "336699"
    other.append(["x", 1])
    for place in (other, book.create_chartsheet("Curve")):
        chart = BarChart()
        chart.add_data(Reference(sheet, min_col=1, min_row=1, max_row=2))
        place.add_chart(chart, *(["D4"] if place is other else []))
    book.create_sheet("Hidden").sheet_state = "hidden"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def parts(package: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(package)) as file:
        assert file.testzip() is None
        return {name: file.read(name) for name in file.namelist()}


@pytest.fixture(scope="module")
def batch() -> bytes:
    """The demo batch, as  brewfuncs new  writes it."""
    from brewfuncs.batch import generate

    return generate.new()


def assert_all_survived(before: dict[str, bytes], after: dict[str, bytes]) -> None:
    assert after.keys() - before.keys() == {"xl/vbaProject.bin"}
    assert before.keys() <= after.keys()
    for name, content in before.items():
        # the sheets' code names are all that is new: without those Excel doesn't know its modules
        stripped = re.sub(rb'\s*codeName="\w+"', b"", after[name]).replace(b"<sheetPr/>", b"").replace(b"  />", b" />")
        if name not in ("[Content_Types].xml", "xl/_rels/workbook.xml.rels"):
            assert re.sub(rb"\s*/>", b"/>", stripped) == re.sub(rb"\s*/>", b"/>", content), name


def test_every_part_of_a_workbook_survives(workbook: bytes) -> None:
    before, after = parts(workbook), parts(excel_build.add_macro(workbook))
    assert_all_survived(before, after)
    codes = re.findall(rb'codeName="(\w+)"', b"".join(after[name] for name in sorted(after)))
    assert sorted(codes) == [b"Chart3", b"Sheet1", b"Sheet2", b"Sheet4", b"ThisWorkbook"]


def test_a_batch_workbook_takes_macros_and_measurements(batch: bytes, tmp_path: Path) -> None:
    from brewfuncs.batch.record import record

    path = tmp_path / "batch.xlsm"
    path.write_bytes(excel_build.add_macro(batch))
    with_macros = parts(path.read_bytes())
    assert_all_survived(parts(batch), with_macros)
    record(path, {"preboil_gravity": 1.046})
    assert parts(path.read_bytes())["xl/vbaProject.bin"] == with_macros["xl/vbaProject.bin"]
    with ExcelFile(path) as file:
        assert file.validate() == []
    assert check_file(path).issues == ()


def built(kind: str, workbook: bytes) -> bytes:
    return excel_build.build() if kind == "xlam" else excel_build.add_macro(workbook)


@pytest.mark.parametrize("kind", ["xlam", "xlsm"])
# oletools' parser uses names that pyparsing has given up
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_built_files_hold_the_code(kind: str, workbook: bytes, tmp_path: Path) -> None:
    path = tmp_path / f"built.{kind}"
    path.write_bytes(built(kind, workbook))
    with ExcelFile(path) as file:
        assert file.validate() == []
    report = check_file(path)
    assert report.complete
    assert report.issues == ()
    VBA_Parser = needs.library("oletools.olevba").VBA_Parser  # reads the project by itself

    parser = VBA_Parser(str(path))
    try:
        found = {Path(name).stem: text for _, _, name, text in parser.extract_macros()}
    finally:
        parser.close()
    sheets = {"xlam": {"Sheet1"}, "xlsm": {"Sheet1", "Sheet2", "Chart3", "Sheet4"}}[kind]
    assert found.keys() == {"ThisWorkbook", "brew_functions", "brew_server"} | sheets
    for name, text in excel_vba.modules().items():
        assert found[name].replace("\r\n", "\n").rstrip() == text.replace("\r\n", "\n").rstrip()
    main = {"xlam": "addin", "xlsm": "sheet"}[kind]
    assert (
        f"application/vnd.ms-excel.{main}.macroEnabled.main+xml".encode()
        in parts(path.read_bytes())["[Content_Types].xml"]
    )


def test_the_same_bytes_every_time(batch: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    first = excel_build.build(), excel_build.add_macro(batch)

    class Later(datetime.datetime):
        @classmethod
        def now(cls, tz: datetime.tzinfo | None = None) -> "Later":
            return cls(2040, 1, 1, tzinfo=tz)

    from openpyxl.writer import excel as writer

    monkeypatch.setattr(writer.datetime, "datetime", Later)
    monkeypatch.setattr("time.time", lambda: 2_200_000_000.0)
    assert (excel_build.build(), excel_build.add_macro(batch)) == first


def test_nobody_is_named_in_the_add_in() -> None:
    core = parts(excel_build.build())["docProps/core.xml"].decode()
    assert re.findall(r"<dc:creator>(.*?)</dc:creator>", core) == ["brewfuncs"]
    assert "xlwings" in core


def test_libreoffice_opens_a_macro_workbook(workbook: bytes, tmp_path: Path, bare_office: Office) -> None:
    path = tmp_path / "built.xlsm"
    path.write_bytes(excel_build.add_macro(workbook))
    with bare_office.document(path) as document:
        assert document.sheets() == ["Plan & Kühlung", "Hop's", "Curve", "Hidden"]
        assert document.value("A1") == 4.5
        assert document.value("B1", "Hop's") == 1


def test_libreoffice_opens_the_add_in(tmp_path: Path, bare_office: Office) -> None:
    """It knows no add-ins, xlwings' own neither: there this one passes as a workbook."""
    path = tmp_path / "built.xlsm"
    path.write_bytes(excel_build._retyped(excel_build.build(), excel_build._ADD_IN, excel_build._WITH_MACROS))
    with bare_office.document(path) as document:
        assert document.sheets() == ["Licence of xlwings"]
        assert "xlwings" in document.value("A1")


def test_our_own_reader_takes_a_macro_workbook(workbook: bytes, tmp_path: Path) -> None:
    path = tmp_path / "batch.xlsm"
    path.write_bytes(excel_build.add_macro(workbook))
    with Package(path) as package:
        assert package.sheet("Plan & Kühlung").value(1, 1) == 4.5


@pytest.mark.parametrize("content", [b"", b"no workbook at all"])
def test_other_files_are_refused(content: bytes) -> None:
    with pytest.raises(WorkbookError):
        excel_build.add_macro(content)


def test_a_workbook_whose_sheets_bear_each_others_code_names_is_refused() -> None:
    book = openpyxl.Workbook()
    book.create_sheet().sheet_properties.codeName = "Sheet1"  # which the first sheet would get
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(WorkbookError, match="can't be put into this workbook"):
        excel_build.add_macro(out.getvalue())


def test_a_workbook_that_has_macros_is_refused(workbook: bytes) -> None:
    with pytest.raises(WorkbookError, match="isn't a workbook"):
        excel_build.add_macro(excel_build.add_macro(workbook))


# -- installing (Windows is played: its folders, its names; nothing here ran on Windows) -------------------------------


class Registry:
    """As much of winreg as is used: a key is its path, and has values."""

    HKEY_CURRENT_USER, HKEY_LOCAL_MACHINE, KEY_READ, KEY_WRITE, REG_SZ = "HKCU", "HKLM", 1, 2, 1

    class Key(dict[str, tuple[Any, int]]):
        def __enter__(self) -> "Registry.Key":
            return self

        def __exit__(self, *_: object) -> None:
            pass

    def __init__(self) -> None:
        self.keys: dict[str, Registry.Key] = {}

    def OpenKey(self, root: str, path: str, *_: int) -> Key:
        if not any(key == f"{root}\\{path}" or key.startswith(f"{root}\\{path}\\") for key in self.keys):
            raise FileNotFoundError(path)
        self.opened = f"{root}\\{path}"
        return self.keys.get(self.opened, self.Key())

    def QueryInfoKey(self, key: Key) -> tuple[int, int]:
        return len(self._children()), len(key)

    def _children(self) -> list[str]:
        below = (key.removeprefix(self.opened + "\\") for key in self.keys if key.startswith(self.opened + "\\"))
        return sorted({name.partition("\\")[0] for name in below})

    def EnumKey(self, _: Key, index: int) -> str:
        return self._children()[index]

    def EnumValue(self, key: Key, index: int) -> tuple[str, Any, int]:
        name = list(key)[index]
        return (name, *key[name])

    def SetValueEx(self, key: Key, name: str, _: int, kind: int, content: Any) -> None:
        key[name] = content, kind

    def DeleteValue(self, key: Key, name: str) -> None:
        del key[name]

    def QueryValue(self, root: str, path: str) -> str:
        return str(self.OpenKey(root, path)[""][0])


@pytest.fixture
def registry() -> Registry:
    return Registry()


@pytest.fixture
def windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, registry: Registry) -> Path:
    """A user's folder, and a virtual environment with xlwings' DLLs at its root."""
    user, environment = tmp_path / "Users" / "brewer", tmp_path / "venv"
    (environment / "Scripts").mkdir(parents=True)
    for name in ("Scripts/pythonw.exe", "Scripts/python.exe", *(f"xlwings{n}-0.37.8.dll" for n in (64, 32))):
        (environment / name).write_bytes(b"")
    monkeypatch.setattr(excel_install, "_is_windows", lambda: True)
    monkeypatch.setattr(sys, "executable", str(environment / "Scripts" / "pythonw.exe"))
    monkeypatch.setattr(sys, "prefix", str(environment))
    monkeypatch.setenv("USERPROFILE", str(user))
    monkeypatch.setenv("APPDATA", str(user / "AppData" / "Roaming"))
    monkeypatch.setattr(excel_install, "_import_problem", lambda _: "")  # this python.exe is an empty file
    monkeypatch.setattr(excel_install, "_call_problem", lambda *_: "")
    monkeypatch.setattr(excel_install, "_registry", lambda: registry)
    user.mkdir(parents=True)
    return user


def test_install_and_uninstall(windows: Path) -> None:
    assert [state for state, _ in excel_install.status()] == ["absent"]
    said = excel_install.install()
    assert "tick Brewfuncs" in said
    add_in = windows / "AppData" / "Roaming" / "Microsoft" / "AddIns" / "brewfuncs.xlam"
    assert str(add_in) in said
    assert zipfile.is_zipfile(add_in)
    settings = (windows / ".brewfuncs" / "excel.conf").read_bytes().decode(locale.getencoding())
    interpreter = Path(sys.executable).with_name("python.exe")
    assert settings.split("\r\n")[0] == f'"INTERPRETER_WIN","{interpreter}"'
    assert [state for state, _ in excel_install.status()] == ["well"]
    excel_install.install()  # twice is as good as once
    assert [state for state, _ in excel_install.status()] == ["well"]
    assert "gone" in excel_install.uninstall()
    assert not add_in.exists()
    assert not (windows / ".brewfuncs").exists()
    assert "isn't installed" in excel_install.uninstall()
    assert [state for state, _ in excel_install.status()] == ["absent"]


def test_uninstalling_leaves_nothing_that_excel_would_miss(windows: Path, registry: Registry) -> None:
    """Excel's list of what it opens has no gaps, and the rest of it is the user's."""
    excel_install.install()
    options = r"HKCU\Software\Microsoft\Office\16.0\Excel\Options"
    registry.keys[r"HKCU\Software\Microsoft\Office\16.0\Word\Options"] = Registry.Key()
    for ours in (
        r'"C:\Users\brewer\AppData\Roaming\Microsoft\AddIns\brewfuncs.xlam"',
        "brewfuncs.xlam",
        '/R "Brewfuncs.xlam"',
    ):
        registry.keys[options] = Registry.Key(
            {
                "OPEN": ('"C:\\a.xlam"', 1),
                "Maximized": (3, 4),
                "OPEN10": ('"C:\\not brewfuncs.xlam.bak"', 1),
                "OPEN1": (ours, 1),
                "OPEN2": ('/R "C:\\b.xlam"', 1),
            }
        )
        assert "out of the list" in excel_install.uninstall()
        assert registry.keys[options] == {
            "OPEN": ('"C:\\a.xlam"', 1),
            "Maximized": (3, 4),
            "OPEN1": ('/R "C:\\b.xlam"', 1),
            "OPEN2": ('"C:\\not brewfuncs.xlam.bak"', 1),
        }
    assert "nothing was changed" in excel_install.uninstall()


def test_what_comes_from_the_store_is_refused(
    windows: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    excel_install.install()
    paths = r"Software\Microsoft\Windows\CurrentVersion\App Paths\excel.exe"
    registry.keys["HKLM\\" + paths] = Registry.Key({"": (r"C:\Program Files\Microsoft Office\root\EXCEL.EXE", 1)})
    excel_install.install()
    registry.keys["HKCU\\" + paths] = Registry.Key({"": (r"C:\Program Files\WindowsApps\Office\EXCEL.EXE", 1)})
    with pytest.raises(WorkbookError, match="install Office from its own site"):
        excel_install.install()
    assert [state for state, _ in excel_install.status()] == ["broken"]
    registry.keys.clear()
    monkeypatch.setattr(sys, "base_prefix", r"C:\Program Files\WindowsApps\PythonSoftwareFoundation.Python.3.13")
    with pytest.raises(WorkbookError, match=r"python\.org"):
        excel_install.install()
    ((state, said),) = excel_install.status()
    assert (state, "run  brewfuncs" in said) == ("broken", False)


def test_python_is_tried_without_what_activating_it_adds(windows: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inside, outside = str(Path(sys.prefix) / "Library" / "bin"), str(windows)
    monkeypatch.setenv("PATH", os.pathsep.join([inside, outside]))
    for name in ("PYTHONPATH", "PYTHONHOME", "CONDA_PREFIX"):
        monkeypatch.setenv(name, "somewhere")
    environment = excel_install._as_excel_has_it()
    assert environment["PATH"] == outside
    assert not environment.keys() & {"PYTHONPATH", "PYTHONHOME", "CONDA_PREFIX"}
    assert environment["USERPROFILE"] == str(windows)


@pytest.mark.skipif(sys.platform == "win32", reason="there it may work")
def test_conda_is_named_where_it_may_be_the_cause(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "base_prefix", str(tmp_path))
    assert "conda's environment" not in excel_install._import_problem(Path(sys.executable))
    (tmp_path / "conda-meta").mkdir()
    assert "conda's environment" in excel_install._import_problem(Path(sys.executable))


def test_what_a_started_python_leaves_running_keeps_nobody_waiting(tmp_path: Path) -> None:
    """A process that lives on with the output open: waiting for the end of a pipe would wait for that."""
    stays = "import time; time.sleep(90)"  # longer than the patience there
    starts = (
        "import pathlib, subprocess, sys; left = subprocess.Popen([sys.executable, '-c', sys.argv[2]]); "
        "pathlib.Path(sys.argv[1]).write_text(str(left.pid))"
    )
    left = tmp_path / "left"
    assert excel_install._failure([sys.executable, "-c", starts, str(left), stays]) == ""
    os.kill(int(left.read_text()), signal.SIGTERM)


def test_what_the_doctor_finds(windows: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    excel_install.install()

    def problems() -> str:
        found = excel_install.status()
        assert {state for state, _ in found} == {"broken"}
        return " ".join(sentence for _, sentence in found)

    dll = Path(sys.prefix) / "xlwings64-0.37.8.dll"
    dll.unlink()
    assert "xlwings64-0.37.8.dll not in" in problems()
    dll.write_bytes(b"")
    with monkeypatch.context() as patch:
        patch.setattr(excel_install, "_call_problem", lambda *_: "a call through xlwings' DLL fails (no class)")
        assert "fails (no class)" in problems()
    with monkeypatch.context() as patch:
        patch.setattr(excel_install, "__version__", "99.1")
        assert f"built with version {__version__}, and this is 99.1" in problems()
    with monkeypatch.context() as patch:
        patch.setattr(excel_install, "version", lambda _: "0.30.0")
        assert "xlwings 0.30.0 is installed" in problems()
    interpreter = Path(sys.executable).with_name("python.exe")
    interpreter.rename(interpreter.with_name("moved.exe"))
    assert "a Python that isn't there" in problems()
    excel_install._add_in().unlink()
    assert "brewfuncs.xlam is missing" in problems()
    excel_install._settings().unlink()
    excel_install._add_in().write_bytes(b"")
    assert "excel.conf, is missing" in problems()


def test_the_doctor_starts_python_as_excel_does(windows: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    excel_install.install()
    monkeypatch.setattr(excel_install, "_import_problem", lambda python: f"{python.name} can't load the functions (x)")
    assert excel_install.status() == [
        ("broken", "python.exe can't load the functions (x): run  brewfuncs excel install"),
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="there it works")
def test_what_keeps_python_from_serving_is_told() -> None:
    assert "pywin32" in excel_install._import_problem(Path(sys.executable))
    assert "No such file" in excel_install._import_problem(Path("no/such/python.exe"))


def test_install_refuses_before_it_writes(windows: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(excel_install, "version", lambda _: "0.30.0")
        with pytest.raises(WorkbookError, match=r"xlwings 0\.30\.0"):
            excel_install.install()
    with monkeypatch.context() as patch:
        patch.setattr(locale, "getencoding", lambda: "cp1252")
        patch.setattr(sys, "prefix", "C:\\Users\\Жук")
        patch.setattr(excel_install, "_library_folder", lambda: Path(sys.prefix))
        with pytest.raises(WorkbookError, match="Жук"):
            excel_install.install()
    with monkeypatch.context() as patch:
        patch.setattr(locale, "getencoding", lambda: "cp1252")
        patch.setenv("USERPROFILE", "C:\\Users\\Жук")
        with pytest.raises(WorkbookError, match="user folder"):
            excel_install.install()
    (Path(sys.prefix) / "xlwings32-0.37.8.dll").unlink()
    with pytest.raises(WorkbookError, match="xlwings64"):
        excel_install.install()
    assert list(windows.rglob("*.xlam")) == list(windows.rglob("*.conf")) == []


def test_elsewhere_it_says_what_works() -> None:
    if sys.platform == "win32":
        pytest.skip("for other systems")
    for action in (excel_install.install, excel_install.uninstall):
        with pytest.raises(WorkbookError, match="LibreOffice Calc"):
            action()
    assert [state for state, _ in excel_install.status()] == ["absent"]


# -- the checklist for people with Excel -----------------------------------------------------------------------------


def checklist() -> list[tuple[str, str]]:
    """The rows of docs/excel.md that are one formula with one answer."""
    text = (Path(__file__).parents[1] / "docs" / "excel.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| \d+ \| `(=[^`]+)`[^|]*\| ([^|]+?) \| *\|$", text, re.MULTILINE)
    return [(formula, answer) for formula, answer in rows if formula != "=BREW_STATUS()" and "B1" not in formula]


def test_the_checklist_expects_what_the_engine_answers() -> None:
    from brewfuncs.errors import BrewError
    from brewfuncs.hosts.engine import evaluate

    compared = 0
    for formula, answer in checklist():
        try:
            value = evaluate(formula)
        except BrewError as error:
            value = error.code
        if isinstance(value, float):
            assert answer == f"{value:.6g}", formula
        elif isinstance(value, str):
            assert answer.startswith(value), formula
        compared += not isinstance(value, list)
    assert compared > 10


def test_nothing_is_claimed_to_have_run_in_excel() -> None:
    """Whoever fills in results has run it, and may change this."""
    text = (Path(__file__).parents[1] / "docs" / "excel.md").read_text(encoding="utf-8")
    assert "**Not run in Excel.**" in text
    assert all(line.endswith("| |") for line in text.splitlines() if re.match(r"\| \d+ \|", line))
