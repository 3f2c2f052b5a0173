"""Computed columns of pandas, Polars and Arrow tables."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests import needs

pandas, polars, pyarrow = (needs.library(name) for name in ("pandas", "polars", "pyarrow"))

from brewfuncs.errors import BadInput, BrewError, CellError, NotListed, OutOfRange
from brewfuncs.hosts import engine
from brewfuncs.tables import evaluate_table

ADDITIONS = {
    "mass": [28.0, 14.0, 0.0, 28.0, None, 28.0],
    "alpha": [0.055, 0.12, 0.055, 5.5, 0.055, 0.055],
    "boil minutes": [60, 30, 60, 60, 60, 300],
    "method": ["tinseth", "Kinetic", "rager table", "tinseth", "tinseth", "tinseth"],
    "late": [False, True, False, False, True, False],
}
BITTERNESS = "=HOP_BITTERNESS([mass],[@alpha],[@[boil minutes]],20,1.05,[method])"


def pandas_nullable(data: dict[str, Any]) -> Any:
    return pandas.DataFrame(data).convert_dtypes(dtype_backend="numpy_nullable")


def pandas_arrow(data: dict[str, Any]) -> Any:
    return pandas.DataFrame(data).convert_dtypes(dtype_backend="pyarrow")


each_kind = pytest.mark.parametrize(
    "table",
    [pandas.DataFrame, pandas_nullable, pandas_arrow, polars.DataFrame, pyarrow.table],
    ids=lambda t: t.__name__,
)
Table = Callable[[dict[str, Any]], Any]


def cells(frame: Any, name: str) -> list[Any]:
    """A column as a list, what is missing as None."""
    if isinstance(frame, pandas.DataFrame):
        return [None if pandas.isna(cell) else cell for cell in frame[name]]
    return frame[name].to_list() if isinstance(frame, polars.DataFrame) else frame[name].to_pylist()


def names(frame: Any) -> list[str]:
    return list(frame.column_names if isinstance(frame, pyarrow.Table) else frame.columns)


def column(formula: str, **data: list[Any]) -> list[Any]:
    return cells(evaluate_table(polars.DataFrame(data, strict=False), {"answer": formula}), "answer")


@each_kind
def test_the_same_kind_of_table_comes_back_and_the_input_stays(table: Table) -> None:
    frame = table(ADDITIONS)
    added = evaluate_table(frame, {"ibu": BITTERNESS, "double": "=[ibu]*2", "share": '=IF([late],"late","early")'})
    assert type(added) is type(frame)
    assert names(frame) == list(ADDITIONS)
    assert names(added) == [*ADDITIONS, "ibu", "double", "share"]
    # 28 g of 5.5 % in 20 L for 60 min: 1540 mg of alpha acid, 0.2307 of it by the published table: 17.8 mg/L
    ibu = cells(added, "ibu")
    assert ibu[0] == pytest.approx(17.76, abs=0.01)
    assert ibu[2] == 0  # no hops
    assert ibu[3:] == [None, None, None]  # a share over 1, a mass that isn't there, a boil that is too long
    assert cells(added, "double") == [None if value is None else 2 * value for value in ibu]
    assert cells(added, "share") == ["early", "late", "early", "early", "late", "early"]


def test_missing_answers_are_nulls_where_the_table_has_them() -> None:
    for frame in (polars.DataFrame(ADDITIONS), pyarrow.table(ADDITIONS)):
        added = pyarrow.table(evaluate_table(frame, {"ibu": BITTERNESS}))
        assert added["ibu"].null_count == 3
        assert added["ibu"].type == pyarrow.float64()


def test_an_index_stays() -> None:
    frame = pandas.DataFrame({"gravity": [1.04, 1.05, 1.06]}, index=["c", "a", "b"])
    added = evaluate_table(frame, {"plato": "=WORT_PLATO([gravity])", "ok": "=[gravity]>1.045"})
    assert added["plato"].to_dict() == pytest.approx(
        {"c": engine.evaluate("=WORT_PLATO(1.04)"), "a": engine.evaluate("=WORT_PLATO(1.05)"),
         "b": engine.evaluate("=WORT_PLATO(1.06)")}, rel=1e-12,
    )  # fmt: skip
    assert added["ok"].to_dict() == {"c": False, "a": True, "b": True}


ROWS = [(3.0, -2.5, "Ale", True), (0.0, 2.5, "ale", False), (-1.005, 1.005, "stout", True), (1e6, 0.1, "12", False)]
FORMULAS = [
    "=[x]+[y]*2-1", "=[x]/[y]", "=[y]/[x]", "=-[x]^2", "=2^[y]^2", "=[x]^[y]", "=[y]%", "=50%*[x]", "=+[x]",
    "=[x]>[y]", "=[x]<=0", "=[x]<>3", '=[t]="ALE"', "=[t]>[x]", "=[t]<[b]", '=[t]&"/"&[x]&"/"&[b]', "=[t]*1", "=[b]+1",
    '="a"<[t]', "=[b]=TRUE", "=1=TRUE", "=[x]&[y]&0.1",
    "=IF([x]>0,[y],-[y])", "=IF([b],[t],\"none\")", "=IF([x]=0,0,[y]/[x])", "=IF(TRUE,[x],1/[x])",
    "=IFERROR([y]/[x],-1)", "=IFERROR(LN([x]),[y])", "=AND([x]>0,[b])",
    "=OR([x]>0,[b],FALSE)", "=NOT([b])", "=NOT([x])",
    "=ABS([x])", "=MIN([x],[y],1)", "=MAX([x],[y])", "=SUM([x],[y],1)", "=AVERAGE([x],[y])", "=INT([y])",
    "=ROUND([x],2)", "=ROUND([y],0)", "=ROUND([x]/7,-2)", "=ROUNDUP([y],1)", "=ROUNDDOWN([x],2)", "=SQRT([x])",
    "=POWER(ABS([x]),[y])", "=EXP([y])", "=LN([x])", "=LOG10([x])", "=BOIL_OFF([x],[y])", "=BOIL_OFF(4,ABS([x]))/2",
    "=HOP_UTILIZATION(ABS([y]),1.05,\"\")", "=BOIL_OFF(ABS([x]),\" \")",  # a text of nothing: the default, and 0
    "=WORT_PLATO(1+[y]/100)", "=UNIT_CONVERT([x],\"gal\",\"L\")",
]  # fmt: skip


@pytest.mark.parametrize("formula", FORMULAS)
def test_each_row_answers_as_a_sheet_does(formula: str) -> None:
    """The calculation engine works out the formula with the row's values written in."""
    answers = column(formula, **dict(zip("xytb", map(list, zip(*ROWS, strict=True)), strict=True)))
    for (x, y, t, b), answer in zip(ROWS, answers, strict=True):
        written = formula.replace("[x]", f"({x!r})").replace("[y]", f"({y!r})").replace("[t]", f'"{t}"')
        try:
            expected: Any = engine.evaluate(written.replace("[b]", str(b).upper()))
        except BrewError:
            expected = None
        assert answer == (pytest.approx(expected, rel=1e-12) if isinstance(expected, float) else expected), (x, y, t, b)


