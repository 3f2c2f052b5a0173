"""Workbooks that nobody here made, and what becomes of their values: the harness of test_corpus.

The corpus lies beside the checkout and isn't part of the project. Each file is recalculated as it stands; then single
numbers in it are recorded, and what stands in the file afterwards is compared with what an independent engine makes of
the same change. That engine is believed for a cell where it reproduces the value that the cell's own file holds.

`python -m tests.corpus [PART]` prints the three counts, and each value that is wrong.
"""

from __future__ import annotations

import contextlib
import math
import pickle
import random
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from brewfuncs.errors import BadInput, CellError, WorkbookError
from brewfuncs.workbook.places import Place
from brewfuncs.workbook.recalculate import recalculate, record
from brewfuncs.xlsx.address import Box, address, parse_address
from brewfuncs.xlsx.formula import tokenize, whole_range
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value
from tests import xlsx_build as build

_NEAR = [parent / "shared" / "corpus" for parent in Path(__file__).parents]
FOLDER = next((folder for folder in _NEAR if folder.is_dir()), _NEAR[2])
VOLATILE = {"NOW", "TODAY", "RAND", "RANDBETWEEN", "RANDARRAY", "OFFSET", "INDIRECT", "CELL", "INFO"}
NUMBERS = 3  # recorded in each file
SEEN = 400  # numbers of a file, looked through for those that formulas read
TRIED = 24  # for each file, until that many are found that something depends on
SECONDS = 8  # for the reference engine with one file


@dataclass
class Counts:
    """What became of the values of one file."""

    right: int = 0
    wrong: list[str] = field(default_factory=list)
    left: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    altered: list[str] = field(default_factory=list)  # by recalc, with nothing changed
    recorded: int = 0
    refused: str = ""
    spliced: int = 0  # worksheet parts in which nothing but the changed cells differs
    rewritten: list[str] = field(default_factory=list)  # those in which more differs, and the user is told
    unsaid: list[str] = field(default_factory=list)  # the same, and the user isn't

    def add(self, other: Counts, name: str) -> None:
        self.right += other.right
        self.wrong += [f"{name}: {line}" for line in other.wrong]
        self.left += other.left
        self.reasons += other.reasons
        self.altered += [f"{name}: {line}" for line in other.altered]
        self.recorded += other.recorded
        self.spliced += other.spliced
        self.rewritten += [f"{name}: {line}" for line in other.rewritten]
        self.unsaid += [f"{name}: {line}" for line in other.unsaid]

    def __str__(self) -> str:
        return (
            f"{self.recorded} numbers recorded: {self.right} values right, {len(self.wrong)} wrong, {self.left} left; "
            f"{len(self.altered)} altered by recalc; {self.spliced} sheets spliced, {len(self.rewritten)} written "
            f"anew, {len(self.unsaid)} without a word"
        )


def files() -> list[Path]:
    return sorted(path for path in FOLDER.glob("*.xls[xm]"))


def plain(value: Any) -> Any:
    """A value as both sides can have it."""
    if isinstance(value, CellError):
        return value.code
    return "" if value is None else value


def same(one: Any, other: Any) -> bool:
    """Whether two values agree to what a spreadsheet shows of them: 1e-9, relative, or far below what is counted."""
    one, other = plain(one), plain(other)
    if isinstance(one, bool) or isinstance(other, bool):
        return type(one) is type(other) and one == other
    if isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-13)
    return type(one) is type(other) and one == other


# ---------------------------------------------------------------- what is looked at
def formula_cells(package: Package) -> dict[Place, Value]:
    """The cells that formulas fill, with their stored values."""
    found: dict[Place, Value] = {}
    for sheet in package.sheets:
        beside: set[tuple[int, int]] = set()
        for place, cell in sheet.formulas.items():
            found[sheet.name, *place] = sheet.stored(cell)
            if cell.kind == "array" and cell.box.size <= 10_000:
                beside.update(cell.box.cells())
        for place, value in sheet.values(beside - sheet.formulas.keys()).items():
            found[sheet.name, *place] = value
    return found


