"""Reading and splicing .xlsx packages: what changes is what was asked for, and not a byte more.

Expected bytes and values are written out by hand from ECMA-376 (the file format) and APPNOTE.TXT (zip); openpyxl reads
the results back as a second opinion.
"""

from __future__ import annotations

import os
import stat
import string
import struct
import zipfile
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brewfuncs.errors import CellError, WorkbookError
from brewfuncs.workbook.places import within
from brewfuncs.workbook.recalculate import record
from brewfuncs.xlsx.address import Box, parse_address, parse_range
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.replace import write_new
from brewfuncs.xlsx.values import same_value
from tests import xlsx_build as build

ONE = {"S": 'A1 5\nB1 =A1*2 | 10\nC1 "words"\nA3 =1/0 | #DIV/0!\nB3 =A1&"x" | "5x"'}


def patched(
    path: Path,
    values: dict,
    inputs: Mapping = MappingProxyType({}),
    refs: Mapping = MappingProxyType({}),
    sheet: str = "S",
) -> None:
    with Package(path, write=True) as package:
        part = package.sheet(sheet)
        package.save({part.part: part.patched(values, inputs, refs)})


def cells(path: Path, sheet: str = "S") -> dict[str, object]:
    book = openpyxl.load_workbook(path, data_only=True)
    return {cell.coordinate: cell.value for row in book[sheet].iter_rows() for cell in row if cell.value is not None}


# ---------------------------------------------------------------- reading
def test_formulas_and_values(tmp_path: Path) -> None:
    with Package(build.workbook(tmp_path / "a.xlsx", ONE)) as package:
        sheet = package.sheet("S")
        assert {cell.address: cell.text for cell in sheet.formulas.values()} == {
            "B1": "A1*2",
            "A3": "1/0",
            "B3": 'A1&"x"',
        }
        stored = {cell.address: sheet.stored(cell) for cell in sheet.formulas.values()}
        assert stored["B1"] == 10.0
        assert stored["B3"] == "5x"
        assert isinstance(stored["A3"], CellError)
        assert stored["A3"].code == "#DIV/0!"
        assert sheet.value(1, 1) == 5.0
        assert sheet.value(1, 3) == "words"
        assert sheet.value(9, 9) is None
        assert sheet.used == (3, 3)


def test_a_cell_is_not_taken_for_another_that_begins_like_it(tmp_path: Path) -> None:
    with Package(build.workbook(tmp_path / "a.xlsx", {"S": "A10 1\nA100 2"})) as package:
        assert package.sheet("S").value(1, 1) is None
        assert package.sheet("S").value(10, 1) == 1.0


def test_shared_and_rich_strings_escapes_and_phonetics(tmp_path: Path) -> None:
    strings = (
        "<si><t>plain</t></si><si><r><t>two </t></r><r><rPr/><t>runs</t></r><rPh><t>no</t></rPh></si>"
        "<si><t>a_x000D_b_x005F_x0041_</t></si>"
    )
    row = '<row r="1">' + "".join(f'<c r="{c}1" t="s"><v>{i}</v></c>' for i, c in enumerate("ABCD")) + "</row>"
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(row)}, strings=strings)
    with Package(path) as package:
        found = package.sheet("S").values([(1, c) for c in range(1, 5)])
    # the fourth points past the end of the strings: a damaged file, read as blank
    assert list(found.values()) == ["plain", "two runs", "a\rb_x0041_", None]


