"""`check`: what it finds, what it leaves in peace, and its one repair."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

import pytest

from brewfuncs.workbook.check import CheckReport, check
from brewfuncs.workbook.recalculate import recalculate
from tests import xlsx_build as build


def run(
    tmp_path: Path, cells: str | Mapping[str, str], names: Mapping[str, str] = {}, *, fresh: bool = True
) -> CheckReport:
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells} if isinstance(cells, str) else cells, names)
    if fresh:
        recalculate(path)
    before = path.read_bytes()
    report = check(path)
    assert path.read_bytes() == before
    json.dumps(report.as_dict())
    return report


def found(report: CheckReport, kind: str) -> dict[str, str]:
    return {f"{f.sheet}!{f.cell}": f.message for f in report.findings if f.kind == kind}


def test_a_workbook_without_faults(tmp_path: Path) -> None:
    cells = 'A1 "Mass"\nA2 28\nA3 14\nB2 =HOP_BITTERNESS(A2,5.5%,60,20)\nA4 =SUM(A2:A3)\nA5 =SUM(A:A,B:B)\nC1 =NOW()'
    report = run(tmp_path, cells.replace("\nA5 =SUM(A:A,B:B)", "\nD1 =SUM(A:A)"))
    assert report.findings == []
    assert report.exit_code == 0
    assert report.formulas == 4


def test_errors_with_their_sentence_and_start(tmp_path: Path) -> None:
    cells = "A1 -3\nB1 =HOP_BITTERNESS(A1,5.5%,60,20)\nC1 =B1*2\nD1 =1/0"
    report = run(tmp_path, cells, {"bitterness": "S!$B$1"})
    assert [(f.cell, f.name, f.origin) for f in report.findings if f.kind == "error"] == [
        ("B1", "bitterness", "S!B1"),
        ("C1", None, "S!B1"),
    ]
    assert found(report, "error")["S!C1"] == "#NUM!: mass -3 g is not 0 g or more"
    assert report.exit_code == 1


def test_texts_that_a_sum_passes_over(tmp_path: Path) -> None:
    cells = (
        'A1 "Mass"\nA2 28\nA3 "14 g"\nA4 "n/a"\nA5 =""\nB1 =SUM(A2:A5)\nC1 "12"\nC2 "words"\nB2 =MAX(C:C)\n'
        'D1 "x"\nD2 =COUNTA(D1:D1)'
    )
    texts = found(run(tmp_path, cells), "text-in-sum")
    assert set(texts) == {"S!A3", "S!A4", "S!C1"}
    assert texts["S!A3"] == '"14 g" looks like a number but is text, and SUM in S!B1 passes over it'
    assert "is text, and SUM" in texts["S!A4"]
    assert "MAX in S!B2" in texts["S!C1"]


def test_texts_in_a_sum_over_a_table_and_another_sheet(tmp_path: Path) -> None:
    sheets = {
        "S": "A1 =SUM(Hops[Mass])\nA2 =SUM('My data'!A1:A2)",
        "My data": 'A1 "5 kg"\nA2 1',
        "T": 'A1 "Mass"\nA2 "3"',
    }
    path = build.workbook(tmp_path / "a.xlsx", sheets, tables={"T!": build.table("Hops", "A1:A2", ["Mass"])})
    assert set(found(check(path), "text-in-sum")) == {"My data!A1", "T!A2"}


def test_shares_written_as_5_5(tmp_path: Path) -> None:
    cells = (
        "A1 5.5\nA2 0.055\nA3 9\nB1 =HOP_BITTERNESS(28,A1,60,20)\nB2 =HOP_BITTERNESS(28,A2,60,20)\n"
        "B3 =HOP_BITTERNESS(28,alpha,60,A1)\nB4 =HOP_BITTERNESS(28,ROUND(A1,1),60,20)\nB5 =HOP_BITTERNESS(A1,5%,60,20)"
    )
    report = run(tmp_path, cells, {"alpha": "S!$A$3"})
    assert found(report, "share-over-1") == {
        "S!A1": "5.5 is used as alpha by HOP_BITTERNESS, which is a share: write 5.5 % or 0.055",
        "S!A3": "9 is used as alpha by HOP_BITTERNESS, which is a share: write 9 % or 0.09",
    }
    assert {f.name: f.repair for f in report.findings if f.kind == "share-over-1"} == {None: "0.055", "alpha": "0.09"}


def test_unknown_functions_with_the_nearest(tmp_path: Path) -> None:
    report = run(tmp_path, "A1 =HOP_BITERNESS(1) | 1\nA2 =WOMBAT(1) | 2")
    assert [(f.cell, f.repair) for f in report.findings if f.kind == "unknown-function"] == [("A1", "HOP_BITTERNESS")]
    assert {kept.cell for kept in report.kept} == {"A1", "A2"}


def test_stale_values(tmp_path: Path) -> None:
    cells = "A1 2\nA2 =(A4>0)*6 | 5\nA3 =A2+1 | 7\nA4 =HOP_BITTERNESS(28,5.5%,60,20)\nA5 =NOW() | 1\nA6 =RAND()+A5 | 2"
    stale = found(run(tmp_path, cells, fresh=False), "stale-value")
    assert set(stale) == {"S!A2", "S!A4"}
    assert stale["S!A2"] == "the stored value 5 is out of date: it is 6 now"
    assert stale["S!A4"].startswith("no value is stored: it is ")


@pytest.mark.parametrize("path", ["'C:\\Users\\x\\brew.xlam'!", "[1]!", "'[brew.xlam]Sheet1'!", "'/opt/my brew.xlam'!"])
def test_add_in_paths_and_their_repair(tmp_path: Path, path: str) -> None:
    cells = f"A1 =ROUND({path}HOP_BITTERNESS(28,5.5%,60,20)+[2]Other!A1,1) | 3\nA2 ={path}OTHER(1) | 4\nA3 =1+1 | 2"
    book = build.workbook(tmp_path / "a.xlsx", {"S": cells, "T": "A1 5"})
    report = check(book)
    repairs = {f.cell: f.repair for f in report.findings if f.kind == "add-in-path"}
    assert repairs == {"A1": "=ROUND(HOP_BITTERNESS(28,5.5%,60,20)+[2]Other!A1,1)"}
    before = build.raw_members(book)
    report = check(book, fix=True)
    assert report.repaired == 1
    assert found(report, "add-in-path") == {}
    after = build.raw_members(book)
    assert [name for name in before if before[name] != after[name]] == ["xl/worksheets/sheet1.xml"]
    text = build.members(book)["xl/worksheets/sheet1.xml"].decode()
    assert "<f>ROUND(HOP_BITTERNESS(28,5.5%,60,20)+[2]Other!A1,1)</f><v>3</v>" in text  # the value waits for recalc
    bytes_now = book.read_bytes()
    assert check(book, fix=True).repaired == 0
    assert book.read_bytes() == bytes_now


def test_the_json_names_errors_by_their_code(tmp_path: Path) -> None:
    report = run(tmp_path, "A1 =NO_SUCH(1) | #NAME?")
    assert report.as_dict()["kept"][0] == {
        "sheet": "S",
        "cell": "A1",
        "name": None,
        "formula": "=NO_SUCH(1)",
        "reason": "NO_SUCH is not a function known here",
        "value": "#NAME?",
        "stale": False,
        "origin": None,
    }
