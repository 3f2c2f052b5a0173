"""The generated VBA: that it parses, that it is sound, and that the lint finds what Excel and VBA trip over."""

import re
from pathlib import Path, PureWindowsPath
from types import SimpleNamespace
from typing import Any

import pytest

from tests import needs

needs.library("pyopenvba")
needs.library("pyvbaanalysis")
from pyopenvba import ExcelFile, VBAModuleKind
from pyopenvba.interpreter import parse_module
from pyvbaanalysis import analyze_module

from brewfuncs import __version__
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.hosts import excel_vba
from tests import office as office_module


@pytest.mark.parametrize("name", ["brew_functions", "brew_server"])
def test_it_parses(name: str) -> None:
    """By two parsers of VBA."""
    code = excel_vba.modules()[name]
    parse_module(code, name=name)
    assert [d for d in analyze_module(code) if d.severity.value in ("error", "warning")] == []


def test_the_lint_is_content() -> None:
    assert excel_vba.lint() == []


def declared(code: str, what: str) -> list[str]:
    return re.findall(rf"^{what} (?:Function|Sub) (\w+)", code, re.MULTILINE)


def test_only_worksheet_functions_can_be_called() -> None:
    """A public function of a module is a worksheet function to Excel, unless the module is private."""
    code = excel_vba.modules()
    assert set(declared(code["brew_functions"], "Public")) == {*CATALOGUE, "BREW_STATUS"}
    assert declared(code["brew_server"], "Public") == ["BrewServer"]
    assert "Option Private Module" in code["brew_server"]
    for text in code.values():
        assert re.findall(r"^(?:Function|Sub) ", text, re.MULTILINE) == []
        assert "Option Explicit" in text


def test_arguments_and_descriptions_are_the_catalogues() -> None:
    code = excel_vba.modules()["brew_functions"].replace(" _\r\n        ", " ")
    for name, function in CATALOGUE.items():
        (signature,) = re.findall(rf"^Public Function {name}\((.*)\) As Variant\r?$", code, re.MULTILINE)
        words = [part.split() for part in signature.split(", ")]
        assert [word[-3].removesuffix("()") for word in words] == [p.name for p in function.params]
        if function.variable:
            assert words[-1][0] == "ParamArray"
            assert "Optional" not in signature  # VBA allows none beside a ParamArray
        else:
            assert all(word[0] == "Optional" for word in words)
        (said,) = re.findall(rf'^Attribute {name}\.VB_Description = "(.*)"\r?$', code, re.MULTILINE)
        assert said.replace('""', '"') == function.summary


def test_no_line_is_broken_within_a_text() -> None:
    for code in excel_vba.modules().values():
        for line in code.split("\r\n"):
            without_texts = re.sub('"[^"]*"', "", line)  # a text that has "" in it is two in a row
            assert '"' not in without_texts.partition("'")[0], line


# from [MS-VBAL] 3.3.5.2 and from what broke in trials
RESERVED = ("type", "end", "next", "loop", "date", "to", "in", "is", "for", "if", "get", "set", "string", "time", "me")


def function(name: str = "HOP_THING", *parameters: str, summary: str = "What it does.") -> Any:
    """As much of a catalogue function as the generator reads."""
    return SimpleNamespace(
        name=name, params=[SimpleNamespace(name=p) for p in parameters], summary=summary, variable=False
    )


@pytest.mark.parametrize(
    ("bad", "complaint"),
    [
        (function("SRM1"), "looks like a cell"),
        (function("XFD1048576"), "looks like a cell"),
        (function("R1C1"), "looks like a cell"),
        (function("RC"), "looks like a cell"),
        (function("C5"), "looks like a cell"),
        (function("RATE"), "Excel's own function"),
        (function("CONVERT"), "Excel's own function"),
        (function("XLOOKUP"), "Excel's own function"),
        (function("HOP.MASS"), "not a name in VBA"),
        (function("2ND_HOP"), "not a name in VBA"),
        (function("NEXT"), "has a meaning"),
        (function("BREW_STATUS"), "the same name as"),
        (function("BREW_SERVER"), "the same name as"),
        *((function("HOP_THING", word), "reserved word") for word in RESERVED),
        (function("HOP_THING", "array"), "reserved word"),
        (function("HOP_THING", "incoming"), "hides what the code calls"),
        (function("HOP_THING", "hop_thing"), "is taken"),
        (function("HOP_THING", "mass", "Mass"), "is taken"),
        (function("HOP_THING", "°C"), "not a name in VBA"),
        (function("HOP_THING", *(f"p_{n}" for n in range(61))), "more than 60"),
        (function("HOP_THING", summary="x" * 256), "longer than 255"),
        (function("HOP_THING", summary="CO₂ in beer"), "code page"),
        (function("HOP_THING", summary="x" * 1100), "longer than 1023"),
    ],
    ids=lambda value: (
        value if isinstance(value, str) else f"{value.name}({','.join(p.name for p in value.params)[:20]})"
    ),
)
def test_the_lint_finds(bad: Any, complaint: str) -> None:
    assert any(complaint in problem for problem in excel_vba.lint([bad])), excel_vba.lint([bad])


