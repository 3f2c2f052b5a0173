"""Distributions, tests of samples and straight lines."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from brewfuncs.hosts.standard.declare import (
    DIVISION,
    MISSING,
    NUMBER,
    UNKNOWN,
    VALUE,
    Refusal,
    elements,
    entire,
    number,
    rows_of,
    single,
    sound,
    whole,
)

_ROUNDS = 300
_TINY = 1e-300
_MOST_FREEDOM = 100_000  # beyond it the logarithms of the gamma function leave fewer than 9 digits


# ---------------------------------------------------------------- incomplete beta and gamma
def _gamma_below(a: float, x: float) -> float:
    """The regularised lower incomplete gamma function: its series, or its continued fraction (Lentz)."""
    if x <= 0:
        return 0.0
    scale = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1:
        term = total = 1 / a
        for n in range(1, 100_000):
            term *= x / (a + n)
            total += term
            if term < total * 1e-17:
                break
        return min(1.0, total * scale)
    return 1 - _gamma_fraction(a, x) * scale


def _gamma_above(a: float, x: float) -> float:
    if x < a + 1:
        return 1 - _gamma_below(a, x)
    return _gamma_fraction(a, x) * math.exp(a * math.log(x) - x - math.lgamma(a))


def _gamma_fraction(a: float, x: float) -> float:
    b = x + 1 - a
    c, d = 1 / _TINY, 1 / b
    h = d
    for n in range(1, 100_000):
        an = -n * (n - a)
        b += 2
        d = 1 / (an * d + b or _TINY)
        c = b + an / c or _TINY
        h *= c * d
        if abs(c * d - 1) < 1e-16:
            break
    return h


def _beta_below(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function, by its continued fraction (Lentz)."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - _beta_below(b, a, 1 - x)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)) / a
    c, d = 1.0, 1 / (1 - (a + b) * x / (a + 1) or _TINY)
    h = d
    for m in range(1, 100_000):
        for step in (m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
                     -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))):  # fmt: skip
            d = 1 / (1 + step * d or _TINY)
            c = 1 + step / c or _TINY
            h *= c * d
        if abs(c * d - 1) < 1e-16:
            break
    return front * h


def _inverse(share: Callable[[float], float], wanted: float, low: float, high: float, falling: bool = False) -> float:
    """Where a monotonous function takes a value, by halving."""
    while math.isfinite(high) and (share(high) < wanted) is not falling:
        low, high = high, high * 2
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if (share(middle) < wanted) is not falling:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _normal_above(z: float) -> float:
    return math.erfc(z / math.sqrt(2)) / 2


def _t_above(t: float, freedom: float) -> float:
    half = _beta_below(freedom / 2, 0.5, freedom / (freedom + t * t)) / 2
    return half if t >= 0 else 1 - half


def _f_above(f: float, one: float, other: float) -> float:
    return _beta_below(other / 2, one / 2, other / (other + one * f)) if f > 0 else 1.0


def _freedom(value: Any) -> int:
    found = whole(value)
    if not 1 <= found <= 1e10:
        raise Refusal(NUMBER)
    if found > _MOST_FREEDOM:
        raise Refusal(UNKNOWN)
    return found


def _share(value: Any, *, ends: bool = False) -> float:
    found = number(value)
    if not 0 <= found <= 1 or (not ends and found in (0, 1)):
        raise Refusal(NUMBER)
    return found


def _at_least_0(value: Any) -> float:
    found = number(value)
    if found < 0:
        raise Refusal(NUMBER)
    return found


@single("CHISQ.DIST.RT", "CHIDIST")
def _chisq_above(value: Any, freedom: Any) -> float:
    return _gamma_above(_freedom(freedom) / 2, _at_least_0(value) / 2)


@single("CHISQ.DIST")
def _chisq(value: Any, freedom: Any, cumulative: Any) -> float:
    x, n = _at_least_0(value), _freedom(freedom)
    if number(cumulative):
        return _gamma_below(n / 2, x / 2)
    if x == 0:
        if n == 1:
            raise Refusal(UNKNOWN)
        return 0.5 if n == 2 else 0.0
    return math.exp((n / 2 - 1) * math.log(x) - x / 2 - n / 2 * math.log(2) - math.lgamma(n / 2))


@single("CHISQ.INV")
def _chisq_inverse(value: Any, freedom: Any) -> float:
    p, n = _share(value, ends=True), _freedom(freedom)
    if p == 1:
        raise Refusal(NUMBER)
    return _inverse(lambda x: _gamma_below(n / 2, x / 2), p, 0.0, n) if p else 0.0


@single("CHISQ.INV.RT", "CHIINV")
def _chisq_inverse_above(value: Any, freedom: Any) -> float:
    p, n = _share(value, ends=True), _freedom(freedom)
    if p == 0:
        raise Refusal(NUMBER)
    return _inverse(lambda x: _gamma_above(n / 2, x / 2), p, 0.0, n, True) if p < 1 else 0.0


@single("T.DIST")
def _t(value: Any, freedom: Any, cumulative: Any) -> float:
    x, n = number(value), _freedom(freedom)
    if number(cumulative):
        return _t_above(-x, n)
    return math.exp(
        math.lgamma((n + 1) / 2) - math.lgamma(n / 2) - math.log(n * math.pi) / 2 - (n + 1) / 2 * math.log1p(x * x / n)
    )


@single("T.DIST.RT")
def _t_right(value: Any, freedom: Any) -> float:
    return _t_above(number(value), _freedom(freedom))


@single("T.DIST.2T")
def _t_both(value: Any, freedom: Any) -> float:
    return 2 * _t_above(_at_least_0(value), _freedom(freedom))


@single("TDIST")
def _t_tails(value: Any, freedom: Any, tails: Any) -> float:
    if whole(tails) not in (1, 2):
        raise Refusal(NUMBER)
    return whole(tails) * _t_above(_at_least_0(value), _freedom(freedom))


@single("T.INV.2T", "TINV")
def _t_inverse_both(value: Any, freedom: Any) -> float:
    p, n = number(value), _freedom(freedom)
    if not 0 < p <= 1:
        raise Refusal(NUMBER)
    return _inverse(lambda x: 2 * _t_above(x, n), p, 0.0, 1.0, True) if p < 1 else 0.0


@single("T.INV")
def _t_inverse(value: Any, freedom: Any) -> float:
    p = _share(value)
    _freedom(freedom)
    if p == 0.5:
        return 0.0
    found: float = _t_inverse_both(2 * min(p, 1 - p), freedom)
    return found if p > 0.5 else -found


@single("F.DIST.RT", "FDIST")
def _f_right(value: Any, one: Any, other: Any) -> float:
    return _f_above(_at_least_0(value), _freedom(one), _freedom(other))


@single("F.INV.RT", "FINV")
def _f_inverse_right(value: Any, one: Any, other: Any) -> float:
    p, n, m = _share(value, ends=True), _freedom(one), _freedom(other)
    if p == 0:
        raise Refusal(NUMBER)
    return _inverse(lambda x: _f_above(x, n, m), p, 0.0, 1.0, True) if p < 1 else 0.0


@single("F.INV")
def _f_inverse(value: Any, one: Any, other: Any) -> float:
    p, n, m = _share(value, ends=True), _freedom(one), _freedom(other)
    if p == 1:
        raise Refusal(NUMBER)
    return _inverse(lambda x: 1 - _f_above(x, n, m), p, 0.0, 1.0) if p else 0.0


@single("F.DIST")
def _f(value: Any, one: Any, other: Any, cumulative: Any) -> float:
    x, n, m = _at_least_0(value), _freedom(one), _freedom(other)
    if number(cumulative):
        return _beta_below(n / 2, m / 2, n * x / (n * x + m))
    if x == 0:
        raise Refusal(UNKNOWN)
    beta = math.lgamma(n / 2) + math.lgamma(m / 2) - math.lgamma((n + m) / 2)
    return math.exp(n / 2 * math.log(n / m) + (n / 2 - 1) * math.log(x) - (n + m) / 2 * math.log1p(n * x / m) - beta)


@single("BINOM.DIST", "BINOMDIST")
def _binomial(value: Any, trials: Any, chance: Any, cumulative: Any) -> float:
    k, n, p = whole(value), whole(trials), number(chance)
    if not 0 <= k <= n or not 0 <= p <= 1:
        raise Refusal(NUMBER)
    if n > 1000:
        raise Refusal(UNKNOWN)
    terms = [math.comb(n, i) * p**i * (1 - p) ** (n - i) for i in (range(k + 1) if number(cumulative) else (k,))]
    return math.fsum(terms)


@single("POISSON.DIST", "POISSON")
def _poisson(value: Any, mean: Any, cumulative: Any) -> float:
    k, m = whole(value), number(mean)
    if k < 0 or m < 0 or number(value) < 0:
        raise Refusal(NUMBER)
    if k > 10_000 or m > 600:
        raise Refusal(UNKNOWN)
    if m == 0:
        return float(k == 0 or bool(number(cumulative)))
    terms = [math.exp(i * math.log(m) - m - math.lgamma(i + 1)) for i in (range(k + 1) if number(cumulative) else (k,))]
    return math.fsum(terms)


# ---------------------------------------------------------------- tests and descriptions
def numbers_in(*values: Any) -> list[float]:
    """The numbers of ranges; texts, truth values and blanks in them don't count."""
    found = []
    for value in values:
        if not isinstance(value, list):
            found.append(number(value))
            continue
        for cell in elements([value]):
            if sound(cell).__class__ is float:
                found.append(cell)
    return found


