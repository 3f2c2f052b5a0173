"""CONVERT, payments, distributions and tests of spreadsheet programs beside pint, scipy, and what is documented."""

from __future__ import annotations

import datetime
import itertools
import math
from typing import Any

import numpy as np
import pint
import pytest
from scipy import stats
from scipy.optimize import brentq

from brewfuncs.hosts.standard import BUILTINS
from brewfuncs.hosts.standard.convert import _KELVIN, _PREFIXES, _UNITS
from brewfuncs.hosts.standard.declare import DIVISION, MISSING, NUMBER, UNKNOWN, VALUE, error


def given(name: str, *arguments: Any) -> Any:
    """A function's answer; numbers as a sheet has them."""
    return BUILTINS[name](*(float(x) if type(x) is int or isinstance(x, np.floating) else x for x in arguments))


def column(values: Any) -> list[list[float]]:
    return [[float(value)] for value in values]


# ---------------------------------------------------------------- CONVERT
#: the units of Microsoft's page on CONVERT (as commonly quoted; original not consulted) as pint has them
UNITS = {
    "g": "gram", "lbm": "pound", "ozm": "ounce", "grain": "grain", "cwt": "short_hundredweight",
    "shweight": "short_hundredweight", "uk_cwt": "long_hundredweight", "lcwt": "long_hundredweight",
    "hweight": "long_hundredweight", "stone": "stone", "ton": "short_ton", "uk_ton": "long_ton", "LTON": "long_ton",
    "brton": "long_ton",
    "m": "metre", "mi": "mile", "Nmi": "nautical_mile", "in": "inch", "ft": "foot", "yd": "yard", "ang": "angstrom",
    "ell": "1.25 yard", "pica": "pica", "Picapt": "point", "Pica": "point",
    "yr": "year", "day": "day", "d": "day", "hr": "hour", "mn": "minute", "min": "minute", "sec": "second",
    "s": "second",
    "Pa": "pascal", "p": "pascal", "atm": "atmosphere", "at": "atmosphere", "mmHg": "mmHg", "psi": "psi",
    "Torr": "torr",
    "N": "newton", "dyn": "dyne", "dy": "dyne", "lbf": "pound_force", "pond": "gram_force",
    "J": "joule", "e": "erg", "c": "calorie", "cal": "international_calorie", "Wh": "watt_hour", "wh": "watt_hour",
    "flb": "foot_pound", "BTU": "Btu_it", "btu": "Btu_it",
    "W": "watt", "w": "watt", "HP": "horsepower", "h": "horsepower", "PS": "metric_horsepower",
    "l": "litre", "L": "litre", "lt": "litre", "tsp": "teaspoon", "tspm": "5 millilitre", "tbs": "tablespoon",
    "oz": "fluid_ounce", "cup": "cup", "pt": "pint", "us_pt": "pint", "uk_pt": "imperial_pint", "qt": "quart",
    "uk_qt": "imperial_quart", "gal": "gallon", "uk_gal": "imperial_gallon", "in3": "inch**3", "ft3": "foot**3",
    "yd3": "yard**3", "m3": "metre**3", "m^3": "metre**3", "barrel": "oil_barrel",
    "ha": "hectare", "in2": "inch**2", "ft2": "foot**2", "yd2": "yard**2", "mi2": "mile**2",
    "uk_acre": "4046.8564224 metre**2",  # pint's is the survey's; this is NIST Handbook 44, appendix C, as quoted
    "ar": "are",
    "m/s": "metre/second", "m/sec": "metre/second", "m/h": "metre/hour", "m/hr": "metre/hour", "mph": "mile/hour",
    "kn": "knot",
    "T": "tesla", "ga": "1e-4 tesla",  # NIST SP 811, table 8, as quoted; pint's gauss belongs to another system
    "bit": "bit", "byte": "byte",
}  # fmt: skip
PREFIXES = {
    "Y": "yotta", "Z": "zetta", "E": "exa", "P": "peta", "T": "tera", "G": "giga", "M": "mega", "k": "kilo",
    "h": "hecto", "da": "deka", "e": "deka", "d": "deci", "c": "centi", "m": "milli", "u": "micro", "n": "nano",
    "p": "pico", "f": "femto", "a": "atto", "z": "zepto", "y": "yocto",
}  # fmt: skip
#: the units that a prefix may stand before, by the same page
METRIC = {"g", "m", "ang", "sec", "s", "Pa", "p", "atm", "at", "mmHg", "N", "dyn", "dy", "pond", "J", "e", "c",
          "cal", "Wh", "wh", "W", "w", "l", "L", "lt", "ar", "m/s", "m/sec", "m/h", "m/hr", "T", "ga",
}  # fmt: skip


