"""What is released: a wheel and an sdist that build, hold what they should, and work where nothing else is there."""

from __future__ import annotations

import ast
import email
import os
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

import brewfuncs
from tests import needs

ROOT = Path(__file__).resolve().parent.parent
REQUIRED = os.environ.get("BREWFUNCS_REQUIRE_HOSTS") == "1"


def _run(*command: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    plain = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV", "PYTHONHOME")}
    return subprocess.run(
        [str(c) for c in command], cwd=cwd, env=plain, capture_output=True, text=True, encoding="utf-8", timeout=600
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the sdist, and the wheel built from it."""
    needs.library("build")
    needs.library("hatchling")
    folder = tmp_path_factory.mktemp("dist")
    done = _run(sys.executable, "-m", "build", "--no-isolation", "--outdir", folder, ROOT, cwd=folder)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


@pytest.fixture(scope="module")
def wheel(built: Path) -> Path:
    (found,) = built.glob("*.whl")
    return found


def test_the_wheel_is_for_every_python_3_and_system(wheel: Path) -> None:
    assert wheel.name == f"brewfuncs-{brewfuncs.__version__}-py3-none-any.whl"
    with zipfile.ZipFile(wheel) as file:
        assert {name.split("/")[0] for name in file.namelist()} == {
            "brewfuncs",
            f"brewfuncs-{brewfuncs.__version__}.dist-info",
        }
        metadata = email.message_from_bytes(
            file.read(next(n for n in file.namelist() if n.endswith("dist-info/METADATA")))
        )
    assert metadata["Requires-Python"] == ">=3.11"
    assert metadata["License-Expression"] == "MIT"
    assert len(metadata.get_all("License-File", [])) == 2  # ours, and that of xlwings, whose code the add-in bundles
    needed = {
        re.split(r"[\s<>=!;\[]", line)[0] for line in metadata.get_all("Requires-Dist", []) if "extra" not in line
    }
    assert needed == {"click", "formualizer", "openpyxl", "rich"}


def test_the_wheel_holds_the_package_and_its_data(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as file:
        held = {name for name in file.namelist() if name.startswith("brewfuncs/")}
    there = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "brewfuncs").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert held == there
    for needed in ("py.typed", "hosts/known_answers.csv", "hosts/xlwings_notice.txt", "hosts/calc_addin/addin.py"):
        assert f"brewfuncs/{needed}" in held


def test_the_sdist_brings_what_a_contributor_needs_and_nothing_of_this_machine(built: Path) -> None:
    (sdist,) = built.glob("*.tar.gz")
    with tarfile.open(sdist) as file:
        names = {name.partition("/")[2] for name in file.getnames()}
    for needed in ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "docs/index.md"):
        assert needed in names
    assert any(name.startswith("tests/tables/") for name in names)
    assert not [n for n in names if re.search(r"__pycache__|\.pyc$|^\.venv|^site/|\.hypothesis|\.benchmarks", n)]


def test_the_changelog_tells_of_this_version() -> None:
    assert f"## {brewfuncs.__version__}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")


# -- installed -------------------------------------------------------------------------------------------------------


def _interpreters() -> list[tuple[str, Path | None]]:
    """3.11 and what is newer here: found on the path, or as pyenv keeps them."""
    found: list[tuple[str, Path | None]] = []
    for minor in range(11, 20):
        version = f"3.{minor}"
        candidates = [shutil.which(f"python{version}")]
        candidates += sorted(map(str, Path.home().glob(f".pyenv/versions/{version}.*/bin/python")))
        works = next((Path(c) for c in candidates if c and _answers(c, version)), None)
        if works or minor == 11:
            found.append((version, works))
    return found


def _answers(python: str, version: str) -> bool:
    try:
        said = subprocess.run([python, "--version"], capture_output=True, text=True, timeout=20)
    except OSError:
        return False
    return said.returncode == 0 and said.stdout.startswith(f"Python {version}.")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("version", "python"), _interpreters(), ids=lambda value: value if isinstance(value, str) else ""
)
def test_it_works_in_a_clean_environment(version: str, python: Path | None, wheel: Path, tmp_path: Path) -> None:
    if python is None:
        assert not REQUIRED, f"Python {version} is needed here"
        pytest.skip(f"no Python {version}")
    environment = tmp_path / "venv"
    done = _run(python, "-m", "venv", environment, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    binaries = environment / ("Scripts" if os.name == "nt" else "bin")
    done = _run(binaries / "python", "-m", "pip", "install", "--quiet", wheel, cwd=tmp_path)
    if done.returncode and not REQUIRED:
        pytest.skip(f"nothing can be installed here: {done.stderr.strip().splitlines()[-1]}")
    assert done.returncode == 0, done.stderr

    command = binaries / "brewfuncs"
    work = tmp_path / "work"
    work.mkdir()

    def brewfuncs_prints(*arguments: str) -> str:
        done = _run(command, *arguments, cwd=work)
        assert done.returncode == 0, done.stdout + done.stderr
        assert not done.stderr
        return done.stdout

    assert brewfuncs_prints("--version") == f"brewfuncs {brewfuncs.__version__}\n"
    # 28.349523 g x 0.055 x 1000 / 18.927059 L = 82.38 mg/L of alpha acid, times Tinseth's 0.2307 at 60 min and 1.050
    assert brewfuncs_prints("call", '=HOP_BITTERNESS("1 oz",5.5%,60,"5 gal",1.050)') == "19.0023 mg/L\n"
    assert len([line for line in brewfuncs_prints("functions").splitlines() if line]) == len(brewfuncs_functions())
    assert "Tinseth" in brewfuncs_prints("functions", "HOP_SWAP_MASS")
    brewfuncs_prints("new", "-o", "batch.xlsx", "--units", "us")
    brewfuncs_prints("record", "batch.xlsx", "preboil_gravity=1.046", "preboil_volume=25.5 L")
    brewfuncs_prints("check", "batch.xlsx")
    brewfuncs_prints("calc-addin", "brewfuncs.oxt")
    assert zipfile.is_zipfile(work / "batch.xlsx")
    assert zipfile.is_zipfile(work / "brewfuncs.oxt")
    # lists work with no numpy there; what isn't installed is said in a sentence
    said = _run(
        binaries / "python", "-W", "error", "-c",
        "import brewfuncs; print(brewfuncs.boil_off(4.5, [30, 60]), brewfuncs.evaluate('=SUM(BOIL_OFF(4.5,{30;60}))'))",
        cwd=work,
    )  # fmt: skip
    assert said.stdout == "[2.25, 4.5] 6.75\n", said.stderr


def brewfuncs_functions() -> list[str]:
    """The functions that `__init__.py` exports, by their prefixes."""
    tree = ast.parse((ROOT / "brewfuncs" / "__init__.py").read_text(encoding="utf-8"))
    groups = ("wort_", "boil_", "hop_", "dms_", "mash_", "sani_", "beer_", "water_", "unit_", "brew_")
    nodes = ast.walk(tree)
    imported = {alias.name for node in nodes if isinstance(node, ast.ImportFrom) for alias in node.names}
    return sorted(name for name in imported if name.startswith(groups))
