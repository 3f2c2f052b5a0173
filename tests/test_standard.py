"""Functions of spreadsheet programs as they work them out: by their own pages, and by engines that aren't ours."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from brewfuncs.catalogue import catalogue
from brewfuncs.errors import CellError, WorkbookError
from brewfuncs.hosts.engine import Calculation
from brewfuncs.hosts.rewrite import Rewriter
from brewfuncs.hosts.standard import BUILTINS
from brewfuncs.hosts.standard.declare import UNKNOWN
from brewfuncs.workbook.recalculate import recalculate, record
from brewfuncs.xlsx.values import Value
from tests import needs, xlsx_build
from tests.test_recalculate import values

CELLS: dict[str, list[Value]] = {
    "A": ["Bx", "By", "C", "Bz", "D", "Bx"],
    "B": [1.234, 2.345, -3.456, 4.5, 5.5, 6.25],
    "C": [10.0, None, 0.1 + 0.2, True, "7", CellError("#DIV/0!")],
}


def answer(formula: str, *, ordinary: bool = False) -> Any:
    """What the engine makes of a formula on a sheet with CELLS; errors as their code."""
    calculation = Calculation()
    calculation.add_sheet("S")
    for column, cells in enumerate(CELLS.values(), 1):
        for row, cell in enumerate(cells, 1):
            calculation.set_value("S", row, column, cell)
    ready = Rewriter(catalogue(), (), (), ("S",)).rewrite(formula, "S", 1, 9, ordinary)
    calculation.set_formula("S", 1, 9, "=" + ready)
    calculation.calculate()
    value = calculation.value("S", 1, 9)
    return value.code if isinstance(value, CellError) else value


# ---------------------------------------------------------------- documented answers
@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        # support.microsoft.com, the page of each function, as commonly quoted; original not consulted
        ("CEILING(2.5,1)", 3),
        ("CEILING(-2.5,-2)", -4),
        ("CEILING(-2.5,2)", -2),
        ("CEILING(1.5,0.1)", 1.5),
        ("CEILING(0.234,0.01)", 0.24),
        ("CEILING(2.5,-2)", "#NUM!"),
        ("CEILING(-48.1,-5)", -50),
        ("FLOOR(3.7,2)", 2),
        ("FLOOR(-2.5,-2)", -2),
        ("FLOOR(2.5,-2)", "#NUM!"),
        ("FLOOR(1.58,0.1)", 1.5),
        ("FLOOR(0.234,0.01)", 0.23),
        ("FLOOR(2,0)", "#DIV/0!"),
        ("CEILING.MATH(24.3,5)", 25),
        ("CEILING.MATH(6.7)", 7),
        ("CEILING.MATH(-8.1,2)", -8),
        ("CEILING.MATH(-5.5,2,-1)", -6),
        ("FLOOR.MATH(24.3,5)", 20),
        ("FLOOR.MATH(-8.1,2)", -10),
        ("FLOOR.MATH(-5.5,2,-1)", -4),
        ("CEILING.PRECISE(-4.1,-2)", -4),
        ("FLOOR.PRECISE(-3.2,-1)", -4),
        ("MROUND(10,3)", 9),
        ("MROUND(-10,-3)", -9),
        ("MROUND(5,-2)", "#NUM!"),
        ("GCD(24,36)", 12),
        ("GCD(5,0)", 5),
        ("LCM(24,36)", 72),
        ("COMBINA(4,3)", 20),
        ("COMBINA(1000,1000)", "#NUM!"),  # more than the largest number
        ("COMBINA(1E9,1E9)", "#NUM!"),  # so much more that to work it out would never end
        ("COMBINA(1E9,2)", 500000000500000000),
        ("FACTDOUBLE(7)", 105),
        ("MULTINOMIAL(2,3,4)", 1260),
        ('CONVERT(1,"lbm","kg")', 0.45359237),
        ('CONVERT(68,"F","C")', 20),
        ('CONVERT(2.5,"ft","sec")', "#N/A"),
        ('CONVERT(5,"l","gal")', 5 / 3.785411784),  # 231 cubic inches
        ('CONVERT(1,"bar","psi")', UNKNOWN),  # not a unit of theirs
        ("INDEX(LINEST({1;9;5;7},{0;4;2;3}),1)", 2),
        ("INDEX(LINEST({1;9;5;7},{0;4;2;3},,FALSE),2)", 1),  # left out, the line need not go through 0
        ("TTEST({3;4;5;8;9;1;2;4;5},{6;19;3;2;14;4;5;17;1},2,1)", pytest.approx(0.196016, abs=1e-6)),
        ("CHITEST({58,35;11,25;10,23},{45.35,47.65;17.56,18.44;16.09,16.91})", pytest.approx(0.0003082, abs=1e-7)),
        ("CHISQ.DIST.RT(100000,100000)", pytest.approx(0.4994052918952067, rel=1e-9)),  # scipy.stats.chi2.sf
        ("CHISQ.DIST.RT(9.9999E9,1E10)", UNKNOWN),  # too few digits are left, here and in others
        ("CHISQ.DIST.RT(1,2E10)", "#NUM!"),
        ("PROB({0;1;2;3},{0.2;0.3;0.1;0.4},1,3)", 0.8),
        ("MODE({5.6;4;4;3;2;4})", 4),
        ("RRI(96,10000,11000)", pytest.approx(0.0009933, abs=1e-7)),
        ("MROUND(6.05,0.1)", UNKNOWN),  # "the direction of rounding is undefined"
    ],
)
def test_documented_answers(formula: str, expected: Any) -> None:
    assert answer(formula) == (pytest.approx(expected, rel=1e-12) if isinstance(expected, (int, float)) else expected)


ORCHARD = {  # Microsoft's example of the database functions, as commonly quoted; original not consulted
    "A5": "Tree", "B5": "Height", "C5": "Age", "D5": "Yield", "E5": "Profit",
    "A6": "Apple", "B6": 18, "C6": 20, "D6": 14, "E6": 105, "A7": "Pear", "B7": 12, "C7": 12, "D7": 10, "E7": 96,
    "A8": "Cherry", "B8": 13, "C8": 14, "D8": 9, "E8": 105, "A9": "Apple", "B9": 14, "C9": 15, "D9": 10, "E9": 75,
    "A10": "Pear", "B10": 9, "C10": 8, "D10": 8, "E10": 77, "A11": "Apple", "B11": 8, "C11": 9, "D11": 6, "E11": 45,
    "A1": "Tree", "B1": "Height", "F1": "Height", "A2": "=Apple", "B2": ">10", "F2": "<16", "A3": "=Pear",
    "G1": "Tree", "G2": "App", "H1": "Tree", "H2": "=App", "K1": "Tree", "K2": "*a*r",
}  # fmt: skip


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ('DSUM(A5:E11,"Profit",A1:A2)', 225),
        ('DSUM(A5:E11,"Profit",A1:F2)', 75),
        ('DPRODUCT(A5:E11,"Yield",A1:A2)', 840),
        ('DMAX(A5:E11,"Profit",A1:A3)', 105),
        ('DMIN(A5:E11,"Profit",A1:B2)', 75),
        ('DAVERAGE(A5:E11,"Yield",A1:B2)', 12),
        ('DCOUNT(A5:E11,"Age",A1:F2)', 1),
        ('DCOUNTA(A5:E11,"Profit",A1:F2)', 1),
        ('DSTDEV(A5:E11,"Yield",A1:A3)', 2.96648),
        ('DSTDEVP(A5:E11,"Yield",A1:A3)', 2.65330),
        ('DVAR(A5:E11,"Yield",A1:A3)', 8.8),
        ('DVARP(A5:E11,"Yield",A1:A3)', 7.04),
        ('DCOUNT(A5:E11,"Age",G1:G2)', 3),  # without the sign of equality: what begins so
        ('DCOUNT(A5:E11,"Age",H1:H2)', 0),
        ('DCOUNT(A5:E11,"Age",K1:K2)', 2),  # Pear
        ('DGET(A5:E11,"Yield",A1:A3)', "#NUM!"),
        ('DGET(A5:E11,"Yield",A1:F2)', 10),
    ],
)
def test_databases(formula: str, expected: Any) -> None:
    calculation = Calculation()
    calculation.add_sheet("S")
    for place, value in ORCHARD.items():
        row, column = int(place[1:]), ord(place[0]) - 64
        calculation.set_value("S", row, column, float(value) if isinstance(value, int) else value)
    calculation.set_formula("S", 1, 9, "=" + formula)
    calculation.calculate()
    found = calculation.value("S", 1, 9)
    code = found.code if isinstance(found, CellError) else found
    assert code == (pytest.approx(expected, rel=2e-6) if isinstance(expected, (int, float)) else expected)


# ---------------------------------------------------------------- an independent engine
def _calls(dice: random.Random) -> Iterator[str]:
    def number() -> float:
        kinds = (dice.randint(-9, 60), round(dice.uniform(-20, 20), 1), round(dice.uniform(0, 100), 3), 0, 0.5, -2.5)
        return dice.choice(kinds)

    def step() -> float:
        return dice.choice((1, 2, 5, 10, 0.5, 0.1, 0.25, 0.05, -1, -2, -5, -0.5, 0, 3, 0.3, -0.1))

    some: dict[str, Callable[[], tuple[Any, ...]]] = {
        **dict.fromkeys(("CEILING", "FLOOR", "MROUND"), lambda: (number(), step())),
        **dict.fromkeys(("_xlfn.CEILING.PRECISE", "_xlfn.FLOOR.PRECISE", "ISO.CEILING"), lambda: (number(), step())),
        **dict.fromkeys(
            ("_xlfn.CEILING.MATH", "_xlfn.FLOOR.MATH"), lambda: (number(), step(), dice.choice((0, 1, -1)))
        ),
        **dict.fromkeys(("GCD", "LCM", "MULTINOMIAL"), lambda: (dice.randint(0, 30), dice.randint(0, 30))),
        "_xlfn.COMBINA": lambda: (dice.randint(0, 20), dice.randint(0, 20)),
        "FACTDOUBLE": lambda: (dice.randint(-3, 40),),
        "CONVERT": lambda: (
            number(),
            *(f'"{unit}"' for unit in dice.choices(dice.choice(_CONVERTIBLE).split(), k=2)),
        ),
    }

    def share() -> float:
        return dice.choice((0, 1, 0.5, round(dice.random(), 3), -0.1, 1.2))

    def free() -> float:
        return dice.choice((1, 2, dice.randint(3, 60), 2.7, 0))

    def at() -> float:
        return dice.choice((0, 1, round(dice.uniform(0, 12), 2), round(dice.uniform(0, 60), 1), -1))

    def array(size: int, low: float = 0) -> str:
        return "{" + ";".join(str(round(dice.uniform(low, 9), 1)) for _ in range(size)) + "}"

    def start() -> tuple[int, ...]:
        return dice.choice(((), (2,), (0,), (9,)))

    def days() -> tuple[int, int]:
        first = dice.choice(
            (dice.randint(61, 60000), dice.randint(43000, 46500), 45351, 45291, 44985)
        )  # Feb 29, Dec 31
        return first, first + dice.randint(0, 900)

    def loan() -> tuple[Any, ...]:
        return dice.choice((0, 0.01, 0.1)), dice.randint(0, 12), 12, dice.choice((1000, -500)), dice.choice((0, 100)), 0

    some |= {
        **dict.fromkeys(("CHIDIST", "_xlfn.CHISQ.DIST.RT", "_xlfn.T.DIST.RT"), lambda: (at(), free())),
        **dict.fromkeys(("CHIINV", "_xlfn.CHISQ.INV", "TINV"), lambda: (share(), free())),
        "_xlfn.T.INV": lambda: (share(), dice.randint(1, 60)),
        **dict.fromkeys(("_xlfn.CHISQ.DIST", "_xlfn.T.DIST"), lambda: (at(), free(), dice.choice(("TRUE", "FALSE")))),
        "TDIST": lambda: (at(), free(), dice.choice((1, 2, 3))),
        "FDIST": lambda: (at(), free(), free()),
        **dict.fromkeys(("FINV", "_xlfn.F.INV"), lambda: (share(), free(), free())),
        "_xlfn.F.DIST": lambda: (at(), free(), free(), "TRUE"),
        "PROB": lambda: ("{1;2;3;4}", "{0.1;0.2;0.3;0.4}", dice.choice((0, 1, 2.5)), dice.choice((1, 3, 5))),
        "TTEST": lambda: (array(6), array(6), dice.choice((1, 2)), dice.choice((1, 2, 3))),
        "ZTEST": lambda: (array(6), number(), *dice.choice(((), (2,)))),
        "CHITEST": lambda: (array(4), array(4, 1)),
        "_xlfn.SKEW.P": lambda: (array(7),),
        "MODE": lambda: ("{" + ";".join(str(dice.randint(0, 6)) for _ in range(9)) + "}",),
        **dict.fromkeys(("IPMT", "PPMT"), loan),
        "TIME": lambda: (dice.randint(-2, 30), dice.randint(-70, 200), dice.randint(0, 200)),
        "LINEST": lambda: (array(6), array(6), dice.choice(("TRUE", "FALSE")), "TRUE"),
        "LOGEST": lambda: (array(6, 1), array(6), dice.choice(("TRUE", "FALSE")), "TRUE"),
        **dict.fromkeys(("TREND", "GROWTH"), lambda: (array(5, 1), array(5), "{1;7}")),
    }
    few = lambda: sorted(dice.sample(range(-5, 15), 5))  # noqa: E731
    many = lambda: dice.choice((few(), sorted(dice.sample(_WORDS, 4), key=str.lower)))  # noqa: E731
    one = lambda cells: dice.choice((*cells, *(("zz", "ap*", "?ig") if isinstance(cells[0], str) else (3.5, 20, -9))))  # noqa: E731

    def found_in(*more: tuple[Any, ...]) -> tuple[Any, ...]:
        cells = many()
        return (_written(one(cells)), "{" + ";".join(map(_written, cells)) + "}", *dice.choice(more))

    def in_table() -> tuple[Any, ...]:
        cells = many()
        table = "{" + ";".join(f"{_written(cell)},{row}" for row, cell in enumerate(cells)) + "}"
        return _written(one(cells)), table, dice.choice((1, 2)), dice.choice(("TRUE", "FALSE"))

    def list_of_few() -> str:
        return "{" + ";".join(map(str, few())) + "}"

    def chance() -> float:
        return dice.choice((0, 0.1, 0.5, 1))

    some |= {
        "MOD": lambda: (number(), step()),
        "LOG": lambda: (dice.choice((0, 1, 8, -2, 100)), dice.choice((2, 10, 1, 0, -1))),
        "_xlfn.BINOM.DIST": lambda: (
            dice.randint(-1, 10),
            dice.randint(0, 9),
            chance(),
            dice.choice(("TRUE", "FALSE")),
        ),
        "SEARCH": lambda: (
            _written(dice.choice(("a", "le", "?", "a*e", "~?"))),
            _written(dice.choice(_WORDS)),
            *start(),
        ),
        "FIND": lambda: (_written(dice.choice(("a", "le", "P", "?"))), _written(dice.choice(_WORDS)), *start()),
        "DATEDIF": lambda: (*days(), dice.choice(('"Y"', '"m"', '"D"', '"YM"'))),
        "DAYS360": lambda: (*days(), *dice.choice(((), ("TRUE",), ("FALSE",)))),
        "YEARFRAC": lambda: (*days(), *dice.choice(((), (0,), (1,), (2,), (3,), (4,), (5,)))),
        "WEEKNUM": lambda: (days()[0], *dice.choice(((), (1,), (2,), (11,), (13,), (17,), (21,), (3,)))),
        "_xlfn.ISOWEEKNUM": lambda: days()[:1],
        "NETWORKDAYS": lambda: (*days(), f"{{{days()[0]};{days()[0]}}}"),
        "WORKDAY": lambda: (days()[0], dice.randint(-50, 300)),
        "TIMEVALUE": lambda: (dice.choice(('"1:30"', '"12:59:59"', '"23:00"')),),
        # those of the engine itself that are taken for right
        "MATCH": lambda: found_in((0,), (1,)),
        "VLOOKUP": in_table,
        "LOOKUP": lambda: found_in(()),
        "REPT": lambda: ('"ab"', dice.choice((0, 1, 2.7, -1))),
        "VALUE": lambda: (_written(dice.choice(("5", " 7 ", "x", "", "1e3", "-3"))),),
        "REPLACE": lambda: ('"abcdef"', dice.choice((1, 3, 7, 0, -1)), dice.choice((0, 2, 9, -1)), '"ZZ"'),
        **dict.fromkeys(("SMALL", "LARGE"), lambda: (list_of_few(), dice.choice((1, 2, 5, 6, 0)))),
        "PERCENTILE": lambda: (list_of_few(), dice.choice((0, 0.25, 0.33, 1, 1.2, -0.1))),
        "QUARTILE": lambda: (list_of_few(), dice.choice((0, 1, 2, 4, 5, -1, 1.5))),
        **dict.fromkeys(("STDEV", "_xlfn.STDEV.S"), lambda: (dice.choice((list_of_few(), "{1}", "{2;2;2}")),)),
        **dict.fromkeys(("GEOMEAN", "HARMEAN"), lambda: (list_of_few(),)),
        "SLOPE": lambda: (list_of_few(), list_of_few()),
        "CHOOSE": lambda: (dice.choice((0, 1, 2, 2.9, 3, 4)), 10, 20, 30),
        **dict.fromkeys(("EVEN", "ODD", "SQRTPI", "LN", "SQRT", "LOG10", "GAMMALN", "ACOS"), lambda: (number(),)),
        **dict.fromkeys(("ATAN2", "QUOTIENT"), lambda: (number(), number())),
        **dict.fromkeys(("COMBIN", "PERMUT"), lambda: (dice.randint(-2, 60), dice.randint(-2, 60))),
        "NORMDIST": lambda: (number(), number(), dice.choice((0, 1, 2, -1)), dice.choice(("TRUE", "FALSE"))),
        "NORMINV": lambda: (chance(), number(), dice.choice((0, 1, 2))),
        **dict.fromkeys(
            ("_xlfn.EXPON.DIST", "_xlfn.POISSON.DIST"),
            lambda: (dice.choice((-1, 0, 2, 2.5)), dice.choice((0, 1, 2, -1)), dice.choice(("TRUE", "FALSE"))),
        ),
        **dict.fromkeys(("PMT", "PV"), lambda: (chance(), dice.choice((12, 0, 5)), number())),
        "FV": lambda: (chance(), dice.choice((12, 0, 5)), number(), number()),
    }
    places = {"LINEST": (5, 2), "LOGEST": (5, 2), "TREND": (2, 1), "GROWTH": (2, 1)}
    for name, arguments in some.items():
        for _ in range(40):
            if name in places:
                rows, columns = places[name]
                place = f"{dice.randint(1, rows)},{dice.randint(1, columns)}"
                yield f"INDEX({name}({','.join(map(str, arguments()))}),{place})"
                continue
            yield f"{name}({','.join(map(str, arguments()))})"


_WORDS = ("apple", "Pear", "fig", "plum", "cherry", "10", "what?", "hops")


def _written(cell: Any) -> str:
    return f'"{cell}"' if isinstance(cell, str) else str(cell)


_CONVERTIBLE = (
    "g kg mg lbm ozm stone ton uk_ton grain",
    "l ml hl gal uk_gal qt uk_qt pt cup oz tsp tbs ft3 in3 barrel",
    "Pa kPa atm mmHg psi Torr",
    "m cm mm in ft yd mi km",
    "J kJ cal c BTU Wh kWh",
    "W kW HP PS",
    "sec s min hr day yr",
)


def test_an_independent_engine_gives_the_same(tmp_path: Path) -> None:
    ironcalc = needs.library("ironcalc")
    formulas = list(_calls(random.Random(5)))
    book = openpyxl.Workbook()
    for row, formula in enumerate(formulas, 1):
        book.active.cell(row, 1, "=" + formula)
    book.save(tmp_path / "calls.xlsx")
    model = ironcalc.load_from_xlsx(str(tmp_path / "calls.xlsx"), "en", "UTC", "en")
    model.evaluate()
    calculation = Calculation()
    calculation.add_sheet("S")
    rewriter = Rewriter(catalogue(), (), (), ("S",))
    for row, formula in enumerate(formulas, 1):
        calculation.set_formula("S", row, 1, "=" + rewriter.rewrite(formula, "S", row, 1, True))
    calculation.calculate()
    unknown = 0
    for row, formula in enumerate(formulas, 1):
        ours, theirs = calculation.value("S", row, 1), model.get_cell_value(0, row, 1)
        if isinstance(ours, CellError):
            unknown += ours.code == UNKNOWN
            assert ours.code in (theirs, UNKNOWN), formula
        elif not isinstance(ours, float):
            assert ours == theirs, formula
        else:
            close = isinstance(theirs, float | int) and math.isclose(ours, theirs, rel_tol=1e-9, abs_tol=1e-12)
            assert close, (formula, ours, theirs)
    assert unknown < 0.05 * len(formulas)


# ---------------------------------------------------------------- arrays
@pytest.mark.parametrize(
    ("formula", "expected"),
    [  # worked by hand from CELLS
        ("SUMPRODUCT(LEN(A1:A6))", 10),
        ('SUMPRODUCT(--(LEFT(A1:A6,1)="B"))', 4),
        ("SUM(ROUND(B1:B6,1))", 1.2 + 2.3 - 3.5 + 4.5 + 5.5 + 6.3),
        ("SUM(ABS(B1:B6-1))", 0.234 + 1.345 + 4.456 + 3.5 + 4.5 + 5.25),
        ("SUMPRODUCT(1/COUNTIF(A1:A6,A1:A6))", 5),
        ('SUM(COUNTIF(A1:A6,{"Bx","C"}))', 3),
        ('SUM(COUNTIFS(A1:A6,{"Bx";"C"},B1:B6,">0"))', 2),
        ("SUMPRODUCT(MATCH(A1:A6,A1:A6,0))", 1 + 2 + 3 + 4 + 5 + 1),
        ("SUM(SUMIF(A1:A6,A1:A6,B1:B6))", 2 * (1.234 + 6.25) + 2.345 - 3.456 + 4.5 + 5.5),
        ("SUM(LARGE(B1:B6,{1,2,3}))", 16.25),
        ("SUM(LARGE(B1:B6,ROW(1:3)))", 16.25),
        ('SUM(SMALL(B1:B6,ROW(INDIRECT("1:"&2))))', 1.234 - 3.456),
        ('MAX(ROW(A1:A6)*(A1:A6="Bx"))', 6),
        ('SUM(VLOOKUP({"C","D"},A1:B6,2,FALSE))', 5.5 - 3.456),
        ('SUM(ISNUMBER(SEARCH("B",A1:A6))*1)', 4),
        ('LOOKUP(2,1/(A1:A6="Bx"),B1:B6)', 6.25),
        ("MATCH(3,{1;2;5;7})", 2),
        ("MATCH(3,{7;5;2;1},-1)", 2),
        ("MATCH(3,{1;5;2;7})", UNKNOWN),  # halving leads anywhere
        ("MATCH(3,{1;2;7;5})", UNKNOWN),
        ("MATCH(3,{1;2;2;7;7})", 3),  # the last of equal ones
        ("MATCH(9,{7;5;2})", 3),  # the idiom for the last number: more than all, in whatever order
        ("VLOOKUP(6,{1,10;5,50;7,70},2)", 50),
        ("HLOOKUP(0,{1,5;10,50},2,TRUE)", "#N/A"),
        ('COUNTIF(B1:B6,">600%")', 1),
        ("SUM(MOD(ROW(A1:A6),2)*B1:B6)", 1.234 - 3.456 + 5.5),
        ("SUM(NOT(B1:B6>2)*1)", 2),
        ("SUMPRODUCT(B1:B6>2,B1:B6)", 0),  # truth values in an array count as 0
        ("SUMPRODUCT((B1:B6>2)*B1:B6)", 2.345 + 4.5 + 5.5 + 6.25),
        ('SUM(LEN(A1:A6)-LEN(SUBSTITUTE(A1:A6,"B","")))', 4),
        ("SUM(CEILING(ABS(B1:B6),2))", 2 + 4 + 4 + 6 + 6 + 8),
        ("SUM(ISBLANK(C1:C6)*1)", 1),
        ("SUM(ISERROR(C1:C6)*1)", 1),
        ("SUM(LEN(C2:C5))", 0 + 3 + 4 + 1),  # "", 0.3, TRUE, 7
        ("SUM(ROUND(C1:C6,0))", "#DIV/0!"),
        ("SUM(IFERROR(ROUND(C1:C6,0),100))", 10 + 0 + 0 + 1 + 7 + 100),
        ("SUM(ROUND(B1:B3,{0;1}))", "#N/A"),
    ],
)
def test_arrays_are_gone_through(formula: str, expected: Any) -> None:
    found = answer(formula)
    assert found == (pytest.approx(expected, rel=1e-12) if isinstance(expected, (int, float)) else expected)


def test_in_a_formula_of_one_cell_a_range_stands_for_one_of_its_cells() -> None:
    assert answer("ROUND(B1:B6,1)", ordinary=True) == 1.2
    assert answer("SUM(ABS(B1:B6))", ordinary=True) == 1.234
    assert answer("SUMPRODUCT(ABS(B1:B6))", ordinary=True) == pytest.approx(1.234 + 2.345 + 3.456 + 4.5 + 5.5 + 6.25)


# ---------------------------------------------------------------- 15 digits
@pytest.mark.parametrize(
    ("formula", "expected"),
    [  # Microsoft's page on floating-point arithmetic: 15 digits
        ("IF(0.1*3>0.3,1,2)", 2),
        ("0.1*3=0.3", True),
        ("(1.046-1)*1000=46", True),
        ("(1.046-1)*1000<>46", False),
        ("0.1*3<=0.3", True),
        ("0.1*3<0.3", False),
        ("0.3001>=0.3", True),
        ('2<"a"', True),
        ('"a"<TRUE', True),
        ("B1>B2", False),
        ("B1<B2", True),
        ("C2=0", True),
        ('C2=""', True),
        ("A1=B1", False),
        ("A1=A6", True),
        ("C6=1", "#DIV/0!"),
        ('5*0.07&" kg"', "0.35 kg"),
        ('1/3&""', "0.333333333333333"),
        ('-2/3&"x"', "-0.666666666666667x"),
        ('123456789012&""', "123456789012"),
        ("C3&C2&C4", "0.3TRUE"),
        ("LEN(0.1+0.2)", 3),
        ('CONCATENATE(0.1+0.2,"-",C1)', "0.3-10"),
        ('TEXTJOIN("/",TRUE,C1:C4)', "10/0.3/TRUE"),
        ("EXACT(0.1+0.2,0.3)", True),
    ],
)
def test_numbers_are_compared_and_written_to_15_digits(formula: str, expected: Any) -> None:
    assert answer(formula) == expected


def test_what_programs_write_each_in_their_own_way_is_left(tmp_path: Path) -> None:
    cells = 'A1 5\nA2 =A1*1E-9&" g" | "0.000000005 g"\nA3 =IFERROR(MROUND(A1,0.1),0) | 5\nA4 =A1*2 | 10'
    path = xlsx_build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"})
    assert not recalculate(path).written
    report = record(path, {"x": 5.05})
    assert {kept.cell for kept in report.stale} == {"A2", "A3"}
    assert values(path) == {"A1": 5.05, "A2": "0.000000005 g", "A3": 5, "A4": 10.1}


def test_sorting(tmp_path: Path) -> None:
    """Numbers, then texts, then truth values, blanks at the end; equal ones keep their order (Microsoft's page)."""
    cells = (
        'A1 3\nA2 "pear"\nA3 1\nA4 "Apple"\nA6 1\nB1 1\nB2 2\nB3 3\nB4 4\nB5 5\nB6 6\n'
        "D1 {{=SORT(A1:A6)}} D1:D6 | 1\nE1 {{=SORT(A1:B6,1)}} E1:F6 | 1\nH1 {{=SORTBY(B1:B3,A1:A3,1)}} H1:H3 | 3\n"
        "I1 {{=SORT(B1:B3,,-1)}} I1:I3 | 3"
    )
    path = xlsx_build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"})
    recalculate(path, everything=True)
    found = values(path)
    assert [found[f"D{row}"] for row in range(1, 7)] == [1, 1, 3, "Apple", "pear", 0]
    assert [found[f"F{row}"] for row in range(1, 7)] == [3, 6, 1, 4, 2, 5]
    assert [found[f"I{row}"] for row in range(1, 4)] == [3, 2, 1]
    path = xlsx_build.workbook(tmp_path / "b.xlsx", {"S": cells.replace('"pear"', "2")}, {"x": "S!$A$1"})
    recalculate(path, everything=True)
    assert [values(path)[f"H{row}"] for row in range(1, 4)] == [3, 2, 1]


def test_days_counted_from_1904_are_left(tmp_path: Path) -> None:
    cells = "A1 44000\nA2 =WEEKNUM(A1) | 25\nA3 =MROUND(A1,7) | 44002"
    path = xlsx_build.workbook(
        tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"}, workbook='<workbookPr date1904="1"/>'
    )
    report = record(path, {"x": 44010})
    assert {kept.cell for kept in report.stale} == {"A2"}
    assert values(path)["A3"] == 44009


# ---------------------------------------------------------------- circles
@pytest.mark.parametrize(("given", "largest"), [(5, 42), (50, 50)])
def test_a_circle_goes_on_from_what_is_stored(given: float, largest: float, tmp_path: Path) -> None:
    cells = 'A1 7\nA2 =MAX(A2,A1) | 42\nA3 =A2*2 | 84\nA4 =IF(A1="","",IF(A4="",A1,A4)) | 3'
    path = xlsx_build.workbook(
        tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"}, calculation='<calcPr iterate="1" iterateCount="10"/>'
    )
    assert not recalculate(path).written
    report = record(path, {"x": given})
    assert report.stale == []
    assert values(path) == {"A1": given, "A2": largest, "A3": 2 * largest, "A4": 3}


# ---------------------------------------------------------------- hidden rows
@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ('hidden="1"', "", {"B1": 9, "B2": 8, "B3": 3}),  # by hand: only 101 to 111 pass over it
        (
            'hidden="1"',
            '<autoFilter ref="A1:A3"><filterColumn colId="0"><filters/></filterColumn></autoFilter>',
            {"B1": 8, "B2": 8, "B3": 2},
        ),
        ("", "", {"B1": 9, "B2": 9, "B3": 3}),
    ],
)
def test_subtotal_passes_over_hidden_rows(before: str, after: str, expected: dict[str, float], tmp_path: Path) -> None:
    stored = {"B1": expected["B1"] - 2, "B2": expected["B2"] - 2, "B3": expected["B3"]}
    xml = (
        '<row r="1"><c r="A1"><v>1</v></c><c r="B1"><f>SUBTOTAL(9,A1:A3)</f><v>{B1}</v></c></row>'
        f'<row r="2" {before}><c r="A2"><v>1</v></c><c r="B2"><f>SUBTOTAL(109,A1:A3)</f><v>{{B2}}</v></c></row>'
        '<row r="3"><c r="A3"><v>5</v></c><c r="B3"><f>SUBTOTAL(2,A1:A3)</f><v>{B3}</v></c></row>'
    ).format(**stored)
    path = xlsx_build.workbook(tmp_path / "a.xlsx", {"S": xlsx_build.sheet(xml, after=after)}, {"x": "S!$A$3"})
    report = record(path, {"x": 7})
    assert report.stale == []
    found = values(path)
    assert {place: found[place] for place in expected} == expected


