"""Workbooks that nobody here made: saved by Excel, LibreOffice and a dozen other programs, with all that is in them.

They are test files of general-purpose packages, taken from those packages' source distributions with pip when the test
runs, into a cache folder outside the project (BREWFUNCS_CACHE, else the user's). Not every package still ships its own;
these do. Where they can't be had the tests are skipped, or fail where BREWFUNCS_REQUIRE_HOSTS is set.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from brewfuncs.errors import WorkbookError
from brewfuncs.workbook.check import check
from brewfuncs.workbook.recalculate import recalculate, record
from brewfuncs.xlsx.address import address
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value, same_value
from tests import xlsx_build as build
from tests.office import Office, missing

#: pinned, so that the same files are met everywhere
SOURCES = (
    "agate-excel==0.4.2",
    "eparse==0.9.2",
    "excelrd==3.0.0",
    "oletools==0.60.2",
    "pyexcel==0.7.6",
    "pyexcel-xlsx==0.6.1",
    "tablib==3.10.0",
    "xlcalculator==0.5.0",
    "xlrd==1.2.0",
    "xlrd2==1.3.4",
    "xlsx2csv==0.8.6",
)
AT_LEAST = 120  # of them; fewer and something went wrong with fetching
MAY_REFUSE = re.compile("is encrypted: remove its password|is not a workbook")


def _cache() -> Path:
    given = os.environ.get("BREWFUNCS_CACHE") or os.environ.get("XDG_CACHE_HOME")
    return (Path(given) if given else Path.home() / ".cache") / "brewfuncs-strangers"


def _fetch(source: str, folder: Path) -> None:
    """One source distribution, unless it is there already."""
    name, _, version = source.partition("==")
    if any(
        name.replace("-", "_").lower() in path.name.replace("-", "_").lower() and version in path.name
        for path in folder.glob("*")
    ):
        return
    # what its build needs comes as wheels: built from source too, it would take minutes
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", name]
    subprocess.run([*command, "--dest", str(folder), source], check=True, capture_output=True, timeout=300)


def _workbooks(archive: Path) -> Iterator[tuple[str, bytes]]:
    wanted = (".xlsx", ".xlsm")
    if archive.suffix == ".zip":
        with zipfile.ZipFile(archive) as package:
            for name in package.namelist():
                if name.lower().endswith(wanted):
                    yield name, package.read(name)
        return
    with tarfile.open(archive) as package:
        for member in package:
            content = package.extractfile(member) if member.isfile() and member.name.lower().endswith(wanted) else None
            if content is not None:
                yield member.name, content.read()


@pytest.fixture(scope="module")
def strangers(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The workbooks, each once, in a folder of their own."""
    folder = _cache()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for source in SOURCES:
            _fetch(source, folder)
    except (OSError, subprocess.SubprocessError) as error:
        missing(f"workbooks of other packages ({error})")
    target = tmp_path_factory.mktemp("strangers")
    seen: set[str] = set()
    for archive in sorted(folder.glob("*")):
        for name, content in _workbooks(archive):
            digest = hashlib.sha256(content).hexdigest()
            if digest not in seen:
                seen.add(digest)
                (target / f"{len(seen):03d}-{Path(name).name}").write_bytes(content)
    found = sorted(target.iterdir())
    if len(found) < AT_LEAST:
        missing(f"workbooks of other packages (only {len(found)})")
    return found


def stored(path: Path) -> dict[str, Value]:
    """The values of all formula cells and of the cells that arrays fill."""
    found: dict[str, Value] = {}
    with Package(path) as package:
        for sheet in package.sheets:
            places = set(sheet.formulas)
            for cell in sheet.formulas.values():
                if cell.kind == "array" and cell.box.size < 10_000:
                    places.update(cell.box.cells())
            found |= {f"{sheet.name}!{address(*place)}": value for place, value in sheet.values(places).items()}
    return found


def only_sheets_differ(before: dict[str, bytes], path: Path) -> None:
    """Every member is there, in its old place, and all but worksheets are the same to the last packed byte."""
    after = build.raw_members(path)
    assert list(after) == list(before)
    changed = [name for name in before if before[name] != after[name]]
    with Package(path) as package:
        assert set(changed) <= set(package.sheet_parts.values())
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None


