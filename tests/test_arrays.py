"""Arrays answer like single values, element by element, whatever some of the elements are.

What single values must answer is settled elsewhere: here each element of an array is compared with a call of its own.
"""

import ast
import math
import re
from collections.abc import Callable
from typing import Any

import numpy
import pytest

import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
from brewfuncs import arrays
from brewfuncs.catalogue import CATALOGUE, Function, find
from brewfuncs.errors import BadInput, BrewError, NotListed, OutOfRange

LIFTING = [f for f in CATALOGUE.values() if any(p.whole is None and not p.variable and not p.is_text for p in f.params)]
ROUNDING = 1e-12  # numpy's exp and log may end in another last bit than math's, and solvers carry that along


def example(function: Function) -> list[Any]:
    match = re.search(r"^ *>>> \w+\((.*)\)$", function.doc, re.MULTILINE)
    assert match is not None
    values = list(ast.literal_eval(f"({match[1]},)")) if match[1] else []
    return values + [None] * (len(function.params) - len(values))


def numbers(function: Function, values: list[Any]) -> list[int]:
    """The places of arguments that lift and are numbers in the example."""
    return [
        i
        for i, p in enumerate(function.params)
        if p.whole is None and not p.variable and not p.is_text and values[i] is not None
    ]


def each_on_its_own(function: Function, values: list[Any], lifted: list[int], count: int) -> list[Any]:
    answers = []
    for k in range(count):
        try:
            answers.append(function.scalar([v[k] if i in lifted else v for i, v in enumerate(values)]))
        except BrewError:
            answers.append(math.nan)
    return answers


def by_name(function: Function) -> str:
    return function.name


@pytest.mark.parametrize("function", LIFTING, ids=by_name)
@pytest.mark.parametrize("as_array", [numpy.array, lambda rows: numpy.array(rows, object)], ids=["floats", "objects"])
def test_good_and_bad_elements(function: Function, as_array: Callable[[list[Any]], Any]) -> None:
    """One argument at a time takes a good value, its limits, and what lies past them, over more than one block."""
    values = example(function)
    for i in numbers(function, values):
        limits, good = function.params[i].limits, function.params[i].number(values[i])
        some = [good, limits.low, limits.high, good, limits.low - 1, math.nan, math.inf, 0.0]
        rows = some * 2 + [good] * arrays._BLOCK + some
        given = [as_array(rows) if k == i else v for k, v in enumerate(values)]
        answers, bad = arrays.marked(function, given, [i])
        edges = [*range(20), *range(len(rows) - 10, len(rows))]
        alone = each_on_its_own(function, [rows if k == i else v for k, v in enumerate(values)], [i], len(rows[:20]))
        alone += each_on_its_own(function, [rows[-10:] if k == i else v for k, v in enumerate(values)], [i], 10)
        numpy.testing.assert_allclose(answers[edges], alone, rtol=ROUNDING, atol=0)
        assert bad is not None
        assert numpy.array_equal(bad, numpy.isnan(answers))


def test_a_million_rows_with_one_bad_element_say_which() -> None:
    minutes = numpy.full(1_000_000, 60.0)
    minutes[700_000] = 241
    with pytest.raises(
        OutOfRange, match=r"^1 of 1000000 elements; the first, at \[700000\]: minutes 241 min is outside"
    ):
        find("HOP_UTILIZATION").call(minutes)


def test_names_quantities_and_blanks_along_a_column() -> None:
    """Four models in one call, masses as text; a name that isn't listed matters only in a row with hops in it."""
    bitterness = find("HOP_BITTERNESS")
    methods = ["tinseth", "KINETIC", " rager table ", "nobody", "nobody", "", None]
    masses = ["28 g", "1 oz", 28, "0 g", "28 g", 28.0, " "]
    values = [
        numpy.array(masses, object), 0.055, numpy.array([60.0] * 7), 20.0, None, numpy.array(methods, object), None,
    ]  # fmt: skip
    answers, bad = arrays.marked(bitterness, values, [0, 2, 5])
    alone = each_on_its_own(bitterness, values, [0, 2, 5], 7)
    numpy.testing.assert_allclose(answers, alone, rtol=ROUNDING, atol=0)
    assert alone[3] == alone[6] == 0
    assert bad.tolist() == [False, False, False, False, True, False, False]
    with pytest.raises(NotListed, match=r'^1 of 7 elements; the first, at \[4\]: method "nobody" is not listed'):
        bitterness.call(*values)