def test_an_engine_that_passes_over_a_formula_stops_the_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = xlsx_build.workbook(tmp_path / "a.xlsx", {"S": "A1 1\nA2 =A1*2 | 2"}, {"x": "S!$A$1"})
    before = path.read_bytes()
    monkeypatch.setattr(Calculation, "formula", lambda self, *place: None)
    with pytest.raises(WorkbookError, match="passes over S!A2"):
        record(path, {"x": 7})
    assert path.read_bytes() == before


def test_every_function_answers_what_is_no_number() -> None:
    """Text, an error, nothing at all: an error value, and no exception that the engine would have to catch."""
    for name, function in BUILTINS.items():
        for given in ((), ("x",), ({"type": "Error", "kind": "Div"},) * 3, (None, None), (1.0, 2.0, 3.0, 4.0, 5.0)):
            value = function(*given)
            assert value.__class__ in (float, str, bool, dict, list, type(None)), (name, given, value)


def test_formulas_filled_down_and_across_are_each_put_in_their_own_words(tmp_path: Path) -> None:
    """Formulas of one template are put into the engine's words once; rows, columns and ranges stay each one's own."""
    lines = []
    for row in range(1, 5):
        lines.append(f"A{row} {row}\nB{row} {10 * row}")
        lines.append(f'C{row} =IF(A{row}>2,$B$1,B{row})&"A{row}" | "{10 if row > 2 else 10 * row}A{row}"')
        lines.append(f"D{row} =SUMPRODUCT(ROW($A$1:$A${row})*1) | {row * (row + 1) // 2}")
        lines.append(f"E{row} =SUMPRODUCT(ROUND($A$4:$A{row},0)) | {sum(range(row, 5))}")
    path = xlsx_build.workbook(tmp_path / "a.xlsx", {"S": "\n".join(lines)}, {"x": "S!$B$1", "y": "S!$A$4"})
    report = record(path, {"x": 7, "y": 5})
    assert report.stale == []
    found = values(path)
    assert [found[f"C{row}"] for row in range(1, 5)] == ["7A1", "20A2", "7A3", "7A4"]
    assert [found[f"D{row}"] for row in range(1, 5)] == [1, 3, 6, 10]
    assert [found[f"E{row}"] for row in range(1, 5)] == [11, 10, 8, 5]


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])  # in the latter by character references
def test_names_that_differ_in_their_last_digit_are_no_rows(tmp_path: Path, encoding: str) -> None:
    """A name may end as an address does, after a letter of another alphabet."""
    names = {"x": "S!$A$1", "Größe1": "S!$A$1", "Größe2": "S!$A$1*2", "é1": "S!$A$1", "é2": "S!$A$1*3"}
    cells = "A1 5\nB1 =Größe1+1 | 6\nB2 =Größe2+1 | 11\nC1 =(é1>0)+é1 | 6\nC2 =(é2>0)+é2 | 16"
    path = xlsx_build.workbook(tmp_path / "a.xlsx", {"S": cells}, names)
    members = xlsx_build.members(path)
    sheet = "xl/worksheets/sheet1.xml"
    members[sheet] = members[sheet].decode().encode(encoding, "xmlcharrefreplace")
    path.write_bytes(xlsx_build.zipped(members))
    assert record(path, {"x": 7}).stale == []
    assert values(path) == {"A1": 7, "B1": 8, "B2": 15, "C1": 8, "C2": 22}