ODD_SHAPES = {
    "prefix": f'<?xml version="1.0"?><x:worksheet xmlns:x="{build.MAIN}"><x:sheetData><x:row r="1"><x:c r="A1">'
    '<x:v>5</x:v></x:c><x:c r="B1"><x:f>A1*2</x:f><x:v>10</x:v></x:c></x:row></x:sheetData></x:worksheet>',
    "row number last": build.sheet(
        '<row ht="12.8" spans="1:2"\n r="1"><c r="A1"><v>5</v></c><c r="B1"><f>A1*2</f><v>10</v></c></row>'
    ),
    "no addresses": build.sheet("<row><c><v>5</v></c><c><f>A1*2</f><v>10</v></c></row>"),
    "single quotes": build.sheet("<row r='1'><c r='A1'><v>5</v></c><c r='B1'><f>A1*2</f><v>10</v></c></row>"),
    "comments": build.sheet(
        '<!-- <c r="B1"/> --><row r="1"><c r="A1"><v>5</v></c><c r="B1"><f>A1<!-- x -->*2</f><v>10</v></c></row>'
    ),
    "CDATA": build.sheet('<row r="1"><c r="A1"><v>5</v></c><c r="B1"><f><![CDATA[A1*2]]></f><v>10</v></c></row>'),
    "white space": build.sheet(
        '\n<row r="1">\n <c r="A1">\n  <v>5</v>\n </c>\n <c r="B1">\n <f>A1*2</f>\n <v>10</v>\n</c>\n</row>\n'
    ),
    "line breaks in tags": build.sheet(
        '<row\n r="1"><c\nr="A1"><v>5</v></c><c r="B1"\n s="0"><f>A1*2</f><v>10</v></c></row>'
    ),
    "type first": build.sheet('<row r="1"><c t="n" r="A1"><v>5</v></c><c r="B1"><f>A1*2</f><v>10</v></c></row>'),
    "greater-than in an attribute": build.sheet(
        '<row r="1"><c r="A1"><v>5</v></c><c r="B1" x="a>b"><f>A1*2</f><v>10</v></c></row>'
    ),
    "strict": build.sheet(
        '<row r="1"><c r="A1"><v>5</v></c><c r="B1"><f>A1*2</f><v>10</v></c></row>', main=build.STRICT
    ),
}


#: shapes into which changes are spliced; of the others all is written anew
SPLICED = {"prefix", "row number last", "strict"}


@pytest.mark.parametrize("shape", ODD_SHAPES)
def test_a_change_is_spliced_or_it_is_said_that_all_is_written_anew(tmp_path: Path, shape: str) -> None:
    path = tmp_path / "a.xlsx"
    members = build.parts({"S": ""}, {"x": "S!$A$1"})
    members["xl/worksheets/sheet1.xml"] = before = ODD_SHAPES[shape].encode()
    path.write_bytes(build.zipped(members))
    notes = record(path, {"x": 6.25}).notes
    after = build.members(path)["xl/worksheets/sheet1.xml"]
    expected = before.replace(b"v>5<", b"v>6.25<").replace(b"v>10<", b"v>12.5<")
    assert (after.split() == expected.split()) is (shape in SPLICED)
    told = [note for note in notes if "all of it was written anew" in note]
    assert len(notes) == len(told) == (shape not in SPLICED | {"white space"})  # which goes from within the cells alone


def test_a_prefix_is_put_back_where_it_was_and_nowhere_else(tmp_path: Path) -> None:
    sheet = (
        f'<x:worksheet xmlns:x="{build.MAIN}" xmlns="other"><x:sheetData><x:row r="2" /><x:row\n r="3"><x:c r="A3">'
        "<x:is><x:t>a &lt; b</x:t></x:is></x:c></x:row></x:sheetData><y:more xmlns:y='x:'><y:x/></y:more></x:worksheet>"
    )
    path = tmp_path / "a.xlsx"
    path.write_bytes(build.zipped(build.parts({"S": ""}) | {"xl/worksheets/sheet1.xml": sheet.encode()}))
    patched(path, {}, {(2, 1): 6.5, (3, 1): 7.0, (3, 2): "new"})
    assert build.members(path)["xl/worksheets/sheet1.xml"].decode() == sheet.replace(
        '<x:row r="2" />', '<x:row r="2" ><x:c r="A2"><x:v>6.5</x:v></x:c></x:row>'
    ).replace(
        "<x:is><x:t>a &lt; b</x:t></x:is></x:c>",
        '<x:v>7</x:v></x:c><x:c r="B3" t="inlineStr"><x:is><x:t>new</x:t></x:is></x:c>',
    )


def test_places_within_a_range() -> None:
    places = [("S", 1, 1), ("S", 3, 1), ("S", 3, 2), ("T", 2, 1)]
    assert within(places, "S", Box(1, 1, 5, 1)) == places[:2]
    assert within(places, "S", Box(3, 1, 3, 2)) == places[1:3]
    assert within(places, "S", Box(3, 2, 3, 2)) == places[2:3]
    assert within(places, "S", Box(2, 1, 2, 1)) == []


