"""The hosts that run here answer alike: value by value, error by error, sentence by sentence."""

from collections.abc import Sequence
from typing import Any

from brewfuncs.catalogue import CATALOGUE
from brewfuncs.errors import BrewError
from brewfuncs.hosts import engine

from tests import parity


def in_the_engine(formulas: Sequence[str]) -> list[Any]:
    """One scratch sheet a formula, as `brewfuncs check` and the command line work them out."""
    found: list[Any] = []
    for formula in formulas:
        try:
            found.append(engine.evaluate(formula))
        except BrewError as error:
            found.append(error)
    return found


def test_the_list_covers_every_function() -> None:
    cases = parity.cases()
    assert len({case.id for case in cases}) == len(cases)
    for name in CATALOGUE:
        assert any(case.id.startswith(f"{name}:") and case.error for case in cases), name


def test_python_gives_the_error_that_each_mistake_must_give() -> None:
    answers = parity.run(parity.python)
    wrong = [
        f"{case.id}: {case.formula} gives {answer!r}, not {case.error!r}"
        for case, answer in zip(parity.cases(), answers, strict=True)
        if case.error is not None and answer != case.error
    ]
    assert wrong == []


def test_python_says_why() -> None:
    """Every error of ours has its sentence, every sound call none."""
    answers = dict(zip((case.id for case in parity.cases()), parity.run(parity.python), strict=True))
    for case in parity.cases():
        if case.id.endswith(", the sentence"):
            assert isinstance(answers[case.id], str), case
            assert not isinstance(answers[case.id], parity.Code), case
            assert answers[case.id], case


def test_examples_and_tables_give_numbers_or_texts() -> None:
    for case, answer in zip(parity.cases(), parity.run(parity.python), strict=True):
        if case.error is None and (case.id.endswith(": example") or ":" not in case.id):
            assert not isinstance(answer, parity.Code), case


def test_the_engine_agrees_with_python() -> None:
    assert parity.differences(in_the_engine, host="engine") == []