def _number_to_change(path: Path) -> tuple[str, float] | None:
    """An input of the workbook: the first cell with a plain number, as Sheet!A1."""
    with Package(path) as package:
        for sheet in package.sheets:
            filled = {
                place
                for cell in sheet.formulas.values()
                if cell.ref and cell.kind in ("array", "dataTable")
                for place in list(cell.box.cells())[:20_000]
            }
            for row in range(1, min(sheet.used[0], 60) + 1):
                for column in range(1, min(sheet.used[1], 30) + 1):
                    value = sheet.value(row, column)
                    if isinstance(value, float) and (row, column) not in sheet.formulas.keys() | filled:
                        quoted = "'" + sheet.name.replace("'", "''") + "'"
                        return f"{quoted}!{address(row, column)}", value
    return None


def refused(path: Path) -> bool:
    """Whether a file can't be used, for one of the reasons that count, and was left as it is."""
    before, reason = path.read_bytes(), None
    try:
        with Package(path):
            return False
    except WorkbookError as error:
        reason = str(error)
    assert MAY_REFUSE.search(reason), reason
    assert path.read_bytes() == before
    return True


def test_recalc_changes_nothing_but_values_that_are_missing(strangers: list[Path], tmp_path: Path) -> None:
    """Other programs' values stay: the engine agrees with them, or is not believed and says so."""
    formulas = compared = 0
    for original in strangers:
        if refused(original):
            continue
        path = tmp_path / original.name
        shutil.copy(original, path)
        before, old = build.raw_members(path), stored(path)
        report = recalculate(path)
        only_sheets_differ(before, path)
        assert all(change.old is None for change in report.changes), (original.name, report.changes)
        if not report.changes:
            assert path.read_bytes() == original.read_bytes()
        new = stored(path)
        assert {key: new.get(key) for key, value in old.items() if value is not None} == {
            key: value for key, value in old.items() if value is not None
        }
        assert not recalculate(path).written
        check(path)
        formulas += report.formulas
        compared += sum(value is not None for value in old.values()) - len(report.kept)
    assert formulas > 3_000
    assert compared > 2_500  # formulas in which the engine and another program gave the same


def test_record_and_back(strangers: list[Path], tmp_path: Path) -> None:
    """An input set to another value and back again: the file holds what it held before, and nothing else changed."""
    done = moved = 0
    for original in strangers:
        if refused(original):
            continue
        path = tmp_path / original.name
        shutil.copy(original, path)
        recalculate(path)
        found = _number_to_change(path)
        if found is None:
            continue
        cell, value = found
        before, old = build.raw_members(path), stored(path)
        other = value / 2 if 0 < value <= 1 else value + 1  # a share stays one: over 1 a per cent cell refuses it
        report = record(path, {cell: other})
        assert [(c.old, c.new) for c in report.inputs] == [(value, other)]
        only_sheets_differ(before, path)
        _opens(original, path)
        back = record(path, {cell: value})
        only_sheets_differ(before, path)
        new = stored(path)
        left = {f"{kept.sheet}!{kept.cell}" for kept in (*report.kept, *back.kept)}
        for key, was in old.items():
            if key not in left:
                assert _alike(was, new.get(key)), (original.name, key, was, new.get(key))
        done += 1
        moved += len(report.changes)
    assert done > 80
    assert moved > 50


def _alike(was: Value, now: Value) -> bool:
    """The same value; LibreOffice stores FALSE as 0 where its formula was first worked out."""
    return same_value(was, float(now) if isinstance(now, bool) and isinstance(was, float) else now)


def _opens(original: Path, path: Path) -> None:
    """openpyxl reads the new file as it reads the old one."""
    try:
        names = openpyxl.load_workbook(io.BytesIO(original.read_bytes()), data_only=True).sheetnames
    except Exception:  # some are there because libraries stumble over them
        return
    assert openpyxl.load_workbook(io.BytesIO(path.read_bytes()), data_only=True).sheetnames == names


def test_a_sample_in_libreoffice(strangers: list[Path], tmp_path: Path, bare_office: Office) -> None:
    """What was written is what LibreOffice reads."""
    opened = 0
    for original in strangers[::8]:
        if refused(original) or (found := _number_to_change(original)) is None:
            continue
        path = tmp_path / original.name
        shutil.copy(original, path)
        record(path, {found[0]: found[1] + 1})
        sheet, _, cell = found[0].rpartition("!")
        with bare_office.document(path) as document:
            assert document.values(sheet[1:-1].replace("''", "'"), f"{cell}:{cell}")[0][0] == pytest.approx(
                found[1] + 1
            )
        opened += 1
    assert opened > 5
