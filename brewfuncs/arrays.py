"""A worksheet function over numpy arrays: whole columns at numpy's speed, checked element by element.

The kernel sees a block of the columns at a time, small enough that what it makes on the way stays in the processor's
cache. Long arrays spend their time on memory rather than arithmetic, so this pays for all the checks.
numpy is never imported for its own sake: an array argument is the sign that it is there already.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from itertools import count
from typing import TYPE_CHECKING, Any, NamedTuple

from .errors import BadInput, BrewError, OutOfRange, first_of
from .units import from_pint

if TYPE_CHECKING:  # the catalogue calls this module, not the other way round
    from .catalogue import Function, Parameter

__all__ = ["Marked", "call", "distinct", "error_at", "marked"]

_BLOCK = 1 << 15  # elements: 256 kB a column


class Marked(NamedTuple):
    """Answers, and where there are none: NaN there (None among texts), and True in `bad`."""

    answers: Any
    bad: Any  # an array of bool; None where every element has its answer


def call(function: Function, values: Sequence[Any], lifted: Sequence[int]) -> Any:
    """The answers; raises where any element has none, naming how many and the first."""
    answers, bad = marked(function, values, lifted)
    if bad is None:
        return answers
    at = sys.modules["numpy"].unravel_index(bad.argmax(), bad.shape)
    first = error_at(function, values, lifted, at, bad.shape)
    raise first_of(str([int(i) for i in at]), first, int(bad.sum()), bad.size)


def error_at(
    function: Function, values: Sequence[Any], lifted: Sequence[int], at: Sequence[int], shape: Sequence[int]
) -> BrewError:
    """Why the element at that place has no answer."""
    one = list(values)
    for i in lifted:
        one[i] = sys.modules["numpy"].broadcast_to(_array(function.params[i], values[i]), shape)[tuple(at)]
    try:
        function.scalar(one)
    except BrewError as error:
        return error
    return OutOfRange(function.no_answer_sentence)  # a hair of rounding, only in arrays


def marked(function: Function, values: Sequence[Any], lifted: Sequence[int]) -> Marked:
    """The answer for each element of those arguments that are `lifted`: arrays; marks the elements without one.

    Raises the BrewError of an argument that stands for all elements, and BadInput for arrays that don't fit together.
    """
    numpy = sys.modules["numpy"]
    params, values, lifted = function.params, list(values), list(lifted)
    for i, parameter in enumerate(params):
        if parameter.same_as and values[i] is None:  # an array too where the other is one
            values[i] = values[function.index[parameter.same_as]]
            lifted += [i] * (function.index[parameter.same_as] in lifted)
    arrays = {i: _array(params[i], values[i]) for i in lifted}
    try:
        shape = numpy.broadcast_shapes(*(array.shape for array in arrays.values()))
    except ValueError as error:
        raise BadInput(f"{function.name}: {error}") from None
    counting = function.index.get(function.zero_when, -1)
    if counting >= 0 and counting not in arrays and function.is_empty(values[counting]):
        return Marked(numpy.zeros(shape), None)
    columns = list(values)
    for i, array in arrays.items():
        read = array if params[i].is_text else _numbers(function, params[i], array)
        columns[i] = numpy.broadcast_to(read, shape).reshape(-1)
    answers, bad = numpy.empty(shape, object if function.gives_text else float), None
    try:
        columns = function.read(columns, arrays)
        for i, parameter in enumerate(params):
            if parameter.same_as and i in arrays and arrays[i].dtype == object:
                left_out = numpy.equal(numpy.broadcast_to(arrays[i], shape), None).reshape(-1)
                columns[i] = numpy.where(left_out, columns[function.index[parameter.same_as]], columns[i])
        bad = _compute(function, columns, lifted, answers.reshape(-1))
    except BrewError:  # of an argument that stands for all elements
        if counting not in arrays:
            raise
        bad = numpy.ones(answers.size, bool)
    if bad is None:
        return Marked(answers, None)
    bad = bad.reshape(shape)
    answers[bad] = None if function.gives_text else math.nan
    if counting in arrays:  # the elements that don't count don't mind what else there is
        zero = (columns[counting] == 0).reshape(shape)
        answers[zero], bad[zero] = 0.0, False
    return Marked(answers, bad if bad.any() else None)


# -- reading ---------------------------------------------------------------------------------------------------------


def _array(parameter: Parameter, value: Any) -> Any:
    """The argument as an array, without losing units, masks and the nanoseconds of dates on the way."""
    numpy = sys.modules["numpy"]
    if hasattr(value, "magnitude"):
        value = from_pint(value, parameter.quantity)
    if hasattr(value, "filled"):
        value = value.astype(float).filled(math.nan)
    try:
        array = numpy.asarray(value)
    except ValueError:
        raise BadInput(f"{parameter.name} has rows of different length") from None
    return array.astype("datetime64[us]") if array.dtype.kind == "M" else array


def _numbers(function: Function, parameter: Parameter, array: Any) -> Any:
    """An array as floats; NaN where an element can't be read as one."""
    numpy = sys.modules["numpy"]
    if array.dtype.kind in "fiub":
        return array.astype(float, copy=False)

    def number(value: Any) -> Any:
        if parameter.name == function.zero_when and function.is_empty(value):
            return 0.0
        try:
            return parameter.read(value)
        except BrewError:
            return None

    different, codes = distinct(array)
    return numpy.array([number(value) for value in different], float)[codes]


