"""Workbooks put together by hand for the tests: every byte of them is chosen, and no library has had a say in it."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Mapping
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
STRICT_OFFICE = "http://purl.oclc.org/ooxml/officeDocument/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def rows(text: str) -> str:
    """Cells as XML from lines such as `A1 5`, `B1 =A1*2 | 10`, `C1 "words"`: address, content, and a stored value.

    `B1 {=A1:A3*2} A1:B3` is an array formula of the old kind, `B1 {{=SEQUENCE(3)}} B1:B3` one that spills.
    """
    found: dict[int, list[str]] = {}
    for line in filter(None, map(str.strip, text.splitlines())):
        address, _, content = line.partition(" ")
        row = int("".join(filter(str.isdigit, address)))
        found.setdefault(row, []).append(cell(address, content))
    return "".join(f'<row r="{row}">{"".join(cells)}</row>' for row, cells in sorted(found.items()))


def cell(address: str, content: str) -> str:
    content, _, stored = content.partition(" | ")
    if content.startswith("{{="):
        formula, _, ref = content[3:].partition("}} ")
        return f'<c r="{address}" cm="1"><f t="array" ref="{ref}">{escape(formula)}</f>{_value(stored)}</c>'
    if content.startswith("{="):
        formula, _, ref = content[2:].partition("} ")
        return f'<c r="{address}"><f t="array" ref="{ref}">{escape(formula)}</f>{_value(stored)}</c>'
    if content.startswith("="):
        kind = ' t="e"' if stored.startswith("#") else ' t="str"' if stored.startswith('"') else ""
        return f'<c r="{address}"{kind}><f>{escape(content[1:])}</f>{_value(stored)}</c>'
    if content.startswith('"'):
        return f'<c r="{address}" t="inlineStr"><is><t>{escape(content[1:-1])}</t></is></c>'
    if content.startswith("#"):
        return f'<c r="{address}" t="e"><v>{content}</v></c>'
    return f'<c r="{address}">{_value(content)}</c>'


def _value(stored: str) -> str:
    return f"<v>{escape(stored.strip(chr(34)))}</v>" if stored else ""


def sheet(cells: str, *, before: str = "", after: str = "", main: str = MAIN) -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<worksheet xmlns="{main}" xmlns:r="{OFFICE}">{before}'
        f"<sheetData>{cells}</sheetData>{after}</worksheet>"
    )


def parts(
    sheets: Mapping[str, str],
    names: Mapping[str, str] | str = {},
    *,
    main: str = MAIN,
    office: str = OFFICE,
    workbook: str = "",
    calculation: str = "",
    workbook_type: str = f"{SHEET_TYPE}.sheet.main+xml",
    properties: Mapping[str, str] = {},
    tables: Mapping[str, str] = {},
    strings: str = "",
) -> dict[str, bytes]:
    """The members of a workbook's zip; a sheet is XML (from `sheet`) or lines as `rows` takes them."""
    found: dict[str, str] = {}
    overrides = "".join(
        f'<Override PartName="/xl/worksheets/sheet{i}.xml" ContentType="{SHEET_TYPE}.worksheet+xml"/>'
        for i in range(1, len(sheets) + 1)
    )
    found["[Content_Types].xml"] = (
        f'<Types xmlns="{PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{workbook_type}"/>{overrides}</Types>'
    )
    root = [("r1", f"{office}/officeDocument", "xl/workbook.xml")]
    if properties:
        root.append(("r2", f"{office}/custom-properties", "docProps/custom.xml"))
        found["docProps/custom.xml"] = (
            '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/custom-properties" '
            'xmlns:vt="http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes">'
            + "".join(
                f'<property fmtid="{{D5CDD505-2E9C-101B-9397-08002B2CF9AE}}" pid="{pid}" name="{name}">'
                f"<vt:lpwstr>{escape(value)}</vt:lpwstr></property>"
                for pid, (name, value) in enumerate(properties.items(), 2)
            )
            + "</Properties>"
        )
    found["_rels/.rels"] = _relations(root)
    listed = "".join(f'<sheet name={quoteattr(name)} sheetId="{i}" r:id="s{i}"/>' for i, name in enumerate(sheets, 1))
    if not isinstance(names, str):
        names = "".join(f'<definedName name="{name}">{escape(text)}</definedName>' for name, text in names.items())
    found["xl/workbook.xml"] = (
        f'<workbook xmlns="{main}" xmlns:r="{office}">{workbook}<sheets>{listed}</sheets>'
        + (f"<definedNames>{names}</definedNames>" if names else "")
        + f"{calculation}</workbook>"
    )
    relations = [(f"s{i}", f"{office}/worksheet", f"worksheets/sheet{i}.xml") for i in range(1, len(sheets) + 1)]
    if strings:
        relations.append(("t", f"{office}/sharedStrings", "sharedStrings.xml"))
        found["xl/sharedStrings.xml"] = f'<sst xmlns="{main}">{strings}</sst>'
    found["xl/_rels/workbook.xml.rels"] = _relations(relations)
    for i, (name, content) in enumerate(sheets.items(), 1):
        found[f"xl/worksheets/sheet{i}.xml"] = content if content.startswith("<?xml") else sheet(rows(content))
        mine = [(key, table) for key, table in tables.items() if key.startswith(name + "!")]
        if mine:
            found[f"xl/worksheets/_rels/sheet{i}.xml.rels"] = _relations(
                [(f"t{n}", f"{office}/table", f"../tables/table{i}_{n}.xml") for n in range(len(mine))]
            )
            for n, (_, table) in enumerate(mine):
                found[f"xl/tables/table{i}_{n}.xml"] = table
    return {name: content.encode() for name, content in found.items()}


