"""Recomputing existing workbooks: what is computed, what is kept, what is said, and what stays as it was.

The values expected of built-in functions are arithmetic done by hand; those of our functions come from `evaluate`,
whose own tests compare them with published tables.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import pytest

from brewfuncs import evaluate
from brewfuncs.errors import BadInput, BrewError, CellError, WorkbookError
from brewfuncs.hosts.rewrite import Rewriter
from brewfuncs.workbook import book
from brewfuncs.workbook.check import check
from brewfuncs.workbook.recalculate import recalculate, record
from brewfuncs.workbook.report import Report
from brewfuncs.xlsx.address import address
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value
from tests import xlsx_build as build

BITTER = "HOP_BITTERNESS(28,5.5%,60,20,1.05)"


def values(path: Path, sheet: str = "S") -> dict[str, Value]:
    """The stored values of all cells that have one; error values as their code."""
    with Package(path) as package:
        part = package.sheet(sheet)
        last_row, last_column = part.used
        places = [(row, column) for row in range(1, last_row + 1) for column in range(1, last_column + 1)]
        return {
            address(*place): value.code if isinstance(value, CellError) else value
            for place, value in part.values(places).items()
            if value is not None
        }


def run(
    tmp_path: Path, cells: str | Mapping[str, str], names: Mapping[str, str] | str = {}, **more: object
) -> tuple[Path, Report]:
    sheets = {"S": cells} if isinstance(cells, str) else cells
    path = build.workbook(tmp_path / "book.xlsx", sheets, names, **more)
    return path, recalculate(path)


# ---------------------------------------------------------------- what is computed
def test_values_are_stored_and_said(tmp_path: Path) -> None:
    path, report = run(tmp_path, f"A1 2\nB1 =A1*3*(C1>0) | 5\nC1 ={BITTER}\nD1 =C1>1 | 0", {"three_times": "S!$B$1"})
    found = values(path)
    assert found["B1"] == 6.0
    assert found["C1"] == evaluate(BITTER)
    assert report.written
    assert report.formulas == 3
    assert [(c.sheet, c.cell, c.name, c.old, c.new) for c in report.changes] == [
        ("S", "B1", "three_times", 5.0, 6.0),
        ("S", "C1", None, None, evaluate(BITTER)),
        ("S", "D1", None, 0.0, True),
    ]


def test_nothing_to_do_leaves_the_file_as_it_is(tmp_path: Path) -> None:
    path, _ = run(tmp_path, f"A1 2\nB1 =A1*3 | 6.0000000000001\nC1 ={BITTER}\nD1 =1=1 | 1")
    os.utime(path, ns=(1_600_000_000_000_000_000, 1_600_000_000_000_000_000))
    before = path.stat()
    report = recalculate(path)
    after = path.stat()
    assert not report.written
    assert report.changes == []
    assert (after.st_mtime_ns, after.st_ino) == (before.st_mtime_ns, before.st_ino)
    assert values(path)["B1"] == 6.0000000000001  # within 1e-12, relative


def test_only_worksheet_parts_with_changes_differ(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "b.xlsm", {"S": "A1 =1+1", "T": "A1 =1+1 | 2"}, properties={"x": "y"})
    before = build.raw_members(path)
    recalculate(path)
    after = build.raw_members(path)
    assert [name for name in before if before[name] != after[name]] == ["xl/worksheets/sheet1.xml"]


def test_other_sheets_names_and_tables(tmp_path: Path) -> None:
    hops = 'A1 "Hop"\nB1 "Mass"\nC1 "Alpha [%]"\nD1 "IBU"\n' + "\n".join(
        f'A{r} "h"\nB{r} {m}\nC{r} {a}\n'
        f"D{r} =HOP_BITTERNESS(Hops[[#This Row],[Mass]],Hops[[#This Row],[Alpha '[%']]],60,volume,og)"
        for r, m, a in ((2, 28, 0.055), (3, 14, 0.09), (4, 0, 0))
    )
    path, report = run(
        tmp_path,
        {
            "Plan's": "A1 20\nA2 1.05\nA3 =SUM(Hops[IBU])\nA4 =twice\nA5 =alias*2\nA6 =Late!own",
            "Hops": hops,
            "Late": "A1 7",
        },
        "<definedName name=\"volume\">'Plan''s'!$A$1</definedName><definedName name=\"og\">'Plan''s'!$A$2</definedName>"
        '<definedName name="twice">SUM(Hops[IBU])*2</definedName><definedName name="alias">volume</definedName>'
        '<definedName name="own" localSheetId="2">Late!$A$1</definedName>',
        tables={"Hops!": build.table("Hops", "A1:D4", ["Hop", "Mass", "Alpha [%]", "IBU"])},
    )
    first, second = (evaluate(f"HOP_BITTERNESS({m},{a},60,20,1.05)") for m, a in ((28, 0.055), (14, 0.09)))
    assert values(path, "Hops")["D2"] == first
    assert values(path, "Hops")["D4"] == 0.0  # an empty row adds nothing
    plan = values(path, "Plan's")
    assert plan["A3"] == pytest.approx(first + second, rel=1e-12)
    assert plan["A4"] == pytest.approx(2 * (first + second), rel=1e-12)
    assert plan["A5"] == 40.0
    assert plan["A6"] == 7.0
    assert report.kept == []


def test_shared_formulas_that_have_to_be_put_differently(tmp_path: Path) -> None:
    master = '<f t="shared" ref="B1:B3" si="0">HOP_BITTERNESS(A1,5.5%,60,v,,"tinseth")</f>'
    rows = "".join(
        f'<row r="{r}"><c r="A{r}"><v>{r}</v></c><c r="B{r}">'
        + (master if r == 1 else '<f t="shared" si="0"/>')
        + "<v>0</v></c></row>"
        for r in (1, 2, 3)
    )
    path, _ = run(tmp_path, build.sheet(rows), '<definedName name="v">10*2</definedName>')
    for r in (1, 2, 3):
        assert values(path)[f"B{r}"] == evaluate(f"HOP_BITTERNESS({r},5.5%,60,20)")
    assert b'<f t="shared" si="0"/>' in build.members(path)["xl/worksheets/sheet1.xml"]


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("A1:A3*2", [2.0, 4.0, 6.0]),
        ("SUM(A1:A3)", [6.0, 6.0, 6.0]),  # one value fills the range
        ("A1:A2", [1.0, 2.0, "#N/A"]),  # what is missing is #N/A
        ("A1:A4", [1.0, 2.0, 3.0]),  # what is too much is cut off
        ("B1:B3", [0.0, 0.0, 0.0]),  # blank cells show 0
    ],
)
def test_array_formulas_of_the_old_kind(tmp_path: Path, formula: str, expected: list[Value]) -> None:
    cells = f"A1 1\nA2 2\nA3 3\nA4 4\nD1 {{={formula}}} D1:D3\nD2 77\nD3 77\nE1 =SUM(D1:D2)"
    path, _ = run(tmp_path, cells)
    found = values(path)
    assert [found[f"D{r}"] for r in (1, 2, 3)] == expected
    assert found["E1"] == expected[0] + expected[1]
    assert "D4" not in found
    assert not recalculate(path).written


def test_a_spill_that_grows_and_shrinks(tmp_path: Path) -> None:
    path = build.workbook(
        tmp_path / "a.xlsx",
        {"S": "A1 2\nB1 {{=SEQUENCE(A1)*10}} B1:B2 | 10\nB2 20\nC1 =SUM(B1:B9) | 30"},
        {"n": "S!$A$1"},
    )
    assert not recalculate(path).written
    report = record(path, {"n": 4})
    assert {k: v for k, v in values(path).items() if k[0] != "A"} == {"B1": 10, "B2": 20, "B3": 30, "B4": 40, "C1": 100}
    assert [c.cell for c in report.changes] == ["C1", "B3", "B4"]
    assert b'ref="B1:B4"' in build.members(path)["xl/worksheets/sheet1.xml"]
    record(path, {"n": 1})
    assert values(path) == {"A1": 1, "B1": 10, "C1": 10}
    assert b'ref="B1"' in build.members(path)["xl/worksheets/sheet1.xml"]
    assert not recalculate(path).written


def test_a_spill_with_something_in_its_way(tmp_path: Path) -> None:
    path, _ = run(tmp_path, 'B1 {{=SEQUENCE(3)}} B1\nB2 "mine"')
    assert values(path) == {"B1": "#VALUE!", "B2": "mine"}


def test_our_function_over_a_range(tmp_path: Path) -> None:
    cells = "A1 10\nA2 20\nA3 -1\nB1 {{=HOP_BITTERNESS(A1:A3,5.5%,60,20)}} B1:B3\nC1 =HOP_BITTERNESS(A1:A3,5.5%,60,20)"
    path, report = run(tmp_path, cells)
    found = values(path)
    assert found["B1"] == found["C1"] == evaluate("HOP_BITTERNESS(10,5.5%,60,20)")
    assert found["B3"] == "#NUM!"
    assert "C2" not in found  # an ordinary formula shows one value
    assert report.notes == ["S!C1 gives several values but is not an array formula: it shows the first"]


def test_dates_of_1904_and_iso_dates(tmp_path: Path) -> None:
    row = (
        '<row r="1"><c r="A1" t="d"><v>2024-02-29</v></c><c r="B1"><f>A1+1</f></c>'
        '<c r="C1"><f>DATE(2024,2,29)</f></c></row>'
    )
    path, _ = run(tmp_path, build.sheet(row))
    assert (values(path)["B1"], values(path)["C1"]) == (45352.0, 45351.0)
    path, _ = run(tmp_path, build.sheet(row), workbook='<workbookPr date1904="1"/>')
    assert (values(path)["B1"], values(path)["C1"]) == (43890.0, 43889.0)


def test_text_with_the_escapes_of_the_file_format(tmp_path: Path) -> None:
    path, _ = run(tmp_path, 'A1 ="a_x000D_b" | "a_x000D_b"\nA2 =LEN("a_x000D_b")')
    assert values(path)["A2"] == 3.0
    assert values(path)["A1"] == "a\rb"


def test_a_strict_workbook(tmp_path: Path) -> None:
    sheet = build.sheet(build.rows("A1 2\nB1 =A1*3"), main=build.STRICT)
    path, _ = run(tmp_path, {"S": sheet}, main=build.STRICT, office=build.STRICT_OFFICE)
    assert values(path)["B1"] == 6.0


# ---------------------------------------------------------------- what is kept
def test_what_the_engine_cannot_do_is_listed_and_kept(tmp_path: Path) -> None:
    cells = (
        "A1 =MMULT(B1:C1,B2:B3) | 12\nA2 =A1*2 | 24\nA3 =[1]Other!A1 | 5\nA4 =A3+A9 | 6\n"
        "A5 =NO_SUCH(1) | 3\nA6 =SUM((B1,C1)) | 8\nA7 =1+ | 9\nA8 =[1]!x | 2\nA9 1"
    )
    path, report = run(tmp_path, cells, {"x": "S!$A$9"})
    reasons = {kept.cell: (kept.formula, kept.reason, kept.value) for kept in report.kept}
    assert sorted(reasons) == ["A1", "A3", "A5", "A6", "A7", "A8"]
    assert reasons["A1"] == ("=MMULT(B1:C1,B2:B3)", "MMULT is not a function known here", 12.0)
    assert reasons["A3"][1] == "it reads another workbook"
    assert not report.written
    assert report.stale == []
    # what they read hasn't changed, so that their stored values are good to reckon with
    report = record(path, {"x": 2})
    assert [(c.cell, c.old, c.new) for c in report.changes] == [("A4", 6.0, 7.0)]
    assert report.stale == []
    found = values(path)
    assert [found[f"A{r}"] for r in (1, 2, 3, 5, 6, 7, 8)] == [12.0, 24.0, 5.0, 3.0, 8.0, 9.0, 2.0]


def test_what_depends_on_a_formula_without_a_value_is_left_alone(tmp_path: Path) -> None:
    path, report = run(tmp_path, "A1 =NO_SUCH(1)\nA2 =A1*2 | 20\nA3 =A2+1 | 21\nA4 =1+1")
    assert {kept.cell: (kept.reason, kept.stale) for kept in report.kept} == {
        "A1": ("NO_SUCH is not a function known here", True),
        "A2": ("it rests on S!A1", True),
        "A3": ("it rests on S!A1", True),
    }
    assert values(path) == {"A2": 20.0, "A3": 21.0, "A4": 2.0}


def test_circular_references(tmp_path: Path) -> None:
    path, report = run(tmp_path, "A1 =B1+1 | 3\nB1 =A1+1 | 4\nC1 =2*3\nD1 =IF(TRUE,1,E1)\nE1 =D1")
    assert {kept.cell for kept in report.kept} == {"A1", "B1"}
    assert all("circular" in kept.reason for kept in report.kept)
    assert values(path) == {"A1": 3.0, "B1": 4.0, "C1": 6.0, "D1": 1.0, "E1": 1.0}


def test_circular_references_that_the_workbook_allows(tmp_path: Path) -> None:
    calculation = '<calcPr iterate="1" iterateCount="200" iterateDelta="1E-9"/>'
    path, report = run(tmp_path, "A1 =B1/2+1\nB1 =A1/2", calculation=calculation)
    assert report.kept == []
    assert values(path)["A1"] == pytest.approx(4 / 3, abs=1e-8)  # a = a/4 + 1


def test_a_what_if_table_is_kept(tmp_path: Path) -> None:
    row = (
        '<row r="1"><c r="A1"><f t="dataTable" ref="A1:A2" dt2D="0" dtr="0" r1="B1"/><v>3</v></c>'
        '<c r="C1"><f>A1*2</f></c></row>'
    )
    path, report = run(tmp_path, build.sheet(row))
    assert [kept.reason for kept in report.kept] == ["it is a what-if data table"]
    assert values(path) == {"A1": 3.0, "C1": 6.0}


def test_a_shared_formula_goes_on_where_the_cell_that_holds_it_is_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(book, "_FEW", 0)  # load all anew
    row = (
        '<row r="1"><c r="A1"><v>1</v></c><c r="B1"><f t="shared" ref="B1:B3" si="0">A1*2</f><v>7</v></c></row>'
        '<row r="2"><c r="A2"><v>2</v></c><c r="B2"><f t="shared" si="0"/><v>4</v></c></row>'
        '<row r="3"><c r="A3"><v>3</v></c><c r="B3"><f t="shared" si="0"/><v>6</v></c></row>'
        '<row r="4"><c r="B4"><f>SUM(1,2)</f></c></row>'
    )
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(row)}, {"x": "S!$A$2", "y": "S!$A$1"})
    report = record(path, {"x": 5, "y": 2})
    assert [kept.cell for kept in report.stale] == ["B1"]
    assert {key: value for key, value in values(path).items() if key[0] == "B"} == {"B1": 7, "B2": 10, "B3": 6, "B4": 3}


# ---------------------------------------------------------------- whom to believe
def test_a_stored_value_is_believed_where_nothing_it_reads_has_changed(tmp_path: Path) -> None:
    path, report = run(tmp_path, "A1 1\nA2 2\nA3 =SUM(A1:A2)*2 | 99\nA4 =A3+1 | 100\nA5 =A3+1")
    assert values(path) == {"A1": 1, "A2": 2, "A3": 99, "A4": 100, "A5": 100}  # A5 had no value
    assert report.kept == []
    report = recalculate(path, everything=True)
    assert values(path) == {"A1": 1, "A2": 2, "A3": 6, "A4": 7, "A5": 7}
    assert {change.cell for change in report.changes} == {"A3", "A4", "A5"}


def test_where_the_engine_differs_from_what_is_stored_it_is_not_believed_afterwards(tmp_path: Path) -> None:
    cells = (
        'A1 1\nA2 =A1&"x" | "2.x"\nA3 =LEN(A2) | 3\nA4 =A1*2 | 2\nA5 =A3+A4 | 5\n'
        "A6 =SUM(A4:A5) | 7\nA7 =twice | 3\nB8 =SUM(9:9) | 3\nA9 3"
    )
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1", "twice": "S!$A$3", "y": "S!$A$9"})
    assert not recalculate(path).written
    report = record(path, {"x": 7})
    assert [(c.cell, c.new) for c in report.changes] == [("A4", 14.0)]
    reasons = {kept.cell: (kept.reason, kept.value, kept.origin) for kept in report.stale}
    assert sorted(reasons) == ["A2", "A3", "A5", "A6", "A7"]
    assert reasons["A2"][0] == 'as it stood, the engine makes "1x" of it where "2.x" is stored'
    assert reasons["A5"] == ("it rests on S!A2", 5.0, "S!A2")
    assert values(path)["A5"] == 5.0
    report = record(path, {"y": 4})  # and where it isn't concerned, all goes on
    assert "A3" not in {kept.cell for kept in report.stale}


def test_each_formula_is_judged_by_what_is_stored(tmp_path: Path) -> None:
    """Also where it rests on one of ours that changes, so that what comes out in the end proves nothing."""
    path, report = run(tmp_path, f'A1 ={BITTER} | 1\nA2 =A1&"x" | "1.x"\nA3 =A1&"x" | "1x"')
    assert [kept.cell for kept in report.stale] == ["A2"]
    assert values(path) == {"A1": evaluate(BITTER), "A2": "1.x", "A3": evaluate(f'{BITTER}&"x"')}


def test_what_an_earlier_run_left_is_not_called_up_to_date(tmp_path: Path) -> None:
    cells = 'A1 1\nA2 =A1&"x" | "2.x"\nA3 =LEN(A2) | 3\nB1 8\nB2 =BASE(B1,2) | "1000"'
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1", "y": "S!$B$1"})
    left = record(path, {"x": 7})
    assert ([kept.cell for kept in left.stale], left.notes) == (["A2", "A3"], [])
    report = recalculate(path)
    assert (report.written, report.stale, report.kept) == (False, [], [])
    (note,) = report.notes
    assert note.startswith("2 formulas keep their stored value")
    assert {kept.cell: kept.reason for kept in check(path).kept} == {
        "A2": 'as it stood, the engine makes "7x" of it where "2.x" is stored',
        "B2": "BASE agrees here with spreadsheet programs for some numbers only",
    }
    assert recalculate(path, everything=True).notes == []


def test_a_formula_that_reads_more_than_can_be_gone_through_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = build.workbook(
        tmp_path / "a.xlsx",
        {"S": "A1 1\nA2 2\nB1 =SUM(A1:A2) | 3\nB2 =SUM(all) | 3\nB3 =A1+1 | 2\nB4 =ZZZ1 | #NAME?"},
        {"all": "S!$A:$A", "x": "S!$A$1"},
    )
    assert recalculate(path).kept == []
    monkeypatch.setattr(book, "_VAST", 4)
    monkeypatch.setattr(book, "_MAX_READ", 1000)
    report = record(path, {"x": 5})
    assert {kept.cell: kept.reason for kept in report.stale} == {"B2": "it reads more cells than can be gone through"}
    assert values(path) == {"A1": 5, "A2": 2, "B1": 7, "B2": 3, "B3": 6, "B4": "#NAME?"}


def test_a_range_written_from_its_end_and_a_block_that_moves(tmp_path: Path) -> None:
    """A10:A1 is A1:A10 (as a spreadsheet rewrites it when it is typed); a block in one cell is left, by its name."""
    cells = (
        "A1 5\nA2 6\nB1 =SUM(A10:A1) | 11\nB2 =SUM(S!$A$10:A$1) | 11\nB3 =SUM(back) | 11\nB4 =ROWS(A10:A1) | 10\n"
        "B5 =INDEX(A3:A1,2) | 6\nB6 =OFFSET(both,0,1) | 11"
    )
    names = {"x": "S!$A$1", "both": "S!$A$1:$A$2", "back": "S!$A$10:$A$1"}
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, names)
    report = record(path, {"x": 7})
    assert [kept.cell for kept in report.stale] == ["B6"]
    assert values(path) == {
        "A1": 7, "A2": 6, "B1": 13, "B2": 13, "B3": 13, "B4": 10, "B5": 6, "B6": 11,
    }  # fmt: skip


def test_a_formula_at_which_the_engine_fails_is_named_and_costs_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # for a reversed range, were it not turned round, the engine refuses the whole workbook
    monkeypatch.setattr(Rewriter, "rewrite", lambda self, text, *_: text)
    cells = "A1 5\nA2 6\nB1 =A1*2 | 10\nB2 =SUM(A10:A1) | 11\nB3 =SUM(A11:A2) | 6\nB4 =B2+1 | 12\nB5 =SUM(A12:A3) | 0"
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"})
    assert {kept.cell: kept.reason for kept in check(path).kept} == dict.fromkeys(
        ("B2", "B3", "B5"), "the engine can't read it"
    )
    report = record(path, {"x": 7})
    assert {kept.cell: kept.reason for kept in report.stale} == {
        "B2": "the engine can't read it",
        "B4": "it rests on S!B2",
    }
    assert values(path) == {"A1": 7, "A2": 6, "B1": 14, "B2": 11, "B3": 6, "B4": 12, "B5": 0}
    monkeypatch.setattr(book, "_MAX_TRIED", 2)
    with pytest.raises(WorkbookError, match="can't be recalculated"):
        record(path, {"x": 8})


def test_arrays_that_fill_too_many_cells_together_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cells = "A1 1\nA2 2\nB1 {=A1:A2*2} B1:B2\nC1 {=A1:A2*3} C1:C2 | 3\nC2 6\nD1 {=A1:A2*4} D1:D2\nE1 =D1 | 4"
    monkeypatch.setattr(book, "_MAX_ARRAYS", 4)
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"})
    report = record(path, {"x": 5})
    reason = "the arrays of this workbook fill more than 4 cells"
    assert {kept.cell: kept.reason for kept in report.stale} == {"D1": reason, "E1": "it rests on S!D1"}
    found = values(path)
    assert [found[cell] for cell in ("B1", "B2", "C1", "C2", "E1")] == [10, 4, 15, 6, 4]


def test_an_error_left_by_another_program_condemns_nothing_that_rests_on_it(tmp_path: Path) -> None:
    cells = "A1 =HOP_BITTERNESS(28,5.5%,A4,20,1.05) | #NAME?\nA2 =A1*2 | #NAME?\nA3 =IFERROR(A2,0)+1 | 1\nA4 60"
    path, report = run(tmp_path, cells)
    assert report.stale == []
    bitter = evaluate(BITTER)
    assert values(path) == {"A1": bitter, "A2": 2 * bitter, "A3": 2 * bitter + 1, "A4": 60}


def test_what_differs_by_rounding_alone_stays(tmp_path: Path) -> None:
    path, report = run(tmp_path, "A1 3\nA2 =A1/7 | 0.42857142857\nA3 =A2*7-3 | 0", {"x": "S!$A$1"})
    assert not report.written
    report = record(path, {"x": 4})
    assert values(path)["A2"] == 4 / 7


def test_a_left_file_can_be_marked_for_the_next_program(tmp_path: Path) -> None:
    cells = 'A1 1\nA2 =A1&"x" | "2.x"'
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"})
    assert not record(path, {"x": 2}).on_open
    assert b"fullCalcOnLoad" not in build.members(path)["xl/workbook.xml"]
    assert record(path, {"x": 3}, on_open=True).on_open
    assert b'</definedNames><calcPr fullCalcOnLoad="1"/></workbook>' in build.members(path)["xl/workbook.xml"]
    path = build.workbook(tmp_path / "b.xlsx", {"S": cells}, {"x": "S!$A$1"}, calculation='<calcPr calcId="1"/>')
    record(path, {"x": 3}, on_open=True)
    assert b'<calcPr calcId="1" fullCalcOnLoad="1"/>' in build.members(path)["xl/workbook.xml"]


@pytest.mark.parametrize("function", ["NOW()", "RAND()"])
def test_what_differs_every_time_is_no_reason_to_write(tmp_path: Path, function: str) -> None:
    path = build.workbook(
        tmp_path / "a.xlsx", {"S": f"A1 ={function} | 5\nA2 =A1+1 | 6\nA3 1\nA4 =A3*2 | 2"}, {"x": "S!$A$3"}
    )
    before = path.read_bytes()
    report = recalculate(path)
    assert (report.written, report.volatile, report.changes) == (False, 2, [])
    assert path.read_bytes() == before
    report = record(path, {"x": 2})  # with something else to write, they are written too
    assert report.written
    assert {c.cell for c in report.changes} == {"A1", "A2", "A4"}


# ---------------------------------------------------------------- errors and why
def test_cells_in_error_say_why_and_where_it_starts(tmp_path: Path) -> None:
    cells = (
        "A1 5.5\nB1 =HOP_BITTERNESS(28,A1,60,20)\nC1 =B1+1\nD1 =SUM(C1:C9)\nE1 =1/0\nF1 =D1*E1\n"
        "G1 =HOP_BITTERNESS(E1,0.05,60,20)"
    )
    _, report = run(tmp_path, cells, {"bitterness": "S!$B$1"})
    sentence = "alpha 5.5 is over 1: write 5.5 % or 0.055"
    failing = {f.cell: (f.name, f.code, f.sentence, f.origin) for f in report.failing}
    assert failing["B1"] == ("bitterness", "#NUM!", sentence, "S!B1")
    assert failing["C1"] == failing["D1"] == (None, "#NUM!", sentence, "S!B1")
    assert failing["F1"][2:] == (sentence, "S!B1")
    assert "E1" not in failing  # nothing of ours
    assert failing["G1"] == (None, "#DIV/0!", None, "S!E1")


def test_an_error_that_a_cell_holds_itself(tmp_path: Path) -> None:
    _, report = run(tmp_path, {"S": "A1 =HOP_BITTERNESS('My data'!A1,0.05,60,20)", "My data": "A1 #N/A"})
    assert [(f.sentence, f.origin) for f in report.failing] == [("'My data'!A1 holds #N/A itself", "'My data'!A1")]


# ---------------------------------------------------------------- record
BATCH = {
    "S": 'A1 20\nB1 "L"\nA2 1.05\nB2 "SG"\nB3 "gal"\nA4 "tinseth"\nA5 =A1*2 | 40\nA6 =IF(A3="",0,A3)\n'
    'A7 68\nB7 "°C"\nA8 0.5\nA9 =1=1 | 1'
}
NAMES = {
    "volume": "S!$A$1", "volume_unit": "S!$B$1", "gravity": "S!$A$2", "gravity_unit": "S!$B$2", "preboil": "S!$A$3",
    "preboil_unit": "S!$B$3", "method": "S!$A$4", "twice": "S!$A$5", "temp": "S!$A$7", "temp_unit": "S!$B$7",
    "share": "S!$A$8", "area": "S!$A$1:$A$2", "rate": "0.5",
}  # fmt: skip


@pytest.fixture
def batch(tmp_path: Path) -> Path:
    path = build.workbook(tmp_path / "batch.xlsx", BATCH, NAMES)
    recalculate(path)
    return path


# 1 US gallon is 3.785411784 L, 0 °C is 32 °F and 100 °C 212 °F, by definition
@pytest.mark.parametrize(
    ("name", "given", "cell", "expected"),
    [
        ("volume", "25.5", "A1", 25.5),
        ("volume", 25.5, "A1", 25.5),
        ("volume", "6.7 gal", "A1", 6.7 * 3.785411784),
        ("VOLUME", " 25500 mL ", "A1", 25.5),
        ("preboil", "3.785411784 L", "A3", 1.0),
        ("preboil", "7", "A3", 7.0),
        ("temp", "212 °F", "A7", 100.0),
        ("gravity", "1.060 SG", "A2", 1.06),
        ("method", "kinetic", "A4", "kinetic"),
        ("method", "=1+1", "A4", "=1+1"),
        ("share", "5.5 %", "A8", 0.055),
        ("S!A1", "30", "A1", 30.0),
    ],
)
def test_record(batch: Path, name: str, given: str | float, cell: str, expected: Value) -> None:
    report = record(batch, {name: given})
    found = values(batch)[cell]
    assert found == (pytest.approx(expected, rel=1e-12) if isinstance(expected, float) else expected)
    assert [(c.sheet, c.cell) for c in report.inputs] == [("S", cell)]
    assert report.inputs[0].new == found


def test_record_recomputes_what_depends_on_it(batch: Path) -> None:
    report = record(batch, {"volume": "30 L", "preboil": "8 gal"})
    assert values(batch)["A5"] == 60.0
    assert values(batch)["A6"] == 8.0
    assert [(c.cell, c.name, c.old, c.new) for c in report.changes] == [
        ("A5", "twice", 40.0, 60.0),
        ("A6", None, 0.0, 8.0),
    ]


def test_record_clears_a_cell(batch: Path) -> None:
    record(batch, {"preboil": "8"})
    record(batch, {"preboil": ""})
    assert "A3" not in values(batch)
    assert values(batch)["A6"] == 0.0


def test_recording_what_is_there_already_changes_nothing(batch: Path) -> None:
    before = batch.read_bytes()
    report = record(batch, {"volume": "20 L", "method": "tinseth"})
    assert (report.written, report.inputs, report.changes) == (False, [], [])
    assert batch.read_bytes() == before


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"twice": 3}, "twice .* holds a formula"),
        ({"S!A5": 3}, "holds a formula"),
        ({"volum": 3}, 'no cell named "volum"; did you mean volume'),
        ({"nothing like it": 3}, 'no cell named "nothing like it"'),
        ({"area": 3}, "not the name of one cell"),
        ({"rate": 3}, "not the name of one cell"),
        ({"volume": "a lot"}, "volume wants a number"),
        ({"volume": "25,5 L"}, "comma"),
        ({"volume": "25 kg"}, "no conversion"),
        ({"volume": "25 wombats"}, "not a unit known here"),
        ({"share": "5 g"}, "no unit cell"),
        ({"S!A9": 1}, "holds a formula"),
        ({"volume": 1, "S!A1": 2}, "set twice"),
        ({"volume": 30, "twice": 1}, "holds a formula"),
    ],
)
def test_what_record_refuses(batch: Path, settings: dict[str, str | float], message: str) -> None:
    before = batch.read_bytes()
    with pytest.raises((WorkbookError, BadInput), match=message):
        record(batch, settings)
    assert batch.read_bytes() == before


def test_a_cell_that_an_array_fills_cannot_be_set(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": "A1 {=B1:B3} A1:A3\nA2 5"}, {"x": "S!$A$2"})
    with pytest.raises(WorkbookError, match="filled by the formula in A1"):
        record(path, {"x": 1})


def test_a_date(tmp_path: Path) -> None:
    members = build.parts({"S": build.sheet('<row r="1"><c r="A1" s="1"/></row>')}, {"brew_day": "S!$A$1"})
    members["xl/styles.xml"] = (
        f'<styleSheet xmlns="{build.MAIN}"><numFmts count="1"><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd"/>'
        '</numFmts><cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="164"/></cellXfs></styleSheet>'
    ).encode()
    relations = members["xl/_rels/workbook.xml.rels"].decode()
    style = f'<Relationship Id="y" Type="{build.OFFICE}/styles" Target="styles.xml"/></Relationships>'
    members["xl/_rels/workbook.xml.rels"] = relations.replace("</Relationships>", style).encode()
    path = tmp_path / "a.xlsx"
    path.write_bytes(build.zipped(members))
    record(path, {"brew_day": "2024-02-29"})
    assert values(path) == {"A1": 45351.0}
    with pytest.raises(BrewError, match="is not a date"):
        record(path, {"brew_day": "2024-02-30"})


# ---------------------------------------------------------------- versions
def test_versions_and_revisions(tmp_path: Path) -> None:
    made = {"brewfuncs_version": "0.0.1", "brewfuncs_revisions": "HOP_BITTERNESS=99 BOIL_OFF=1 HOP_GONE=2"}
    path, report = run(tmp_path, f"A1 ={BITTER} | 1\nA2 =BOIL_OFF(4,60) | 4\nA3 =A1 | 1", properties=made)
    assert report.made_by == "0.0.1"
    assert report.installed
    assert [(r.function, r.stored, r.installed, r.changed) for r in report.revisions] == [
        ("HOP_BITTERNESS", 99, 1, ("S!A1",)),
        ("HOP_GONE", 2, None, ()),
    ]
    assert build.members(path)["docProps/custom.xml"]
    _, plain = run(tmp_path, "A1 =1+1")
    assert (plain.made_by, plain.revisions) == (None, [])


# ---------------------------------------------------------------- what the engine has to be told
@pytest.mark.parametrize("name", ["sheet1", "SHEET1", "Sheet1", "Blatt"])
def test_whatever_the_first_sheet_is_called(tmp_path: Path, name: str) -> None:
    sheets = {name: f"A1 2\nB1 =A1*3 | 6\nC1 ={name}!B1+x | 8\nD1 ={name}!B1", "Other": f"A1 ={name}!A1*2 | 4"}
    path = build.workbook(tmp_path / "a.xlsx", sheets, {"x": f"{name}!$A$1"})
    report = record(path, {"x": 5})
    assert report.kept == []
    assert values(path, name) == {"A1": 5, "B1": 15, "C1": 20, "D1": 15}
    assert values(path, "Other") == {"A1": 10}


def test_ranges_written_from_any_corner(tmp_path: Path) -> None:
    cells = "A1 1\nA2 2\nB1 3\nB2 4\nC1 =SUM(B2:A1) | 10\nC2 =SUM(back) | 3\nC3 =SUM(A2:$A$1) | 3\nC4 =SUM(A$1:A2) | 3"
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"back": "S!$A$2:$A$1", "x": "S!$A$2"})
    report = record(path, {"x": 12})
    assert report.kept == []
    found = values(path)
    assert [found[f"C{row}"] for row in (1, 2, 3, 4)] == [20, 13, 13, 13]


def test_a_range_given_to_a_function_of_single_values_stands_for_its_row(tmp_path: Path) -> None:
    cells = (
        "A1 1.26\nA2 2.31\nA3 3.74\nB2 =ROUND(A1:A3,1) | 2.3\nB3 =ROUND(masses,1) | 3.7\n"
        'C2 =CONCATENATE(masses,"x") | "2.31x"\nD2 =masses*2 | 4.62'
    )
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"masses": "S!$A$1:$A$3", "x": "S!$A$2"})
    report = record(path, {"x": 5.55})
    assert report.stale == []
    assert {key: value for key, value in values(path).items() if key[0] != "A"} == {
        "B2": 5.6, "B3": 3.7, "C2": "5.55x", "D2": 11.1
    }  # fmt: skip


def test_an_array_is_gone_through_cell_by_cell(tmp_path: Path) -> None:
    # 1 + 1 + 3 characters, then 1 + 1 + 2; the engine would count those of the first cell alone
    path = build.workbook(
        tmp_path / "a.xlsx", {"S": "A1 1\nA2 2\nA3 333\nB1 =SUMPRODUCT(LEN(A1:A3)) | 5"}, {"x": "S!$A$3"}
    )
    report = record(path, {"x": 44})
    assert report.stale == []
    assert values(path)["B1"] == 4


def test_what_cannot_be_gone_through_is_left(tmp_path: Path) -> None:
    # Excel makes two columns of it and adds up both, 2 * 6; the engine takes the first choice for all
    cells = "A1 1\nA2 2\nA3 3\nB1 =SUMPRODUCT(CHOOSE({1,2},A1:A3,A1:A3)) | 12"
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$3"})
    report = record(path, {"x": 4})
    assert [kept.reason for kept in report.stale] == ["CHOOSE is given several values at once"]
    assert values(path)["B1"] == 12


def test_an_error_that_is_not_proven_is_not_written(tmp_path: Path) -> None:
    cells = "A1 0.5\nB1 =FISHER(A1) | 0.549306144334055\nC1 =FISHERINV(B1) | 0.5\nD1 =1/(A1-2) | -0.666666666666667"
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells}, {"x": "S!$A$1"})
    report = record(path, {"x": 2})
    assert {kept.cell for kept in report.stale} == {"B1", "C1"}
    assert values(path)["D1"] == "#DIV/0!"  # by an operator


def test_functions_that_differ_for_some_numbers_are_left(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": 'A1 8\nB1 =BASE(A1,2) | "1000"'}, {"x": "S!$A$1"})
    report = record(path, {"x": 6})
    assert [kept.cell for kept in report.stale] == ["B1"]
    assert recalculate(path, everything=True).changes[0].new == "110"


# ---------------------------------------------------------------- what is put into a cell
@pytest.mark.parametrize("given", ["1e400", "31,5", "½", "1/2", "1 1/2", "nan", "inf"])
@pytest.mark.parametrize("cell", ["A1", "A2", "A3"])
def test_what_is_no_number_is_not_put_where_one_belongs(tmp_path: Path, given: str, cell: str) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": 'A1 5\nA2 "-"\nB3 =A3'}, {})
    before = path.read_bytes()
    with pytest.raises(BadInput):
        record(path, {f"S!{cell}": given})
    assert path.read_bytes() == before


def test_a_number_takes_the_place_of_a_dash(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": 'A1 "-"\nB1 =IF(A1="-",0,A1) | 0'}, {})
    record(path, {"S!A1": "12.5"})
    assert values(path) == {"A1": 12.5, "B1": 12.5}