def test_hidden_rows_and_filters_are_found_however_their_attributes_stand(tmp_path: Path) -> None:
    rows = '<row\n hidden="1"\n r="1"/><row r="2" hidden="0"/><row hidden="true" r="3"/><row r="4"\nhidden="1"></row>'
    after = '<autoFilter\n ref="A1:B4"><filterColumn colId="0"><filters/></filterColumn></autoFilter>'
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(rows, after=after)})
    with Package(path) as package:
        sheet = package.sheet("S")
        assert (sheet.rewritten, sheet.hidden_rows) == (False, [1, 3, 4])
        assert sheet.filtered == [Box(1, 1, 4, 2)]


@pytest.mark.parametrize("shape", ODD_SHAPES)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_every_way_of_writing_a_sheet_is_read_and_patched(tmp_path: Path, shape: str, encoding: str) -> None:
    members = build.parts({"S": build.sheet("")})
    text = ODD_SHAPES[shape].replace('encoding="UTF-8"', "")
    members["xl/worksheets/sheet1.xml"] = text.encode(encoding)
    path = tmp_path / "a.xlsx"
    path.write_bytes(build.zipped(members))
    with Package(path, write=True) as package:
        sheet = package.sheet("S")
        assert [(cell.address, cell.text) for cell in sheet.formulas.values()] == [("B1", "A1*2")]
        assert sheet.value(1, 1) == 5.0
        package.save({sheet.part: sheet.patched({(1, 2): 12.5}, {(1, 1): 6.25, (2, 3): "new"})})
    if shape != "strict":  # which openpyxl doesn't read
        assert cells(path) == {"A1": 6.25, "B1": 12.5, "C2": "new"}
    with Package(path) as package:
        sheet = package.sheet("S")
        assert sheet.values([(1, 1), (1, 2), (2, 3)]) == {(1, 1): 6.25, (1, 2): 12.5, (2, 3): "new"}
        assert sheet.formulas[1, 2].text == "A1*2"


def test_names_tables_and_properties(tmp_path: Path) -> None:
    path = build.workbook(
        tmp_path / "a.xlsx",
        {"Plan": "A1 1", "It's": "A1 1"},
        '<definedName name="volume">Plan!$A$1</definedName>'
        '<definedName name="own" localSheetId="1" hidden="1">\'It\'\'s\'!$A$1</definedName>',
        properties={"brewfuncs_version": "0.1.0"},
        tables={"Plan!": build.table("Hops", "A10:C14", ["Hop", "Alpha [%]", "it's_x000a_two"], totals=1)},
    )
    with Package(path) as package:
        assert [(n.name, n.text, n.sheet, n.hidden) for n in package.names] == [
            ("volume", "Plan!$A$1", None, False),
            ("own", "'It''s'!$A$1", "It's", True),
        ]
        table = package.tables[0]
        assert (table.name, table.sheet, table.box) == ("Hops", "Plan", Box(10, 1, 14, 3))
        assert table.columns == ("Hop", "Alpha [%]", "it's\ntwo")
        assert (table.header_rows, table.totals_rows) == (1, 1)
        assert package.properties == {"brewfuncs_version": "0.1.0"}
        assert package.find_sheet("PLAN") == "Plan"


# serial numbers: 2024-02-29 is 45351 by the 1900 system, as any spreadsheet shows; 1462 days less by the 1904 one.
# Excel counts 1900 as a leap year, so that 1 January 1900 is 1 and 1 March 1900 is 61.
@pytest.mark.parametrize(
    ("text", "since_1900", "since_1904"),
    [
        ("2024-02-29", 45351, 43889),
        ("1900-01-01", 1, None),
        ("1900-03-01", 61, None),
        ("2024-02-29T12:00:00Z", 45351.5, 43889.5),
    ],
)
def test_dates(tmp_path: Path, text: str, since_1900: float, since_1904: float | None) -> None:
    with Package(build.workbook(tmp_path / "a.xlsx", ONE)) as package:
        assert package.serial(text) == since_1900
    old = build.workbook(tmp_path / "b.xlsx", ONE, workbook='<workbookPr date1904="1"/>')
    with Package(old) as package:
        assert package.serial(text) == since_1904