def numbers(package: Package, seed: str) -> list[tuple[Place, float, float]]:
    """Numbers that formulas read, each with another one to put there."""
    boxes: set[tuple[str, Box]] = set()
    for sheet in package.sheets:
        for cell in list(sheet.formulas.values())[:4000]:
            owner = sheet.name
            for kind, text in tokenize(cell.text):
                if kind == "sheet":
                    owner = package.find_sheet(text.removesuffix("!").strip("'").replace("''", "'")) or ""
                elif kind == "ref":
                    with contextlib.suppress(WorkbookError):
                        boxes.add((owner, whole_range(text)))
                if kind not in ("sheet", "space"):
                    owner = sheet.name
    for name in package.names:
        place, _, text = name.text.rpartition("!")
        owner = package.find_sheet(place.strip("'").replace("''", "'")) or ""
        tokens = tokenize(text)
        if owner and len(tokens) == 1 and tokens[0].kind == "ref":
            boxes.add((owner, whole_range(text)))
    boxes |= {(table.sheet, table.box) for table in package.tables}
    rng = random.Random(seed)
    found: dict[Place, float] = {}
    for sheet in package.sheets:
        rows, columns = sheet.used
        everything = Box(1, 1, rows, columns)
        if everything.size > 2_000_000:
            continue
        for place, value in sheet.values(set(everything.cells()) - sheet.formulas.keys()).items():
            if type(value) is float:
                found[sheet.name, *place] = value
    filled = [
        (sheet.name, cell.box)
        for sheet in package.sheets
        for cell in sheet.formulas.values()
        if cell.kind in ("array", "dataTable") and cell.ref
    ]
    shuffled = sorted(found)
    rng.shuffle(shuffled)

    def held(place: Place, within: Iterable[tuple[str, Box]]) -> bool:
        return any(place[0] == name and box.holds(*place[1:]) for name, box in within)

    chosen = [place for place in shuffled[:SEEN] if held(place, boxes) and not held(place, filled)][:TRIED]
    return [(place, found[place], rng.choice(_OTHERS)(found[place])) for place in chosen]


_OTHERS = (
    lambda x: x + 1,
    lambda x: x + 1,
    lambda x: x * 2 + 1,
    lambda x: x * 1.1 if x else 3,
    lambda x: round(x / 2, 3) or 7,
    lambda x: -x or 5,
)


def reference(
    path: Path, cells: list[Place], changes: list[tuple[Place, float, float]]
) -> Generator[dict[Place, Any], None, None]:
    """What the reference engine makes of a file as it stands, and after each change, as far as it comes; it ends where
    nobody asks for more."""
    command = [sys.executable, str(Path(__file__).with_name("reference_driver.py"))]
    left = float(SECONDS)  # of waiting for it
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as running:
        assert running.stdin is not None
        assert running.stdout is not None
        try:
            running.stdin.write(pickle.dumps((str(path), cells, changes)))
            running.stdin.close()
            while True:
                late, since = threading.Timer(left, running.kill), time.monotonic()
                late.start()
                try:
                    answer = pickle.load(running.stdout)
                finally:
                    late.cancel()
                left = max(0.0, left - (time.monotonic() - since))
                yield dict(zip(cells, answer, strict=True))
        except (EOFError, pickle.UnpicklingError):
            return
        finally:
            running.kill()


# ---------------------------------------------------------------- one file
def is_volatile(package: Package) -> bool:
    return any(
        token.kind == "func" and token.text.rstrip("(").upper() in VOLATILE
        for texts in (
            [cell.text for sheet in package.sheets for cell in sheet.formulas.values()],
            [name.text for name in package.names],
        )
        for text in texts
        for token in tokenize(text)
    )


def written(place: Place) -> str:
    return "'" + place[0].replace("'", "''") + "'!" + address(*place[1:])


def look(path: Path, folder: Path, numbers_wanted: int = NUMBERS) -> Counts:
    """Recalculate a file and record numbers in it."""
    counts = Counts()
    copy = folder / ("copy" + path.suffix)
    shutil.copyfile(path, copy)
    try:
        with Package(copy) as package:
            stored = formula_cells(package)
            volatile = is_volatile(package)
            found = numbers(package, path.name)
            parts = set(package.sheet_parts.values())
        report = recalculate(copy)
    except WorkbookError as error:
        counts.refused = str(error)
        return counts
    if not volatile and None not in stored.values():
        counts.altered = [f"{c.sheet}!{c.cell} {c.old!r} -> {c.new!r}" for c in report.changes]
        if copy.read_bytes() != path.read_bytes() and not counts.altered:
            counts.altered = ["the bytes"]
    if not found:
        return counts
    with contextlib.closing(reference(path, list(stored), found)) as answers:
        _record_numbers(counts, path, copy, stored, found, parts, answers, numbers_wanted)
    return counts


def _record_numbers(
    counts: Counts,
    path: Path,
    copy: Path,
    stored: dict[Place, Value],
    found: Iterable[tuple[Place, float, float]],
    parts: set[str],
    answers: Iterator[dict[Place, Any]],
    numbers_wanted: int,
) -> None:
    before, as_found = build.raw_members(path), next(answers, {})
    for (place, old, new), after in zip(found, answers, strict=False):
        should = {cell for cell in stored if same(stored[cell], as_found[cell]) and not same(stored[cell], after[cell])}
        if not should:
            continue
        shutil.copyfile(path, copy)
        try:
            report = record(copy, {written(place): repr(new)})
        except BadInput:  # a number over 1 in a cell shown in percent
            continue
        _compare(counts, copy, stored, as_found, after, should, report, f"{written(place)} {old!r} -> {new!r}")
        members = build.raw_members(copy)
        odd = [name for name in before if name not in parts and members.get(name) != before[name]]
        if odd or list(members) != list(before):
            counts.wrong.append(f"other members: {odd}")
        _look_at_bytes(counts, path, copy, report)
        counts.recorded += 1
        if counts.recorded == numbers_wanted:
            break


