"""A private headless LibreOffice for tests: open a file, recalculate it, read cells, save it, print it to PDF.

    with office.document(path) as document:       # or office.document() for an empty one
        document.recalculate()
        document.values("Plan", "B2:B9")
        document.save(tmp_path / "again.ods")     # .xlsx .ods .pdf .csv

`office` is a fixture (tests/conftest.py) with our add-in installed, one LibreOffice for all tests of a process, with a
profile of its own; its add-in counts what Calc calls (`calls`). A formula is spelled as .xlsx files spell it, in
English with commas; an error value is a `parity.Code`, a blank cell None. Where there is no LibreOffice the tests that
need it are skipped, or fail where BREWFUNCS_REQUIRE_HOSTS is set.

The Python that runs tests has no `uno`, so a driver runs under one that has: BREWFUNCS_OFFICE_PYTHON, or LibreOffice's
own, or the system's.
"""

import io
import json
import os
import shlex
import shutil
import subprocess
import tempfile
import zipfile
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from brewfuncs.hosts.calc_install import environment
from tests.parity import Code

DRIVER = Path(__file__).with_name("office_driver.py")
COUNTER = Path(__file__).with_name("calc_counter.py")


@cache
def python_with_uno() -> list[str]:
    """The command that starts it; [] where there is none."""
    candidates = []
    if given := os.environ.get("BREWFUNCS_OFFICE_PYTHON"):
        candidates.append(shlex.split(given))
    elif soffice := shutil.which("soffice") or shutil.which("libreoffice"):
        candidates += [[str(Path(soffice).resolve().parent / "python")], ["/usr/bin/python3"]]
    for command in candidates:
        try:
            subprocess.run([*command, "-c", "import uno"], check=True, capture_output=True)
        except (OSError, subprocess.CalledProcessError):
            continue
        return command
    return []


def require_office() -> None:
    if not python_with_uno():
        missing("LibreOffice with its Python bridge (.ci/install-libreoffice)")


def missing(what: str) -> None:
    """Skip, or fail where every host has to be there."""
    if os.environ.get("BREWFUNCS_REQUIRE_HOSTS"):
        pytest.fail(f"not found: {what}")
    pytest.skip(f"not found: {what}")


def counting(addin: bytes) -> bytes:
    """The add-in with what counts its calls at the end of its code."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(addin)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            target.writestr(name, source.read(name) + (COUNTER.read_bytes() if name == "addin.py" else b""))
    return out.getvalue()


class OfficeError(Exception):
    """What went wrong in the driver."""


class Office:
    """One running LibreOffice; end it with `close`."""

    driver = DRIVER

    def __init__(self, addin: Path | None = None, within: Mapping[str, str] | None = None) -> None:
        """`within` is the environment it is started in, if not one that is good for it."""
        self._log = tempfile.TemporaryFile("w+")  # noqa: SIM115  (lives as long as the process)
        self._called = tempfile.NamedTemporaryFile("r", encoding="utf-8")  # noqa: SIM115  (the same)
        self._process = subprocess.Popen(
            [*python_with_uno(), str(self.driver)],
            env={**(environment() if within is None else within), "BREWFUNCS_COUNT_CALLS": self._called.name},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._log,
            encoding="utf-8",
        )
        self.version: str = self._answer()
        if addin is not None:
            self.install(addin)

    def install(self, addin: Path) -> None:
        """Put an extension into the profile and start again, without which its functions aren't known."""
        self.call("install", str(addin))
        self.call("restart")

    def call(self, function: str, *arguments: Any) -> Any:
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps([function, arguments]) + "\n")
        self._process.stdin.flush()
        return self._answer()

    def _answer(self) -> Any:
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        if not line:
            self._log.seek(0)
            raise OfficeError(f"the driver ended: {self._log.read()[-2000:]}")
        answer = json.loads(line)
        if "error" in answer:
            raise OfficeError(answer["error"])
        return answer["result"]

    def document(self, path: Path | None = None) -> "Document":
        return Document(self, self.call("new") if path is None else self.call("open", str(path)))

    def compute(self, formulas: Sequence[str]) -> list[Any]:
        """The value of each formula, all in one workbook that comes from an .xlsx file."""
        book = Workbook()
        assert book.active is not None
        for row, formula in enumerate(formulas, 1):
            book.active.cell(row, 1).value = formula
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "formulas.xlsx"
            book.save(path)
            with self.document(path) as document:
                document.recalculate()
                return [row[0] for row in document.values(0, f"A1:A{len(formulas)}")]

    def calls(self) -> Counter[str]:
        """How often Calc has called each function of the add-in; opening a workbook works it out too."""
        self._called.seek(0)
        return Counter(self._called.read().split())

    def close(self) -> None:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(60)
        self._process.stdout.close()
        self._log.close()
        self._called.close()


class Document:
    """One open spreadsheet; a sheet is its name or its number from 0."""

    def __init__(self, office: Office, key: str) -> None:
        self._office, self._key = office, key

    def __enter__(self) -> "Document":
        return self

    def __exit__(self, *_: object) -> None:
        self._call("close")

    def _call(self, function: str, *arguments: Any) -> Any:
        return self._office.call(function, self._key, *arguments)

    def recalculate(self) -> float:
        """Work out every formula anew; the seconds it took."""
        return float(self._call("recalculate"))

    def sheets(self) -> list[str]:
        return list(self._call("sheets"))

    def used(self, sheet: str | int = 0) -> tuple[int, int]:
        """Rows and columns in use."""
        rows, columns = self._call("used", sheet)
        return rows, columns

    def values(self, sheet: str | int, cells: str) -> list[list[Any]]:
        rows = self._call("values", sheet, cells)
        return [[Code(cell["error"]) if isinstance(cell, dict) else cell for cell in row] for row in rows]

    def value(self, cell: str, sheet: str | int = 0) -> Any:
        return self.values(sheet, cell)[0][0]

    def formulas(self, sheet: str | int, cells: str) -> list[list[str]]:
        """As Calc's API spells them: separated by semicolons, our functions as BREW.NAME where they are known."""
        return list(self._call("formulas", sheet, cells))

    def put(self, sheet: str | int, cells: str, rows: Sequence[Sequence[float | str]]) -> None:
        """Numbers and texts, as they are."""
        self._call("put", sheet, cells, rows)

    def enter(self, sheet: str | int, cells: str, rows: Sequence[Sequence[str]]) -> None:
        """Formulas as a person enters them, but separated by semicolons."""
        self._call("enter", sheet, cells, rows)

    def fill_down(self, sheet: str | int, cells: str) -> None:
        """The first row's formulas in all rows, as by dragging: quicker than entering each."""
        self._call("fill_down", sheet, cells)

    def enter_array(self, sheet: str | int, cells: str, formula: str) -> None:
        """One array formula over all these cells."""
        self._call("enter_array", sheet, cells, formula)

    def page_breaks(self, sheet: str | int) -> int:
        """How many lines of page breaks a person sees on the sheet."""
        return int(self._call("page_breaks", sheet))

    def is_modified(self) -> bool:
        return bool(self._call("is_modified"))

    def save(self, path: Path) -> Path:
        """Save a copy in the format that the name's ending says; the path again."""
        self._call("save", str(path))
        return path
