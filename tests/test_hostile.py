"""Files made to do harm, and files that came to harm: refused with one sentence, or read; never worse."""

from __future__ import annotations

import contextlib
import io
import random
import struct
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from brewfuncs.errors import BrewError, WorkbookError
from brewfuncs.hosts.rewrite import Rewriter
from brewfuncs.workbook.check import check
from brewfuncs.workbook.recalculate import recalculate, record
from brewfuncs.xlsx.address import Box
from brewfuncs.xlsx.formula import Untranslatable, shift, tokenize, without_addin_paths, words
from brewfuncs.xlsx.package import Package, Table
from tests import xlsx_build as build

CELLS = 'A1 5\nB1 =A1*2 | 1\nC1 =HOP_BITTERNESS(28,5.5%,60,20) | 1\nD1 {=A1:A2} D1:D2\nE1 "text"'


def refused(path: Path, message: str) -> None:
    """Refused in one sentence by everything that opens workbooks, and not touched."""
    before = path.read_bytes() if path.is_file() else b""
    for action in (recalculate, check, lambda p: record(p, {"S!A1": 1}), lambda p: check(p, fix=True)):
        with pytest.raises(WorkbookError, match=message) as caught:
            action(path)
        assert "\n" not in str(caught.value)
        assert str(caught.value)[0] != "<"
    assert not path.is_file() or path.read_bytes() == before


def write(path: Path, members: dict[str, bytes]) -> Path:
    path.write_bytes(build.zipped(members))
    return path