def _compare(
    counts: Counts,
    copy: Path,
    stored: dict[Place, Value],
    before: dict[Place, Any],
    after: dict[Place, Any],
    should: set[Place],
    report: Any,
    what: str,
) -> None:
    listed = {(kept.sheet, kept.cell): kept.reason for kept in report.stale}
    with Package(copy) as package:
        now = formula_cells(package)
        texts = {
            (name, *place): cell.text
            for name in package.sheet_parts
            for place, cell in package.sheet(name).formulas.items()
        }
    for cell, old in stored.items():
        if not same(old, before[cell]):
            continue  # the reference engine isn't to be believed here
        new = now.get(cell)
        if cell in should and same(new, after[cell]):
            counts.right += 1
        elif same(new, old):
            if cell in should:
                reason = listed.get((cell[0], address(*cell[1:])))
                if reason is None and any(
                    kept.sheet == cell[0] and (array := _box(package, kept)) and array.holds(*cell[1:])
                    for kept in report.stale
                ):
                    reason = "in an array that was left"
                if reason is None:
                    counts.wrong.append(
                        f"{what}: {written(cell)} ={texts.get(cell)} silently stays {old!r}, {after[cell]!r} is right"
                    )
                else:
                    counts.left += 1
                    counts.reasons[reason] += 1
        else:
            counts.wrong.append(
                f"{what}: {written(cell)} ={texts.get(cell)} is {plain(new)!r} now, {after[cell]!r} is right "
                f"(was {plain(old)!r})"
            )


_ANY_CELL = re.compile(rb"<(?:[\w.-]+:)?c\b(?:\s[^<>]*?)?(?:/>|>.*?</(?:[\w.-]+:)?c\s*>)", re.DOTALL)
_EXTENTS = re.compile(rb'\sspans="[^"]*"|(?<=<dimension) ref="[^"]*"')
_WHERE = re.compile(rb"\sr\s*=\s*[\"']([A-Z]+[0-9]+)[\"']")


def _look_at_bytes(counts: Counts, path: Path, copy: Path, report: Any) -> None:
    """Worksheet parts, cell by cell and byte by byte: nothing but the cells of the report may differ."""
    changed: dict[str, set[bytes]] = {}
    for change in (*report.inputs, *report.changes):
        changed.setdefault(change.sheet, set()).add(change.cell.encode())
    before, after = build.members(path), build.members(copy)
    with Package(copy) as package:
        for sheet, cells in changed.items():  # an array's own cell says what the array fills
            places = {parse_address(cell.decode()) for cell in cells}
            arrays = (cell for cell in package.sheet(sheet).formulas.values() if cell.kind == "array" and cell.ref)
            cells |= {cell.address.encode() for cell in arrays if any(cell.box.holds(*place) for place in places)}
        for sheet, part in package.sheet_parts.items():
            if sheet not in changed:
                if after[part] != before[part]:
                    counts.unsaid.append(f"{sheet} differs, and nothing was changed there")
                continue
            old, new = (_others(data, changed[sheet]) for data in (before[part], after[part]))
            if old[1] != new[1]:  # a cell was made, and what told which cells there are is changed, too
                old, new = ((_EXTENTS.sub(b"", others), 0) for others, _ in (old, new))
            if old == new:
                counts.spliced += 1
            else:
                said = any(note.startswith(f"{sheet}: ") and "written anew" in note for note in report.notes)
                (counts.rewritten if said else counts.unsaid).append(f"{sheet} differs beside the changed cells")


def _others(data: bytes, changed: set[bytes]) -> tuple[bytes, int]:
    """A part without those cells, and how many they are."""
    count = 0

    def cut(match: re.Match[bytes]) -> bytes:
        nonlocal count
        where = _WHERE.search(match[0])
        if where is None or where[1] not in changed:
            return match[0]
        count += 1
        return b""

    return _ANY_CELL.sub(cut, data), count


def _box(package: Package, kept: Any) -> Box | None:
    cell = package.sheet(kept.sheet).formulas.get(parse_address(kept.cell))
    return cell.box if cell is not None and cell.kind == "array" else None


def main() -> None:
    part = sys.argv[1] if len(sys.argv) > 1 else ""
    total = Counts()
    with tempfile.TemporaryDirectory() as folder:
        for path in files():
            if part in path.name:
                start = time.monotonic()
                counts = look(path, Path(folder))
                total.add(counts, path.name)
                for line in (*counts.altered, *counts.wrong, *counts.rewritten, *counts.unsaid):
                    print(f"{path.name}: {line}")
                if counts.refused or part:
                    print(f"{path.name}: {counts.refused or counts} {time.monotonic() - start:.1f} s", flush=True)
    for reason, number in total.reasons.most_common(40 if not part else 400):
        print(f"{number:6} left: {reason}")
    print(total)


if __name__ == "__main__":
    main()