def test_every_unit_of_convert_is_as_large_as_it_is() -> None:
    registry: Any = pint.UnitRegistry()
    assert UNITS.keys() == _UNITS.keys()
    sizes = {unit: registry(meant).to_base_units() for unit, meant in UNITS.items()}
    for (one, size), (other, other_size) in itertools.product(sizes.items(), repeat=2):
        found = given("CONVERT", 7.25, one, other)
        if size.units != other_size.units:
            assert found == error(MISSING), (one, other)
            continue
        # theirs is the 133.322 Pa of old tables, pint's the 133.322387 of a column of mercury
        tolerance = 3e-6 if "mmHg" in (one, other) else 1e-12
        expected = 7.25 * (size / other_size).magnitude
        assert found == pytest.approx(expected, rel=tolerance, abs=0), (one, other)


def test_prefixes_stand_before_metric_units_only() -> None:
    registry: Any = pint.UnitRegistry()
    assert PREFIXES.keys() == _PREFIXES.keys()
    for (prefix, meant), unit in itertools.product(PREFIXES.items(), UNITS):
        if prefix + unit in UNITS or prefix + unit == "pc":  # min is a minute, cwt a hundredweight, pc a parsec
            continue
        expected: Any = error(UNKNOWN)
        if unit in METRIC | {"bit", "byte"}:
            expected = pytest.approx(registry(f"{meant}metre").to("metre").magnitude, rel=1e-12, abs=0)
        assert given("CONVERT", 1, prefix + unit, unit) == expected, prefix + unit


def test_degrees() -> None:
    registry: Any = pint.UnitRegistry()
    meant = {"K": "kelvin", "kel": "kelvin", "C": "degC", "cel": "degC", "F": "degF", "fah": "degF", "Rank": "degR",
             "Reau": "degRe"}  # fmt: skip
    assert meant.keys() == _KELVIN.keys()
    for (one, from_unit), (other, to_unit), value in itertools.product(
        meant.items(), meant.items(), (-40.0, 20.5, 350.0)
    ):
        expected = registry.Quantity(value, from_unit).to(to_unit).magnitude
        assert given("CONVERT", value, one, other) == pytest.approx(expected, rel=1e-12, abs=1e-10), (one, other)
    assert given("CONVERT", 1, "K", "m") == given("CONVERT", 1, "m", "F") == error(MISSING)
    assert given("CONVERT", 1, "C", "no unit") == given("CONVERT", 1, "no unit", "C") == error(UNKNOWN)
    assert given("CONVERT", 1, 2, "m") == error(VALUE)


# ---------------------------------------------------------------- payments
def paid_off(rate: float, periods: int, present: float, future: float, begin: int) -> list[tuple[float, float]]:
    """The interest and the repayment of each period, from the balance alone."""

    def course(payment: float) -> tuple[float, list[tuple[float, float]]]:
        owed, rows = present, []
        for period in range(periods):
            interest = 0.0 if begin and period == 0 else owed * rate  # paid at once, the first payment bears none
            owed += interest + payment
            rows.append((-interest, payment + interest))
        return (owed * (1 + rate) if begin else owed) + future, rows

    payment = brentq(lambda payment: course(payment)[0], -1e6, 1e6, xtol=1e-11, rtol=1e-15)
    return course(payment)[1]


@pytest.mark.parametrize(
    ("rate", "periods", "present", "future", "begin"),
    list(itertools.product((0.0, 0.01, 0.1), (1, 7, 12), (1000, -500), (0, 250), (0, 1))),
)
def test_interest_and_repayment(rate: float, periods: int, present: float, future: float, begin: int) -> None:
    for period, (interest, repayment) in enumerate(paid_off(rate, periods, present, future, begin), 1):
        arguments = (rate, period, periods, present, future, begin)
        assert given("IPMT", *arguments) == pytest.approx(interest, rel=1e-9, abs=1e-8), period
        assert given("PPMT", *arguments) == pytest.approx(repayment, rel=1e-9, abs=1e-8), period
    for outside in (0, periods + 1):
        assert given("IPMT", rate, outside, periods, present, future, begin) == error(NUMBER)


