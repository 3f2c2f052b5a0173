"""The in-process engine: what our functions are given and give, and what is relied on in its pinned version.

Where no source is named, the expected value is arithmetic done by hand or an Excel rule from its documentation.
"""

from __future__ import annotations

import importlib.metadata
import math
import signal
import threading
import weakref
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any
from unittest import mock

import pytest

from brewfuncs import cells
from brewfuncs.errors import BadInput, BrewError, CellError, NotListed, OutOfRange
from brewfuncs.hosts import engine
from brewfuncs.hosts.engine import Calculation, evaluate, knows
from brewfuncs.hosts.rewrite import Rewriter, table_reference
from brewfuncs.hosts.standard.declare import OMITTED_TEXT
from brewfuncs.xlsx.address import Box
from brewfuncs.xlsx.formula import Untranslatable, shift, tokenize
from brewfuncs.xlsx.package import DefinedName, Table


def test_the_version_is_the_pinned_one() -> None:
    assert importlib.metadata.version("formualizer") == "0.13.0"


# ---------------------------------------------------------------- evaluate
def test_values() -> None:
    assert evaluate("=1+2*3") == 7.0
    assert evaluate("  1+1  ") == 2.0
    assert evaluate('="a"&"b"') == "ab"
    assert evaluate("=1=1") is True
    assert evaluate("={1,2;3,4}*2") == [[2.0, 4.0], [6.0, 8.0]]


def test_a_published_value() -> None:
    # Tinseth's own table (realbeer.com/hops/research.html): 60 min at 1.050 is 0.231 of the alpha acid,
    # so 28 g of 5.5 % in 20 L give 28 * 0.055 * 1000 * 0.231 / 20 = 17.8 mg/L; the table has three decimals
    assert evaluate("=HOP_BITTERNESS(28,5.5%,60,20,1.05)") == pytest.approx(17.787, abs=0.04)


def test_errors_come_with_their_sentence() -> None:
    with pytest.raises(OutOfRange, match=r"write 5\.5 % or 0\.055") as caught:
        evaluate("=HOP_BITTERNESS(28,5.5,60,20)+1")
    assert caught.value.code == "#NUM!"
    with pytest.raises(NotListed, match='method "guess" is not listed'):
        evaluate('=SUM(1,HOP_BITTERNESS(28,5.5%,60,20,,"guess"))')
    with pytest.raises(BadInput, match="is not a number"):
        evaluate('=HOP_BITTERNESS("many",5.5%,60,20)')


def test_other_errors_are_cell_errors() -> None:
    for formula, code in {"=1/0": "#DIV/0!", "=NA()": "#N/A", "=SQRT(-1)": "#NUM!", '=1+"x"': "#VALUE!"}.items():
        with pytest.raises(CellError) as caught:
            evaluate(formula)
        assert caught.value.code == code
    with pytest.raises(CellError) as caught:
        evaluate("=HOP_BITTERNESS(1/0,5.5%,60,20)")  # an error in an argument comes out as it is
    assert caught.value.code == "#DIV/0!"


def test_an_error_that_a_formula_deals_with_is_none() -> None:
    assert evaluate('=IFERROR(HOP_BITTERNESS(-1,5%,60,20),"none")') == "none"


def test_an_array_keeps_its_good_elements() -> None:
    good, bad = evaluate("=HOP_BITTERNESS({28;-1},5%,60,20)")
    assert good[0] == evaluate("=HOP_BITTERNESS(28,5%,60,20)")
    assert isinstance(bad[0], OutOfRange)
    assert "mass -1 g" in str(bad[0])


@pytest.mark.parametrize(
    ("formula", "message"),
    [
        ("", "no formula"),
        ("=", "no formula"),
        ("=1+", "can't be read"),
        ("=(1", "can't be read"),
        ("=1+hop_swap_mass 30 60", 'can\'t be read: before "30" an operator or a comma is missing'),
        ("=HOP_SWAP_MASS(30 60 30)", 'can\'t be read: before "60" an operator or a comma is missing'),
        ('="Größe" 2', 'can\'t be read: before "2" an operator or a comma is missing'),
        ("={1,2 3}", 'can\'t be read: before "3" an operator or a comma is missing'),
        ("=30*/60", 'can\'t be read: before "/" a value is missing'),
        ('="x', "can't be read"),
        ("=BOIL_OFF(4.5;30)", "separated by commas"),
        ("=B7", "refers to B7"),
        ("=Plan!B7*2", "refers to Plan!"),
        ("=[1]Plan!B7", "another workbook"),
        ("=Hops[Mass]", "no table Hops"),
    ],
)
def test_what_cannot_be_evaluated(formula: str, message: str) -> None:
    with pytest.raises(BadInput, match=message):
        evaluate(formula)