# ---------------------------------------------------------------- what isn't a workbook
@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "is empty"),
        (b"name,mass\nOstrane,28\n", "is not an .xlsx or .xlsm workbook"),
        (b"PK\3\4" + b"\0" * 40, "is damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "is an old .xls workbook"),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"),
            "is encrypted: remove its password first",
        ),
        (build.zipped({"a.txt": b"hello"}), "is not a workbook"),
        (build.zipped({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet"}), "OpenDocument"),
        (build.zipped({}), "is not an .xlsx|is damaged|is not a workbook"),
    ],
)
def test_other_files(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(content)
    refused(path, message)


def test_missing_files_folders_and_pipes(tmp_path: Path) -> None:
    refused(tmp_path / "none.xlsx", "does not exist")
    refused(tmp_path, "is a folder|folder")
    if hasattr(__import__("os"), "mkfifo"):
        __import__("os").mkfifo(tmp_path / "pipe.xlsx")
        refused(tmp_path / "pipe.xlsx", "is not a file")


@pytest.mark.parametrize(
    "kind",
    [
        "application/vnd.openxmlformats-officedocument.wordprocessingml.document.main+xml",
        "application/vnd.ms-excel.sheet.binary.macroEnabled.main",
        "text/plain",
        "",
    ],
)
def test_wrong_content_types(tmp_path: Path, kind: str) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": CELLS}, workbook_type=kind)
    refused(path, "is not a workbook|binary")


def test_signed(tmp_path: Path) -> None:
    members = build.parts({"S": CELLS}) | {"_xmlsignatures/origin.sigs": b""}
    refused(write(tmp_path / "a.xlsx", members), "digitally signed")


@pytest.mark.parametrize("missing", ["[Content_Types].xml", "_rels/.rels", "xl/workbook.xml"])
def test_missing_parts(tmp_path: Path, missing: str) -> None:
    members = build.parts({"S": CELLS})
    del members[missing]
    refused(write(tmp_path / "a.xlsx", members), "is not a workbook")


def test_a_sheet_that_is_missing_is_left_out(tmp_path: Path) -> None:
    members = build.parts({"S": CELLS, "T": "A1 =1+1 | 2"})
    del members["xl/worksheets/sheet1.xml"]
    assert recalculate(write(tmp_path / "a.xlsx", members)).formulas == 1


# ---------------------------------------------------------------- zips
def test_two_parts_of_one_name(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": CELLS})
    with zipfile.ZipFile(path, "a") as package:
        package.writestr("XL/Worksheets/sheet1.xml", "<worksheet/>")  # the same part, as part names have no case
    refused(path, "two parts named")


def test_encrypted_members(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": CELLS})
    data = bytearray(path.read_bytes())
    at = data.index(b"PK\1\2")
    data[at + 8] |= 1
    path.write_bytes(data)
    refused(path, "encrypted")


def test_a_bomb(tmp_path: Path) -> None:
    members = build.parts({"S": CELLS})
    members["xl/worksheets/sheet1.xml"] += b" " * (300 << 20)
    refused(write(tmp_path / "a.xlsx", members), "more than is safe to unpack")


def test_a_bomb_in_a_part_that_is_only_copied(tmp_path: Path) -> None:
    members = build.parts({"S": CELLS}) | {"xl/media/image1.bmp": b"\0" * (100 << 20)}
    path = write(tmp_path / "a.xlsx", members)
    before = build.raw_members(path)["xl/media/image1.bmp"]
    assert recalculate(path).written
    assert build.raw_members(path)["xl/media/image1.bmp"] == before


def test_a_part_that_says_it_is_smaller_than_it_is(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": CELLS + "\nA9 1" * 500})
    data = bytearray(path.read_bytes())
    at = data.rindex(b"xl/worksheets/sheet1.xml") - 46
    struct.pack_into("<L", data, at + 24, 100)
    path.write_bytes(data)
    refused(path, "is damaged")


def test_parts_that_overlap(tmp_path: Path) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": CELLS, "T": CELLS})
    data = bytearray(path.read_bytes())
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        first = package.getinfo("xl/worksheets/sheet1.xml").header_offset
    at = data.rindex(b"xl/worksheets/sheet2.xml") - 46
    struct.pack_into("<L", data, at + 42, first)
    path.write_bytes(data)
    refused(path, "is damaged")


def test_too_many_parts(tmp_path: Path) -> None:
    members = build.parts({"S": CELLS}) | {f"x/{i}": b"" for i in range(20_001)}
    refused(write(tmp_path / "a.xlsx", members), "more than 20000 parts")


@pytest.mark.parametrize("name", ["../../evil.xml", "/etc/passwd", "C:\\evil.xml", "a\x00b", "con"])
def test_path_names_in_the_zip_lead_nowhere(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "deep" / "folder"
    folder.mkdir(parents=True)
    members = build.parts({"S": CELLS}) | {name: b"x"}
    members["xl/_rels/workbook.xml.rels"] = members["xl/_rels/workbook.xml.rels"].replace(
        b"</Relationships>",
        b'<Relationship Id="e" Type="x/worksheet" Target="../../../../etc/passwd"/>'
        b'<Relationship Id="f" Type="x/worksheet" Target="file:///etc/passwd" TargetMode="External"/></Relationships>',
    )
    recalculate(write(folder / "a.xlsx", members))
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["a.xlsx", "deep", "folder"]


# ---------------------------------------------------------------- XML
LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(9))
    + f']><worksheet xmlns="{build.MAIN}"><sheetData><row r="1"><c r="A1" t="str"><v>&j;</v></c></row></sheetData>'
    "</worksheet>"
).encode()
OUTSIDE = LAUGHS.replace(b'<!ENTITY a "ha">', b'<!ENTITY a SYSTEM "file:///etc/passwd">')


@pytest.mark.parametrize("part", ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "_rels/.rels", "[Content_Types].xml"])
@pytest.mark.parametrize("content", [LAUGHS, OUTSIDE])
def test_entities(tmp_path: Path, part: str, content: bytes) -> None:
    refused(write(tmp_path / "a.xlsx", build.parts({"S": CELLS}) | {part: content}), "document type")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<worksheet>",
        b"not xml",
        build.sheet(build.rows(CELLS)).encode()[:-30],
        b'<?xml version="1.0" encoding="klingon"?><worksheet/>',
        b"\xff\xfe\x00",
        build.sheet("").replace("sheetData", "other").encode(),
    ],
)
def test_damaged_sheets(tmp_path: Path, content: bytes) -> None:
    members = build.parts({"S": CELLS}) | {"xl/worksheets/sheet1.xml": content}
    refused(write(tmp_path / "a.xlsx", members), r"is damaged|can't be decoded|isn't a worksheet")


def test_nesting_a_million_deep(tmp_path: Path) -> None:
    deep = b"<a>" * 1_000_000 + b"</a>" * 1_000_000
    for part in ("xl/workbook.xml", "xl/worksheets/sheet1.xml"):
        members = build.parts({"S": CELLS})
        content = members[part]
        end = content.rindex(b"</")
        members[part] = content[:end] + deep + content[end:]
        path = write(tmp_path / "a.xlsx", members)
        # in a process of its own, since what goes wrong here ends the process
        code = f"from brewfuncs.workbook.recalculate import recalculate; recalculate({str(path)!r})"
        run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
        assert run.returncode in (0, 1), run.stderr[-300:]
        assert run.returncode == 0 or "WorkbookError" in run.stderr


@pytest.mark.parametrize(
    "cells",
    [
        '<row r="1"><c r="A1"><f t="array" ref="A1:XFD1048576">1</f></c></row>',
        '<row r="1"><c r="A1" cm="1"><f t="array" ref="A1:XFD1048576">1</f></c></row>',
        '<row r="1"><c r="A1"><f t="shared" ref="A1:XFD1048576" si="0">1</f></c></row>',
        '<row r="1048576"><c r="XFD1048576"><f>SUM(A1:XFC1048575)</f></c></row>',
        '<row r="1"><c r="A1"><f>SUM(B:XFD)</f></c></row>',
        '<row r="1"><c r="A1"><f>COUNTA(SEQUENCE(1048576,16384))</f></c></row>',
        '<row r="1"><c r="A1" cm="1"><f t="array" ref="A1">SEQUENCE(1048576,1000)</f></c></row>',
        '<row r="1"><c r="A1"><f>REPT(REPT("x",32767),32767)</f></c></row>',
        f'<row r="1"><c r="A1"><f>{"(" * 4000}1{")" * 4000}</f></c></row>',
        f'<row r="1"><c r="A1"><f>{"-" * 8000}1</f></c></row>',
        f'<row r="1"><c r="A1"><f>{"(" * 100_000}1{")" * 100_000}</f></c></row>',
        f'<row r="1"><c r="A1"><f>{"{" * 100_000}1{"}" * 100_000}</f></c><c r="B1"><f>T{"[" * 100_000}</f></c></row>',
        f'<row r="1"><c r="A1"><f>{"IF(1," * 1500}1{")" * 1500}</f></c></row>',
        f'<row r="1"><c r="A1"><f>{"1+" * 100_000}1</f></c></row>',
        '<row r="1"><c r="A1"><f t="shared" si="7"/></c></row>',
        '<row r="1"><c r="A1"><f t="array">1+1</f></c></row>',
        '<row r="1"><c r="A1"><f t="nonsense" ref="?">1+1</f></c></row>',
        '<row r="1"><c r="A1" t="zz"><f>1+1</f><v>abc</v></c></row>',
        '<row r="1"><c r="A1" t="s"><f>1+1</f><v>-5</v></c></row>',
        '<row r="1"><c r="A1"><f>1+1</f><v>nan</v></c></row>',
        # what must be sought an end for once, and not again for each cell
        '<row r="1">' + "<c><is><t>a</t></is ></c>" * 16_000 + "<c><f>1+1</f></c></row>",
        *(
            "".join(f'<row r="{row}"><c r="A{row}">{odd}</c></row>' for row in range(1, 16_001))
            for odd in ("<is><t>a</t></is><x/>", "<extLst><x/></extLst><x/>")
        ),
        '<row r="1"><c r="A1" t="inlineStr"><is>' + '<rPh sb="0" eb="1"/>' * 60_000 + "</is></c></row>",
    ],
)
def test_absurd_sheets_end_soon(tmp_path: Path, cells: str) -> None:
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(cells)})
    code = (
        "import resource; resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))\n"
        "from brewfuncs.errors import BrewError\n"
        "from brewfuncs.workbook.recalculate import recalculate\n"
        f"try: recalculate({str(path)!r})\n"
        "except BrewError as error: print(error)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert run.returncode == 0, run.stderr[-500:]


@pytest.mark.parametrize(
    "cells",
    [
        '<row r="1048577"><c r="A1048577"><f>1</f></c></row>',
        '<row r="1"><c r="XFE1"><f>1</f></c></row>',
        '<row r="1"><c r="A1"><f>1</f></c><c r="A1"><f>2</f></c></row>',
        '<row r="1"><c r="A1"><c r="B1"><f>1</f></c></c></row>',
        '<row r="1"><c r="A1"><f t="array" ref="nonsense">1</f></c></row>',
        '<row r="1"><c r=""><f>1</f></c></row>',
    ],
)
def test_impossible_cells(tmp_path: Path, cells: str) -> None:
    refused(build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(cells)}), r".")