LATER = [39448, 39508, 39751, 39859, 39904]  # 2008-01-01, 03-01, 10-30, 2009-02-15, 04-01


@pytest.mark.parametrize(
    ("name", "arguments", "expected"),
    [
        # support.microsoft.com, the page of each function, as commonly quoted; original not consulted
        ("IPMT", (0.1 / 12, 1, 36, 8000), -66.67),
        ("IPMT", (0.1, 3, 3, 8000), -292.45),
        ("PPMT", (0.1 / 12, 1, 24, 2000), -75.62),
        ("PPMT", (0.08, 10, 10, 200000), -27598.05),
        ("XNPV", (0.09, column([-10000, 2750, 4250, 3250, 2750]), column(LATER)), 2086.65),
        ("RRI", (96, 10000, 11000), 0.0009933),
        ("TIME", (12, 0, 0), 0.5),
        ("TIME", (16, 48, 10), 0.7001157),
        ("TIME", (27, 0, 0), 0.125),  # 3 o'clock
        ("TIME", (0, 750, 0), 0.5208333),
        ("TIME", (0, 0, 2000), 0.0231481),
        ("PROB", (column(range(4)), column([0.2, 0.3, 0.1, 0.4]), 2), 0.1),
        ("BINOM.DIST", (6, 10, 0.5, False), 0.2050781),
        ("POISSON.DIST", (2, 5, True), 0.124652),
        ("CEILING.PRECISE", (4.3,), 5),
        ("CEILING.PRECISE", (-4.3,), -4),
        ("ISO.CEILING", (4.3,), 5),
        ("FLOOR.PRECISE", (3.2, 1), 3),
        ("FLOOR.PRECISE", (-3.2,), -4),
        ("CEILING.MATH", (6.7,), 7),
        ("FLOOR.MATH", (6.7,), 6),
        ("LOG", (10,), 1),
        ("LOG", (8, 2), 3),
        ("LOG", (86, 2.7182818), 4.4543473),
    ],
)
def test_examples(name: str, arguments: tuple[Any, ...], expected: float) -> None:
    digits = len(str(expected).partition(".")[2])
    assert given(name, *arguments) == pytest.approx(expected, abs=0.51 * 10.0**-digits)


def test_amounts_on_other_days() -> None:
    """By the definition that Microsoft's page gives: amounts over (1 + rate) ^ (days since the first / 365)."""
    days, amounts = np.array([39448, 39508.9, 39813, 40178]), np.array([-100.0, 30, 50, 40])
    expected = float(np.sum(amounts / 1.07 ** ((np.floor(days) - 39448) / 365)))
    assert given("XNPV", 0.07, column(amounts), column(days)) == pytest.approx(expected, rel=1e-12)
    assert given("XNPV", 0.07, column(amounts), column(days[:2])) == error(NUMBER)
    assert given("XNPV", 0.07, column(amounts), column(days[::-1])) == error(NUMBER)  # before the first
    assert given("XNPV", 0, column(amounts), column(days)) == error(UNKNOWN)
    for odd in ("x", True, None):
        assert given("XNPV", 0.07, [[-100.0], [odd]], column(days[:2])) == error(UNKNOWN)


def test_growth_a_period() -> None:
    for periods, old, new in itertools.product((0.5, 1, 8, 96), (100, -40), (250, 30)):
        if old > 0:  # compounded again it is the new value
            rate = given("RRI", periods, old, new)
            assert old * (1 + rate) ** periods == pytest.approx(new, rel=1e-12)
    assert given("RRI", 5, 100, 0) == -1
    assert given("RRI", 0, 100, 200) == given("RRI", -1, 100, 200) == error(NUMBER)
    assert given("RRI", 3, 100, -200) == error(NUMBER)
    assert given("RRI", 3, 0, 0) == error(UNKNOWN)
    assert given("RRI", 3, 0, 5) == error(NUMBER)


