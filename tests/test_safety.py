"""Nothing is lost: a run that is killed, or that runs out of disk, leaves the old file or the new one."""

from __future__ import annotations

import contextlib
import errno
import os
import random
import shutil
import signal
import subprocess
import sys
import zipfile
from pathlib import Path
from unittest import mock

import pytest

from brewfuncs.errors import WorkbookError
from brewfuncs.workbook.recalculate import recalculate, record
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.zipped import Archive
from tests import xlsx_build as build

KILLS = 300

# One process forks the runs that are killed: starting Python anew for each would take a minute, and most kills would
# only hit the start. It says after each kill what the file holds.
KILLER = """
import os, random, signal, sys, time
from brewfuncs.workbook.recalculate import record
from tests.test_safety import contents
from pathlib import Path
path, kills, chance = Path(sys.argv[1]), int(sys.argv[2]), random.Random(7)
usual = 60.0
for value in (2, 1):  # how long a run takes here and now
    start = time.monotonic()
    record(path, {"x": value})
    usual = min(usual, time.monotonic() - start)
for _ in range(kills):
    child = os.fork()
    if not child:
        value = contents(path)[0]
        while True:
            value = 3 - value
            record(path, {"x": value})
    time.sleep(chance.uniform(0.1, 4) * usual)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    print(*contents(path), flush=True)
"""


def contents(path: Path) -> tuple[float, float]:
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None
    with Package(path) as package:
        sheet = package.sheet("S")
        return sheet.value(1, 1), sheet.value(1, 2)  # type: ignore[return-value]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_killed_at_random_moments(tmp_path: Path) -> None:
    """A run killed with SIGKILL at a random moment, a few hundred times over."""
    cells = "A1 1\nB1 =A1*10 | 10\n" + "\n".join(f"A{i} {i}" for i in range(2, 2_000))
    path = build.workbook(tmp_path / "book.xlsx", {"S": cells}, {"x": "S!$A$1"})
    root = Path(__file__).parents[1]
    command = [sys.executable, "-c", KILLER, str(path), str(KILLS)]
    run = subprocess.run(command, capture_output=True, text=True, timeout=240, cwd=root, check=True)
    states = run.stdout.splitlines()
    assert len(states) == KILLS
    # the old file or the new one, whole; and both have been met, so that it was killed before as well as after
    assert set(states) == {"1.0 10.0", "2.0 20.0"}
    left = [entry for entry in tmp_path.iterdir() if entry != path]
    assert all(entry.name.startswith(".book.xlsx.") and entry.suffix == ".brewfuncs-tmp" for entry in left)
    # what killed runs left behind goes, once nobody can be at it any more
    for entry in left:
        os.utime(entry, (0, 0))
    record(path, {"x": 5})
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("step", ["write", "fsync", "replace", "copymode"])
def test_failing_at_any_step(tmp_path: Path, step: str) -> None:
    path = build.workbook(tmp_path / "book.xlsx", {"S": "A1 =1+1"})
    before = path.read_bytes()
    full = OSError(errno.ENOSPC, "No space left on device")
    target = {
        "write": mock.patch.object(Archive, "write", side_effect=full),
        "fsync": mock.patch("os.fsync", side_effect=full),
        "replace": mock.patch("os.replace", side_effect=full),
        "copymode": mock.patch("shutil.copymode", side_effect=full),
    }[step]
    with target, pytest.raises(WorkbookError, match="can't be saved: no space left on device; it is as it was"):
        recalculate(path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]
    recalculate(path)
    assert path.read_bytes() != before


def test_ctrl_c_while_saving(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "book.xlsx", {"S": "A1 =1+1"})
    before = path.read_bytes()
    with mock.patch("os.fsync", side_effect=KeyboardInterrupt), pytest.raises(KeyboardInterrupt):
        recalculate(path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_a_full_file_system(tmp_path: Path) -> None:
    """A real one: a small tmpfs filled to the brim."""
    mount = shutil.which("mount")
    disk = tmp_path / "disk"
    disk.mkdir()
    if (
        mount is None
        or subprocess.run([mount, "-t", "tmpfs", "-o", "size=256k", "none", disk], capture_output=True).returncode
    ):
        pytest.skip("can't mount a small file system here")
    try:
        cells = "A1 =1+1\n" + "\n".join(f"B{i} {random.Random(i).random()}" for i in range(1, 4_000))
        path = build.workbook(disk / "book.xlsx", {"S": cells})
        with (disk / "filler").open("wb", buffering=0) as filler, contextlib.suppress(OSError):
            while True:
                filler.write(b"x" * 4096)
        before = path.read_bytes()
        with pytest.raises(WorkbookError, match="no space left on device"):
            recalculate(path)
        assert path.read_bytes() == before
        assert sorted(entry.name for entry in disk.iterdir()) == ["book.xlsx", "filler"]
        (disk / "filler").unlink()
        assert recalculate(path).written
    finally:
        subprocess.run([shutil.which("umount") or "umount", disk], check=True)


def test_a_full_file_system_by_a_limit_on_file_size(tmp_path: Path) -> None:
    """The same where nothing can be mounted: the kernel refuses to let the new file grow."""
    resource = pytest.importorskip("resource")
    path = build.workbook(
        tmp_path / "book.xlsx", {"S": "A1 =1+1\n" + "\n".join(f"B{i} {i * 0.37}" for i in range(1, 4_000))}
    )
    before = path.read_bytes()

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (8_192, 8_192))

    code = f"from brewfuncs.workbook.recalculate import recalculate; recalculate({str(path)!r})"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, preexec_fn=limit, check=False)
    assert run.returncode == 1
    assert "WorkbookError" in run.stderr
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_two_runs_at_once_lose_nothing(tmp_path: Path) -> None:
    """Runs that set different cells of one file at the same time: every value arrives."""
    count = 6
    path = build.workbook(
        tmp_path / "book.xlsx",
        {"S": "\n".join(f"A{i} 0\nB{i} =A{i}*2 | 0" for i in range(1, count + 1))},
        {f"x_{i}_": f"S!$A${i}" for i in range(1, count + 1)},
    )
    code = "import sys; from brewfuncs.workbook.recalculate import record; record(sys.argv[1], {sys.argv[2]: 7})"
    runs = [
        subprocess.Popen([sys.executable, "-c", code, str(path), f"x_{i}_"], stderr=subprocess.PIPE)
        for i in range(1, count + 1)
    ]
    for run in runs:
        _, errors = run.communicate(timeout=60)
        assert run.returncode == 0, errors
    with Package(path) as package:
        found = package.sheet("S").values([(i, c) for i in range(1, count + 1) for c in (1, 2)])
    assert set(found.values()) == {7.0, 14.0}
