"""Payments of a loan, growth, and times of day."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from brewfuncs.hosts.standard.declare import NUMBER, UNKNOWN, Refusal, elements, entire, number, single, whole


def _payment(rate: float, periods: float, present: float, future: float, begin: bool) -> float:
    if rate == 0:
        return -(present + future) / periods
    grown: float = (1 + rate) ** periods
    return -(present * grown + future) / ((1 + rate * begin) * (grown - 1) / rate)


def _value_later(rate: float, periods: float, payment: float, present: float, begin: bool) -> float:
    if rate == 0:
        return -(present + payment * periods)
    grown: float = (1 + rate) ** periods
    return -(present * grown + payment * (1 + rate * begin) * (grown - 1) / rate)


def _interest(values: Sequence[Any]) -> tuple[float, float]:
    """The interest of a period, and the whole payment."""
    rate, period, periods, present, future, kind = map(number, values)
    begin = kind != 0
    if periods <= 0 or not 1 <= period < periods + 1 or rate <= -1:
        raise Refusal(NUMBER)
    payment = _payment(rate, periods, present, future, begin)
    if begin:
        owed = 0.0 if period == 1 else _value_later(rate, period - 2, payment, present, True) - payment
        return owed * rate, payment
    return _value_later(rate, period - 1, payment, present, False) * rate, payment


@single("IPMT")
def _ipmt(rate: Any, period: Any, periods: Any, present: Any, future: Any = 0.0, kind: Any = 0.0) -> float:
    return _interest((rate, period, periods, present, future, kind))[0]


@single("PPMT")
def _ppmt(rate: Any, period: Any, periods: Any, present: Any, future: Any = 0.0, kind: Any = 0.0) -> float:
    interest, payment = _interest((rate, period, periods, present, future, kind))
    return payment - interest


@single("RRI")
def _rri(periods: Any, present: Any, future: Any) -> float:
    n, old, new = number(periods), number(present), number(future)
    if n <= 0:
        raise Refusal(NUMBER)
    if old == 0 or new / old < 0:
        raise Refusal(UNKNOWN if old == 0 == new or (1 / n).is_integer() else NUMBER)
    return math.exp(math.log(new / old) / n) - 1 if new else -1.0


@entire("XNPV")
def _xnpv(rate: Any, values: Any, dates: Any) -> float:
    r = number(rate)
    amounts, days = list(elements([values])), list(elements([dates]))
    if len(amounts) != len(days) or r <= 0:
        raise Refusal(NUMBER if len(amounts) != len(days) else UNKNOWN)
    if any(cell.__class__ is not float for cell in (*amounts, *days)):
        raise Refusal(UNKNOWN)
    first = math.trunc(days[0])
    if any(math.trunc(day) < first for day in days):
        raise Refusal(NUMBER)
    return math.fsum(
        amount / (1 + r) ** ((math.trunc(day) - first) / 365) for amount, day in zip(amounts, days, strict=True)
    )


@single("TIME")
def _time(hours: Any, minutes: Any, seconds: Any) -> float:
    h, m, s = whole(hours), whole(minutes), whole(seconds)
    total = h * 3600 + m * 60 + s
    if total < 0 or max(h, m, s) > 32767:
        raise Refusal(NUMBER)
    return total % 86400 / 86400


@single("SECOND")
def _second(value: Any) -> float:
    x = number(value)
    if x < 0:
        raise Refusal(NUMBER)
    seconds = x % 1 * 86400
    if math.isclose(seconds % 1, 0.5, abs_tol=1e-4):
        raise Refusal(UNKNOWN)
    return float(round(seconds) % 60)