def test_times_of_day() -> None:
    midnight = datetime.datetime(2026, 1, 1)
    for hours, minutes, seconds in ((0, 0, 1), (23, 59, 59), (5, 130, 7), (30, 0, 61), (2, -30, 0), (0, 0, 32767)):
        moment = midnight + datetime.timedelta(hours=hours, minutes=minutes, seconds=seconds)
        since = moment - datetime.datetime.combine(moment.date(), datetime.time())
        assert given("TIME", hours, minutes, seconds) == pytest.approx(since / datetime.timedelta(days=1), abs=1e-15)
        assert given("SECOND", 46000 + since / datetime.timedelta(days=1)) == moment.second
    assert given("TIME", 0, 0, -1) == given("TIME", 0, 0, 32768) == given("SECOND", -0.1) == error(NUMBER)
    assert given("SECOND", 0.5 + 2.5 / 86400) == error(UNKNOWN)  # 2 or 3: it hangs on the last digit


# ---------------------------------------------------------------- distributions
AT = (0.03, 0.4, 1.0, 2.7, 11.5)
FREE = (1, 2, 3, 8, 31)
SHARES = (0.001, 0.08, 0.5, 0.77, 0.995)


def near(expected: Any) -> Any:
    return pytest.approx(float(expected), rel=2e-9, abs=1e-300)


@pytest.mark.parametrize("free", FREE)
def test_chi_squared_and_student(free: int) -> None:
    chi, student = stats.chi2(free), stats.t(free)
    for x in AT:
        assert given("CHISQ.DIST", x, free, True) == near(chi.cdf(x))
        assert given("CHISQ.DIST", x, free, False) == near(chi.pdf(x))
        assert given("CHISQ.DIST.RT", x, free) == given("CHIDIST", x, free) == near(chi.sf(x))
        for signed in (x, -x):
            assert given("T.DIST", signed, free, True) == near(student.cdf(signed))
            assert given("T.DIST", signed, free, False) == near(student.pdf(signed))
            assert given("T.DIST.RT", signed, free) == near(student.sf(signed))
        assert given("T.DIST.2T", x, free) == given("TDIST", x, free, 2) == near(2 * student.sf(x))
        assert given("TDIST", x, free, 1) == near(student.sf(x))
    for p in SHARES:
        assert given("CHISQ.INV", p, free) == near(chi.ppf(p))
        assert given("CHISQ.INV.RT", p, free) == given("CHIINV", p, free) == near(chi.isf(p))
        assert given("T.INV", p, free) == (near(student.ppf(p)) if p != 0.5 else 0)
        assert given("T.INV.2T", p, free) == given("TINV", p, free) == near(student.isf(p / 2))
    assert given("CHISQ.INV", 0, free) == given("CHISQ.INV.RT", 1, free) == given("T.INV.2T", 1, free) == 0
    assert given("CHISQ.DIST", 0, free, True) == 0
    density = {1: error(UNKNOWN), 2: 0.5}  # scipy's is infinite at one degree of freedom; programs differ
    assert given("CHISQ.DIST", 0, free, False) == density.get(free, chi.pdf(0))
    refused = [("CHISQ.INV", 1), ("CHISQ.INV.RT", 0), ("T.INV", 0), ("T.INV", 1), ("T.INV.2T", 0), ("T.INV.2T", 1.1),
               ("CHISQ.DIST.RT", -0.1), ("T.DIST.2T", -0.1)]  # fmt: skip
    for name, value in refused:
        assert given(name, value, free) == error(NUMBER), name
    assert given("TDIST", 1, free, 3) == given("TDIST", -1, free, 1) == error(NUMBER)


