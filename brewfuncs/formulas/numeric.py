"""exp, log and the like for floats and for arrays alike.

A kernel calls these by bare name, so that it runs without numpy on floats and at numpy's speed on arrays. numpy is
never imported for its own sake: an array argument is the sign that it is there already.

The same kernels are translated into other languages by calling them with terms instead of numbers (translate/). What a
term can't see from within, a loop and a sentence put together, goes through `bisect`, `repeated` and `filled`.
"""

import math
import sys
from typing import Any, Callable

__all__ = [
    "bisect", "decayed", "exp", "expm1", "filled", "floor", "log", "log1p", "log10", "maximum", "minimum", "only_if",
    "repeated", "sqrt", "tanh", "where",
]  # fmt: skip

_PLAIN = (float, int)
recorder: Any = None  # set while a kernel is translated: writes loops and sentences down instead of running them


def _library(value: Any) -> Any:
    """What has exp, log and where for such a value: numpy for an array; a term brings its own."""
    return getattr(value, "library", None) or sys.modules["numpy"]


def _either(name: str) -> Callable[[Any], Any]:
    of_float = getattr(math, name)

    def function(x: Any) -> Any:
        return of_float(x) if x.__class__ in _PLAIN else getattr(_library(x), name)(x)

    function.__name__ = name
    function.__doc__ = f"{name}(x) of a float or, element by element, of an array."
    return function


exp = _either("exp")
expm1 = _either("expm1")
log = _either("log")
log10 = _either("log10")
log1p = _either("log1p")
sqrt = _either("sqrt")
tanh = _either("tanh")
floor = _either("floor")


def where(condition: Any, then: Any, otherwise: Any) -> Any:
    """`then` where the condition holds, else `otherwise`; both are computed already."""
    if condition.__class__ is bool:
        return then if condition else otherwise
    return _library(condition).where(condition, then, otherwise)


def only_if(condition: Any, value: Any) -> Any:
    """`value` where the condition holds, else no answer (NaN, which callers turn into an error)."""
    return where(condition, value, math.nan)


def minimum(a: Any, b: Any) -> Any:
    """The smaller of the two, element by element; where `a` has no answer (NaN), neither has this."""
    return where(a >= b, b, a)


def maximum(a: Any, b: Any) -> Any:
    """The larger of the two, element by element; where `a` has no answer (NaN), neither has this."""
    return where(a <= b, b, a)


def decayed(rate: Any, time: Any) -> Any:
    """The integral of exp(-rate t) from 0 to `time`: (1 - exp(-rate time)) / rate, and `time` where the rate is 0."""
    # The quotient would round to `time`, or be 0 / 0; some spreadsheets take 1e-16 itself for 0.
    still = abs(rate * time) * 1e16 < 1
    return where(still, time, -expm1(-rate * time) / (rate + still))


def bisect(function: Callable[[Any], Any], low: Any, high: Any, steps: int = 60) -> Any:
    """Where an increasing `function` crosses 0 between low and high; halves the interval `steps` times.

    A fixed number of steps makes floats and arrays take the same path; 60 halvings end below rounding.
    """
    if recorder is not None:
        return recorder.bisect(function, low, high, steps)
    for _ in range(steps):
        middle = (low + high) / 2
        below = function(middle) < 0
        low, high = where(below, middle, low), where(below, high, middle)
    return (low + high) / 2


def repeated(times: int, step: Callable[..., Any], *state: Any) -> Any:
    """`state` after `step(n, *state)` has renewed it for n = 0, 1, ... up to `times` - 1.

    >>> repeated(5, lambda n, total, power: (total + power, 2 * power), 0, 1)
    (31, 32)
    """
    if recorder is not None:
        return recorder.repeated(times, step, *state)
    for n in range(times):
        state = step(n, *state)
    return state


def filled(template: str, **parts: str) -> str:
    """The sentence with its {parts} filled in, none of which holds braces."""
    if recorder is not None:
        return recorder.filled(template, **parts)  # type: ignore[no-any-return]
    return template.format(**parts)