def _relations(pairs: list[tuple[str, str, str]]) -> str:
    inside = "".join(f'<Relationship Id="{i}" Type="{kind}" Target="{target}"/>' for i, kind, target in pairs)
    return f'<Relationships xmlns="{PACKAGE}/relationships">{inside}</Relationships>'


def table(name: str, ref: str, columns: list[str], *, totals: int = 0) -> str:
    listed = "".join(f"<tableColumn id='{i}' name={quoteattr(column)}/>" for i, column in enumerate(columns, 1))
    return (
        f'<table xmlns="{MAIN}" id="1" name="{name}" displayName="{name}" ref="{ref}" totalsRowCount="{totals}">'
        f'<tableColumns count="{len(columns)}">{listed}</tableColumns></table>'
    )


def zipped(members: Mapping[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", compression) as package:
        for name, content in members.items():
            info = zipfile.ZipInfo(name, (2024, 2, 29, 12, 30, 58))
            info.compress_type = compression
            info.extract_version = 45  # a member written again gets 20, so that `raw_members` shows it
            info.external_attr = 0o600 << 16
            package.writestr(info, content)
    return out.getvalue()


def workbook(path: Path, sheets: Mapping[str, str], names: Mapping[str, str] | str = {}, **more: object) -> Path:
    """Write a workbook and give its path back."""
    path.write_bytes(zipped(parts(sheets, names, **more)))  # type: ignore[arg-type]
    return path


def members(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as package:
        return {name: package.read(name) for name in package.namelist()}


def raw_members(path: Path) -> dict[str, bytes]:
    """Every member as it stands in the file: its header and its packed bytes."""
    data = path.read_bytes()
    with zipfile.ZipFile(path) as package:
        infos = sorted(package.infolist(), key=lambda info: info.header_offset)
        ends = [info.header_offset for info in infos[1:]] + [package.start_dir]
    return {info.filename: data[info.header_offset : end] for info, end in zip(infos, ends, strict=True)}


def with_streamed_sizes(data: bytes) -> bytes:
    """The same zip as a program writes it that can't seek: sizes behind the content, in data descriptors."""
    out = io.BytesIO()

    class Pipe(io.RawIOBase):
        def writable(self) -> bool:
            return True

        def write(self, piece: bytes) -> int:  # type: ignore[override]
            return out.write(piece)

    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(Pipe(), "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            new.writestr(info, old.read(info))
    return out.getvalue()


def with_zip64(data: bytes) -> bytes:
    """The same zip with the sizes and offsets in 64-bit fields, as some programs write them whatever the size."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        infos, start = package.infolist(), package.start_dir
    directory = b""
    for info in infos:
        name = info.filename.encode()
        extra = struct.pack("<2H3Q", 1, 24, info.file_size, info.compress_size, info.header_offset)
        directory += struct.pack(
            "<4s6H3L5H2L", b"PK\1\2", 45, 45, info.flag_bits, info.compress_type, 0, 0x21, info.CRC, 0xFFFFFFFF,
            0xFFFFFFFF, len(name), len(extra), 0, 0, 0, 0, 0xFFFFFFFF,
        )  # fmt: skip
        directory += name + extra
    count, size = len(infos), len(directory)
    end64 = struct.pack("<4sQ2H2L4Q", b"PK\6\6", 44, 45, 45, 0, 0, count, count, size, start)
    locator = struct.pack("<4sLQL", b"PK\6\7", 0, start + size, 1)
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0)
    return data[:start] + directory + end64 + locator + end
