"""The functions as LAMBDA names: another engine opens a workbook with them and answers as Python does."""

import math
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from brewfuncs import cells
from brewfuncs.catalogue import CATALOGUE, Function
from brewfuncs.errors import BrewError
from brewfuncs.translate.names import COMMENT, LONGEST, lambda_name, named, takes_ranges
from brewfuncs.translate.terms import Term, translated, uses_of
from brewfuncs.xlsx.formula import tokenize
from tests import parity, random_calls
from tests.ironcalc_host import Ironcalc

# constants have the 15 digits that worksheets read, not 17, and other libraries' exp and log come on top
RELATIVE, ABSOLUTE = 1e-11, 2e-12
HALVED = 1e-9  # random calls at the ends of ranges: a root found by 48 halvings of an interval far larger than itself


def _arguments(case: parity.Case) -> tuple[Function, list[Any]]:
    found = re.fullmatch(r"=(?:INDEX\()?(\w+\(.*?\))(?:,\d+(?:,\d+)?\))?", case.formula)
    assert found is not None, case
    return CATALOGUE[found[1].partition("(")[0]], parity.arguments_of("=" + found[1])


def _texts_for_numbers(case: parity.Case) -> bool:
    """Whether a number is given as a text that isn't blank: names read no quantities."""
    function, arguments = _arguments(case)
    for p, argument in zip(function.params, arguments, strict=False):
        given = [c for row in argument for c in row] if isinstance(argument, list) else [argument]
        if not p.is_text and any(type(c) is str and c.strip() and c.strip() not in (p.table or ()) for c in given):
            return True
    return False


def _range_not_taken(case: parity.Case) -> bool:
    """Whether a range stands where names take one value: for UNIT_CONVERT's units, for what a sum over ranges holds."""
    function, arguments = _arguments(case)
    return any(
        isinstance(a, list) and not p.whole and not takes_ranges(function, p)
        for p, a in zip(function.params, arguments, strict=False)
    )


@pytest.fixture(scope="module")
def host(tmp_path_factory: pytest.TempPathFactory) -> Ironcalc:
    return Ironcalc(tmp_path_factory.mktemp("names"))


def test_every_case_gives_what_python_gives(host: Ironcalc) -> None:
    listed = [c for c in parity.cases() if "BREW_REASON" not in c.formula and "error within a range" not in c.id]
    before, different = host.counted, []
    for case, ours, theirs in zip(
        listed, parity.run(parity.python, listed), parity.run(host.compute, listed), strict=True
    ):
        if _range_not_taken(case):
            if not isinstance(theirs, parity.Code):
                different.append(f"{case.formula} gives {theirs!r}, not an error")
        elif _texts_for_numbers(case):
            if "INDEX(" not in case.formula and not isinstance(theirs, parity.Code):
                different.append(f"{case.formula} gives {theirs!r}, not an error")
        elif not _agree(ours, theirs):
            different.append(f"{case.id}: {case.formula} gives {theirs!r}, Python {ours!r}")
    assert different[:20] == []
    assert host.counted - before == len(listed)


def _agree(ours: Any, theirs: Any, relative: float = RELATIVE) -> bool:
    if isinstance(ours, float):
        return isinstance(theirs, float) and math.isclose(ours, theirs, rel_tol=relative, abs_tol=ABSOLUTE)
    return type(ours) is type(theirs) and bool(ours == theirs)


def test_quantity_text_is_refused(host: Ironcalc) -> None:
    assert parity.run(
        host.compute, [parity.Case("", '=BOIL_OFF("4.5 L/h",30)'), parity.Case("", "=BOIL_OFF(4.5,30)")]
    ) == [
        parity.VALUE,
        2.25,
    ]