def test_names_that_go_round_in_circles(tmp_path: Path) -> None:
    names = {"a": "b+1", "b": "a+1", "wide": "+".join(["wide2"] * 50), "wide2": "+".join(["wide3"] * 50)} | {
        f"wide{i}": "+".join([f"wide{i + 1}"] * 50) for i in range(3, 12)
    }
    path = build.workbook(tmp_path / "a.xlsx", {"S": "A1 =a | 1\nA2 =wide | 1"}, names)
    assert {kept.cell for kept in recalculate(path).kept} == {"A1", "A2"}


# ---------------------------------------------------------------- fuzzing
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32), changes=st.integers(1, 8), inside=st.booleans())
def test_damaged_bytes(tmp_path: Path, seed: int, changes: int, inside: bool) -> None:
    """Bytes changed anywhere in the file, or inside a part: refused in one sentence, or read and written."""
    chance = random.Random(seed)
    members = build.parts({"S": CELLS, "T": "A1 =S!B1"}, {"n": "S!$A$1"}, strings="<si><t>x</t></si>")
    if inside:
        name = chance.choice(sorted(members))
        members[name] = _damaged(members[name], chance, changes)
    data = build.zipped(members)
    path = tmp_path / "a.xlsx"
    path.write_bytes(data if inside else _damaged(data, chance, changes))
    before = path.read_bytes()
    refusal = ""
    try:
        record(path, {"n": 7})
    except BrewError as error:
        refusal = str(error)
    assert "\n" not in refusal
    if refusal:
        assert path.read_bytes() == before
    else:
        recalculate(path)


