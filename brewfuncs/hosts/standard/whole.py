"""Rounding to multiples, and functions of whole numbers."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any

from brewfuncs.hosts.standard.declare import (
    DIVISION,
    NUMBER,
    UNKNOWN,
    VALUE,
    Refusal,
    elements,
    entire,
    number,
    single,
    whole,
)


# ---------------------------------------------------------------- to a multiple
def _steps(number: float, step: float, toward: Callable[[float], float]) -> float:
    """How many steps a number is, rounded; UNKNOWN where that hangs on the last digit."""
    count = number / step
    nearest = round(count)
    close = count != nearest and math.isclose(count, nearest, rel_tol=1e-14) and toward(count) != nearest
    if close and abs(step) > 1e-13 * abs(number):  # else it is all the same
        raise Refusal(UNKNOWN)
    return toward(count)


@single("CEILING")
def _ceiling(value: Any, significance: Any) -> float:
    x, step = number(value), number(significance)
    if step == 0 or x == 0:
        return 0.0
    if x > 0 > step:
        raise Refusal(NUMBER)
    return _steps(x, step, math.ceil) * step


@single("FLOOR")
def _floor(value: Any, significance: Any) -> float:
    x, step = number(value), number(significance)
    if x == 0:
        return 0.0
    if step == 0:
        raise Refusal(DIVISION)
    if x > 0 > step:
        raise Refusal(NUMBER)
    return _steps(x, step, math.floor) * step


_Toward = Callable[[float], int]


def _to_multiple(value: Any, significance: Any, mode: Any, toward: _Toward, other: _Toward) -> float:
    """A number at a multiple, whose sign doesn't matter; with a mode a negative one goes the other way."""
    if significance is None:  # blank, or left out before a mode
        raise Refusal(UNKNOWN)
    x, step = number(value), abs(number(significance))
    if step == 0:
        return 0.0
    return _steps(x, step, other if x < 0 and number(mode) else toward) * step


@single("CEILING.MATH")
def _ceiling_math(value: Any, significance: Any = 1.0, mode: Any = 0.0) -> float:
    return _to_multiple(value, significance, mode, math.ceil, math.floor)


@single("FLOOR.MATH")
def _floor_math(value: Any, significance: Any = 1.0, mode: Any = 0.0) -> float:
    return _to_multiple(value, significance, mode, math.floor, math.ceil)


@single("CEILING.PRECISE", "ISO.CEILING")
def _ceiling_precise(value: Any, significance: Any = 1.0) -> float:
    return _to_multiple(value, significance, 0.0, math.ceil, math.floor)


@single("FLOOR.PRECISE")
def _floor_precise(value: Any, significance: Any = 1.0) -> float:
    return _to_multiple(value, significance, 0.0, math.floor, math.ceil)


@single("MROUND")
def _mround(value: Any, multiple: Any) -> float:
    x, step = number(value), number(multiple)
    if x == 0 or step == 0:
        return 0.0
    if (x > 0) != (step > 0):
        raise Refusal(NUMBER)
    count = x / step
    # "the direction of rounding is undefined for midpoint numbers" where the multiple is a decimal (Microsoft's page)
    if not step.is_integer() and math.isclose(count % 1, 0.5, rel_tol=1e-9):
        raise Refusal(UNKNOWN)
    return math.floor(count + 0.5) * step


@single("MOD")
def _mod(value: Any, divisor: Any) -> float:
    x, step = number(value), number(divisor)
    if step == 0:
        raise Refusal(DIVISION)
    if abs(x / step) > 1e12:
        raise Refusal(UNKNOWN)
    return x - step * _steps(x, step, math.floor)  # as Microsoft's page defines it


@single("LOG")
def _log(value: Any, base: Any = 10.0) -> float:
    x, b = number(value), number(base)
    if x <= 0 or b <= 0:
        raise Refusal(NUMBER)
    if b == 1:
        raise Refusal(DIVISION)
    return math.log10(x) if b == 10 else math.log2(x) if b == 2 else math.log(x) / math.log(b)


# ---------------------------------------------------------------- of whole numbers
def _wholes(values: Iterable[Any]) -> list[int]:
    found = []
    for value in values:
        if isinstance(value, list):
            for cell in elements([value]):
                if isinstance(cell, bool):
                    raise Refusal(VALUE)
                if cell is not None:
                    found.append(whole(cell))
        elif isinstance(value, bool):
            raise Refusal(VALUE)
        elif value is not None:
            found.append(whole(value))
    if any(value < 0 or value >= 2**53 for value in found):
        raise Refusal(NUMBER)
    return found


@entire("GCD")
def _gcd(*values: Any) -> int:
    return math.gcd(*_wholes(values))


@entire("LCM")
def _lcm(*values: Any) -> int:
    found = math.lcm(*_wholes(values))
    if found >= 2**53:
        raise Refusal(NUMBER)
    return found


@single("FACTDOUBLE")
def _factdouble(value: Any) -> float:
    n = whole(value)
    if n < -1 or n > 300:
        raise Refusal(NUMBER)
    if n < 0 and not number(value).is_integer():
        raise Refusal(UNKNOWN)
    return float(math.prod(range(n, 0, -2)))


@single("COMBINA")
def _combina(value: Any, chosen: Any) -> int:
    n, k = whole(value), whole(chosen)
    if n < 0 or k < 0 or (n == 0 < k):
        raise Refusal(NUMBER)
    if min(k, n - 1) > 1024:  # more than 2^1024: not even to be worked out
        raise Refusal(NUMBER)
    return math.comb(n + k - 1, k) if n else 1


@single("PERMUTATIONA")
def _permutationa(value: Any, chosen: Any) -> float:
    n, k = whole(value), whole(chosen)
    if n < 0 or k < 0:
        raise Refusal(NUMBER)
    return float(n**k) if k < 2000 else math.inf


@entire("MULTINOMIAL")
def _multinomial(*values: Any) -> float:
    found = _wholes(values)
    return math.factorial(sum(found)) // math.prod(map(math.factorial, found)) if sum(found) <= 170 else math.inf