def test_random_calls_with_every_optional_argument_given_and_left_out(host: Ironcalc) -> None:
    formulas, answers = [], []
    seen: dict[tuple[str, str], set[bool]] = {}
    for name, arguments in random_calls.calls(25, seed=11, texts=0):
        given = [_plainly(a) for a in arguments]
        if name not in named() or name == "BREW_SOURCE" or None in given:
            continue
        for p, argument in zip(CATALOGUE[name].params, given, strict=True):
            seen.setdefault((name, p.name), set()).add(argument is cells.OMITTED)
        answer = cells.apply(CATALOGUE[name], given)
        formulas.append("=" + parity.call(name, [parity.OMITTED if a is cells.OMITTED else a for a in given]))
        answers.append(parity.Code(answer.code) if isinstance(answer, BrewError) else answer)
    before, got = host.counted, host.compute(formulas)
    different = [
        f"{formula} gives {theirs!r}, Python {ours!r}"
        for formula, ours, theirs in zip(formulas, answers, got, strict=True)
        if not (_agree(ours, theirs, HALVED) or (isinstance(ours, parity.Code) and isinstance(theirs, parity.Code)))
    ]
    assert different[:20] == []
    assert host.counted - before == len(formulas) > 1_000
    optional = {(n, p.name) for n in named() if n != "BREW_SOURCE" for p in CATALOGUE[n].params if not p.required}
    assert [key for key in optional if seen[key] != {True, False}] == []  # each was given, and left out


def _plainly(argument: Any) -> Any:
    """With the digits that a formula keeps; None where there is quantity text."""
    if isinstance(argument, float):
        return float(f"{argument:.12g}") if abs(argument) > 1e-290 else 0.0
    if isinstance(argument, list):
        rows = [[_plainly(c) for c in row] for row in argument]
        return None if any(c is None for row in rows for c in row) else rows
    return None if isinstance(argument, str) and argument[:1] in "0123456789-." else argument


# -- what Excel wants ------------------------------------------------------------------------------------------------

_CELL_LIKE = re.compile(r"(?:[a-z]{1,3}\d+|r\d*c?\d*|c\d*)", re.IGNORECASE)
_PREFIXED = {"LAMBDA", "LET", "ISOMITTED", "REDUCE", "SEQUENCE", "XMATCH"}
_BARE = {"IF", "IFERROR", "TRIM", "SUM", "ROWS", "COLUMNS", "EXP", "LN", "LOG10", "SQRT", "TANH", "INT", "ABS", "MID",
         "SUBSTITUTE", "EXACT", "FIND", "LOWER", "INDEX", "CHOOSE"}  # fmt: skip


@pytest.mark.parametrize("name", named())
def test_excel_can_take_the_name(name: str) -> None:
    made = lambda_name(name)
    assert len(made.text) <= LONGEST
    assert 0 < len(made.comment) <= COMMENT
    assert ElementTree.fromstring(f"<a>{made.text.replace('&', '&amp;').replace('<', '&lt;')}</a>").text == made.text
    pieces = tokenize(made.text)
    assert sum(kind in ("func", "open") for kind, _ in pieces) == sum(kind == "close" for kind, _ in pieces)
    for kind, text in pieces:
        assert kind != "other", text
        if kind == "text":
            assert len(text.replace('""', '"')) <= 257
        if kind in ("func", "name"):
            prefix, _, bare = text.rstrip("(").rpartition(".")
            if prefix == "_xlfn":
                assert bare in _PREFIXED
            elif prefix in ("_xlpm", "_xlop"):
                assert not _CELL_LIKE.fullmatch(bare), bare
                assert bare.upper() not in CATALOGUE
                assert len(bare) < 255
            else:
                assert text.rstrip("(") in _BARE | {"TRUE", "FALSE"}, text


def test_the_page_lists_where_no_range_is_taken() -> None:
    listed = {
        name
        for name in named()
        if any(not p.whole and not takes_ranges(CATALOGUE[name], p) for p in CATALOGUE[name].params)
    }
    page = (Path(__file__).parent.parent / "docs/names.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (`[A-Z_`, ]+`) \| one ", page, re.MULTILINE)
    assert {name for row in rows for name in re.findall(r"[A-Z_]+", row)} == listed


def test_a_text_that_a_table_holds_is_not_taken_for_a_function() -> None:
    assert '"_xlfn' not in "".join(lambda_name(name).text for name in named())


def test_only_brew_reason_is_left_out() -> None:
    assert set(CATALOGUE) - set(named()) == {"BREW_REASON"}


def test_loops_in_another_engine_end_where_pythons_end() -> None:
    """The functions with loops are among those compared above, or the comparison would say little."""
    loops = {
        f.name
        for f in CATALOGUE.values()
        if f.name in named()
        and not any(p.is_text and not p.names for p in f.params)
        and any(t.op in ("bisect", "repeated") for t in uses_of(translated(f)) if isinstance(t, Term))
    }
    assert {"DMS_BOIL_MINUTES", "HOP_ISO_YIELD_COOLING", "SANI_PH", "SANI_DRY_ACID"} <= loops