# ---------------------------------------------------------------- patching
def test_only_the_patched_part_differs(tmp_path: Path) -> None:
    members = build.parts({"S": ONE["S"], "T": "A1 =S!B1 | 10"})
    members |= {"xl/vbaProject.bin": os.urandom(2000), "customXml/item1.xml": b"<a/>", "docProps/thumbnail.wmf": b"x"}
    path = tmp_path / "a.xlsm"
    path.write_bytes(build.zipped(members))
    before = build.raw_members(path)
    patched(path, {(1, 2): 11.0})
    after = build.raw_members(path)
    assert list(after) == list(before)
    assert [name for name in before if before[name] != after[name]] == ["xl/worksheets/sheet1.xml"]
    old, new = members["xl/worksheets/sheet1.xml"], build.members(path)["xl/worksheets/sheet1.xml"]
    assert new == old.replace(b"<v>10</v>", b"<v>11</v>")
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None
        info = package.getinfo("xl/worksheets/sheet1.xml")
        assert info.date_time == (2024, 2, 29, 12, 30, 58)
        assert info.external_attr == 0o600 << 16


def test_everything_around_a_value_stays(tmp_path: Path) -> None:
    row = (
        '<row r="1" spans="1:2" x14ac:dyDescent="0.25" xmlns:x14ac="urn:x"><c r="A1" s="7" t="e" vm="1" cm="3" ph="1">'
        '<f t="array" ref="A1" aca="1">A2&amp;"&lt;"</f><v>#VALUE!</v><extLst><ext uri="u"/></extLst></c></row>'
    )
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(row, after="<printOptions/>")})
    patched(path, {(1, 1): " é\n<&> "})
    expected = row.replace('t="e" vm="1" cm="3" ph="1"', 'cm="3" ph="1" t="str"').replace(
        "<v>#VALUE!</v>", '<v xml:space="preserve"> é\n&lt;&amp;&gt; </v>'
    )
    assert build.members(path)["xl/worksheets/sheet1.xml"].decode() == build.sheet(expected, after="<printOptions/>")


@pytest.mark.parametrize(
    ("value", "xml"),
    [
        (0.1 + 0.2, "<v>0.30000000000000004</v>"),
        (-0.0, "<v>0</v>"),
        (1e300, "<v>1E+300</v>"),
        (5.0, "<v>5</v>"),
        (float("inf"), "<v>#NUM!</v>"),
        (True, "<v>1</v>"),
        ("", "<v></v>"),
        ("_x0041_\x01", "<v>_x005F_x0041__x0001_</v>"),
        (CellError("#N/A"), "<v>#N/A</v>"),
        (CellError("#SPILL!"), "<v>#VALUE!</v>"),  # how Excel stores the newer errors (as commonly quoted)
        (None, ""),
    ],
)
def test_values_as_stored(tmp_path: Path, value: object, xml: str) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": "A1 =B1"})
    patched(path, {(1, 1): value})
    assert f"<f>B1</f>{xml}</c>" in build.members(path)["xl/worksheets/sheet1.xml"].decode()


