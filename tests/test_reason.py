"""BREW_REASON gives the very sentence that Python raises, and "" where a call is fine."""

from typing import Any

import numpy
import pytest

from brewfuncs import cells
from brewfuncs.catalogue import CATALOGUE, Function, find
from brewfuncs.errors import BrewError, CellError, NotListed
from tests import parity
from tests.test_conventions import COMPUTING, base, changed

brew_reason = find("BREW_REASON").call
each_function = pytest.mark.parametrize("function", COMPUTING, ids=lambda f: f.name)


def raised(function: Function, arguments: list[Any]) -> str:
    try:
        function.call(*arguments)
    except BrewError as error:
        return str(error)
    return ""


def wrong_calls(function: Function) -> list[list[Any]]:
    """Every argument wrong in every way the parity list knows, and arrays with one bad element."""
    found = []
    for i, p in enumerate(function.params):
        for _, _, bad in parity.bad_values(function, p):
            rows = base(function)[i]
            found.append(changed(base(function), (i, [[bad], *rows[1:]] if p.whole else bad)))
            if not p.whole:
                found.append(changed(base(function), (i, [rows, bad, bad])))
                found.append(changed(base(function), (i, numpy.array([rows, bad], dtype=object))))
        if p.required:
            found.append(changed(base(function), (i, None)))
    return found


@each_function
def test_nothing_to_say_about_a_sound_call(function: Function) -> None:
    assert brew_reason(function.name, *base(function)) == ""
    in_cells = [cells.OMITTED if a is None else a for a in base(function)]
    assert cells.apply(find("BREW_REASON"), [function.name, *in_cells]) == ""
    assert cells.apply(find("BREW_REASON"), [f" {function.name.lower()} ", *in_cells]) == ""


@each_function
def test_the_sentence_python_raises(function: Function) -> None:
    for arguments in wrong_calls(function):
        sentence = raised(function, arguments)
        assert sentence
        assert brew_reason(function.name, *arguments) == sentence
        lifted = any(hasattr(a, "dtype") or (isinstance(a, list) and not isinstance(a[0], list)) for a in arguments)
        if not lifted:
            in_cells = [function.name, *(cells.OMITTED if a is None else a for a in arguments)]
            assert cells.apply(find("BREW_REASON"), in_cells) == sentence


@each_function
def test_an_array_gets_its_sentences_element_by_element(function: Function) -> None:
    for i, p in enumerate(function.params):
        bad = next(iter(parity.bad_values(function, p)), None)
        if p.whole or bad is None or base(function)[i] is None:
            continue
        arguments = changed(base(function), (i, [[base(function)[i]], [bad[2]]]))
        given = [function.name, *(cells.OMITTED if a is None else a for a in arguments)]
        sentence = raised(function, changed(base(function), (i, bad[2])))
        assert cells.apply(find("BREW_REASON"), given) == [[""], [sentence]]


def test_too_few_and_too_many_arguments() -> None:
    assert brew_reason("BOIL_OFF") == "boil_off_rate is missing"
    assert brew_reason("BOIL_OFF", 4.5) == "minutes is missing"
    assert brew_reason("BOIL_OFF", 4.5, 30, 1) == "BOIL_OFF takes at most 2 arguments, not 3"
    assert cells.apply(find("BREW_REASON"), ["BOIL_OFF", 4.5, 30.0, 1.0]) == "BOIL_OFF takes at most 2 arguments, not 3"


def test_about_a_function_that_is_not_there() -> None:
    with pytest.raises(NotListed, match='there is no function "HOP_MAS"; near: HOP_MASS'):
        brew_reason("HOP_MAS", 1)
    assert isinstance(cells.apply(find("BREW_REASON"), ["HOP_MAS", 1.0]), NotListed)
    for nothing in (cells.BLANK, cells.OMITTED, "", " ", 0.0):
        answer = cells.apply(find("BREW_REASON"), [nothing, 1.0])
        assert (answer.code, str(answer)) == ("#VALUE!", "function_name is missing")
    assert cells.apply(find("BREW_REASON"), []).code == "#VALUE!"


def test_about_several_functions_at_once() -> None:
    names = [["BOIL_OFF"], ["HOP_MAS"], ["BOIL_TEMP"]]
    answers = cells.apply(find("BREW_REASON"), [names, 4.5])
    assert answers[0] == ["minutes is missing"]
    assert isinstance(answers[1][0], NotListed)
    assert answers[2] == [""]
    assert cells.apply(find("BREW_REASON"), [[["BOIL_OFF"]], [[4.5], [-1.0]], 30.0]) == [
        [""],
        ["boil_off_rate -1 L/h is not 0 L/h or more"],
    ]
    both = cells.apply(find("BREW_REASON"), [names, [[4.5], [5.0]], 30.0])
    assert (both.code, str(both)[:27]) == ("#VALUE!", "function_name is a range an")
    assert list(brew_reason(["BOIL_OFF", "BOIL_TEMP"], 4.5)) == ["minutes is missing", ""]


def test_error_values_pass_through() -> None:
    error = CellError("#DIV/0!")
    assert cells.apply(find("BREW_REASON"), ["BOIL_OFF", error, 30.0]) is error
    assert cells.apply(find("BREW_REASON"), [error, 4.5, 30.0]) is error


def test_about_itself_and_about_texts() -> None:
    assert brew_reason("BREW_SOURCE", "HOP_MASS") == ""
    assert brew_reason("BREW_SOURCE", "HOP_MAS").startswith("there is no function")
    assert brew_reason("BREW_REASON", "HOP_MASS", 1) == ""
    assert brew_reason("SANI_PLASTIC", "POM", "dollop", "dried").startswith('chemistry "dollop"')


def test_sentences_fit_a_cell_and_are_sentences() -> None:
    """Shorter than the 255 characters that formulas may hold as text, so that they can be carried on as values."""
    for function in COMPUTING:
        for arguments in wrong_calls(function):
            sentence = raised(function, arguments)
            assert "\n" not in sentence, sentence
            assert len(sentence) < 255, (len(sentence), sentence)


def test_every_source_is_short_enough_for_a_formula() -> None:
    for name in CATALOGUE:
        text = find("BREW_SOURCE").call(name)
        assert len(text) < 256
        assert text.endswith("; revision 1") or text[-1].isdigit()


def test_a_range_of_one_cell_is_asked_for_as_that_cell() -> None:
    """One name in a range gives one sentence; two give a range of them."""
    reason = find("BREW_REASON")
    sentence = "minutes -1 min is outside 0 to 600 min"
    assert cells.apply(reason, [[["BOIL_OFF"]], 4.0, -1.0]) == sentence
    assert cells.apply(reason, [[["BOIL_OFF"], ["BOIL_OFF"]], 4.0, -1.0]) == [[sentence], [sentence]]
    assert cells.apply(reason, [[["BOIL_OFF", "BOIL_OFF"]], 4.0, -1.0]) == [[sentence, sentence]]


def test_too_many_arguments_are_told_unless_any_number_is_taken() -> None:
    assert "2" in cells.reason(find("BOIL_OFF"), [4.0, 30.0, 1.0])
    assert cells.reason(find("BREW_REASON"), ["HOP_BITTERNESS", 28, 0.055, 60, 20, 1.05]) == ""
