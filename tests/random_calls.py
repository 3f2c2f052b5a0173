"""Seeded calls of every function: within its ranges, at their ends and past them, with quantity text and words."""

import random
from collections.abc import Iterator
from typing import Any

from brewfuncs import cells
from brewfuncs.catalogue import _HUGE, CATALOGUE, Parameter
from brewfuncs.errors import BrewError
from brewfuncs.units import DIMENSIONS, Quantity


def calls(each: int, seed: int = 7, *, texts: float = 0.15) -> Iterator[tuple[str, list[Any]]]:
    """`each` calls of every function, as cells.apply takes them; `texts` is the share of quantities with a unit."""
    dice = random.Random(seed)
    for function in CATALOGUE.values():
        for _ in range(each):
            rows = dice.randint(2, 4)
            yield function.name, [_argument(dice, p, rows, texts) for p in function.params if not p.variable]


def _argument(dice: random.Random, p: Parameter, rows: int, texts: float) -> Any:
    if p.whole:
        return [[_value(dice, p, texts)] for _ in range(rows)]
    return cells.OMITTED if not p.required and dice.random() < 0.4 else _value(dice, p, texts)


def _value(dice: random.Random, p: Parameter, texts: float) -> Any:
    if p.is_text:
        if p.names:
            return dice.choice(list(p.names.values()))
        return dice.choice(_FREE)
    low, high = p.limits.low, p.limits.high
    if p.default is not None and dice.random() < 0.3:
        number = p.default * dice.uniform(0.9, 1.1)
    else:
        number = _number(dice, p, max(low, -1e4), min(high, dice.choice((3, 50, 2000))))
    if dice.random() < texts and isinstance(p.quantity, Quantity):
        unit = dice.choice(p.quantity.dimension.units)
        try:
            return f"{p.quantity.dimension.convert(number, p.quantity.unit, unit):.8g} {unit.symbol}".strip()
        except BrewError:
            return number
    return number


def _number(dice: random.Random, p: Parameter, low: float, high: float) -> float:
    high = high if high > low else low + 1
    kind = dice.random()
    if kind < 0.8:
        return dice.uniform(low, high)
    if kind < 0.9:  # the ends themselves
        ends = [e for e in (p.limits.low, p.limits.smallest, p.limits.high) if abs(e) < _HUGE]
        return float(dice.choice(ends or [1e6]))
    if kind < 0.96:
        return dice.uniform(low - 1, high * 1.2 + 1)
    return dice.uniform(low, high) * 1e-9


_UNITS = [unit.symbol for dimension in DIMENSIONS for unit in dimension.units]
_FREE = [*_UNITS[:30], "dollop", "BOIL_OFF", "hop_mass"]
