"""Kernels written down as terms: all of them, and where one can't be, the message says where."""

import re
from typing import Annotated, Any

import pytest

import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
from brewfuncs.catalogue import CATALOGUE, AtLeast, Function, OneOf, WholeRange, _parameters
from brewfuncs.formulas import dms, numeric
from brewfuncs.translate.javascript import takes_free_text
from brewfuncs.translate.terms import Term, Untranslatable, translated
from brewfuncs.units import Litre, Number, Word


def _function(kernel: Any) -> Function:
    return Function(
        kernel, _parameters(kernel), None, source="s", equation="", revision=1, relations=(), zero_when="", no_answer=""
    )


@pytest.mark.parametrize("function", CATALOGUE.values(), ids=str)
def test_every_kernel_can_be_translated(function: Function) -> None:
    if not takes_free_text(function):
        translated(function)  # raises Untranslatable with file and line


def test_only_lookups_in_the_declarations_take_free_text() -> None:
    """Those are written by hand in each printer; a new one has to be."""
    free = {f.name: f for f in CATALOGUE.values() if takes_free_text(f)}
    assert free.keys() == {"UNIT_CONVERT", "BREW_REASON", "BREW_SOURCE"}
    for name, argument in (("UNIT_CONVERT", "from_unit"), ("BREW_REASON", "function_name"), ("BREW_SOURCE", "f")):
        with pytest.raises(Untranslatable, match=rf"{name}: {argument}\w* may be any text"):
            translated(free[name])


def test_a_kernel_that_branches_is_told_with_file_and_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("brewfuncs.translate.terms._FORMULAS", str(__file__).rpartition("/")[0])

    def kernel(volume: Annotated[Litre, AtLeast(0), "v"]) -> Any:
        if volume > 3:
            return volume
        return 0

    line = kernel.__code__.co_firstlineno + 1
    with pytest.raises(Untranslatable, match=rf"test_translate\.py:{line}: KERNEL can't be translated: .*branches"):
        translated(_function(kernel))
    assert numeric.recorder is None  # and kernels compute again
    assert dms.dms_half_life(94) == pytest.approx(76)


def test_an_element_of_a_range_outside_of_a_sum_is_refused() -> None:
    def kernel(volumes: Annotated[Litre, WholeRange(), AtLeast(0), "v"]) -> Any:
        return next(iter(volumes))

    with pytest.raises(Untranslatable, match="outside of sum"):
        translated(_function(kernel))


def test_what_words_change_is_a_choice_by_as_few_of_them_as_can_be() -> None:
    def kernel(
        x: Annotated[Number, AtLeast(0), "x"],
        one: Annotated[Word, OneOf("a", "b"), "1"] = "a",
        other: Annotated[Word, OneOf("c", "d", "e"), "2"] = "c",
    ) -> Any:
        return x * {"c": 1.5, "d": 1.5, "e": 2.5}[other]

    term = translated(_function(kernel))
    assert isinstance(term, Term)
    assert re.sub(r"\s", "", repr(term)) == "*(x,choice(('other',),(3,),(0,0,1),1.5,2.5))"


def test_equal_loops_are_one() -> None:
    def kernel(x: Annotated[Number, AtLeast(0), "x"]) -> Any:
        return numeric.bisect(lambda y: y - x, 0, 1) + numeric.bisect(lambda z: z - x, 0, 1)

    term = translated(_function(kernel))
    assert isinstance(term, Term)
    assert term.args[0] is term.args[1]
    assert isinstance(term.args[0], Term)
    assert term.args[0].op == "bisect"
