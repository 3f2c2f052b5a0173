"""What the Calc extension carries runs on Python 3.9 with the standard library alone, and answers alike there.

LibreOffice on Windows and macOS brings such a Python, without numpy (as commonly quoted).
"""

import io
import json
import os
import re
import shutil
import subprocess
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from brewfuncs import cells
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.errors import BrewError
from brewfuncs.hosts.calc import build
from tests import parity
from tests.office import missing

RUNNER = Path(__file__).with_name("python39_runner.py")


def interpreters() -> Iterator[list[str]]:
    """Commands that may start a Python 3.9; uv fetches one where it has none."""
    yield ["python3.9"]
    pyenv = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv")
    for path in sorted(pyenv.glob("versions/3.9.*/bin/python3.9"), reverse=True):
        yield [str(path)]
    if uv := shutil.which("uv"):
        yield [uv, "run", "--quiet", "--no-project", "--python", "3.9", "python"]


@pytest.fixture(scope="module")
def python39() -> list[str]:
    for command in interpreters():
        try:
            done = subprocess.run([*command, "-c", "import sys; print(sys.version_info[:2])"], capture_output=True)
        except OSError:
            continue
        if done.returncode == 0 and done.stdout.strip() == b"(3, 9)":
            return [*command, "-I", "-S"]  # no environment, no user's and no installed packages
    missing("Python 3.9")
    raise AssertionError


def as_json(value: Any) -> Any:
    """Arguments and answers as the runner writes them."""
    if isinstance(value, list):
        return [[as_json(cell) for cell in row] for row in value]
    if value is cells.OMITTED or value is cells.BLANK:
        return {"is": "omitted" if value is cells.OMITTED else "blank"}
    return [value.code, str(value)] if isinstance(value, BrewError) else value


def calls() -> list[tuple[str, list[Any]]]:
    """Every case of the parity list that is one call without an error among its arguments."""
    found = []
    for case in parity.cases():
        match = re.match(r"=(?:INDEX\()?(\w+)\(", case.formula)
        assert match is not None
        formula = case.formula
        if formula.startswith("=INDEX("):
            formula = "=" + formula.removeprefix("=INDEX(").rpartition(",")[0]
        if match.group(1) in CATALOGUE and "NA()" not in formula and "1/0" not in formula:
            arguments = [cells.OMITTED if a is parity.OMITTED else a for a in parity.arguments_of(formula)]
            found.append((match.group(1), arguments))
    return found


def test_doctests_and_answers(python39: list[str], tmp_path: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(build())) as archive:
        archive.extractall(tmp_path)
    asked = calls()
    assert {name for name, _ in asked} == CATALOGUE.keys()
    requests = "".join(json.dumps([name, [as_json(a) for a in arguments]]) + "\n" for name, arguments in asked)
    done = subprocess.run(
        [*python39, str(RUNNER), str(tmp_path / "pythonpath")], input=requests, capture_output=True, encoding="utf-8"
    )
    assert done.returncode == 0, done.stderr
    try:
        head, *answers = map(json.loads, done.stdout.splitlines())
    except ValueError:
        pytest.fail(done.stdout[:4000])  # a failed doctest reports there
    assert head["failed"] == 0, head
    assert head["attempted"] > len(CATALOGUE)  # each function has an example
    assert len(answers) == len(asked)
    for (name, arguments), answer in zip(asked, answers, strict=True):
        expected = json.loads(json.dumps(as_json(cells.apply(CATALOGUE[name], arguments))))
        assert answer == expected, (name, arguments)  # to the last bit, and the same sentence