def test_what_is_missing_stays_missing() -> None:
    x = [1.0, None, 3.0]
    assert column("=[x]+1", x=x) == [2, None, 4]
    assert column("=IF([x]>1,[x],0)", x=x) == [0, None, 3]
    assert column("=IF(ISBLANK([x]),7,[x])", x=x) == [1, 7, 3]
    assert column("=IF([y]>0,5,[x])", x=x, y=[1.0, 1.0, 0.0]) == [5, 5, 3]  # the branch not taken doesn't matter
    assert column("=IF([x]>1,[x])", x=x) == [None, None, 3]  # nothing is said of the first row
    assert column('=[t]&"!"', t=["a", None]) == ["a!", None]
    assert column("=NOT([b])", b=[True, None]) == [False, None]
    assert column("=HOP_UTILIZATION(60,1.05,[method])", method=["tinseth", None])[1] is None


def test_quantities_as_text() -> None:
    # 1 oz is 28.349523125 g by definition; volume in US gallons of 3.785411784 L
    answers = column(
        "=HOP_BITTERNESS([m],[a],60,[v])", m=["1 oz", "28.349523125 g", "much"], a=["5.5 %"] * 3, v=["5 gal"] * 3
    )
    assert answers == pytest.approx([engine.evaluate('=HOP_BITTERNESS("1 oz",5.5%,60,"5 gal")')] * 2 + [None])


def test_numbers_join_texts_as_sheets_show_them() -> None:
    """15 digits, in Excel and Calc (as commonly quoted)."""
    assert column('="x"&[x]', x=[1.0, -2.5, 1 / 3, 0.1 + 0.2, 1e20]) == [
        "x1", "x-2.5", "x0.333333333333333", "x0.3", "x1E+20",
    ]  # fmt: skip