def _damaged(data: bytes, chance: random.Random, changes: int) -> bytes:
    changed = bytearray(data)
    for _ in range(changes):
        at = chance.randrange(len(changed))
        kind = chance.random()
        if kind < 0.5:
            changed[at] = chance.choice([0, 255, 0x3C, 0x3E, 0x22, 0x2F, chance.randrange(256)])
        elif kind < 0.7:
            del changed[at : at + chance.randrange(1, 20)]
        elif kind < 0.9:
            start = chance.randrange(len(changed))
            changed[at:at] = changed[start : start + chance.randrange(1, 40)]
        else:
            del changed[at:]
        if not changed:
            return b""
    return bytes(changed)


_PIECES = st.sampled_from(
    sorted(
        words(
            "HOP_X( Hops[ [@ [#This_Row] ] ' '' \" ( ) , ; { } A1 $B$2 A:A 1:1 S! 'S '!A1 [1]! # @ % : + name é 🍺 \\ "
            ". 1E5 #REF! Hops _xlfn.SINGLE( _xlfn.ANCHORARRAY( loop \u00a0 -"
        )
    )
)


@settings(max_examples=400, deadline=None)
@given(st.lists(_PIECES, max_size=25).map("".join))
@example("[" * 3000)
@example("'" * 4001)
@example('"' * 4001)
@example("{" * 4000)
def test_any_text_as_a_formula(text: str) -> None:
    """Cut into pieces without loss, shifted, mended and rewritten without anything but the one refusal."""
    assert "".join(token.text for token in tokenize(text)) == text
    assert shift(text, 0, 0) == text or "#REF!" in shift(text, 0, 0)
    without_addin_paths(text, {"HOP_X"})
    table = Table("Hops", "S", Box(1, 1, 9, 2), ("a", "b"), 1, 0)
    rewriter = Rewriter({"HOP_X"}, (table,), (), ("S",))
    for ordinary in (True, False):
        rewriter.examine(text, "S", ordinary)
        with contextlib.suppress(Untranslatable):
            rewriter.rewrite(text, "S", 3, 1, ordinary)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(_PIECES, min_size=1, max_size=12).map("".join))
def test_any_text_as_a_formula_of_a_workbook(tmp_path: Path, text: str) -> None:
    cells = f"<row r='1'><c r='A1'><f>{build.escape(text)}</f><v>1</v></c><c r='B1'><f>1+1</f></c></row>"
    path = build.workbook(tmp_path / "a.xlsx", {"S": build.sheet(cells)})
    recalculate(path)
    with Package(path) as package:
        assert package.sheet("S").value(1, 2) == 2.0  # whatever stands beside it
    check(path)