def test_words_and_quantities_without_quotation_marks_are_told() -> None:
    with pytest.raises(CellError, match='kinetic is not a name known here; text stands in quotation marks: "kinetic"'):
        evaluate("=HOP_SWAP_MASS(30,60,30,kinetic)")
    for typed in ("28g", "28 g"):  # what then stands in quotation marks is all of the quantity
        with pytest.raises(BadInput, match='a number with its unit stands in quotation marks: "28 g"'):
            evaluate(f"=HOP_SWAP_MASS({typed},60,30)")
    assert evaluate('=HOP_SWAP_MASS("28 g",60,30)') == evaluate("=HOP_SWAP_MASS(28,60,30)")
    assert evaluate("=LET(grams,2,grams*3)") == 6


def test_unknown_functions_are_named_with_the_nearest() -> None:
    with pytest.raises(CellError, match=r"HOP_BITERNESS is not a function known here; did you mean HOP_BITTERNESS"):
        evaluate("=HOP_BITERNESS(1)")
    assert knows("hop_bitterness")
    assert knows("_xlfn.XLOOKUP")
    assert not knows("NO_SUCH_THING")


def test_a_left_out_argument_takes_its_default() -> None:
    assert evaluate('=HOP_BITTERNESS(28,5%,60,20,,"tinseth",)') == evaluate("=HOP_BITTERNESS(28,5%,60,20)")
    assert evaluate('=BREW_REASON("HOP_BITTERNESS",28,,60,20)') == "alpha is missing"


def test_prefixes_and_paths_before_our_names() -> None:
    plain = evaluate("=HOP_BITTERNESS(28,5%,60,20)")
    for prefix in ("_xll.", "_xlfn.", "BREW.", "[1]!", "'C:\\brew\\x.xlam'!", "'[x.xlam]S'!"):
        assert evaluate(f"={prefix}HOP_BITTERNESS(28,5%,60,20)") == plain


# ---------------------------------------------------------------- the border
class Spy:
    """Stands in for `cells.apply` and writes down what a function is given."""

    def __init__(self, answer: object = 0.0) -> None:
        self.given: list[list[object]] = []
        self.answer = answer

    def __call__(self, function: object, arguments: list[object]) -> object:
        self.given.append(arguments)
        return self.answer


def given(formula: str, **cells_of_sheet: object) -> list[object]:
    spy = Spy()
    with mock.patch.object(engine.cells, "apply", spy):
        calculation = Calculation()
        calculation.add_sheet("S")
        for address, value in cells_of_sheet.items():
            calculation.set_value("S", int(address[1:]), ord(address[0]) - 64, value)
        ready = Rewriter(engine.catalogue(), (), (), ("S",)).rewrite(formula, "S", 20, 20, ordinary=True)
        calculation.set_formula("S", 20, 20, "=" + ready)
        calculation.calculate()
    return spy.given[0]


def test_what_a_function_is_given() -> None:
    arguments = given('HOP_MASS(1,"x",TRUE,A1,,A2:A3,{1,"a"},A1:B2,A1/0)', A2=2.5, B1="t", B2=False)
    assert arguments[:5] == [1.0, "x", True, cells.BLANK, cells.OMITTED]
    assert arguments[5] == [[2.5], [cells.BLANK]]
    assert arguments[6] == [[1.0, "a"]]
    assert arguments[7] == [[cells.BLANK, "t"], [2.5, False]]
    assert isinstance(arguments[8], CellError)
    assert arguments[8].code == "#DIV/0!"


def test_a_zero_is_not_a_left_out_argument() -> None:
    assert given("HOP_MASS(0,,0)") == [0.0, cells.OMITTED, 0.0]
    assert given("HOP_MASS(IF(TRUE,,2),3)") == [0.0, 3.0]  # IF's own empty argument is its 0


