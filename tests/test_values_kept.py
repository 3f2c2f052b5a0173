"""Small things on which a value of somebody's workbook hangs: truth values, formats, locks, arrays over columns.

Meanings of numFmtId, t="b" and lock files: ECMA-376 part 1, 18.8.30 and 18.18.11; the names of lock files as Excel and
LibreOffice write them.
"""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula

from brewfuncs.errors import BadInput
from brewfuncs.workbook.recalculate import record
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.replace import lock_owner
from tests import xlsx_build as build


def test_a_stored_truth_value_is_not_a_number(tmp_path: Path) -> None:
    cells = build.sheet(
        '<row r="1"><c r="A1" t="b"><v>1</v></c><c r="B1" t="b"><v>0</v></c><c r="C1"><v>1</v></c></row>'
    )
    path = build.workbook(tmp_path / "a.xlsx", {"S": cells})
    with Package(path) as package:
        values = [package.sheet("S").value(1, column) for column in (1, 2, 3)]
    assert values == [True, False, 1.0]
    assert [type(value) for value in values] == [bool, bool, float]


FORMATS = {  # code -> (shows dates, shows per cent)
    "General": (False, False),
    "0.00": (False, False),
    "0%": (False, True),
    "0.00%": (False, True),
    "0.0 %": (False, True),
    "yyyy-mm-dd": (True, False),
    "mm-dd-yy": (True, False),  # the built-in format 14
    "d-mmm-yy": (True, False),  # 15
    "d-mmm": (True, False),  # 16
    "mmm-yy": (True, False),  # 17
    "m/d/yy h:mm": (True, False),  # 22
    '0.0" days"': (False, False),  # literal text is no date
    '[Red]0.0" %"': (False, False),  # nor per cent
}


@pytest.mark.parametrize(("code", "expected"), FORMATS.items())
def test_what_a_number_format_shows(tmp_path: Path, code: str, expected: tuple[bool, bool]) -> None:
    book = openpyxl.Workbook()
    book.active["A1"] = 0.5
    book.active["A1"].number_format = code
    book.save(tmp_path / "a.xlsx")
    with Package(tmp_path / "a.xlsx") as package:
        style = package.sheet("Sheet").style(1, 1)
        assert (package.shows_dates(style), package.shows_percent(style)) == expected


@pytest.mark.parametrize(
    ("lock", "name", "owner"),
    [
        ("~$batch.xlsx", "batch.xlsx", "Excel"),
        ("~$ntern-pale-ale.xlsx", "lantern-pale-ale.xlsx", "Excel"),  # two letters replaced where the name is long
        ("~$lantern-pale-ale.xlsx", "lantern-pale-ale.xlsx", "Excel"),
        ("~$tch.xlsx", "batch.xlsx", None),  # another file's
        (".~lock.batch.xlsx#", "batch.xlsx", "LibreOffice"),
        (".~lock.other.xlsx#", "batch.xlsx", None),
    ],
)
def test_who_has_a_workbook_open(tmp_path: Path, lock: str, name: str, owner: str | None) -> None:
    (tmp_path / name).write_bytes(b"")
    (tmp_path / lock).write_bytes(b"")
    assert lock_owner(tmp_path / name) == owner


def test_a_truth_value_takes_truth_values_alone(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active["A1"], book.active["B1"] = True, "=IF(A1,2,3)"
    book.defined_names["covered"] = DefinedName("covered", attr_text="Sheet!$A$1")
    path = tmp_path / "a.xlsx"
    book.save(path)
    with pytest.raises(BadInput, match="TRUE or FALSE"):
        record(path, {"covered": "5"})
    record(path, {"covered": "false"})
    with Package(path) as package:
        assert package.sheet("Sheet").value(1, 1) is False
        assert package.sheet("Sheet").value(1, 2) == 3


def test_an_array_over_several_columns_follows_its_inputs(tmp_path: Path) -> None:
    """Arithmetic by hand: a block of 2 x 3 cells, each doubled."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row, numbers in enumerate(((1, 2, 3), (4, 5, 6)), 1):
        for column, number in enumerate(numbers, 1):
            sheet.cell(row, column, number)
    sheet["E1"] = ArrayFormula("E1:G2", "=A1:C2*2")
    book.defined_names["corner"] = DefinedName("corner", attr_text="Sheet!$C$2")
    path = tmp_path / "a.xlsx"
    book.save(path)
    record(path, {"corner": "10"})
    with Package(path) as package:
        places = [(row, column) for row in (1, 2) for column in (5, 6, 7)]
        found = package.sheet("Sheet").values(places)
    assert [found[place] for place in places] == [2, 4, 6, 8, 10, 20]
