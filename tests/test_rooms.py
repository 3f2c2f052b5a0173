"""Each room of the package imports only what stands below it, so that a reader of one needs to know no other."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import brewfuncs

ROOT = Path(brewfuncs.__file__).parent
#: what each room may import, beside itself and the single modules at the top
BELOW = {
    "formulas": set(),
    "xlsx": set(),
    "translate": {"formulas", "xlsx"},
    "hosts": {"formulas", "xlsx"},
    "workbook": {"formulas", "xlsx", "hosts", "translate"},
    "batch": {"formulas", "xlsx", "hosts", "translate", "workbook"},
    "cli": {"formulas", "xlsx", "hosts", "translate", "workbook", "batch"},
}


def _imported(path: Path) -> Iterator[str]:
    """The rooms that a module imports, inside functions too."""
    package = ("brewfuncs", *path.relative_to(ROOT).parent.parts)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) + 1 - node.level]) + "." if node.level else ""
            module = f"{base}{node.module or ''}".rstrip(".")
            names = [f"{module}.{alias.name}" for alias in node.names]
        else:
            continue
        for name in names:
            top, _, rest = name.partition(".")
            if top == "brewfuncs" and rest.partition(".")[0] in BELOW:
                yield rest.partition(".")[0]


@pytest.mark.parametrize("room", sorted(BELOW))
def test_a_room_imports_only_what_is_below_it(room: str) -> None:
    modules = sorted((ROOT / room).rglob("*.py"))
    assert modules, f"there is no room {room}"
    above = {
        f"{path.relative_to(ROOT)} imports {other}"
        for path in modules
        for other in _imported(path)
        if other != room and other not in BELOW[room]
    }
    assert not above


def test_no_room_is_forgotten() -> None:
    assert {path.parent.name for path in ROOT.glob("*/__init__.py")} <= set(BELOW) | {"sheets"}
