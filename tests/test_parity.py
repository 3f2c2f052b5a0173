"""The hosts that run here answer alike: value by value, error by error, sentence by sentence."""

from collections import Counter
from collections.abc import Sequence
from typing import Any, ClassVar

from brewfuncs.catalogue import CATALOGUE, Function
from brewfuncs.hosts import engine
from brewfuncs.hosts.rewrite import Rewriter
from tests import parity


class Counted(engine.Calculation):
    """The engine, counting what it calls."""

    calls: ClassVar[Counter[str]] = Counter()

    def _call(self, function: Function, *arguments: Any) -> Any:
        self.calls[function.name] += 1
        return super()._call(function, *arguments)


def in_the_engine(formulas: Sequence[str]) -> list[Any]:
    """One column of a sheet, as a workbook is worked out."""
    calculation = Counted()
    calculation.add_sheet("S")
    rewriter = Rewriter(engine.catalogue(), (), (), ("S",))
    for row, formula in enumerate(formulas, 1):
        ready = rewriter.rewrite(formula.removeprefix("="), "S", row, 1, ordinary=True)
        calculation.set_formula("S", row, 1, "=" + ready)
    calculation.calculate()
    return [calculation.value("S", row, 1) for row in range(1, len(formulas) + 1)]


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
    assert parity.differences(in_the_engine, host="engine", calls=Counted.calls.copy) == []


def test_a_host_that_is_passed_by_is_found_out() -> None:
    """Right answers that didn't come through the host are differences, and so is a call that no case makes."""
    passed_by = parity.differences(parity.python, host="engine", calls=Counter)
    assert len(passed_by) == len(CATALOGUE)
    assert all("was called 0 times" in difference for difference in passed_by)
    due = sum((parity.called(case.formula) for case in parity.cases()), Counter(BOIL_OFF=1))
    counts = iter([Counter(), due])
    (once_more,) = parity.differences(parity.python, host="engine", calls=lambda: next(counts))
    assert once_more.startswith("BOIL_OFF was called")