def _pairs(one: Any, other: Any) -> list[tuple[float, float]]:
    left, right = list(elements([one])), list(elements([other]))
    if len(left) != len(right):
        raise Refusal(MISSING)
    for cell in (*left, *right):
        sound(cell)
    return [(x, y) for x, y in zip(left, right, strict=True) if x.__class__ is float and y.__class__ is float]


def mean(numbers: Sequence[float]) -> float:
    if not numbers:
        raise Refusal(DIVISION)
    return math.fsum(numbers) / len(numbers)


def variance(numbers: Sequence[float], fewer: int = 1) -> float:
    """Of a sample; with `fewer` 0, of all there is."""
    if len(numbers) <= fewer:
        raise Refusal(DIVISION)
    middle = mean(numbers)
    return math.fsum((x - middle) ** 2 for x in numbers) / (len(numbers) - fewer)


@entire("PROB")
def _prob(values: Any, chances: Any, lower: Any, upper: Any = None) -> float:
    pairs = _pairs(values, chances)
    if any(not 0 < chance <= 1 for _, chance in pairs) or abs(math.fsum(p for _, p in pairs) - 1) > 1e-7:
        raise Refusal(NUMBER)
    low = number(lower)
    high = low if upper is None else number(upper)
    return math.fsum(chance for x, chance in pairs if low <= x <= high)