@pytest.mark.parametrize(("one", "other"), list(itertools.product(FREE, repeat=2)))
def test_fisher(one: int, other: int) -> None:
    fisher = stats.f(one, other)
    for x in AT:
        assert given("F.DIST", x, one, other, True) == near(fisher.cdf(x))
        assert given("F.DIST", x, one, other, False) == near(fisher.pdf(x))
        assert given("F.DIST.RT", x, one, other) == given("FDIST", x, one, other) == near(fisher.sf(x))
    for p in SHARES:
        assert given("F.INV", p, one, other) == near(fisher.ppf(p))
        assert given("F.INV.RT", p, one, other) == given("FINV", p, one, other) == near(fisher.isf(p))
    assert given("F.DIST", 0, one, other, True) == 0
    assert given("F.DIST", 0, one, other, False) == error(UNKNOWN)
    assert given("F.DIST.RT", 0, one, other) == 1
    assert given("F.INV", 0, one, other) == given("F.INV.RT", 1, one, other) == 0
    assert given("F.INV", 1, one, other) == given("F.INV.RT", 0, one, other) == error(NUMBER)
    assert given("F.DIST", 1, 0, other, True) == given("F.DIST", -1, one, other, True) == error(NUMBER)


def test_counts() -> None:
    for k, n, p in itertools.product(range(8), (0, 1, 7), (0, 0.1, 0.5, 1)):
        expected = stats.binom(n, p)
        assert given("BINOM.DIST", k, n, p, False) == (near(expected.pmf(k)) if k <= n else error(NUMBER))
        assert given("BINOM.DIST", k, n, p, True) == (near(expected.cdf(k)) if k <= n else error(NUMBER))
    for k, m in itertools.product((0, 1, 5, 40, 700), (0, 0.3, 5, 600)):
        assert given("POISSON.DIST", k, m, False) == near(stats.poisson(m).pmf(k))
        assert given("POISSON.DIST", k, m, True) == near(stats.poisson(m).cdf(k))
    assert given("BINOM.DIST", 500, 1000, 0.5, False) == near(stats.binom(1000, 0.5).pmf(500))
    assert given("BINOM.DIST", 500, 1001, 0.5, False) == given("POISSON.DIST", 1, 601, True) == error(UNKNOWN)
    for name, arguments in (("BINOM.DIST", (-1, 5, 0.5)), ("BINOM.DIST", (1, 5, 1.1)), ("POISSON.DIST", (-0.5, 2))):
        assert given(name, *arguments, True) == error(NUMBER), name


# ---------------------------------------------------------------- tests and descriptions
ONE = [3.1, 4.4, 5.2, 8.9, 9.3, 1.7, 2.2, 4.8]
OTHER = [6.5, 9.0, 3.3, 2.1, 14.2, 4.9, 5.8, 7.4]


def test_tests() -> None:
    x, y = column(ONE), column(OTHER)
    for kind, expected in (
        (1, stats.ttest_rel(ONE, OTHER)),
        (2, stats.ttest_ind(ONE, OTHER[:6])),
        (3, stats.ttest_ind(ONE, OTHER[:6], equal_var=False)),
    ):
        second = y if kind == 1 else y[:6]
        assert given("T.TEST", x, second, 2, kind) == near(expected.pvalue)
        assert given("T.TEST", second, x, 1, kind) == near(expected.pvalue / 2)
    ratio = np.var(ONE, ddof=1) / np.var(OTHER[:6], ddof=1)
    above = stats.f(7, 5).sf(ratio)
    for both in ((x, y[:6]), (y[:6], x)):
        assert given("F.TEST", *both) == near(2 * min(above, 1 - above))
    for sigma in (None, 2.5):
        spread = (sigma or np.std(ONE, ddof=1)) / math.sqrt(len(ONE))
        assert given("Z.TEST", x, 4.0, sigma) == near(stats.norm.sf((np.mean(ONE) - 4.0) / spread))
    for table in ([[58, 35], [11, 25], [10, 23]], [[12, 7, 9], [20, 11, 2]]):
        found = stats.chi2_contingency(table, correction=False)
        rows = [[float(cell) for cell in row] for row in table]
        assert given("CHISQ.TEST", rows, found.expected_freq.tolist()) == near(found.pvalue)
    row, expected_row = [12.0, 7.0, 9.0, 4.0], [8.0] * 4
    likely = near(stats.chisquare(row, expected_row).pvalue)
    assert given("CHISQ.TEST", [row], [expected_row]) == given("CHITEST", column(row), column(expected_row)) == likely
    assert given("SKEW.P", x) == near(stats.skew(ONE))
    assert given("MODE", column([5, 2, 4, 4, 2])) == 2  # the first of those that are as frequent