@pytest.mark.parametrize(
    ("answer", "value"),
    [
        (2.5, 2.5),
        ("x", "x"),
        (True, True),
        (OutOfRange("no"), "#NUM!"),
        (BadInput("no"), "#VALUE!"),
        (NotListed("no"), "#N/A"),
        (CellError("#DIV/0!"), "#DIV/0!"),
        (CellError("#NAME?"), "#NAME?"),
        (math.nan, "#NUM!"),
        (math.inf, "#NUM!"),
        ([[1.0, math.inf], ["a", OutOfRange("no")]], 1.0),
    ],
)
def test_what_a_function_may_answer(answer: object, value: object) -> None:
    with mock.patch.object(engine.cells, "apply", Spy(answer)):
        calculation = Calculation()
        calculation.add_sheet("S")
        calculation.set_formula("S", 1, 1, "=HOP_MASS(1)")
        calculation.calculate()
        found = calculation.value("S", 1, 1)
        assert (found.code if isinstance(found, CellError) else found) == value
        if isinstance(answer, list):
            block = calculation.values("S", Box(1, 1, 2, 2))
            assert block[0][0] == 1.0
            assert block[1][0] == "a"
            assert all(isinstance(cell, CellError) for cell in (block[0][1], block[1][1]))


def test_ctrl_c_stops_the_calculation() -> None:
    with mock.patch.object(engine.cells, "apply", mock.Mock(side_effect=KeyboardInterrupt)):
        calculation = Calculation()
        calculation.add_sheet("S")
        calculation.set_formula("S", 1, 1, "=HOP_MASS(1)")
        with pytest.raises(KeyboardInterrupt):
            calculation.calculate()
    assert evaluate("=1+1") == 2.0