def test_whole_ranges_can_be_written_into_the_formula() -> None:
    answers = column("=WORT_COLOR({4;0.5},{2.5;40},[volume])", volume=[21.0, 42.0])
    assert answers[0] == pytest.approx(engine.evaluate("=WORT_COLOR({4;0.5},{2.5;40},21)"), rel=1e-12)
    with pytest.raises(BadInput, match=r"^answer: WORT_COLOR wants a whole range of malt_masses"):
        column("=WORT_COLOR([m],[c],20)", m=[4.0], c=[3.0])


def test_a_formula_of_constants_fills_the_column() -> None:
    assert column("=1+1", x=[1.0, 2.0]) == [2, 2]
    assert column('="ale"', x=[1.0, 2.0]) == ["ale", "ale"]
    assert column("=ISBLANK([x])", x=[1.0, 2.0]) == [False, False]


@each_kind
def test_no_rows(table: Table) -> None:
    frame = table(ADDITIONS)
    empty = frame.slice(0, 0) if isinstance(frame, (pyarrow.Table, polars.DataFrame)) else frame.iloc[:0]
    assert cells(evaluate_table(empty, {"ibu": BITTERNESS, "next": "=[ibu]+1"}), "next") == []


def test_raising_says_how_many_and_why_the_first() -> None:
    frame = polars.DataFrame(ADDITIONS)
    with pytest.raises(OutOfRange, match=r"^ibu: 2 of 6 elements; the first, at \[3\]: alpha 5.5 is over 1"):
        evaluate_table(frame, {"ibu": BITTERNESS}, errors="raise")
    with pytest.raises(CellError, match=r"^x: 1 of 6 elements; the first, at \[2\]: 1 / 0 gives #DIV/0!") as caught:
        evaluate_table(frame, {"x": "=1/[mass]"}, errors="raise")
    assert caught.value.code == "#DIV/0!"
    safe = {"ibu": f"=IF(AND([alpha]<1,[boil minutes]<240),{BITTERNESS[1:]},0)"}
    assert cells(evaluate_table(frame, safe, errors="raise"), "ibu")[3:] == [0, None, 0]


def test_an_error_passes_on_to_later_columns() -> None:
    frame = polars.DataFrame({"gravity": [1.05, 3.0]})
    formulas = {"plato": "=WORT_PLATO([gravity])", "known": "=IFERROR([plato],0)", "next": "=[plato]+1"}
    added = evaluate_table(frame, formulas)
    assert cells(added, "known")[1] == 0
    assert cells(added, "next")[1] is None


@pytest.mark.parametrize(
    ("formula", "kind", "sentence"),
    [
        ("=VLOOKUP([x],1,2)", BadInput, "VLOOKUP can't be worked out over columns"),
        ("=HOP_BITERNESS([x],0.05,60,20)", BadInput, "near: HOP_BITTERNESS"),
        ("=BREW_REASON(\"BOIL_OFF\",[x])", BadInput, 'errors="raise" gives the sentence'),
        ("=[mas]", BadInput, "there is no column mas"),
        ("=A1*2", BadInput, "the formula refers to A1"),
        ("=T[x]", BadInput, r"the formula refers to T\[x\]"),
        ("=SUM([x]", BadInput, "the formula can't be read"),
        ("=[x] 2", BadInput, 'before "2" an operator or a comma is missing'),
        ("=ROUND([x];1)", BadInput, "separated by commas here, not by semicolons"),
        ("=", BadInput, "."),
        ("=[x]:[x]", BadInput, "joins ranges"),
        ("={1;2}*[x]", BadInput, "whole range"),
        ("=#N/A", BadInput, "#N/A can't stand"),
        ("=[when]", BadInput, "column when holds Date"),
        ("=IF([x]>0,1,\"none\")", BadInput, "a column has one kind"),
        ("=ROUND([x])", BadInput, "ROUND takes 2 arguments$"),
        ("=ABS([x],1)", BadInput, "ABS takes 1 argument$"),
        ("=SUM()", BadInput, "SUM takes 1 argument or more$"),
        ("=BOIL_OFF([x],60,1)", BadInput, "BOIL_OFF takes at most 2 arguments, not 3"),
        ("=BOIL_OFF([x])", BadInput, "minutes is missing"),
        ("=BOIL_OFF([x],-1)", OutOfRange, "minutes -1 min is outside"),
        ("=HOP_BITTERNESS([x],0.05,60,20,1.05,\"tinset\")", NotListed, 'method "tinset" is not listed'),
        ("=[x]+\"two\"", BadInput, '"two" is not a number'),
    ],
)  # fmt: skip
def test_a_formula_that_can_not_be_worked_out_says_why(formula: str, kind: type[Exception], sentence: str) -> None:
    frame = polars.DataFrame({"x": [-1.0, 0.0, 2.0], "when": ["2026-03-14"] * 3}).with_columns(
        polars.col("when").str.to_date()
    )
    with pytest.raises(kind, match=rf"^answer: .*{sentence}"):
        evaluate_table(frame, {"answer": formula})


