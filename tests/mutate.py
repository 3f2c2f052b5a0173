"""Puts one small mistake at a time into the code, or into the formulas of the sheets, and tells which no test notices.

    python -m tests.mutate code brewfuncs/units.py brewfuncs/formulas     every mistake, each against the module's tests
    python -m tests.mutate code brewfuncs/xlsx --sample 100               a hundred of them, drawn at random
    python -m tests.mutate sheets --sample 200                            in the formulas of the batch workbook, against
                                                                          the model of a batch
    ... --tests tests/test_a.py tests/test_b.py                           against these tests; -j 2: two at a time

A mistake is one that a tired person makes: < for <=, + for -, a number a little off, a condition turned round, one name
for another. It is tried in a process of its own, which sees the mistaken code in place of the file: no file changes.
A formula's is put into workbooks that the engine has loaded, and every cell is compared with the model of a batch. What
survives is listed with its place, and with a cell that it changes, if it changes one. Some survivors can't be told from
the right answer; the others want a test. It takes seconds a mistake, so it is no part of CI.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

ROOT = Path(__file__).resolve().parent.parent
#: what every tried process would import anew: once, before they part
_HEAVY = ("numpy", "scipy.optimize", "scipy.integrate", "hypothesis", "pytest", "iapws", "molmass", "psychrolib",
          "pint", "openpyxl", "formualizer", "click")  # fmt: skip
#: module -> the tests that should notice, the quick ones first; the module's own doctests come before them
TESTS = {
    "brewfuncs/formulas/hopage.py": ["tests/test_tables.py", "tests/test_watertreatment.py", "tests/test_catalogue.py",
                                     "tests/test_conventions.py"],
    "brewfuncs/formulas/numeric.py": ["tests/test_tables.py", "tests/test_dms.py", "tests/test_hops.py",
                                      "tests/test_sanitizer.py", "tests/test_conventions.py", "tests/test_arrays.py"],
    "brewfuncs/formulas/": ["tests/test_tables.py", "tests/test_{stem}.py", "tests/test_batch_physics.py",
                            "tests/test_catalogue.py", "tests/test_conventions.py"],
    "brewfuncs/units.py": ["tests/test_units.py", "tests/test_tables.py"],
    "brewfuncs/cells.py": ["tests/test_reason.py", "tests/test_conventions.py", "tests/test_engine.py"],
    "brewfuncs/arrays.py": ["tests/test_arrays.py", "tests/test_conventions.py"],
    "brewfuncs/catalogue.py": ["tests/test_catalogue.py", "tests/test_conventions.py", "tests/test_reason.py"],
    "brewfuncs/tables.py": ["tests/test_tables_frames.py"],
    "brewfuncs/translate/": ["tests/test_translate.py", "tests/test_{stem}.py", "tests/test_javascript.py",
                             "tests/test_names.py"],
    "brewfuncs/xlsx/": ["tests/test_package.py", "tests/test_recalculate.py", "tests/test_check.py",
                        "tests/test_values_kept.py", "tests/test_hostile.py", "tests/test_strangers.py"],
    "brewfuncs/hosts/standard/": ["tests/test_standard_numbers.py", "tests/test_standard.py", "tests/test_engine.py",
                                  "tests/test_hostile.py"],
    "brewfuncs/hosts/excel": ["tests/test_excel.py", "tests/test_excel_vba.py"],
    "brewfuncs/hosts/calc": ["tests/test_calc.py"],
    "brewfuncs/hosts/": ["tests/test_engine.py", "tests/test_standard.py", "tests/test_recalculate.py",
                         "tests/test_values_kept.py", "tests/test_hostile.py", "tests/test_parity.py"],
    "brewfuncs/workbook/embed.py": ["tests/test_embed.py"],
    "brewfuncs/workbook/": ["tests/test_recalculate.py", "tests/test_check.py", "tests/test_package.py",
                            "tests/test_values_kept.py", "tests/test_hostile.py", "tests/test_strangers.py"],
    "brewfuncs/batch/": ["tests/test_plan.py", "tests/test_batch_model.py", "tests/test_workbook.py",
                         "tests/test_workbook_second.py"],
}  # fmt: skip
SHEET_TESTS = ["tests/test_batch_model.py"]


class Mistake(NamedTuple):
    where: str
    what: str
    make: Callable[[], None]  # in the process that tries it, before anything of ours is imported
    cells: tuple[tuple[str, str, str, str], ...] = ()  # of a sheet's: sheet, address, formula, mistaken formula
    unmade: Callable[[], None] = lambda: None  # what `make` does, but for the mistake


# -- in code ---------------------------------------------------------------------------------------------------------

_OPERATORS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
_CALLS = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "any": "all", "all": "any"}


def in_code(path: Path) -> Iterator[Mistake]:
    """Every mistake that is tried in a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    shown = path.relative_to(ROOT).as_posix()
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for at, node in enumerate(ast.walk(tree)):
        for n, (what, _) in enumerate(_changes(node)):
            yield Mistake(
                f"{shown}:{getattr(node, 'lineno', 0)}",
                what,
                partial(_replace, module, path, at, n),
                unmade=partial(_replace, module, path),
            )