def test_data_that_can_not_be_tested() -> None:
    x, same, single = column(ONE), column([3, 3, 3]), column([3])
    for name, arguments, code in (
        ("T.TEST", (x, x, 3, 1), NUMBER), ("T.TEST", (x, x, 2, 4), NUMBER), ("T.TEST", (x, x[:5], 2, 1), MISSING),
        ("T.TEST", (same, same, 2, 2), DIVISION), ("T.TEST", (single, x, 2, 2), DIVISION),
        ("F.TEST", (x, same), DIVISION), ("F.TEST", (single, x), DIVISION),
        ("Z.TEST", ([["a"]], 1), MISSING), ("Z.TEST", (same, 1), DIVISION), ("Z.TEST", (x, 1, 0), NUMBER),
        ("CHISQ.TEST", (x, x[:5]), MISSING), ("CHISQ.TEST", (single, single), MISSING),
        ("CHISQ.TEST", (same, column([1, 0, 2])), DIVISION), ("CHISQ.TEST", (same, column([1, -1, 2])), NUMBER),
        ("CHISQ.TEST", (same, [["a"], [1.0], [2.0]]), UNKNOWN),
        ("SKEW.P", (x[:2],), DIVISION), ("SKEW.P", (same,), DIVISION), ("MODE", (x,), MISSING),
        ("PROB", (x[:2], column([0.5, 0.4]), 1), NUMBER), ("PROB", (x[:2], column([0, 1]), 1), NUMBER),
    ):  # fmt: skip
        assert given(name, *arguments) == error(code), (name, arguments)


def test_straight_lines() -> None:
    x, y = column(ONE), column(OTHER)
    line = stats.linregress(ONE, OTHER)
    rest = float(np.sum((np.array(OTHER) - line.intercept - line.slope * np.array(ONE)) ** 2))
    total = float(np.sum((np.array(OTHER) - np.mean(OTHER)) ** 2))
    found = given("LINEST", y, x, True, True)
    expected = [
        [line.slope, line.intercept],
        [line.stderr, line.intercept_stderr],
        [line.rvalue**2, math.sqrt(rest / 6)],
        [line.rvalue**2 / (1 - line.rvalue**2) * 6, 6.0],
        [total - rest, rest],
    ]
    assert [cell for row in found for cell in row] == pytest.approx(
        [cell for row in expected for cell in row], rel=1e-9
    )
    assert given("LINEST", y, x) == given("LINEST", y, x, None, False) == found[:1]
    (slope,), (square,), _, _ = np.linalg.lstsq(np.array(x), np.array(OTHER), rcond=None)  # through 0
    through = given("LINEST", y, x, False, True)
    assert through[0] == [pytest.approx(slope, rel=1e-9), 0]
    assert through[1] == [pytest.approx(math.sqrt(square / 7 / np.sum(np.square(ONE))), rel=1e-9), error(MISSING)]
    assert through[2] == pytest.approx([1 - square / np.sum(np.square(OTHER)), math.sqrt(square / 7)], rel=1e-9)
    assert through[3][1] == 7
    exponential = stats.linregress(ONE, np.log(OTHER))
    growth = given("LOGEST", y, x)[0]
    assert growth == pytest.approx([math.exp(exponential.slope), math.exp(exponential.intercept)], rel=1e-9)
    for at in (1.5, 12.0):
        assert given("TREND", y, x, at) == near(line.intercept + line.slope * at)
        assert given("GROWTH", y, x, [[at]]) == [[near(math.exp(exponential.intercept + exponential.slope * at))]]
        assert given("TREND", y, x, at, False) == near(slope * at)
    numbered = stats.linregress(range(1, 9), OTHER)
    assert given("LINEST", y)[0] == pytest.approx([numbered.slope, numbered.intercept], rel=1e-9)
    assert given("TREND", y, x) == [[near(line.intercept + line.slope * at)] for at in ONE]
    assert given("LINEST", y, x[:5]) == given("LINEST", y, column([2] * 8)) == given("TREND", y) == error(UNKNOWN)
    assert given("LINEST", column([1, 2, 3]), column([1, 2, 3]), True, True) == error(UNKNOWN)  # hangs on rounding
    assert given("LOGEST", column([1, -2, 3]), x[:3]) == error(NUMBER)
    assert given("LINEST", [["a"], [1.0]], x[:2]) == error(VALUE)