@entire("T.TEST", "TTEST")
def _t_test(one: Any, other: Any, tails: Any, kind: Any) -> float:
    sides, how = whole(tails), whole(kind)
    if sides not in (1, 2) or how not in (1, 2, 3):
        raise Refusal(NUMBER)
    if how == 1:
        differences = [x - y for x, y in _pairs(one, other)]
        spread = variance(differences) / len(differences)
        freedom: float = len(differences) - 1
        apart = mean(differences)
    else:
        x, y = numbers_in(one), numbers_in(other)
        apart = mean(x) - mean(y)
        a, b = variance(x), variance(y)
        if how == 2:
            freedom = len(x) + len(y) - 2
            spread = ((len(x) - 1) * a + (len(y) - 1) * b) / freedom * (1 / len(x) + 1 / len(y))
        else:
            a, b = a / len(x), b / len(y)
            spread = a + b
            freedom = spread**2 / (a**2 / (len(x) - 1) + b**2 / (len(y) - 1)) if spread else 1
    if spread == 0:
        raise Refusal(DIVISION)
    return sides * _t_above(abs(apart) / math.sqrt(spread), freedom)


@entire("F.TEST", "FTEST")
def _f_test(one: Any, other: Any) -> float:
    x, y = numbers_in(one), numbers_in(other)
    a, b = variance(x), variance(y)
    if a == 0 or b == 0:
        raise Refusal(DIVISION)
    above = _f_above(a / b, len(x) - 1, len(y) - 1)
    return 2 * min(above, 1 - above)


@entire("Z.TEST", "ZTEST")
def _z_test(values: Any, compared: Any, sigma: Any = None) -> float:
    numbers = numbers_in(values)
    if not numbers:
        raise Refusal(MISSING)
    size = math.sqrt(variance(numbers)) if sigma is None else number(sigma)
    if size <= 0:
        raise Refusal(DIVISION if sigma is None else NUMBER)
    return _normal_above((mean(numbers) - number(compared)) / (size / math.sqrt(len(numbers))))


@entire("CHISQ.TEST", "CHITEST")
def _chisq_test(actual: Any, expected: Any) -> float:
    rows = rows_of(actual)
    if (len(rows), len(rows[0])) != (len(rows_of(expected)), len(rows_of(expected)[0])):
        raise Refusal(MISSING)
    pairs = _pairs(actual, expected)
    freedom = (len(rows) - 1) * (len(rows[0]) - 1) or len(rows) * len(rows[0]) - 1
    if freedom == 0:
        raise Refusal(MISSING)
    if len(pairs) != len(rows) * len(rows[0]):
        raise Refusal(UNKNOWN)
    if any(e == 0 for _, e in pairs):
        raise Refusal(DIVISION)
    if any(e < 0 for _, e in pairs):
        raise Refusal(NUMBER)
    return _gamma_above(freedom / 2, math.fsum((x - e) ** 2 / e for x, e in pairs) / 2)


