"""The Windows half of the Excel host under Wine: xlwings' DLL, COM, pywin32, xlwings' server, and the installer.

`.ci/install-wine` puts Wine and a Python for Windows in place, in a folder named with blanks, an apostrophe, an umlaut
and an ampersand; without it these tests are skipped. Not run even so: VBA, Excel, 32 bit, Windows' own COM. The engine
can't be loaded under Wine 8, and the doctor has to say so.
"""

import json
import os
import subprocess
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests import excel_harness, parity
from tests.excel_harness import Server

pytestmark = pytest.mark.wine

CACHE = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
HOME = Path(os.environ.get("BREWFUNCS_WINE") or Path(CACHE, "brewfuncs-wine"))
PYTHON = HOME / "Bräu's Kessel & Co" / "python" / "python.exe"
OPTIONS = r"HKCU\Software\Microsoft\Office\16.0\Excel\Options"


def wine(*command: str | Path) -> str:
    """What a program for Windows prints; it has to end well."""
    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "BREWFUNCS"))},
        "WINEPREFIX": str(HOME / "prefix"),
        "WINEDEBUG": "-all",
        "LC_ALL": "C.UTF-8",
    }
    done = subprocess.run(
        ["wine", *map(str, command)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env=environment,
        timeout=300,
    )
    text = done.stdout.decode(errors="replace")
    assert done.returncode == 0, text
    return text


@pytest.fixture(scope="module", autouse=True)
def _installed() -> Iterator[None]:
    if not (HOME / "ready").exists():
        pytest.skip("not found: Wine with a Python for Windows (.ci/install-wine)")
    brewfuncs = partial(wine, PYTHON, "-m", "brewfuncs", "excel")
    said = brewfuncs("install")
    assert "is in place" in said
    assert "may not be" not in said  # the installer's own call through the DLL
    try:
        yield
    finally:
        for name, opened in (("OPEN", "other.xlam"), ("OPEN1", "brewfuncs.xlam"), ("OPEN2", "third.xlam")):
            wine("reg", "add", OPTIONS, "/v", name, "/d", opened, "/f")
        said = brewfuncs("uninstall")
    assert "out of the list" in said
    left = [line.split() for line in wine("reg", "query", OPTIONS).splitlines() if "REG_SZ" in line]
    assert sorted(left) == [["OPEN", "REG_SZ", "other.xlam"], ["OPEN1", "REG_SZ", "third.xlam"]]
    assert list((HOME / "prefix").rglob("brewfuncs.xlam")) == list((HOME / "prefix").rglob("excel.conf")) == []


def test_the_doctor_has_a_call_answered() -> None:
    environment = [line for line in doctor().splitlines() if line.startswith("Excel")]
    assert len(environment) == 1
    assert " well " in environment[0]


def doctor() -> str:
    code = "from brewfuncs.hosts.doctor import examine; print(*(' '.join(found) for found in examine()), sep='\\n')"
    return wine(PYTHON, "-c", code)


def test_every_case_comes_back_over_com(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What our VBA passes in the cases that all hosts share, through the real DLL and COM; and failures on the way."""
    recorded: list[tuple[str, Any, Any]] = []
    real = Server._call_udf

    def recording(self: Server, module: object, name: object, given: Any) -> object:
        answer = real(self, module, name, given)
        # as Python has them, here and now: VBA puts error values where the markers are
        recorded.append((str(name), *map(excel_harness._to_python, (given, answer))))
        return answer

    monkeypatch.setattr(Server._vba_members["calludf"], "getter", recording)
    excel_harness.compute([case.formula for case in parity.cases()], ranges=False)
    assert len(recorded) > 0.99 * len(parity.cases())

    calls, answers = tmp_path / "calls.json", tmp_path / "answers.json"
    calls.write_text(json.dumps([call[:2] for call in recorded]), encoding="utf-8")
    wine(PYTHON, Path(__file__).with_name("wine_replay.py"), f"Z:{calls}", f"Z:{answers}")
    told = json.loads(answers.read_text(encoding="utf-8"))

    assert len(told["answers"]) == len(recorded)
    wrong = [
        (name, given, theirs)
        for (name, given, ours), theirs in zip(recorded, told["answers"], strict=True)
        if not same(ours, theirs)
    ]
    assert wrong[:10] == []
    assert "File not found" in told["not there"]
    assert told["ends at once"]
    assert told["after the end"] == 2.25


def same(ours: Any, theirs: Any) -> bool:
    if isinstance(ours, tuple | list):
        return isinstance(theirs, list) and len(ours) == len(theirs) and all(map(same, ours, theirs))
    return parity.agree(ours, theirs)