def _changes(node: ast.AST) -> Iterator[tuple[str, Callable[[Any], None]]]:
    """What can be got wrong at this node: in words, and how to change a copy of it."""
    if isinstance(node, ast.Compare):
        for i, operator in enumerate(node.ops):
            other = _OPERATORS[type(operator)]
            said = f"{ast.unparse(node)}: {type(operator).__name__} -> {other.__name__}"
            yield said, lambda new, i=i, other=other: new.ops.__setitem__(i, other())
    elif isinstance(node, (ast.BinOp, ast.AugAssign, ast.BoolOp)) and type(node.op) in _OPERATORS:
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mod) and isinstance(node.left, ast.Constant):
            return
        other = _OPERATORS[type(node.op)]
        yield (
            f"{ast.unparse(node)}: {type(node.op).__name__} -> {other.__name__}",
            lambda new: setattr(new, "op", other()),
        )
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        value = node.value
        wrong = value + 1 if isinstance(value, int) else value * 1.01 or 0.01
        yield f"{value!r} -> {wrong!r}", lambda new: setattr(new, "value", wrong)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield f"{node.value} -> {not node.value}", lambda new: setattr(new, "value", not new.value)
    elif isinstance(node, (ast.If, ast.IfExp, ast.While)):
        said = ast.unparse(node.test)
        yield f"if {said}: turned round", lambda new: setattr(new, "test", ast.UnaryOp(ast.Not(), new.test))
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not)):
        yield (
            f"{ast.unparse(node)}: without its sign",
            lambda new: (
                setattr(new, "op", ast.UAdd())
                if isinstance(new.op, ast.USub)
                else setattr(new, "operand", ast.UnaryOp(ast.Not(), new.operand))
            ),
        )
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _CALLS:
        other_name = _CALLS[node.func.id]
        yield f"{ast.unparse(node)}: {other_name}", lambda new: setattr(new.func, "id", other_name)


