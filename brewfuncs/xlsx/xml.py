"""XML as workbooks hold it: checked before it is read, and put into the one shape that the scanner knows."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree import ElementTree
from xml.parsers import expat

from brewfuncs.errors import WorkbookError
from brewfuncs.xlsx.address import address, parse_address

#: the namespace of worksheets
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def escape(text: str) -> str:
    """Text as it stands between tags (the standard library's `saxutils` does the same, and takes 14 ms to import)."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def quoted(text: str) -> str:
    """Text as the value of an attribute, in double quotes: the scanner of worksheets knows no others."""
    text = escape(text).replace('"', "&quot;")
    return '"' + text.replace("\n", "&#10;").replace("\r", "&#13;").replace("\t", "&#9;") + '"'


def check_xml(data: bytes, part: str) -> None:
    """Refuse what isn't well-formed, and document types: no workbook has one, and entities expand without end."""
    parser = expat.ParserCreate(namespace_separator=" ")  # so that a prefix without a meaning counts as damage

    def doctype(*_: object) -> None:
        raise WorkbookError(f"{part} has a document type, which no workbook needs and which can hide an attack")

    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise WorkbookError(f"{part} is damaged: {error}") from None
    except (LookupError, ValueError) as error:  # an encoding that isn't known
        raise WorkbookError(f"{part} can't be decoded: {error}") from None


def parse_xml(data: bytes, part: str) -> ElementTree.Element:
    check_xml(data, part)
    return ElementTree.fromstring(data)


def local_name(name: str) -> str:
    return name.rpartition("}")[2]


def find_all(root: ElementTree.Element, name: str) -> Iterator[ElementTree.Element]:
    return (element for element in root.iter() if isinstance(element.tag, str) and local_name(element.tag) == name)


def is_true(text: str | None) -> bool:
    return text in ("1", "true")


def integer(text: str | None, default: int) -> int:
    """A count or a number in an attribute, where a damaged file may have anything."""
    try:
        return int(text) if text is not None else default
    except ValueError:
        return default


def canonical(data: bytes, part: str) -> bytes:
    """The same worksheet written in the shape `Sheet` scans: UTF-8, no prefix, comments or CDATA, every cell placed."""
    out: list[str] = []
    parser = expat.ParserCreate()
    parser.ordered_attributes = True
    parser.buffer_text = True
    prefix = ""
    opened = False  # a start tag not yet closed by > or />
    row = column = 0

    def rename(name: str) -> str:
        return name[len(prefix) :] if prefix and name.startswith(prefix) else name

    def close() -> None:
        nonlocal opened
        if opened:
            out.append(">")
            opened = False

    def start(name: str, flat: list[str]) -> None:
        nonlocal prefix, opened, row, column
        close()
        attributes = dict(zip(flat[::2], flat[1::2], strict=True))
        if not out and ":" in name:
            prefix = name.partition(":")[0] + ":"
            declaration = "xmlns:" + prefix[:-1]
            if "xmlns" in attributes or declaration not in attributes:
                raise WorkbookError(f"{part} mixes namespaces in a way that can't be changed safely")
            attributes = {"xmlns" if key == declaration else key: text for key, text in attributes.items()}
        name = rename(name)
        if name == "row":
            row, column = integer(attributes.get("r"), row + 1), 0
            attributes = {"r": str(row), **attributes}
        elif name == "c":
            if "r" in attributes:
                row, column = parse_address(attributes.pop("r"))
            else:
                column += 1
            attributes = {"r": address(row, column), **attributes}
        out.append(f"<{name}" + "".join(f" {key}={quoted(text)}" for key, text in attributes.items()))
        opened = True

    def end(name: str) -> None:
        nonlocal opened
        if opened:
            out.append("/>")
            opened = False
        else:
            out.append(f"</{rename(name)}>")

    def characters(text: str) -> None:
        close()
        out.append(escape(text).replace("\r", "&#13;"))  # a bare one would be read as a line feed

    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, characters
    parser.Parse(data, True)
    return ('<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n' + "".join(out)).encode("utf-8")