def test_text_too_long_is_refused(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", ONE)
    patched(path, {(1, 2): "x" * 32_767})
    before = path.read_bytes()
    with pytest.raises(WorkbookError, match="32767 characters"):
        patched(path, {(1, 2): "🍺" * 16_384})  # two units of UTF-16 each
    assert path.read_bytes() == before


def test_inputs_of_every_kind(tmp_path: Path) -> None:
    strings = "<si><t>shared</t></si>"
    row = '<row r="2"><c r="B2" s="4" t="s"><v>0</v></c><c r="D2" s="5"><v>1</v></c><c r="E2" s="6"/></row><row r="5"/>'
    path = build.workbook(
        tmp_path / "a.xlsx", {"S": build.sheet(row, before='<dimension ref="B2:E2"/>')}, strings=strings
    )
    inputs = {
        (2, 2): 3.5,
        (2, 4): "=1+1",
        (2, 5): True,
        (2, 1): 1.0,
        (2, 3): 2.0,
        (5, 2): 4.0,
        (1, 1): 5.0,
        (9, 7): 6.0,
    }
    patched(path, {}, inputs)
    text = build.members(path)["xl/worksheets/sheet1.xml"].decode()
    assert '<dimension ref="A1:G9"/>' in text
    assert '<c r="B2" s="4"><v>3.5</v></c>' in text
    assert '<c r="D2" s="5" t="inlineStr"><is><t>=1+1</t></is></c>' in text  # text, and never a formula
    assert '<c r="E2" s="6" t="b"><v>1</v></c>' in text
    assert [text.index(f'<c r="{a}"') for a in ("A1", "A2", "B2", "C2", "D2", "E2", "B5", "G9")] == sorted(
        text.index(f'<c r="{a}"') for a in ("A1", "A2", "B2", "C2", "D2", "E2", "B5", "G9")
    )
    with Package(path) as package:
        assert package.sheet("S").values(inputs) == inputs
    patched(path, {}, dict.fromkeys(inputs))
    with Package(path) as package:
        assert set(package.sheet("S").values(inputs).values()) == {None}


def test_new_cells_take_the_format_of_their_row_or_column(tmp_path: Path) -> None:
    columns = '<col min="2" max="3" width="9" style="8"/><col min="5" max="5" style="7"/><col min="6" max="6"/>'
    rows = '<row r="1" s="9" customFormat="1"><c r="A1"/></row><row r="2" spans="1:1"><c r="A2"/></row>'
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(rows, before=f"<cols>{columns}</cols>")})
    patched(path, {}, {(1, 2): 1.0, (2, 2): 2.0, (3, 4): 3.0} | {(4, column): 4.0 for column in (1, 3, 4, 5, 6, 7)})
    text = build.members(path)["xl/worksheets/sheet1.xml"].decode()
    fourth = ('<c r="A4">', '<c r="C4" s="8">', '<c r="D4">', '<c r="E4" s="7">', '<c r="F4">', '<c r="G4">')
    for expected in ('<c r="B1" s="9">', '<c r="B2" s="8">', '<c r="D3">', '<row r="2"><c r="A2"/>', *fourth):
        assert expected in text