class _Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module from a changed tree."""

    def __init__(self, module: str, path: Path, tree: ast.Module) -> None:
        self.module, self.path, self.tree = module, path, tree

    def find_spec(self, name: str, path: Any, target: Any = None) -> importlib.machinery.ModuleSpec | None:
        if name != self.module:
            return None
        places = [str(self.path.parent)] if self.path.name == "__init__.py" else None
        return importlib.util.spec_from_file_location(name, self.path, loader=self, submodule_search_locations=places)

    def create_module(self, spec: Any) -> None:
        return None

    def exec_module(self, module: Any) -> None:
        # this file's `from __future__ import annotations` isn't inherited: functions are declared by their annotations
        exec(compile(self.tree, str(self.path), "exec", dont_inherit=True), module.__dict__)


def _replace(module: str, path: Path, at: int | None = None, n: int = 0) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    if at is not None:
        node = next(node for i, node in enumerate(ast.walk(tree)) if i == at)
        list(_changes(node))[n][1](node)
    sys.meta_path.insert(0, _Finder(module, path, ast.fix_missing_locations(tree)))


# -- in formulas of the sheets ---------------------------------------------------------------------------------------

_TOKEN = re.compile(
    r'(?P<text>"(?:[^"]|"")*")|(?P<number>(?<![\w.])\d+(?:\.\d+)?%?(?![\w.(]))|(?P<name>[A-Za-z_][\w.]*(?!\w*\())|'
    r"(?P<function>[A-Z][A-Z0-9_.]*)\(|(?P<operator><>|<=|>=|[-+*/<>=&^])|(?P<other>.)",
    re.DOTALL,
)
_FORMULA_OPERATORS = {"<": "<=", "<=": "<", ">": ">=", ">=": ">", "=": "<>", "<>": "=", "+": "-", "-": "+", "*": "/",
                      "/": "*"}  # fmt: skip
_FORMULA_CALLS = {"MIN": "MAX", "MAX": "MIN", "AND": "OR", "OR": "AND", "ROUNDUP": "ROUNDDOWN", "ROUNDDOWN": "ROUNDUP"}
_STRICT = ("<", "<=", ">", ">=")
#: sheets that plan a batch, and the one behind them
_BATCH = ("Functions", "Known answers")


def in_sheets() -> Iterator[Mistake]:
    """Every mistake that is tried in the workbook's formulas; in all rows of a table at once, as its maker would."""
    from brewfuncs.batch import demo, generate
    from brewfuncs.batch.plan import Plan

    drafts: list[Any] = []
    save = generate._saved
    with mock.patch.object(generate, "_saved", lambda book, *rest: (drafts.append(book), save(book, *rest))[1]):
        generate.new(Plan.of(demo.HARD_WATER))
    book = drafts[0]
    names = {name: definition.attr_text for name, definition in book.workbook.defined_names.items()}
    single = sorted(name for name, area in names.items() if ":" not in area)
    named = {area.replace("$", "").replace("'", ""): name for name, area in names.items() if ":" not in area}
    formulas = {  # of a named column, that of its first row
        name: str(book.workbook[sheet.strip("'")][at.replace("$", "").partition(":")[0]].value)
        for name, (sheet, _, at) in ((name, area.partition("!")) for name, area in names.items())
    }
    known = _Known(single, formulas)
    groups: dict[tuple[str, str, str], list[tuple[str, str]]] = {}
    for sheet in book.workbook.worksheets:
        if sheet.title in _BATCH:
            continue
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f" and isinstance(cell.value, str):
                    key = (
                        sheet.title,
                        cell.column_letter,
                        re.sub(
                            r"(?<=_)\d+(?![A-Za-z0-9])|(?<=[B-M])\d+|\b\d+(?=/(?:20|1000|100000)\b)|(?<=MATCH\()\d+",
                            "#",
                            cell.value,
                        ),
                    )
                    groups.setdefault(key, []).append((cell.coordinate, cell.value))
    for (sheet_name, _, _), cells in groups.items():
        first, formula = cells[0]
        name = named.get(f"{sheet_name}!{first}", first)
        changes = [_formula_changes(old, known) for _, old in cells]
        for n, (said, _) in enumerate(changes[0]):
            changed = tuple(
                (sheet_name, at, old, wrong[n][1])
                for (at, old), wrong in zip(cells, changes, strict=True)
                if len(wrong) > n
            )
            where = f"{sheet_name}!{first}" + (f" {name}" if name != first else "")
            where += f" and {len(cells) - 1} more" if len(cells) > 1 else ""
            yield Mistake(where, f"{said} in {formula}", partial(_misbuild, changed), changed)


class _Known:
    """The names of a workbook's cells: which hold the same, and which hold a figure that is worked out."""

    def __init__(self, names: Sequence[str], formulas: Mapping[str, str]) -> None:
        from brewfuncs.catalogue import catalogue

        self.names, self.formulas = names, formulas
        self.ours = frozenset(catalogue()) - {"UNIT_CONVERT"}
        self._figures: dict[str, bool] = {}

    def root(self, name: str) -> str:
        """The cell that it only shows again."""
        shown = re.fullmatch(r"=([A-Za-z_]\w*)", self.formulas.get(name, ""))
        return self.root(shown[1]) if shown else name

    def is_figure(self, expression: str) -> bool:
        """Whether one of our functions has a part in it: two such are equal by chance alone, and a limit as well."""
        words = re.findall(r"[A-Za-z_]\w*", re.sub(r'"[^"]*"', "", expression))
        return any(word in self.ours or self._figure(word) for word in words)

    def _figure(self, name: str) -> bool:
        if name not in self._figures:
            self._figures[name] = False  # until it is known
            self._figures[name] = name in self.formulas and self.is_figure(self.formulas[name])
        return self._figures[name]