def test_other_refusals() -> None:
    frame = polars.DataFrame({"x": [1.0]})
    with pytest.raises(BadInput, match="there is a column x already"):
        evaluate_table(frame, {"x": "=1"})
    with pytest.raises(BadInput, match="not a builtins dict"):
        evaluate_table({"x": [1.0]}, {"y": "=[x]"})
    with pytest.raises(BadInput, match="not a polars LazyFrame"):
        evaluate_table(frame.lazy(), {"y": "=[x]"})
    with pytest.raises(ValueError, match="ignore"):
        evaluate_table(frame, {"y": "=[x]"}, errors="ignore")  # type: ignore[arg-type]


def test_column_names_of_all_kinds() -> None:
    frame = polars.DataFrame({"boil time [min]": [60.0], "it's": [1.0], "größe": [2.0], "#1": [3.0]})
    added = evaluate_table(frame, {"sum": "=[boil time '[min']]+[@[it's]]+[größe]+['#1]"})
    assert cells(added, "sum") == [66]


def test_numbers_that_are_none_are_errors() -> None:
    assert column("=[x]", x=[float("nan"), float("inf"), 1.0]) == [None, None, 1]
    assert column("=IF([x]>0,1,0)", x=[float("nan"), 1.0]) == [None, 1]


def test_whole_numbers_categories_and_mixtures() -> None:
    frame = polars.DataFrame({"n": [60, None], "m": ["tinseth", "kinetic"]}).with_columns(
        polars.col("m").cast(polars.Categorical)
    )
    answers = cells(evaluate_table(frame, {"u": "=HOP_UTILIZATION([n],1.05,[m])"}), "u")
    assert answers == [pytest.approx(0.2307, abs=5e-5), None]
    mixed = pandas.DataFrame({"mass": ["1 oz", 28.349523125, None]}, dtype=object)
    answers = cells(
        evaluate_table(mixed, {"kg": '=UNIT_CONVERT([mass],"g","kg")', "b": "=HOP_BITTERNESS([mass],0.05,60,20)"}), "b"
    )
    assert answers[0] == answers[1]
    assert answers[2] is None


# -- the example of docs/large-tables.md, on ten thousand rows -------------------------------------------------------


@pytest.fixture(scope="module")
def example() -> Any:
    path = Path(__file__).parent.parent / "docs" / "large_tables.py"
    spec = importlib.util.spec_from_file_location("large_tables", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.ROWS_A_FILE = 3_000  # type: ignore[attr-defined]  # several files of them
    return module


@pytest.fixture(scope="module")
def archive(example: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("large") / "archive"
    example.generate(folder, 10_000)
    assert len(list(folder.iterdir())) == 4
    return folder


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # Dask's use of pandas
@pytest.mark.parametrize("way", ["polars", "dask"])
def test_an_archive_is_worked_out_in_parts(example: Any, archive: Path, tmp_path: Path, way: str) -> None:
    {"polars": example.with_polars, "dask": example.with_dask}[way](archive, tmp_path / "result")
    additions = polars.read_parquet(archive)
    result = polars.read_parquet(tmp_path / "result").select(additions.columns + list(example.FORMULAS))
    assert result.select(additions.columns).equals(additions)
    unanswered = additions.filter(polars.col("mass").is_null() | (polars.col("minutes") > 240))
    assert 0 < result["ibu"].null_count() == unanswered.height
    row = result.filter(polars.col("ibu") > 0).row(17, named=True)
    arguments = ",".join(repr(row[name]) for name in ("mass", "alpha", "minutes", "volume", "gravity"))
    expected = engine.evaluate(f'=HOP_BITTERNESS({arguments},"{row["method"]}")')
    assert row["ibu"] == pytest.approx(expected, rel=1e-12)


def test_the_example_tells_what_it_did(
    example: Any, archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.argv", ["large_tables.py", "polars", str(archive), str(tmp_path / "result.parquet")])
    example.main()
    assert capsys.readouterr().out.startswith("10000 rows in ")