@pytest.fixture
def takes_ctrl_c() -> Iterator[None]:
    """As a program that was started does; a worker of pytest-xdist takes none."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("takes_ctrl_c")
def test_ctrl_c_on_the_way_into_a_function_is_no_value_of_a_cell(monkeypatch: pytest.MonkeyPatch) -> None:
    """The signal comes while the engine works, and Python sees to it as it enters the function: outside of any try."""
    called = Calculation._call

    def entered(self: Calculation, *arguments: Any) -> Any:
        signal.raise_signal(signal.SIGINT)
        return called(self, *arguments)

    monkeypatch.setattr(Calculation, "_call", entered)
    calculation = Calculation()
    calculation.add_sheet("S")
    calculation.set_formula("S", 1, 1, "=BOIL_OFF(4.5,30)")
    with pytest.raises(KeyboardInterrupt):
        calculation.calculate()
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    with pytest.raises(KeyboardInterrupt):
        calculation.trial("S", 1, 2, "=BOIL_OFF(4.5,30)", ())
    monkeypatch.undo()
    other = Calculation()
    other.add_sheet("S")
    other.set_formula("S", 1, 1, "=BOIL_OFF(4.5,30)")
    other.calculate()
    assert other.value("S", 1, 1) == 2.25


def test_a_mistake_of_ours_is_not_hidden_in_a_cell() -> None:
    with mock.patch.object(engine.cells, "apply", mock.Mock(side_effect=AssertionError("ours"))):
        calculation = Calculation()
        calculation.add_sheet("S")
        calculation.set_formula("S", 1, 1, "=HOP_MASS(1)")
        with pytest.raises(AssertionError, match="ours"):
            calculation.calculate()


def test_many_threads() -> None:
    found: list[float] = []
    formula = "=HOP_BITTERNESS(28,5%,60,20)"
    threads = [
        threading.Thread(target=lambda: found.extend(evaluate(formula) for _ in range(25)), daemon=True)
        for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(found) == 200
    assert len(set(found)) == 1


def test_only_what_depends_on_a_change_is_called_again() -> None:
    spy = Spy(1.0)
    with mock.patch.object(engine.cells, "apply", spy):
        calculation = Calculation()
        calculation.add_sheet("S")
        for row in (1, 2, 3):
            calculation.set_value("S", row, 1, float(row))
            calculation.set_formula("S", row, 2, f"=HOP_MASS(A{row})")
        calculation.calculate()
        assert len(spy.given) == 3
        calculation.set_value("S", 2, 1, 9.0)
        calculation.calculate()
        assert spy.given[3:] == [[9.0]]
        assert calculation.precedents("S", 2, 2) == [("S", Box(2, 1, 2, 1))]


# ---------------------------------------------------------------- the text of formulas
@pytest.mark.parametrize(
    "formula",
    [
        'HOP_BITTERNESS(\'My \'\'Sheet\'!A1,[1]!X(2),Hops[[#This Row],[Mass g]],{1,"}";3,4},"a""b",-5.5%,#N/A,#REF!)',
        "SUM(A:A,$1:$2,Sheet1:Sheet3!A1,1E+5,.5,A1#,@B2:C3) <> größe^2",
        "'unclosed",
        '"unclosed',
        "{1,2",
        "Hops[Alpha '[%']]+[@[it''s]]",
        "🍺+)](",
        "",
    ],
)
def test_tokens_put_together_give_the_formula(formula: str) -> None:
    assert "".join(token.text for token in tokenize(formula)) == formula


@pytest.mark.parametrize(
    ("formula", "rows", "columns", "expected"),
    [
        ("A1+$A1+A$1+$A$1", 2, 3, "D3+$A3+D$1+$A$1"),
        ("SUM(A1:B2,C:C,$D:E,5:5,S!A1)", 1, 1, "SUM(B2:C3,D:D,$D:F,6:6,S!B2)"),
        ('"A1"&Table1[A1]&LOG10(A1)&A1B&_A1', 1, 0, '"A1"&Table1[A1]&LOG10(A2)&A1B&_A1'),
        ("A1", -1, 0, "#REF!"),
        ("XFD1", 0, 1, "#REF!"),
    ],
)
def test_shift(formula: str, rows: int, columns: int, expected: str) -> None:
    assert shift(formula, rows, columns) == expected


def test_shift_of_names_goes_round_the_edge() -> None:
    assert shift("A1048576", 1, 0, wrap=True) == "A1"


HOPS = Table("Hops", "In put's", Box(10, 1, 14, 4), ("Name", "Mass", "Alpha [%]", "A'b"), 1, 1)
FUNCTIONS = {"HOP_X": SimpleNamespace()}
NAMES = (
    DefinedName("abc", "S!$A$1", None),
    DefinedName("both", "abc+Alias", None),
    DefinedName("alias", "abc", None),
    DefinedName("loop", "pool+1", None),
    DefinedName("pool", "loop+1", None),
    DefinedName("up", "S!A1048576", None),
    DefinedName("mine", "S!$B$2", "S"),
    DefinedName("Area", "S!$A$1:$A$3", None),
)


def rewritten(formula: str, row: int = 12, ordinary: bool = False) -> str:
    rewriter = Rewriter(FUNCTIONS, (HOPS,), NAMES, ("S", "In put's"))
    return rewriter.rewrite(formula, "In put's", row, 2, ordinary)


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("SUM(Hops[Mass])", "SUM('In put''s'!$B$11:$B$13)"),
        ("[@Mass]*2", "'In put''s'!$B$12*2"),
        ("Hops[[#This Row],[Mass]]", "'In put''s'!$B$12"),
        ("Hops[[#This Row],Mass]", "'In put''s'!$B$12"),
        ("Hops[@[Alpha '[%']]]", "'In put''s'!$C$12"),
        ("hops[A''b]", "'In put''s'!$D$11:$D$13"),
        ("Hops[[#Headers],[Mass]]", "'In put''s'!$B$10"),
        ("Hops[[#Totals],[Mass]]", "'In put''s'!$B$14"),
        ("ROWS(Hops[#All])", "ROWS('In put''s'!$A$10:$D$14)"),
        ("SUM(Hops[[Mass]:[Alpha '[%']]])", "SUM('In put''s'!$B$11:$C$13)"),
        ("SUM(Hops[[#Headers],[#Data],[Mass]])", "SUM('In put''s'!$B$10:$B$13)"),
        ('VLOOKUP("Hops[Mass]",Hops,2,0)', "VLOOKUP(\"Hops[Mass]\",'In put''s'!$A$11:$D$13,2,0)"),
        ("HOP_X(1,,3)", f'HOP_X(1,"{OMITTED_TEXT}",3)'),
        ("HOP_X(,2, )", f'HOP_X("{OMITTED_TEXT}",2, "{OMITTED_TEXT}")'),
        ("HOP_X( )", "HOP_X( )"),
        ("IF(A1,,3)", "IF(A1,,3)"),
        ('HOP_X(IF(A1,,2),,"a,,b")', f'HOP_X(IF(A1,,2),"{OMITTED_TEXT}","a,,b")'),
        ("[1]!HOP_X(1)", "HOP_X(1)"),
        ("'C:\\a\\[b.xlam]S'!hop_x(2)", "HOP_X(2)"),
        ("_xlfn.SINGLE(A1:A3)", "@(A1:A3)"),
        ("SUM(_xlfn.ANCHORARRAY(A1))", "SUM(A1#)"),
        ("abc*2", "abc*2"),
        ("both", "(abc+(abc))"),
        ("up", "(S!B11)"),
        ("S!mine+mine", "S!$B$2+mine"),
        ("s!A1", "'S'!A1"),
        ("SUM({1,2;3,4},'a[b'!A1)", "SUM({1,2;3,4},'a[b'!A1)"),
    ],
)
def test_rewriting(formula: str, expected: str) -> None:
    assert rewritten(formula) == expected


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("A1:A3", "@A1:A3"),
        ("A1:A3*2", "@A1:A3*2"),
        ("-A1:A3", "-@A1:A3"),
        ("SUM(A1:A3)", "SUM(A1:A3)"),
        ("SUM(A1:A3*B1:B3)", "SUM(@A1:A3*@B1:B3)"),
        ("SUMPRODUCT(A1:A3*B1:B3)", "SUMPRODUCT(A1:A3*B1:B3)"),
        ("HOP_X(A1:A3*2)", "HOP_X(A1:A3*2)"),
        ("S!A1:A3+1", "@S!A1:A3+1"),
        ("A1:INDEX(A:A,3)", "A1:INDEX(A:A,3)"),
    ],
)
def test_a_range_in_a_formula_of_one_cell_stands_for_its_cell(formula: str, expected: str) -> None:
    assert rewritten(formula, ordinary=True) == expected
    assert rewritten(formula, ordinary=False) == formula  # an array formula means all of it


@pytest.mark.parametrize(
    ("formula", "reason"),
    [
        ("[1]Sheet1!A1", "another workbook"),
        ("'C:\\[x.xlsx]S'!A1", "another workbook"),
        ("[1]!OTHER(1)", "of another file"),
        ("SUM(S:T!A1)", "several sheets"),
        ("Hops[Weight]", "no column 'Weight'"),
        ("Malts[Mass]", "no table Malts"),
        ("loop", "without end"),
        ("1+" * 5000 + "1", "longer than"),
    ],
)
def test_what_the_engine_cannot_be_given(formula: str, reason: str) -> None:
    with pytest.raises(Untranslatable, match=reason):
        rewritten(formula)


def test_a_table_row_from_outside_the_table() -> None:
    with pytest.raises(Untranslatable, match="outside the table"):
        table_reference(HOPS, "@Mass", 20)
    with pytest.raises(Untranslatable, match="no such row"):
        table_reference(Table("T", "S", Box(1, 1, 2, 1), ("a",), 0, 0), "[#Headers],[a]", 1)


def test_every_error_of_ours_is_a_brew_error() -> None:
    for formula in ("=1/0", "=1+", "=HOP_BITTERNESS(-1,5%,60,20)", "=NOPE()", "=B1"):
        with pytest.raises(BrewError):
            evaluate(formula)


def test_a_workbook_let_go_is_freed() -> None:
    """Some kilobytes a row would stay behind otherwise, of every workbook that one process recalculates."""
    calculation = Calculation()
    calculation.add_sheet("S")
    calculation.set_formula("S", 1, 1, "=BOIL_OFF(4.5,60)")
    calculation.calculate()
    assert calculation.value("S", 1, 1) == 4.5
    left = weakref.ref(calculation)
    del calculation
    assert left() is None