def test_a_value_for_all_that_is_out_of_range_is_named_at_once_unless_nothing_counts() -> None:
    bitterness = find("HOP_BITTERNESS").call
    assert bitterness(numpy.zeros(3), 5.5, 60, 20).tolist() == [0, 0, 0]
    assert bitterness(0, numpy.array([5.5, 0.05]), 60, 20).tolist() == [0, 0]
    with pytest.raises(OutOfRange, match=r"^1 of 2 elements; the first, at \[1\]: alpha 5.5 is over 1"):
        bitterness(numpy.array([0.0, 28.0]), 5.5, 60, 20)


def test_columns_of_names_alone() -> None:
    cautions = find("SANI_PLASTIC").call
    plastics = numpy.array(["polypropylene", "polycarbonate"])
    answers = cautions(plastics, "alcohol", "contact")
    assert answers.tolist() == [cautions(p, "alcohol", "contact") for p in plastics.tolist()]
    convert = find("UNIT_CONVERT").call
    assert convert(numpy.array([1.0, 2.0]), numpy.array(["gal", "hL"]), "L").tolist() == [3.785411784, 200.0]  # exact
    with pytest.raises(BadInput, match=r'^1 of 2 elements; the first, at \[1\]: "kg" is a mass and "L" a volume'):
        convert(numpy.array([1.0, 2.0]), numpy.array(["gal", "kg"]), "L")


def test_a_text_that_is_not_there_is_none() -> None:
    """As Marked says: a NaN among texts would be a number to whoever reads them."""
    plastics = numpy.array(["polypropylene", "cheese"], object)
    answers, bad = arrays.marked(find("SANI_PLASTIC"), [plastics, "alcohol", "contact"], [0])
    assert bad.tolist() == [False, True]
    assert answers[1] is None


def test_an_argument_that_is_another_left_out_in_some_rows() -> None:
    swap = find("HOP_SWAP_MASS").call
    mixed = swap(30.0, 60.0, 30.0, "tinseth", numpy.array([1.05, 1.06]), numpy.array([None, 1.05], object))
    assert mixed.tolist() == pytest.approx([swap(30, 60, 30, "tinseth", 1.05), swap(30, 60, 30, "tinseth", 1.06, 1.05)])


def test_shapes() -> None:
    boil_off = find("BOIL_OFF").call
    rates, minutes = numpy.array([[4.0], [5.0]]), numpy.array([30.0, 60.0, 90.0])
    assert boil_off(rates, minutes).tolist() == [[boil_off(r, m) for m in (30, 60, 90)] for r in (4, 5)]
    assert boil_off(numpy.empty((0, 3)), 60).shape == (0, 3)
    with pytest.raises(BadInput, match="BOIL_OFF"):
        boil_off(numpy.ones(2), minutes)


def test_the_arguments_stay_as_they_were() -> None:
    values = numpy.array([1.0, 2.0])
    values.setflags(write=False)
    answer = find("UNIT_CONVERT").call(values, "L", "L")
    answer[0] = 7
    assert values.tolist() == [1.0, 2.0]


@pytest.mark.parametrize("rows", [4, 40_000])
def test_an_argument_left_out_takes_an_arrays_elements(rows: int) -> None:
    """Also where names vary from row to row, and where there is more than one block."""
    function = find("HOP_SWAP_MASS")
    gravities = numpy.linspace(1.03, 1.09, rows)
    methods = numpy.array(["tinseth", "rager table"] * (rows // 2), object)
    values = [30.0, 60.0, 30.0, methods, gravities, None, None]
    answers, bad = arrays.marked(function, values, [3, 4])
    assert bad is None
    for row in (0, 1, rows - 2, rows - 1):
        expected = function.call(30, 60, 30, methods[row], float(gravities[row]))
        assert answers[row] == pytest.approx(expected, rel=1e-12)
    alone, bad = arrays.marked(function, [30.0, 60.0, 30.0, "tinseth", gravities, None, None], [4])
    assert bad is None
    assert alone == pytest.approx(numpy.full(rows, function.call(30, 60, 30)), rel=1e-12)