def test_into_a_sheet_without_rows(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    members = build.parts({"S": ""})
    members["xl/worksheets/sheet1.xml"] = build.sheet("").replace("<sheetData></sheetData>", "<sheetData/>").encode()
    path.write_bytes(build.zipped(members))
    patched(path, {}, {(2, 2): 1.0})
    assert cells(path) == {"B2": 1}


def test_an_array_that_grows_and_shrinks(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": "A1 {{=F()}} A1:A3 | 1\nA2 2\nA3 3"})
    patched(path, {(1, 1): 1.0, (2, 1): None, (3, 1): None, (1, 2): 7.0}, refs={(1, 1): Box(1, 1, 1, 2)})
    text = build.members(path)["xl/worksheets/sheet1.xml"].decode()
    assert '<c r="A1" cm="1"><f t="array" ref="A1:B1">F()</f><v>1</v></c><c r="B1"><v>7</v></c>' in text
    assert '<c r="A2"/>' in text


def test_a_formula_is_never_overwritten_by_an_input(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", ONE)
    with pytest.raises(WorkbookError, match="S!B1 holds a formula"):
        patched(path, {}, {(1, 2): 1.0})


_TEXTS = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=40)
_VALUES = st.one_of(st.floats(allow_nan=False, allow_infinity=False), _TEXTS, st.booleans(), st.none())


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    old=st.dictionaries(
        st.tuples(st.integers(1, 6), st.integers(1, 4)), st.sampled_from(["v", "f", "s", "e"]), max_size=12
    ),
    new=st.dictionaries(st.tuples(st.integers(1, 7), st.integers(1, 5)), _VALUES, max_size=12),
)
def test_any_values_into_any_sheet(tmp_path: Path, old: dict, new: dict) -> None:
    """What is put in comes out, and what wasn't asked for stays: read back here and by openpyxl."""
    letters = string.ascii_uppercase
    kinds = {"v": "{a} 5", "f": "{a} =1+1 | 2", "s": '{a} "t"', "e": "{a} #N/A"}
    lines = [kinds[kind].format(a=f"{letters[c - 1]}{r}") for (r, c), kind in sorted(old.items())]
    path = build.workbook(tmp_path / "a.xlsx", {"S": "\n".join(lines)})
    results = {place: value for place, value in new.items() if old.get(place) == "f"}
    inputs = {place: value for place, value in new.items() if old.get(place) != "f"}
    patched(path, results, inputs)
    with Package(path) as package:
        found = package.sheet("S").values({*old, *new})
        assert {p for p, kind in old.items() if kind == "f"} == set(package.sheet("S").formulas)
    before = {"v": 5.0, "f": 2.0, "s": "t"}
    for place in {*old, *new}:
        expected = new[place] if place in new else before.get(old[place])
        if place not in new and old[place] == "e":
            assert isinstance(found[place], CellError)
        elif isinstance(expected, str):
            assert (found.get(place) or "") == expected
        else:
            assert found.get(place) == expected
    openpyxl.load_workbook(path)


# ---------------------------------------------------------------- the zip
@pytest.mark.parametrize("how", ["stored", "descriptors", "zip64", "comment"])
def test_every_kind_of_zip(tmp_path: Path, how: str) -> None:
    data = build.zipped(build.parts(ONE), zipfile.ZIP_STORED if how == "stored" else zipfile.ZIP_DEFLATED)
    if how == "descriptors":
        data = build.with_streamed_sizes(data)
    elif how == "zip64":
        data = build.with_zip64(data)
    path = tmp_path / "a.xlsx"
    path.write_bytes(data)
    if how == "comment":
        with zipfile.ZipFile(path, "a") as package:
            package.comment = b"kept"
    before = build.raw_members(path)
    patched(path, {(1, 2): 99.0})
    after = build.raw_members(path)
    assert [name for name in before if before[name] != after[name]] == ["xl/worksheets/sheet1.xml"]
    assert cells(path)["B1"] == 99
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None
        assert package.comment == (b"kept" if how == "comment" else b"")
    patched(path, {(1, 2): 98.0})  # what was written can be patched again
    assert cells(path)["B1"] == 98


# ---------------------------------------------------------------- the file
def test_permissions_and_symbolic_links(tmp_path: Path) -> None:
    real = build.workbook(tmp_path / "real.xlsx", ONE)
    real.chmod(0o640)
    link = tmp_path / "link.xlsx"
    link.symlink_to(real)
    patched(link, {(1, 2): 3.0})
    assert link.is_symlink()
    assert cells(real)["B1"] == 3
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link.xlsx", "real.xlsx"]


@pytest.mark.parametrize("lock", ["~$book.xlsx", ".~lock.book.xlsx#"])
def test_locks_of_other_programs(tmp_path: Path, lock: str) -> None:
    path = build.workbook(tmp_path / "book.xlsx", ONE)
    (tmp_path / lock).write_bytes(b"\x05other")
    with pytest.raises(WorkbookError, match=r"is open in (Excel|LibreOffice)"):
        Package(path, write=True)
    Package(path).close()  # looking is allowed


def test_a_lock_that_comes_meanwhile(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "book.xlsx", ONE)
    before = path.read_bytes()
    with Package(path, write=True) as package:
        sheet = package.sheet("S")
        (tmp_path / ".~lock.book.xlsx#").write_text("other")
        with pytest.raises(WorkbookError, match="opened in LibreOffice meanwhile"):
            package.save({sheet.part: sheet.patched({(1, 2): 1.0})})
    assert path.read_bytes() == before


def test_a_file_that_changes_meanwhile(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "book.xlsx", ONE)
    with Package(path, write=True) as package:
        sheet = package.sheet("S")
        build.workbook(path, {"S": "A1 1"})
        theirs = path.read_bytes()
        with pytest.raises(WorkbookError, match="changed by another program meanwhile"):
            package.save({sheet.part: sheet.patched({(1, 2): 1.0})})
    assert path.read_bytes() == theirs


def test_read_only(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "book.xlsx", ONE)
    path.chmod(0o444)
    with pytest.raises(WorkbookError, match="read-only"):
        Package(path, write=True)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "book.xlsx", ONE)
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(WorkbookError, match="folder"):
            Package(path, write=True)
    finally:
        tmp_path.chmod(0o755)


# ---------------------------------------------------------------- small things
@pytest.mark.parametrize(("text", "place"), [("A1", (1, 1)), ("$XFD$1048576", (1048576, 16384)), ("ab7", (7, 28))])
def test_addresses(text: str, place: tuple[int, int]) -> None:
    assert parse_address(text) == place