def _formula_changes(formula: str, known: _Known) -> list[tuple[str, str]]:
    """What can be got wrong in a formula: in words, and the formula then."""
    tokens = [(match.lastgroup or "", match.group(match.lastgroup or 0), match.start(match.lastgroup or 0))
              for match in _TOKEN.finditer(formula, 1)]  # fmt: skip
    found = []

    def change(start: int, old: str, new: str) -> None:
        found.append((f"{old} -> {new}", formula[:start] + new + formula[start + len(old) :]))

    for kind, text, start in tokens:
        if kind == "operator" and text in _FORMULA_OPERATORS:
            if text in _STRICT and known.is_figure(_operands(formula, start, len(text))):
                continue
            change(start, text, _FORMULA_OPERATORS[text])
        elif kind == "function" and text in _FORMULA_CALLS:
            change(start, text, _FORMULA_CALLS[text])
        elif kind == "function" and text == "IF":
            condition = _first_argument(formula, start + 3)
            change(start + 3, condition, "TRUE")
            change(start + 3, condition, "FALSE")
        elif kind == "number":
            share = text.endswith("%")
            number = float(text.rstrip("%"))
            wrong = number + 1 if number.is_integer() else number * 1.1
            change(start, text, f"{wrong:.10g}{'%' if share else ''}")
        elif kind == "name" and text not in ("TRUE", "FALSE"):
            other = _alike(text, known)
            if other:
                change(start, text, other)
    return found


def _first_argument(formula: str, start: int) -> str:
    depth, quoted = 0, False
    for end in range(start, len(formula)):
        letter = formula[end]
        quoted ^= letter == '"'
        if quoted:
            continue
        if depth == 0 and letter in ",)":
            return formula[start:end]
        depth += (letter in "({") - (letter in ")}")
    return formula[start:]


def _operands(formula: str, start: int, length: int) -> str:
    """Both sides of a comparison."""
    depth, first = 0, start
    while first > 0 and not (depth == 0 and formula[first - 1] in ",("):
        first -= 1
        depth += (formula[first] == ")") - (formula[first] == "(")
    return formula[first:start] + " " + _first_argument(formula, start + length)


def _alike(name: str, known: _Known) -> str:
    """Another cell's name that a hurried maker could have written: the same ending, the next in the list that doesn't
    show the same cell."""
    match = re.search(r"_(in_[A-Za-z_]+|used|unit|share|state)$", name)
    if match is None:
        return ""
    others = [other for other in known.names if other.endswith(match[0]) and not re.search(r"_\d+_", other)]
    if name not in others:
        return ""
    at = others.index(name)
    root = known.root(name)
    return next((other for other in others[at + 1 :] + others[:at] if known.root(other) != root), "")


def _misbuild(cells: Sequence[tuple[str, str, str, str]]) -> None:
    """Make every workbook with the mistake in it."""
    from brewfuncs.batch import generate

    save = generate._saved

    def mistaken(book: Any, *rest: Any) -> bytes:
        for sheet, address, right, wrong in cells:
            cell = book.workbook[sheet][address]
            if cell.value == right:
                cell.value = wrong
        return save(book, *rest)

    generate._saved = mistaken


def against_the_model(mistakes: Sequence[Mistake]) -> tuple[list[Mistake], int]:
    """Those that no plan of the model tells from the right formulas; says of each which cell it changed, if any. One
    that makes a difference of rounding alone is as right as the right one: of those, how many."""
    from brewfuncs.errors import BrewError
    from tests import batch_plans
    from tests.batch_model import Batch
    from tests.batch_sheets import Sheets
    from tests.test_batch_model import differences, in_error

    sheets, survivors = Sheets(has_water=True), list(mistakes)
    changing: dict[Mistake, str] = {}
    rounding: set[Mistake] = set()
    for name, plan in ((name, batch_plans.with_water(plan)) for name, plan in batch_plans.plans()):
        sheets.type(plan)
        model, right, left = Batch(plan), sheets.cells(), []
        assert not list(differences(right, sheets.places, model)), (
            f"without a mistake {name} is not as the model has it"
        )
        for mistake in survivors:
            before: list[Any] = []
            try:
                sheets.put([(sheet, at, formula) for sheet, at, _, formula in mistake.cells], before)
                cells = sheets.cells()
            except BrewError:  # the engine can't work it out: a cell in error
                cells = {}
            sheets.put_back(before)
            changed = [key for key, value in right.items() if cells.get(key) != value]
            if changed and all(_rounded(cells.get(key), right[key]) for key in changed):
                rounding.add(mistake)
                changed = []
            if changed:
                changing[mistake] = f"{name}: {changed[0]} {right[changed[0]]!r} -> {cells.get(changed[0])!r}"
            if not changed or (cells and next(differences(cells, sheets.places, model), None) is None):
                left.append(mistake)
        print(f"{name}: {len(survivors) - len(left)} noticed, {len(left)} left", flush=True)
        survivors = left
    survivors = [mistake for mistake in survivors if not _told_in_error(mistake, sheets, in_error)]
    left = [mistake for mistake in survivors if mistake in changing or mistake not in rounding]
    told = [m._replace(what=f"{m.what}\n    {changing.get(m, 'no plan shows it')}") for m in left]
    return told, len(survivors) - len(left)


