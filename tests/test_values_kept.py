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
        assert (package.formats.shows_dates(style), package.formats.shows_percent(style)) == expected


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


class Refused(str):
    """Why something isn't put into a cell."""


#: what is put into a cell that holds something, in a format -> what stands there then, or why it is refused
ENTRIES = {
    "a number for a dash": ("-", "General", "31.5", 31.5),
    "a share for a dash": ("-", "General", "5.5 %", 0.055),
    "words for a dash": ("-", "General", "not measured", "not measured"),
    "a decimal comma": (3, "General", "31,5", Refused("has a comma")),
    "a decimal comma for a dash": ("-", "General", "31,5", Refused("has a comma")),
    "a decimal comma into a blank cell": (None, "General", "31,5", Refused("has a comma")),
    "a fraction sign": (None, "General", "½", Refused("is not a number")),
    "a fraction": (None, "General", "1/2", Refused("has a fraction")),
    "no number": (None, "General", "nan", Refused("is not a number")),
    "more than a cell can hold": (3, "General", "1e400", Refused("more than a cell can hold")),
    "the same for a dash": ("-", "General", "-1e400", Refused("more than a cell can hold")),
    "a number as programs write it": (None, "General", "1_000", Refused('wants a number, and "1_000" is none')),
    "points as in dates": (None, "General", "1.5.26", Refused('wants a number, and "1.5.26" is none')),
    "a quantity into a blank cell": (None, "General", "66 °C", Refused("is to be written as a bare number")),
    "a quantity for a dash": ("-", "General", "66 °C", Refused("is to be written as a bare number")),
    "a quantity for one that was text": ("64 °C", "General", "66 °C", "66 °C"),
    "a note that begins with a number": (None, "General", "3 bags", "3 bags"),
    "a day where no days are shown": (None, "General", "2026-03-14", Refused("no format that shows a date")),
    "a day for a dash": ("-", "General", "2026-03-14", Refused("no format that shows a date")),
    "a day for one that was text": ("2026-03-01", "General", "2026-03-14", "2026-03-14"),
    "a time where no times are shown": (3, "General", "14:30", Refused("no format that shows a time of day")),
    "a formula": (None, "General", "=A2*2", Refused("a formula can't be put in")),
    "5.5 in percent": (0.05, "0.00%", "5.5", Refused("write 5.5 % or 0.055")),
    "1 in percent": (0.05, "0.00%", "1", Refused("write 1 % or 100 %")),
    "a share in percent": (0.05, "0.00%", "5.5%", 0.055),
    "whatever where all is text": (None, "@", "1/2", "1/2"),  # built-in format 49
    "a formula where all is text": (None, "@", "=1+1", "=1+1"),
    "a day where days are shown": ("-", "mm-dd-yy", "2026-03-14", 46095.0),  # built-in format 14; days as Excel counts
    "a time where times are shown": ("-", "h:mm", "14:30", 0.6041666666666666),  # 20; 14.5 of 24 hours
    "the same with seconds shown": (None, "h:mm:ss", "6:00", 0.25),  # 21
    "the same with the morning's sign": (None, "h:mm AM/PM", "18:00", 0.75),  # 18
}


@pytest.mark.parametrize("what", ENTRIES)
def test_never_text_in_a_numbers_place(tmp_path: Path, what: str) -> None:
    old, form, typed, expected = ENTRIES[what]
    book = openpyxl.Workbook()
    book.active["A1"], book.active["A1"].number_format, book.active["B1"] = old, form, '=A1&""'
    book.defined_names["x"] = DefinedName("x", attr_text="Sheet!$A$1")
    path = tmp_path / "a.xlsx"
    book.save(path)
    before = path.read_bytes()
    refused = ""
    try:
        record(path, {"x": typed})
    except BadInput as error:
        refused = str(error)
        assert path.read_bytes() == before
    with Package(path) as package:
        now = package.sheet("Sheet").value(1, 1)
    if isinstance(expected, Refused):
        assert expected in refused
        assert refused.startswith(("x ", "x: "))
    else:
        assert not refused
        assert now == expected
        assert type(now) is type(expected)


def test_a_quantity_too_large_for_its_unit_is_refused(tmp_path: Path) -> None:
    path = build.workbook(
        tmp_path / "a.xlsx", {"S": 'A1 3\nB1 "mL"\nC1 =A1*2 | 6'}, {"x": "S!$A$1", "x_unit": "S!$B$1"}
    )
    with pytest.raises(BadInput, match="more than a cell can hold"):
        record(path, {"x": "1e307 L"})
    record(path, {"x": "2 L"})
    with Package(path) as package:
        assert package.sheet("S").value(1, 3) == 4000