def test_names_that_differ_in_case_only_collide() -> None:
    assert any("the same name" in p for p in excel_vba.lint([function("HOP_A"), function("Hop_A")]))
    assert excel_vba.lint([function("HOP_A", "mass"), function("HOP_B", "mass")]) == []


def test_names_beyond_the_sheet_are_no_cells() -> None:
    assert excel_vba.lint([function("XFE1"), function("ABCD1"), function("A1048577"), function("BOIL1X")]) == []


# -- run by LibreOffice's Basic, a second implementation of VBA ------------------------------------------------------

# Instead of xlwings' server: what was asked for, or an answer with a marker in it.
DOUBLE = """\
Public Function CallUDF(ByVal place As String, ByVal name As String, ByVal given As Variant) As Variant
    If name = "BREW_STATUS" Then
        CallUDF = place & " " & given(0)
    ElseIf UBound(given) = 0 Then
        CallUDF = Array(1.5, Chr$(1) & "2042")
    Else
        CallUDF = name & " " & UBound(given) & " " & given(0) & " " & Replace(given(1), Chr$(1), "!")
    End If
End Function
"""
PROBES = """\
Public Function BrewServer() As Object
    Set BrewServer = New Echo
End Function

' the second element: is it an error, and which
Public Function SecondOf(ByVal row As Variant) As String
    SecondOf = VarType(row(1)) & " " & CStr(row(1))
End Function

Public Function Asked() As String
    Asked = SecondOf(BOIL_TEMP(0))
End Function

Public Function WhyNot(ByVal wanted As String) As String
    On Error Resume Next
    WhyNot = SettingOf(wanted)
    If Err.Number <> 0 Then WhyNot = Err.Description
End Function
"""
OPENED = """
Public Function SettingOf(ByVal wanted As String) As String
    SettingOf = Setting(wanted)
End Function

Public Function CommandOf(ByVal interpreter As String, ByVal before As Long) As String
    starts = before
    CommandOf = StartCommand(interpreter)
End Function
"""


def test_another_basic_runs_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All of both modules compiles there; what needs neither Windows nor Excel's own values is run."""
    office_module.require_office()
    modules = excel_vba.modules()
    server = modules["brew_server"].replace("\\.brewfuncs\\", "/.brewfuncs/").replace("Option Private Module", "")
    modules["brew_server"] = server.replace("BrewServer", "RealServer") + OPENED.replace("\n", "\r\n")
    path = tmp_path / "probe.xlsm"
    with ExcelFile.create_new(path) as file:
        project = file.vba_project()
        for name, code in {**modules, "probes": PROBES.replace("\n", "\r\n")}.items():
            project.add_module(name, code)
        project.add_module("Echo", DOUBLE.replace("\n", "\r\n"), kind=VBAModuleKind.other)
        file.save()
    monkeypatch.setattr(office_module.Office, "driver", Path(__file__).with_name("office_macro_driver.py"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    settings = tmp_path / ".brewfuncs" / "excel.conf"
    running = office_module.Office()
    try:
        with running.document(path) as document:

            def value(formula: str) -> Any:
                document.enter(0, "A1", [[formula]])
                return document.value("A1")

            assert value('=BOIL_OFF(4.5;"30 min")') == "BOIL_OFF 1 4.5 30 min"
            assert value("=BOIL_OFF(4.5)") == "BOIL_OFF 1 4.5 !448"
            assert value('=BREW_REASON("X";7)') == "BREW_REASON 1 X 7"
            assert value("=BREW_STATUS()") == f"brewfuncs.hosts.excel {__version__}"
            assert value("=ASKED()") == "10 Error 2042"  # 10: vbError
            assert "brewfuncs excel install" in value('=WHYNOT("VERSION")')
            settings.parent.mkdir()
            settings.write_bytes(b'"INTERPRETER_WIN","C:\\My Python\\python.exe"\r\n"VERSION","1.2"\r\n')
            assert value('=WHYNOT("INTERPRETER_WIN")') == "C:\\My Python\\python.exe"
            assert value('=WHYNOT("VERSION")') == "1.2"
            assert value('=WHYNOT("NOTHING")') == ""
            started = excel_vba.start_command(PureWindowsPath("C:\\My Python\\python.exe"))
            assert value('=COMMANDOF("C:\\My Python\\python.exe";0)') == started
            assert value('=COMMANDOF("C:\\My Python\\python.exe";2)') == started + "  "  # two have died
            assert started.startswith('"C:\\My Python\\python.exe" -E -B -P -c "import xlwings; ')
    finally:
        running.close()