def _told_in_error(mistake: Mistake, sheets: Any, in_error: Callable[[Any], Iterator[str]]) -> bool:
    """Whether it shows where the rules read an error."""
    before: list[Any] = []
    sheets.put([(sheet, at, formula) for sheet, at, _, formula in mistake.cells], before)
    told = next(in_error(sheets), None) is not None
    sheets.put_back(before)
    return told


def _rounded(found: Any, right: Any) -> bool:
    numbers = isinstance(found, float) and isinstance(right, float)
    return numbers and abs(found - right) <= 1e-9 * max(1.0, abs(right))


# -- trying them -----------------------------------------------------------------------------------------------------


def tests_for(path: Path) -> list[str]:
    shown = path.relative_to(ROOT).as_posix()
    given = next((tests for start, tests in TESTS.items() if shown.startswith(start)), [])
    # pytest, told to look at a module, may run it anew, without the mistake: where it registers functions those stay
    own = [shown] if ">>>" in path.read_text(encoding="utf-8") else []
    found = dict.fromkeys([*own, *(test.format(stem=path.stem) for test in given)])
    return [test for test in found if (ROOT / test).exists()]


class Trial(NamedTuple):
    mistake: Mistake | None  # None where the tests have to pass
    tests: list[str]
    make: Callable[[], None]


