"""What the pages say is what happens: every command, formula, number and sentence in them is run.

In a page, as in README.md and DEVELOPERS.md:
- a ```console block runs `$ brewfuncs ...` and compares what is printed; `...` stands for anything;
- a ```python block is a doctest;
- a ```toml block with title="NAME" is written to that file;
- a table row or line with `=FORMULA` and its value beside it is evaluated; an error's sentence stands in *italics*;
- a table row whose first cell is `name_of_cell` is read from the workbook that the page made last.
Blocks of one page run in order, in one empty folder.
"""

from __future__ import annotations

import doctest
import importlib.util
import re
import shlex
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple
from unittest import mock

import openpyxl
import pytest
from click.testing import CliRunner

import brewfuncs
from brewfuncs.catalogue import catalogue
from brewfuncs.cli import main
from brewfuncs.cli.functions import _unit_of
from brewfuncs.errors import BrewError
from tests import needs

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]


def _name(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def _script(name: str) -> ModuleType:
    """A script of docs/ as a module."""
    spec = importlib.util.spec_from_file_location(f"docs_{name}", DOCS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    with mock.patch("sys.path", list(sys.path)):
        spec.loader.exec_module(module)
    return module


# -- taking a page apart ---------------------------------------------------------------------------------------------


class Block(NamedTuple):
    line: int
    language: str  # "" for a line of text outside of fenced blocks
    title: str
    text: str


_FENCE = re.compile(r"```(\w*)(?:.*title=\"([^\"]+)\")?")


def blocks(page: Path) -> Iterator[Block]:
    lines = page.read_text(encoding="utf-8").splitlines()
    at = 0
    while at < len(lines):
        fence = _FENCE.match(lines[at])
        if fence is None:
            yield Block(at + 1, "", "", lines[at])
            at += 1
            continue
        end = next((n for n in range(at + 1, len(lines)) if lines[n].startswith("```")), None)
        assert end is not None, f"{_name(page)}:{at + 1}: a block that doesn't end"
        yield Block(at + 1, fence[1], fence[2] or "", "\n".join(lines[at + 1 : end]) + "\n")
        at = end + 1


# -- running its parts -----------------------------------------------------------------------------------------------


class Reader:
    """Someone who works through one page in one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.exit_code = 0
        self.globals: dict[str, Any] = {}

    def run(self, command: str) -> str:
        words = shlex.split(command)
        if words == ["echo", "$?"]:
            return f"{self.exit_code}\n"
        if words[0] == "cat":
            return Path(words[1]).read_text(encoding="utf-8")
        assert words[0] == "brewfuncs", f"not a command that can be run here: {command}"
        result = CliRunner(env={"COLUMNS": "100"}).invoke(main, words[1:], prog_name="brewfuncs")
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        self.exit_code = result.exit_code
        return result.output

    def cell(self, name: str) -> tuple[Any, Any]:
        """The value of a named cell in the workbook made last, and its unit."""
        newest = max(self.folder.glob("*.xls?"), key=lambda path: path.stat().st_mtime_ns)
        book = openpyxl.load_workbook(newest, data_only=True)

        def read(wanted: str) -> Any:
            if wanted not in book.defined_names:
                return None
            sheet, _, address = book.defined_names[wanted].attr_text.rpartition("!")
            return book[sheet.strip("'")][address.replace("$", "")].value

        assert name in book.defined_names, f"no cell is named {name}"
        return read(name), read(f"{name}_unit")


def _matches(printed: str, expected: str) -> bool:
    pattern = re.escape(expected.strip()).replace(r"\.\.\.", "(?s:.*)")
    return re.fullmatch(pattern, "\n".join(line.rstrip() for line in printed.strip().splitlines())) is not None


def _console(reader: Reader, text: str) -> None:
    for part in re.split(r"^(?=\$ )", text, flags=re.MULTILINE):
        if not part.strip():
            continue
        command, _, expected = part.removeprefix("$ ").partition("\n")
        printed = reader.run(command)
        assert _matches(printed, expected), f"$ {command}\nprints:\n{printed}\nthe page says:\n{expected}"


def _python(reader: Reader, text: str, name: str) -> None:
    example = doctest.DocTestParser().get_doctest(text, reader.globals, name, None, 0)
    assert example.examples, "a python block without a >>> line"
    said: list[str] = []
    options = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    doctest.DocTestRunner(optionflags=options).run(example, out=said.append, clear_globs=False)
    reader.globals.update(example.globs)
    assert not said, "".join(said)


_CELL = re.compile(r"\$?\b[A-Z]{1,3}\$?\d+\b(?!\()")
_NUMBER = re.compile(r"(-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)(?:\.\.\.)?\s*(.*)")


def _refers_to_cells(formula: str) -> bool:
    return _CELL.search(re.sub(r'"[^"]*"', "", formula)) is not None


def _with_commas(formula: str) -> str:
    """Calc's semicolons between arguments as commas; those within {} stay."""
    depth, quoted, out = 0, False, ""
    for character in formula:
        quoted ^= character == '"'
        depth += 0 if quoted else (character == "{") - (character == "}")
        out += "," if character == ";" and not depth and not quoted else character
    return out


def _check_number(value: Any, unit: str, said: str, where: str) -> None:
    match = _NUMBER.match(said)
    if isinstance(value, str) or match is None:
        assert str(value) == said.strip(), f"{where} is {value}, the page says {said}"
        return
    digits, rest = match.groups()
    if rest.startswith("%"):
        value, rest = value * 100, ""
    last = len(digits.partition("e")[0].partition(".")[2])
    room = 10.0 ** (int(digits.partition("e")[2] or 0) - last) / 2  # half a unit of the last digit shown
    assert abs(value - float(digits)) <= room * (1 + 1e-9), f"{where} is {value:.10g}, the page says {said}"
    assert not rest or rest.startswith(unit), f"{where} is in {unit}, the page says {said}"


def function_of(formula: str) -> str:
    match = re.match(r"=(\w+)\(", formula)
    return match[1] if match else ""


def check_formula(formula: str, said: str, sentence: str = "") -> None:
    formula = _with_commas(formula)
    value = _value_or_error(formula)
    if isinstance(value, BrewError):
        assert said == value.code, f"{formula} gives {value.code}, the page says {said}"
        assert not sentence or sentence == str(value), f"{formula} says: {value}"
    else:
        _check_number(value, _unit_of(formula), said, formula)


def _value_or_error(formula: str) -> Any:
    try:
        return brewfuncs.evaluate(formula)
    except BrewError as error:
        return error


_ROW = re.compile(r"^\|(.*)\|\s*$")
_LINE = re.compile(r"^\s*(=[A-Z][\w.]*\(.*\))\s{2,}(\S.*)$")


def _text(reader: Reader, line: str) -> None:
    row = _ROW.match(line)
    if row is None:
        worked = _LINE.match(line)
        if worked and not _refers_to_cells(worked[1]) and re.match(r"-?\d|#", worked[2]):
            check_formula(worked[1], re.sub(r"\s+", " ", worked[2]))
        return
    cells = [cell.strip() for cell in row[1].replace("\\|", "\0").split("|")]
    for n, cell in enumerate(cells[:-1]):
        formula = re.fullmatch(r"`(=[^`]*)`", cell)
        if formula and not _refers_to_cells(formula[1]):
            third = re.fullmatch(r"\*(.*)\*", cells[n + 2]) if n + 2 < len(cells) else None
            said = cells[n + 1].replace("`", "")
            function = catalogue().get(function_of(formula[1]))
            if function and (function.gives_text or re.match(r"-?\d|#", said)):
                check_formula(formula[1], said, third[1] if third else "")
    name = re.fullmatch(r"`([a-z][a-z0-9_]*)`", cells[0])
    if name and any(reader.folder.glob("*.xls?")) and "_" in name[1]:
        value, unit = reader.cell(name[1])
        _check_number(value, unit or "", cells[1], name[1])


@pytest.mark.parametrize("page", PAGES, ids=_name)
def test_what_a_page_shows_is_what_happens(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    reader = Reader(tmp_path)
    for block in blocks(page):
        try:
            if block.language == "console":
                _console(reader, block.text)
            elif block.language == "python":
                _python(reader, block.text, _name(page))
            elif block.language == "toml":
                tomllib.loads(block.text)
                if block.title:
                    (tmp_path / block.title).write_text(block.text, encoding="utf-8")
            elif not block.language:
                for line in block.text.splitlines():
                    _text(reader, line)
        except AssertionError as error:
            raise AssertionError(f"{_name(page)}:{block.line}: {error}") from None


def test_the_commands_of_the_readme_run_in_order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    plan = next(b for b in blocks(DOCS / "a-batch.md") if b.title == "plan.toml")
    (tmp_path / "plan.toml").write_text(plan.text, encoding="utf-8")
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^ {4}(brewfuncs .*)$", text, re.MULTILINE)
    assert len(commands) >= 3
    reader = Reader(tmp_path)
    for command in commands:
        printed = reader.run(re.sub(r"\s+#.*", "", command))
        assert reader.exit_code == 0, f"{command}\n{printed}"


# -- links, pictures, the reference ----------------------------------------------------------------------------------

_LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


@pytest.mark.parametrize("page", PAGES, ids=_name)
def test_links_and_pictures_lead_somewhere(page: Path) -> None:
    text = re.sub(r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    for target in _LINK.findall(text):
        path, _, anchor = target.partition("#")
        if "://" in target:
            continue
        found = (page.parent / path).resolve() if path else page
        assert found.exists(), f"{_name(page)}: {target} leads nowhere"
        if anchor and found.suffix == ".md":
            assert anchor in _anchors(found), f"{_name(page)}: {target} has no such heading"


def _anchors(page: Path) -> set[str]:
    headings = re.findall(r"^#+ +(.+)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-") for heading in headings}


def test_the_reference_is_up_to_date() -> None:
    assert _script("generate").outdated() == {}, "run: python docs/generate.py"


def test_the_reference_names_every_function_and_argument() -> None:
    headings: dict[str, str] = {}
    for page in (DOCS / "functions").glob("*.md"):
        for part in re.split(r"^## ", page.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
            headings[part.partition("\n")[0]] = part
    index = (DOCS / "functions" / "index.md").read_text(encoding="utf-8")
    for name, function in catalogue().items():
        assert f"[{name}](" in index
        for parameter in function.params:
            assert f"`{parameter.name}`" in headings[name]
        assert function.source in headings[name]
    assert {h for h in headings if h.isupper() and "_" in h} == set(catalogue())


def test_the_readme_counts_right() -> None:
    assert f"- {len(catalogue())} worksheet functions" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_plots_are_drawn_alike_twice() -> None:
    needs.library("matplotlib")
    from xml.etree import ElementTree

    plots = _script("plots")
    assert set(plots.PLOTS) <= set(catalogue())
    for name in ("HOP_SWAP_MASS", "MASH_PASTEUR_UNITS"):
        picture = plots.draw(catalogue()[name])
        assert picture == plots.draw(catalogue()[name])
        ElementTree.fromstring(picture)
    for name in plots.PLOTS:  # what can't be seen must be told
        assert name in plots.caption(catalogue()[name])


def test_the_site_has_a_place_for_every_page() -> None:
    """The site's builder warns of a page that the menu leaves out only when it runs; here it is seen at once."""
    shown = set(re.findall(r"[\w/-]+\.md", (DOCS / "site.yml").read_text(encoding="utf-8").partition("\nnav:")[2]))
    assert shown == {page.relative_to(DOCS).as_posix() for page in DOCS.rglob("*.md")} | {"changes.md"}


def test_a_page_of_the_site_shows_its_plots_and_leads_nowhere_outside() -> None:
    needs.library("matplotlib")
    make_site = _script("make_site")
    page = make_site.for_site((DOCS / "functions" / "hop.md").read_text(encoding="utf-8"))
    assert "<!-- plot" not in page
    assert "](plots/HOP_SWAP_MASS.svg)" in page
    told = "[LICENSE](../LICENSE), [Changes](../CHANGELOG.md), [`x`](../brewfuncs/hosts/x.txt), [Units](units.md)"
    assert make_site.for_site(told) == "LICENSE, [Changes](changes.md), `x`, [Units](units.md)"


def test_a_page_that_says_something_wrong_is_noticed(tmp_path: Path) -> None:
    """The tests above can fail."""
    reader = Reader(tmp_path)
    _text(reader, "| `=HOP_SWAP_MASS(30; 60; 30)` | 39.0 g |")
    for wrong in ("39.1 g", "39.0 kg", "#NUM!"):
        with pytest.raises(AssertionError):
            _text(reader, f"| `=HOP_SWAP_MASS(30,60,30)` | {wrong} |")
    with pytest.raises(AssertionError):
        _text(reader, "| `=BOIL_OFF(4.5,-1)` | #NUM! | *something else* |")
    with pytest.raises(AssertionError):
        _console(reader, "$ brewfuncs call '=1+1'\n3\n")
    with pytest.raises(AssertionError):
        _python(reader, ">>> 1 + 1\n3\n", "page")


if sys.platform == "win32":  # paths and line ends in the pages are those of a Unix shell
    pytestmark = pytest.mark.skip(reason="the pages show a Unix shell")
