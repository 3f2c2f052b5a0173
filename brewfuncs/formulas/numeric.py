"""exp, log and the like for floats and for arrays alike.

A kernel calls these by bare name, so that it runs without numpy on floats and at numpy's speed on arrays. numpy is
never imported for its own sake: an array argument is the sign that it is there already.
"""

import math
import sys
from typing import Any, Callable

__all__ = [
    "bisect", "decayed", "exp", "expm1", "floor", "log", "log1p", "log10", "maximum", "minimum", "only_if", "sqrt",
    "tanh", "where",
]  # fmt: skip

_PLAIN = (float, int)


def _either(name: str) -> Callable[[Any], Any]:
    of_float = getattr(math, name)

    def function(x: Any) -> Any:
        return of_float(x) if x.__class__ in _PLAIN else getattr(sys.modules["numpy"], name)(x)

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
    return sys.modules["numpy"].where(condition, then, otherwise)


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
    still = abs(rate * time) < 1e-16  # the quotient would round to `time`, or be 0 / 0
    return where(still, time, -expm1(-rate * time) / (rate + still))


def bisect(function: Callable[[Any], Any], low: Any, high: Any, steps: int = 60) -> Any:
    """Where an increasing `function` crosses 0 between low and high; halves the interval `steps` times.

    A fixed number of steps makes floats and arrays take the same path; 60 halvings end below rounding.
    """
    for _ in range(steps):
        middle = (low + high) / 2
        below = function(middle) < 0
        low, high = where(below, middle, low), where(below, high, middle)
    return (low + high) / 2