def _start(trial: Trial, log: str) -> int:
    """A process that makes the mistake and runs the tests; it exits with 0 where they pass."""
    pid = os.fork()
    if pid:
        return pid
    os.setsid()
    file = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    for standard in (1, 2):
        os.dup2(file, standard)
    code = 1
    try:
        trial.make()
        for finder in [finder for finder in sys.meta_path if isinstance(finder, _Finder)]:
            # now: once pytest collects, its own loader would read the file of a module that it was told to look at
            loader = getattr(importlib.import_module(finder.module), "__loader__", None)
            assert loader is finder, f"{finder.module} is not the one with the mistake"
        import pytest

        options = ["-x", "-q", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not slow"]
        options += ["-W", "ignore:Module already imported"]  # by the parent, for all of them
        for test in trial.tests:  # one after the other: most mistakes are noticed before all tests are collected
            code = int(pytest.main([*options, "--hypothesis-seed=0", test]))
            if code == pytest.ExitCode.NO_TESTS_COLLECTED:  # a module without doctests
                code = 0
            if code:
                break
    except BaseException as error:
        print(f"{type(error).__name__}: {error}")  # the mistake lets nothing be imported: noticed
    finally:
        sys.stdout.flush()
        os._exit(min(code, 100))


def _noticed_by(log: str) -> str:
    """Why a mistake counts as noticed: the test that failed, without its parameters, or what else ended the run."""
    said = Path(log).read_text(encoding="utf-8", errors="replace")
    failed = re.search(r"^(?:FAILED|ERROR) (\S+?)(?:\[.*)?(?: - .*)?$", said, re.MULTILINE)
    if failed is None:
        return "no test: " + (said.strip().splitlines() or ["ended without a word"])[-1][:100]
    if said[failed.start() :].startswith("ERROR") and "::" not in failed[1]:  # a test's name: what it rests on failed
        return f"no test: an error while {failed[1]} was imported"
    return failed[1]


def _each(calls: Iterable[Callable[[], None]]) -> None:
    for call in calls:
        call()


def run(trials: Sequence[Trial], at_once: int, limit: float, tell: Callable[[Trial, str], None]) -> None:
    """Try them, `at_once` at a time; `tell` hears of each by what it was noticed, "" where it survived. Over `limit`
    seconds is noticed."""
    waiting, running = list(reversed(trials)), {}
    with tempfile.TemporaryDirectory() as folder:
        while waiting or running:
            while waiting and len(running) < at_once:
                trial = waiting.pop()
                log = os.path.join(folder, f"{len(waiting)}.log")
                running[_start(trial, log)] = (trial, time.monotonic(), log)
            for pid, (trial, since, log) in list(running.items()):
                done, status = os.waitpid(pid, os.WNOHANG)
                if not done and time.monotonic() - since > limit:
                    with suppress(ProcessLookupError):
                        os.killpg(pid, signal.SIGKILL)
                    os.waitpid(pid, 0)
                    done, status = pid, -1
                if done:
                    del running[pid]
                    if trial.mistake is None and status:
                        print(Path(log).read_text(encoding="utf-8", errors="replace")[-3000:])
                    tell(trial, "" if status == 0 else "no test: it took too long" if status < 0 else _noticed_by(log))
            time.sleep(0.02)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutate", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("what", choices=("code", "sheets"))
    parser.add_argument("paths", nargs="*", type=Path, help="modules or folders, for code")
    parser.add_argument("--tests", nargs="+", help="the tests that should notice")
    parser.add_argument("--sample", type=int, help="so many, drawn at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="those whose place or words match this regular expression")
    parser.add_argument("--list", action="store_true", help="tell them and try none")
    parser.add_argument("--verbose", action="store_true", help="tell of each mistake in code which test noticed it")
    parser.add_argument("-j", type=int, default=1, help="so many at a time")
    arguments = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = tempfile.mkdtemp(prefix="mutate")
    trials = _trials(arguments)
    if arguments.list:
        for trial in trials:
            assert trial.mistake is not None
            print(f"{trial.mistake.where}  {trial.mistake.what}")
        return 0
    if arguments.what == "sheets" and not arguments.tests:
        left, as_right = against_the_model([trial.mistake for trial in trials if trial.mistake])
        for mistake in left:
            print(f"\n{mistake.where}  {mistake.what}")
        print(f"\n{as_right} more differ by rounding alone: no mistakes")
        return _tally(len(trials) - as_right, len(left))
    for name in _HEAVY:
        with suppress(ImportError):
            importlib.import_module(name)
    tests = list(dict.fromkeys(test for trial in trials for test in trial.tests))
    unmade = {trial.mistake.where.partition(":")[0]: trial.mistake.unmade for trial in trials if trial.mistake}
    since = time.monotonic()
    passed: list[bool] = []
    run([Trial(None, tests, partial(_each, unmade.values()))], 1, 3600, lambda _, noticed: passed.append(not noticed))
    if passed != [True]:
        print(f"without a mistake these fail already: {' '.join(tests)}")
        return 2
    limit = 20 + 10 * (time.monotonic() - since)
    noticing: Counter[str] = Counter()

    def tell(trial: Trial, noticed: str) -> None:
        noticing[noticed] += 1
        if trial.mistake is not None and (arguments.verbose or not noticed):
            why = f"\n    noticed by {noticed}" if noticed else ""
            print(f"\n{trial.mistake.where}  {trial.mistake.what}{why}", flush=True)
        else:
            print(".", end="", flush=True)

    run(trials, arguments.j, limit, tell)
    survived = noticing.pop("", 0)
    print("\n\nfirst noticed by")
    for test, times_over in noticing.most_common():
        print(f"{times_over:6} {test}")
    return _tally(noticing.total() + survived, survived)


def _tally(tried: int, survived: int) -> int:
    noticed = tried - survived
    print(f"\n{tried} mistakes, {noticed} noticed ({noticed / max(1, tried):.1%}), {survived} survived")
    return 0


def _trials(arguments: argparse.Namespace) -> list[Trial]:
    trials = []
    if arguments.what == "sheets":
        tests = arguments.tests or SHEET_TESTS
        trials = [Trial(mistake, tests, mistake.make) for mistake in in_sheets()]
    for path in arguments.paths:
        files = sorted(path.resolve().rglob("*.py")) if path.is_dir() else [path.resolve()]
        for file in files:
            tests = arguments.tests or tests_for(file)
            trials += [Trial(mistake, tests, mistake.make) for mistake in in_code(file)]
    wanted = re.compile(arguments.only)
    trials = [t for t in trials if t.mistake and wanted.search(f"{t.mistake.where}  {t.mistake.what}")]
    if arguments.sample is not None and arguments.sample < len(trials):
        trials = random.Random(arguments.seed).sample(trials, arguments.sample)
    return trials


if __name__ == "__main__":
    sys.exit(main())
