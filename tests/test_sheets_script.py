"""The script for Google Sheets answers as Python does, in V8, which Apps Script runs on too."""

import datetime
import math
import re
from typing import Any

import pytest
from click.testing import CliRunner

from brewfuncs import cells
from brewfuncs.catalogue import CATALOGUE, _serial
from brewfuncs.cli import main
from brewfuncs.errors import BrewError
from brewfuncs.translate.sheets_script import script
from tests import parity, random_calls
from tests.javascript import JavaScript


@pytest.fixture(scope="module")
def host() -> JavaScript:
    return JavaScript(script(), sheets=True)


def _same(ours: Any, theirs: Any, sentence: bool) -> bool:
    if isinstance(ours, BrewError):
        return isinstance(theirs, BrewError) and (not sentence or str(ours) == str(theirs))
    if isinstance(ours, float):
        return isinstance(theirs, float) and math.isclose(ours, theirs, rel_tol=1e-12, abs_tol=1e-15)
    return bool(ours == theirs)


def test_every_case(host: JavaScript) -> None:
    """A call that gives several values is an error as soon as one of them is: no text stands in a number's place."""
    before, different, asked = host.counted(), [], 0

    def compare(name: str, arguments: list[Any]) -> Any:
        nonlocal asked
        asked += 1
        ours, theirs = cells.apply(CATALOGUE[name], arguments), host.call(name, arguments)
        given = [c for a in arguments for row in (a if isinstance(a, list) else [[a]]) for c in row]
        errors = any(isinstance(c, BrewError) for c in given)  # which arrive as texts
        if isinstance(ours, list):
            bad = [c for row in ours for c in row if isinstance(c, BrewError)]
            same = (
                isinstance(theirs, BrewError) and str(bad[0]) in str(theirs) and str(theirs).startswith("row ")
                if bad
                else all(
                    _same(a, b, True) for r, s in zip(ours, theirs, strict=True) for a, b in zip(r, s, strict=True)
                )
            )
        else:
            same = _same(ours, theirs, sentence=not errors)
        if not same:
            different.append(f"{name} {arguments}: {theirs!r}, Python {ours!r}")
        return ours

    parity.answered([case.formula for case in parity.cases()], compare)
    assert different[:20] == []
    assert (host.counted() - before).total() == asked >= len(parity.cases())
    assert host.counted().keys() == CATALOGUE.keys()


def test_random_calls(host: JavaScript) -> None:
    before, different, calls = host.counted(), [], list(random_calls.calls(400, seed=5))
    for (name, arguments), theirs in zip(calls, host.calls(calls), strict=True):
        ours = cells.apply(CATALOGUE[name], arguments)
        if not _same(ours, theirs, True):
            different.append(f"{name} {arguments}: {theirs!r}, Python {ours!r}")
    assert different[:20] == []
    assert (host.counted() - before).total() == len(calls) >= 30_000


def test_a_date_is_its_serial_number(host: JavaScript) -> None:
    """As in every other host: a date typed for a number is a number, and here one far out of range."""
    serial = _serial(datetime.datetime(2026, 3, 14, 12))
    got = host.engine.eval("try { BOIL_OFF(4.5, new Date(2026, 2, 14, 12)) } catch (error) { error.message }")
    assert str(got) == f"minutes {serial:.6g} min is outside 0 to 600 min"


def test_every_function_has_the_help_that_sheets_shows() -> None:
    text = script()
    comments = dict(re.findall(r"/\*\*\n((?: \*.*\n)+?) \*/\nfunction ([A-Z0-9_]+)\(", text))
    shown = {name: comment for comment, name in comments.items()}
    assert shown.keys() == CATALOGUE.keys()
    for name, comment in shown.items():
        assert " * @customfunction\n" in comment
        assert re.findall(r"@param \{any\} \[?(\w+)\]? ", comment) == [p.name for p in CATALOGUE[name].params]


def test_nothing_else_is_offered_in_the_spreadsheet() -> None:
    """Apps Script offers every function at the top of a script but those whose name ends in _."""
    tops = re.findall(r"^(?:function|const|let|var|class) (\w+)", script(), re.MULTILINE)
    inside = re.findall(r"^(?:function|const|let|var|class) (\w+)", script().partition("\n})();\n")[2], re.MULTILINE)
    assert tops[0] == "brewfuncs_"
    assert {name for name in inside if not name.endswith("_")} == set(CATALOGUE)


def test_the_command(tmp_path: Any) -> None:
    run, path = CliRunner(), tmp_path / "brewfuncs.gs"
    assert run.invoke(main, ["sheets-script", str(path)]).output == f"{path} written\n"
    assert path.read_text(encoding="utf-8") == script()
    assert run.invoke(main, ["sheets-script", str(path)]).exit_code == 3
    assert run.invoke(main, ["sheets-script", str(tmp_path / "x.txt")]).exit_code == 2
