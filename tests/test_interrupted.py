"""Ctrl-C, and output that can't be written or shown: one sentence that says whether the file is the new one."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

import pytest
from click.testing import CliRunner, Result

from brewfuncs.cli import MISUSED, REFUSED, main
from brewfuncs.cli.said import INTERRUPTED
from brewfuncs.workbook import recalculate
from brewfuncs.xlsx import replace
from brewfuncs.xlsx.package import Package
from tests import xlsx_build as build

ROOT = Path(__file__).parents[1]
NOTHING = "brewfuncs: interrupted; nothing was changed\n"

# Python runs this before all else; it interrupts the import of one module, as Ctrl-C at that moment would
INTERRUPTER = """
import os, sys
class Interrupter:
    def find_spec(self, name, path=None, target=None):
        if name == os.environ["INTERRUPT_AT"]:
            raise KeyboardInterrupt
sys.meta_path.insert(0, Interrupter())
"""


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return build.workbook(tmp_path / "book.xlsx", {"S": "A1 5\nB1 =A1*2 | 10"}, {"x": "S!$A$1"})


@pytest.mark.parametrize("installed", [False, True], ids=["as a module", "as the command"])
@pytest.mark.parametrize(
    "module",
    ["brewfuncs.units", "brewfuncs.formulas.wort", "brewfuncs.cli", "click", "brewfuncs.batch.record", "formualizer"],
)
def test_while_modules_are_loaded(tmp_path: Path, book: Path, module: str, installed: bool) -> None:
    (tmp_path / "sitecustomize.py").write_text(INTERRUPTER)
    script = tmp_path / "brewfuncs"  # what an installer makes of the project's entry point
    script.write_text(
        "import sys\nfrom brewfuncs.__main__ import run\nif __name__ == '__main__':\n    sys.exit(run())\n"
    )
    before = book.read_bytes()
    done = subprocess.run(
        [sys.executable, *([script] if installed else ["-m", "brewfuncs"]), "record", book, "x=7"],
        env=os.environ | {"PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}", "INTERRUPT_AT": module},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.stderr == NOTHING
    assert done.returncode in (INTERRUPTED, -signal.SIGINT)  # for a shell both are 130
    assert book.read_bytes() == before


def test_another_program_keeps_its_own_way_with_interruptions() -> None:
    code = "import sys; before = sys.excepthook; import brewfuncs; print(sys.excepthook is before)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "True\n"


def interrupt(*_: object, **__: object) -> NoReturn:
    raise KeyboardInterrupt


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str | Path) -> Result:
    monkeypatch.setattr(replace, "_put", [])  # what other tests of this process have saved
    return CliRunner().invoke(main, [str(one) for one in arguments])


def test_before_the_new_file_takes_its_place(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = book.read_bytes()
    monkeypatch.setattr(os, "replace", interrupt)
    done = run(monkeypatch, "record", book, "x=7")
    assert (done.exit_code, done.stderr) == (INTERRUPTED, NOTHING)
    assert book.read_bytes() == before


@pytest.mark.parametrize("step", ["click.Group.parse_args", "click.Path.convert"])
def test_while_the_arguments_are_read(book: Path, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    monkeypatch.setattr(step, interrupt)
    done = run(monkeypatch, "record", book, "x=7")
    assert (done.exit_code, done.stderr) == (INTERRUPTED, NOTHING)


@pytest.mark.parametrize("moment", ["exchange", "sync", "report"])
def test_after_the_new_file_has_taken_its_place(book: Path, monkeypatch: pytest.MonkeyPatch, moment: str) -> None:
    before, exchange, opening = book.read_bytes(), os.replace, os.open

    def exchanged(*files: str) -> None:
        exchange(*files)
        raise KeyboardInterrupt

    def opened(path: str, *more: int) -> int:  # the folder, to put its new entry on the disk
        return interrupt() if path == str(book.parent) else opening(path, *more)

    if moment == "exchange":
        monkeypatch.setattr(os, "replace", exchanged)
    elif moment == "sync":
        monkeypatch.setattr(os, "open", opened)
    else:
        monkeypatch.setattr("brewfuncs.batch.told.told", interrupt)
    done = run(monkeypatch, "record", book, "x=7")
    assert (done.exit_code, done.stderr) == (INTERRUPTED, f"brewfuncs: interrupted; already saved: {book}\n")
    assert book.read_bytes() != before


def test_among_several_files_those_saved_are_named(tmp_path: Path, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = build.workbook(tmp_path / "first.xlsx", {"S": "A1 5\nB1 =A1*2"})
    done_by = recalculate.recalculate

    def recalculated(path: Path, **more: bool) -> object:
        return interrupt() if path == book else done_by(path, **more)

    monkeypatch.setattr(recalculate, "recalculate", recalculated)
    done = run(monkeypatch, "recalc", first, book)
    assert (done.exit_code, done.stderr) == (INTERRUPTED, f"brewfuncs: interrupted; already saved: {first}\n")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device here that is always full")
def test_a_report_that_cant_be_written_after_the_file_was(book: Path) -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "brewfuncs", "record", book, "x=7"],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert done.stderr == f"brewfuncs: no space left on device; already saved: {book}\n"
    assert done.returncode == REFUSED


#: consoles that lack most signs, each by the variables of the environment that make Python meet one
NARROW = {
    "Windows in the west": {"PYTHONIOENCODING": "cp1252"},
    "an old Windows console": {"PYTHONIOENCODING": "cp437"},
    "ASCII": {"PYTHONIOENCODING": "ascii"},
    "no locale": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
}
WORDS = "žluť 水 🍺 ½"


@pytest.mark.parametrize("console", NARROW)
@pytest.mark.parametrize("as_json", [False, True])
def test_signs_that_the_console_lacks(tmp_path: Path, console: str, as_json: bool) -> None:
    """They are shown as ?, and nothing else happens: not to the file, not to the exit code, not to JSON."""
    path = build.workbook(tmp_path / "book.xlsx", {"S": f'A1 "-"\nB1 =A1&"°" | "-°"\nC1 "{WORDS}"'}, {"x": "S!$A$1"})
    done = subprocess.run(
        [sys.executable, "-m", "brewfuncs", "record", path, f"x={WORDS}", *(["--json"] if as_json else [])],
        cwd=ROOT,
        env={name: text for name, text in os.environ.items() if name not in ("LANG", "LC_ALL")} | NARROW[console],
        capture_output=True,
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    with Package(path) as package:
        assert package.sheet("S").values([(1, 1), (1, 2)]) == {(1, 1): WORDS, (1, 2): f"{WORDS}°"}
    if as_json:
        assert json.loads(done.stdout.decode("ascii"))[0]["inputs"][0]["new"] == WORDS
    else:
        assert re.search(rb'^x = ".+" \(was "-"\)', done.stdout)


def test_an_argument_that_is_no_text(book: Path) -> None:
    done = subprocess.run([sys.executable, "-m", "brewfuncs", "record", book, b"x=\xff"], cwd=ROOT, capture_output=True)
    assert (done.returncode, b"Traceback" in done.stderr) == (MISUSED, False)


def test_a_formula_of_any_length_takes_one_line(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": f"A1 5\nB1 ={'(' * 9000}A1{')' * 9000} | 5"}, {"x": "S!$A$1"})
    for arguments in (("record", path, "x=7"), ("check", path)):
        printed = CliRunner().invoke(main, [str(one) for one in arguments]).output
        assert "((( ..." in printed
        assert max(map(len, printed.splitlines())) < 500
