"""The Tab key, in the shells that are here: the printed script is loaded and asked as a person would ask it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.shell_completion import ShellComplete
from click.testing import CliRunner

from brewfuncs.batch.generate import new
from brewfuncs.cli import main


def completions(*words: str) -> list[str]:
    """What is offered for the last word."""
    asked = ShellComplete(main, {}, "brewfuncs", "_BREWFUNCS_COMPLETE")
    return [item.value for item in asked.get_completions(list(words[:-1]), words[-1])]


def test_commands_options_and_functions_are_completed() -> None:
    assert completions("rec") == ["recalc", "record"]
    assert completions("calc", "") == ["install", "uninstall"]
    assert completions("new", "--f") == ["--force"]
    assert completions("new", "--units", "") == ["metric", "us", "imperial"]
    assert completions("functions", "HOP_S") == ["HOP_STAND_BITTERNESS", "HOP_STORAGE_LOSS", "HOP_SWAP_MASS"]
    assert completions("functions", "hop_sw") == ["hop_swap_mass"]
    assert completions("functions", "XYZ") == []


def test_the_names_of_a_workbook_are_completed(tmp_path: Path) -> None:
    path = tmp_path / "batch.xlsx"
    path.write_bytes(new())
    assert completions("record", str(path), "preboil_gr") == ["preboil_gravity=", "preboil_gravity_temp="]
    assert completions("record", str(path), "preboil_gravity=1") == []
    assert completions("record", str(tmp_path / "none.xlsx"), "pre") == []


def script(shell: str) -> str:
    result = CliRunner().invoke(main, ["completion", shell])
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture
def on_path(tmp_path: Path) -> dict[str, str]:
    """An environment in which `brewfuncs` is a command."""
    command = tmp_path / "bin" / "brewfuncs"
    command.parent.mkdir()
    code = "import sys; sys.argv[0] = 'brewfuncs'; from brewfuncs.cli import main; main()"  # as an installed one is
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{code}" "$@"\n')
    command.chmod(0o755)
    root = str(Path(__file__).resolve().parent.parent)
    return {**os.environ, "PATH": f"{command.parent}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": root}


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash")
def test_bash_completes(tmp_path: Path, on_path: dict[str, str]) -> None:
    (tmp_path / "completion.bash").write_text(script("bash"))
    typed = (
        'source completion.bash; COMP_WORDS=(brewfuncs functions HOP_SW); COMP_CWORD=2; '
        '_brewfuncs_completion brewfuncs; printf "%s\\n" "${COMPREPLY[@]}"'
    )  # fmt: skip
    done = subprocess.run(["bash", "-c", typed], cwd=tmp_path, env=on_path, capture_output=True, text=True, timeout=60)
    assert (done.stdout.split(), done.stderr) == (["HOP_SWAP_MASS"], "")


@pytest.mark.skipif(shutil.which("zsh") is None, reason="no zsh")
def test_zsh_reads_its_script(tmp_path: Path, on_path: dict[str, str]) -> None:
    (tmp_path / "_brewfuncs").write_text(script("zsh"))
    done = subprocess.run(
        ["zsh", "-n", "_brewfuncs"], cwd=tmp_path, env=on_path, capture_output=True, text=True, timeout=60
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(shutil.which("fish") is None, reason="no fish")
def test_fish_completes(tmp_path: Path, on_path: dict[str, str]) -> None:
    (tmp_path / "brewfuncs.fish").write_text(script("fish"))
    typed = "source brewfuncs.fish; complete -C 'brewfuncs functions HOP_SW'"
    done = subprocess.run(["fish", "-c", typed], cwd=tmp_path, env=on_path, capture_output=True, text=True, timeout=60)
    assert done.stdout.split()[:1] == ["HOP_SWAP_MASS"], done.stderr


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_every_shell_has_its_script(shell: str) -> None:
    assert f"_BREWFUNCS_COMPLETE={shell}_complete" in script(shell)