@pytest.mark.parametrize("text", ["", "A", "1", "A0", "XFE1", "A1048577", "A1:B2", "ÀA1", "A1 "])
def test_what_is_no_address(text: str) -> None:
    with pytest.raises(WorkbookError):
        parse_address(text)


def test_ranges() -> None:
    assert parse_range("C3:A1") == Box(1, 1, 3, 3)
    assert str(Box(1, 1, 3, 3)) == "A1:C3"
    assert str(Box(2, 2, 2, 2)) == "B2"


def test_what_counts_as_the_same() -> None:
    assert same_value(1.0, 1.0 + 1e-13)
    assert not same_value(1.0, 1.0 + 1e-11)
    assert not same_value(0.0, 1e-13)  # relative: next to nothing is not nothing
    assert same_value(CellError("#N/A"), CellError("#N/A"))
    assert not same_value(CellError("#N/A"), CellError("#REF!"))
    assert not same_value(None, "")


def test_a_prefix_without_a_meaning_is_damage(tmp_path: Path) -> None:
    members = build.parts({"S": build.sheet('<x:row r="1"/>')})
    (tmp_path / "a.xlsx").write_bytes(build.zipped(members))
    with pytest.raises(WorkbookError, match="is damaged: unbound prefix"), Package(tmp_path / "a.xlsx") as package:
        package.sheet("S")


def test_a_zip_with_an_empty_directory(tmp_path: Path) -> None:
    data = build.zipped(build.parts({"S": "A1 1"}))
    end = b"PK\5\6" + bytes(18)
    (tmp_path / "a.xlsx").write_bytes(data[:60] + end)
    with pytest.raises(WorkbookError, match="is not a workbook"):
        Package(tmp_path / "a.xlsx")


def test_an_end_tag_with_a_space_is_read_like_any_other(tmp_path: Path) -> None:
    cells = '<row r="1"><c r="A1" t="inlineStr"><is><t>x</t></is ></c><c r="B1"><v>2</v></c></row>'
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(cells)})
    with Package(path) as package:
        assert package.sheet("S").values([(1, 1), (1, 2)]) == {(1, 1): "x", (1, 2): 2.0}


#: an access list as Linux keeps it (acl(5), and linux/posix_acl_xattr.h): version 2, then kind, rights and whose; the
#: owner may read and write, the user 1000 may read, the group may read, nobody else anything
ACCESS_LIST = struct.pack("<L", 2) + b"".join(
    struct.pack("<2HL", *entry)
    for entry in ((1, 6, 0xFFFFFFFF), (2, 4, 1000), (4, 4, 0xFFFFFFFF), (16, 4, 0xFFFFFFFF), (32, 0, 0xFFFFFFFF))
)


@pytest.mark.parametrize("attribute", [("user.comment", b"mine"), ("system.posix_acl_access", ACCESS_LIST)])
@pytest.mark.parametrize("how", ["record", "new --force"])
def test_what_is_said_of_a_file_stays_with_it(tmp_path: Path, attribute: tuple[str, bytes], how: str) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": "A1 1"}, {"x": "S!$A$1"})
    before = path.read_bytes()
    try:
        os.setxattr(path, *attribute)
    except (AttributeError, OSError):
        pytest.skip(f"this file system has no {attribute[0]}")
    if how == "record":
        record(path, {"x": 2})
    else:
        write_new(path, b"new")
    assert path.read_bytes() != before
    assert os.getxattr(path, attribute[0]) == attribute[1]


def test_a_table_without_headings_and_the_edges_of_a_box(tmp_path: Path) -> None:
    table = build.table("T", "A2:A4", ["a"]).replace('ref="A2:A4"', 'ref="A2:A4" headerRowCount="0"')
    path = build.workbook(tmp_path / "a.xlsx", {"S": "A2 1"}, tables={"S!": table})
    with Package(path) as package:
        assert [(t.header_rows, t.totals_rows) for t in package.tables] == [(0, 0)]
    box = Box(2, 3, 4, 5)
    inside = {(row, column) for row in range(1, 6) for column in range(2, 7) if box.holds(row, column)}
    assert inside == set(box.cells())
    assert len(inside) == 9


def test_a_read_only_file_is_not_replaced_by_a_new_one(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"old")
    path.chmod(0o444)
    with pytest.raises(WorkbookError, match="is read-only"):
        write_new(path, b"new")
    assert path.read_bytes() == b"old"
