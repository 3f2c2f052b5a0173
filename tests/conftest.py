"""Fixtures that several test modules share."""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from brewfuncs.hosts import calc_install
from tests import office as office_module

#: run by LibreOffice's own Python, or by hand: nothing in them for pytest to look at
collect_ignore_glob = ["*_driver.py", "*_runner.py", "wine_replay.py", "calc_counter.py", "bench*.py"]


@pytest.fixture(scope="session")
def calc_addin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Our extension for LibreOffice Calc, built, with a count of its calls."""
    from brewfuncs.hosts.calc import build

    path = tmp_path_factory.mktemp("addin") / "brewfuncs.oxt"
    path.write_bytes(office_module.counting(build()))
    return path


@pytest.fixture(scope="session")
def office(calc_addin: Path) -> Iterator[office_module.Office]:
    """A private LibreOffice with our functions in it."""
    office_module.require_office()
    running = office_module.Office(calc_addin)
    yield running
    running.close()


@pytest.fixture(scope="session")
def bare_office() -> Iterator[office_module.Office]:
    """A private LibreOffice without our functions."""
    office_module.require_office()
    running = office_module.Office()
    yield running
    running.close()


@pytest.fixture(scope="session")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The environment of a shell with a virtual environment, of the very Python that LibreOffice takes for its own."""
    office_module.require_office()
    folder = tmp_path_factory.mktemp("venv")
    subprocess.run([*office_module.python_with_uno(), "-m", "venv", "--without-pip", str(folder)], check=True)
    kept = calc_install.environment()
    return {**kept, "VIRTUAL_ENV": str(folder), "PATH": f"{folder / 'bin'}{os.pathsep}{kept['PATH']}"}