@entire("SKEW.P")
def _skew(*values: Any) -> float:
    numbers = numbers_in(*values)
    if len(numbers) < 3:
        raise Refusal(DIVISION)
    middle, size = mean(numbers), math.sqrt(variance(numbers, 0))
    if size == 0:
        raise Refusal(DIVISION)
    return math.fsum(((x - middle) / size) ** 3 for x in numbers) / len(numbers)


@entire("MODE", "MODE.SNGL")
def _mode(*values: Any) -> float:
    counts = Counter(numbers_in(*values))
    most = max(counts.values(), default=0)
    if most < 2:
        raise Refusal(MISSING)
    return next(x for x, count in counts.items() if count == most)  # the first in the data


# ---------------------------------------------------------------- a straight line
def _line(ys: Any, xs: Any, const: Any) -> tuple[list[float], list[float], float, float]:
    y = [_coordinate(cell) for cell in elements([ys])]
    x = [float(n) for n in range(1, len(y) + 1)] if xs is None else [_coordinate(cell) for cell in elements([xs])]
    if len(x) != len(y):
        raise Refusal(UNKNOWN)  # several variables, or sizes that don't fit
    if const is None or number(const):
        mean_x, mean_y = mean(x), mean(y)
    else:
        mean_x = mean_y = 0.0
    spread = math.fsum((a - mean_x) ** 2 for a in x)
    if len(x) < 2 or spread == 0:
        raise Refusal(UNKNOWN)
    slope = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / spread
    return x, y, slope, mean_y - slope * mean_x


def _coordinate(cell: Any) -> float:
    if cell.__class__ is float:
        return cell
    sound(cell)
    raise Refusal(VALUE)


def _regression(ys: Any, xs: Any, const: Any, stats: Any) -> tuple[list[list[Any]], float, float]:
    x, y, slope, start = _line(ys, xs, const)
    if stats is None or not number(stats):
        return [[slope, start]], slope, start
    free = const is None or bool(number(const))
    freedom = len(x) - 1 - free
    mean_x, mean_y = (mean(x), mean(y)) if free else (0.0, 0.0)
    rest = math.fsum((b - start - slope * a) ** 2 for a, b in zip(x, y, strict=True))
    total = math.fsum((b - mean_y) ** 2 for b in y)
    if freedom < 1 or total == 0 or rest < 1e-20 * total:
        raise Refusal(UNKNOWN)  # hangs on rounding
    size = math.sqrt(rest / freedom)
    spread = math.fsum((a - mean_x) ** 2 for a in x)
    missing = {"type": "Error", "kind": MISSING}
    start_error: Any = size * math.sqrt(1 / len(x) + mean_x**2 / spread) if free else missing
    return [
        [slope, start],
        [size / math.sqrt(spread), start_error],
        [1 - rest / total, size],
        [(total - rest) / (rest / freedom), float(freedom)],
        [total - rest, rest],
    ], slope, start  # fmt: skip


def _logarithms(values: Any) -> Any:
    if any(cell.__class__ is float and cell <= 0 for cell in elements([values])):
        raise Refusal(NUMBER)
    return [[math.log(cell) if cell.__class__ is float else cell for cell in row] for row in rows_of(values)]


@entire("LINEST")
def _linest(ys: Any, xs: Any = None, const: Any = None, stats: Any = None) -> Any:
    return _regression(ys, xs, const, stats)[0]


@entire("LOGEST")
def _logest(ys: Any, xs: Any = None, const: Any = None, stats: Any = None) -> Any:
    rows, slope, start = _regression(_logarithms(ys), xs, const, stats)
    return [[math.exp(slope), math.exp(start)], *rows[1:]]


def _extended(ys: Any, xs: Any, new: Any, const: Any, shape: Callable[[float], float]) -> Any:
    _, _, slope, start = _line(ys, xs, const)
    if new is None:
        if xs is None:
            raise Refusal(UNKNOWN)
        new = xs
    rows = [[shape(start + slope * _coordinate(cell)) for cell in row] for row in rows_of(new)]
    return rows if isinstance(new, list) else rows[0][0]


@entire("TREND")
def _trend(ys: Any, xs: Any = None, new: Any = None, const: Any = None) -> Any:
    return _extended(ys, xs, new, const, float)


@entire("GROWTH")
def _growth(ys: Any, xs: Any = None, new: Any = None, const: Any = None) -> Any:
    return _extended(_logarithms(ys), xs, new, const, math.exp)