def _names(parameter: Parameter, array: Any) -> tuple[list[Any], Any]:
    """The names in an array as the kernel wants them, None for those it can't have, and which each element is."""
    different, codes = distinct(array)
    names: dict[Any, int] = {}

    def name(value: Any) -> Any:
        try:
            return parameter.read(value)
        except BrewError:
            return None

    numbers = [names.setdefault(name(value), len(names)) for value in different]
    return list(names), sys.modules["numpy"].array(numbers)[codes]


def distinct(array: Any) -> tuple[list[Any], Any]:
    """The different values of an array, and for each element which of them it is: columns of text repeat themselves."""
    numpy = sys.modules["numpy"]
    elements = array.reshape(-1).tolist()
    first: dict[Any, int] = {}  # value -> where it stands first
    try:
        codes = numpy.fromiter(map(first.setdefault, elements, count()), numpy.intp, len(elements))
    except TypeError:  # something that can't be looked up
        return elements, numpy.arange(len(elements)).reshape(array.shape)
    number = numpy.empty(len(elements), numpy.intp)
    number[list(first.values())] = numpy.arange(len(first))
    return list(first), number[codes].reshape(array.shape)


# -- computing: columns are flat from here on; answers are filled in, and a mask of the missing or None returned -----


def _compute(function: Function, columns: list[Any], lifted: Sequence[int], answers: Any) -> Any:
    """All elements; where a name varies, those that share it at once."""
    numpy = sys.modules["numpy"]
    named = [i for i in lifted if function.params[i].is_text]
    if not named or not answers.size:
        return _in_blocks(function, columns, lifted, answers)
    numeric = [i for i in lifted if i not in named]
    bad = numpy.zeros(answers.size, bool)
    found = [_names(function.params[i], columns[i]) for i in named]
    kinds = numpy.zeros(answers.size, numpy.int64)
    for names, codes in found:
        kinds = kinds * len(names) + codes
    if kinds.max() < 1 << 16:
        kinds = kinds.astype(numpy.uint16)  # sorted ten times as fast
    order = numpy.argsort(kinds, kind="stable")
    for at in numpy.split(order, numpy.flatnonzero(numpy.diff(kinds[order])) + 1):
        part = [column[at] if i in numeric else column for i, column in enumerate(columns)]
        for i, (names, codes) in zip(named, found):
            part[i] = names[codes[at[0]]]
        if any(part[i] is None for i in named):
            bad[at] = True
            continue
        part_answers = answers[at]
        try:
            if numeric:
                missing = _in_blocks(function, part, numeric, part_answers)
                bad[at] = False if missing is None else missing
            else:
                part_answers[:] = function.compute(part)
        except BrewError:
            bad[at] = True
        answers[at] = part_answers
    return bad


def _in_blocks(function: Function, columns: list[Any], lifted: Sequence[int], answers: Any) -> Any:
    numpy, bad = sys.modules["numpy"], None
    with numpy.errstate(all="ignore"):
        for start in range(0, answers.size, _BLOCK):
            block = slice(start, start + _BLOCK)
            part = [column[block] if i in lifted else column for i, column in enumerate(columns)]
            missing = _block(function, part, lifted, answers[block])
            if missing is not None:
                bad = numpy.zeros(answers.size, bool) if bad is None else bad
                bad[block] = missing
    return bad


def _block(function: Function, columns: list[Any], lifted: Sequence[int], answers: Any) -> Any:
    numpy = sys.modules["numpy"]
    good: Any = True
    for i in lifted:
        column, limits = columns[i], function.params[i].limits
        low, high = limits.ends
        if not (low <= column.min() and column.max() <= high):
            good = good & (column >= low) & (column <= high)
    for relation in function.relations:
        holds = relation.holds(*(columns[function.index[name]] for name in relation[:2]))
        good = good if numpy.all(holds) else good & holds
    try:
        if function.gives_text:
            raise ValueError
        answers[:] = function.kernel(*columns)
        finite = numpy.isfinite(answers)
    except (BrewError, ArithmeticError, ValueError):
        finite = _one_by_one(function, columns, lifted, numpy.broadcast_to(good, answers.shape), answers)
    return None if good is True and finite.all() else ~(good & finite)


def _one_by_one(function: Function, columns: list[Any], lifted: Sequence[int], good: Any, answers: Any) -> Any:
    """For a kernel that has something to say about single elements, or gives texts; which ones have an answer."""
    has = good.copy()
    for k in good.nonzero()[0]:
        try:
            answers[k] = function.compute([float(c[k]) if i in lifted else c for i, c in enumerate(columns)])
        except BrewError:
            has[k] = False
    return has
