"""The generated JavaScript answers as Python does: value, code and sentence."""

import json
import math
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from brewfuncs import __version__, cells
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.cli import main
from brewfuncs.errors import BrewError
from brewfuncs.translate import javascript
from tests import parity, random_calls
from tests.javascript import JavaScript


@pytest.fixture(scope="module")
def host() -> JavaScript:
    return JavaScript(javascript.core())


def test_it_answers_every_case_as_python_does(host: JavaScript) -> None:
    def compute(formulas: Sequence[str]) -> list[Any]:
        return parity.answered(formulas, host.call)

    assert parity.differences(compute, host="javascript", calls=host.counted) == []


def test_random_calls(host: JavaScript) -> None:
    """30,000 of them; 1e-12 is what the exp and log of different libraries differ by, a few times over."""
    before, different, calls = host.counted(), [], list(random_calls.calls(400))
    for (name, arguments), theirs in zip(calls, host.calls(calls), strict=True):
        ours = cells.apply(CATALOGUE[name], arguments)
        if not _same(ours, theirs):
            different.append(f"{name} {arguments}: {theirs!r}, Python {ours!r}")
    assert different[:20] == []
    assert (host.counted() - before).total() == len(calls) >= 30_000


def _same(ours: Any, theirs: Any) -> bool:
    if isinstance(ours, BrewError):
        return isinstance(theirs, BrewError) and (ours.code, str(ours)) == (theirs.code, str(theirs))
    if isinstance(ours, float):
        return isinstance(theirs, float) and math.isclose(ours, theirs, rel_tol=1e-12, abs_tol=1e-300)
    return bool(ours == theirs)


def test_the_module_exports_what_its_types_say(tmp_path: Path) -> None:
    run, path = CliRunner(), tmp_path / "brewfuncs.mjs"
    types = tmp_path / "brewfuncs.d.mts"
    assert run.invoke(main, ["javascript", str(path)]).output == f"{path} written\n{types} written\n"
    assert run.invoke(main, ["javascript", str(path)]).exit_code == 3
    exported = re.search(r"^export \{ (.*) \};$", path.read_text(encoding="utf-8"), re.MULTILINE)
    declared = re.findall(r"export declare (?:const|class) (\w+)", types.read_text(encoding="utf-8"))
    assert exported is not None
    assert sorted(exported[1].split(", ")) == sorted(declared)
    for name, function in CATALOGUE.items():
        signature = re.search(rf'\(name: "{name}", values: \[(.*)\]\)', types.read_text(encoding="utf-8"))
        assert signature is not None
        assert re.findall(r"(\w+)\??: Argument", signature[1]) == [p.name for p in function.params]


@pytest.mark.skipif(shutil.which("node") is None, reason="Node.js isn't there")
def test_node_imports_the_module(tmp_path: Path) -> None:
    path = tmp_path / "brewfuncs.mjs"
    path.write_text(javascript.module(), encoding="utf-8")
    said = subprocess.run(
        ["node", "--input-type=module", "-e", f"""
            import {{ apply, BrewError, functions, version }} from "{path.as_uri()}";
            const wrong = apply("BOIL_OFF", [4.5, -10]);
            console.log(JSON.stringify([apply("boil_off", ["4.5 L/h", [30, 60]]), wrong instanceof BrewError,
              wrong.code, wrong.message, Object.keys(functions).length, version, apply("BOIL", []).code,
              functions.BOIL_OFF, functions.HOP_UTILIZATION.parameters[2].words[0]]));
        """],
        capture_output=True,
        check=True,
        encoding="utf-8",
    )  # fmt: skip
    assert json.loads(said.stdout) == [
        [[2.25], [4.5]], True, "#NUM!", "minutes -10 min is outside 0 to 600 min", len(CATALOGUE), __version__, "#N/A",
        {
            "parameters": [
                {"name": "boil_off_rate", "unit": "L/h", "required": True, "low": 0, "high": sys.float_info.max},
                {"name": "minutes", "unit": "min", "required": True, "low": 0, "high": 600},
            ],
            "unit": "L",
            "source": "Definition: rate times time; revision 1",
        },
        "tinseth",
    ]  # fmt: skip
