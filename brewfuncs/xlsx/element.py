"""The elements of cells, as they are written when their value changes: all else in them stays."""

from __future__ import annotations

import math
import re

from brewfuncs.errors import CellError
from brewfuncs.xlsx.address import Box
from brewfuncs.xlsx.values import Value, error_value, write_number, write_text

_TYPE = re.compile(rb' (?:t|vm)="[^"]*"')


def loaded(head: bytes, kind: bytes, value: bytes) -> bytes:
    """A cell with a value for the engine."""
    if kind == b"str" and b"_x" in value:
        return b'%s t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>' % (head, value)
    return b'%s t="%s"><v>%s</v></c>' % (head, kind or b"n", value)


def with_result(element: bytes, value: Value, ref: Box | None) -> bytes:
    """A formula cell's element with another stored value."""
    close = element.index(b">")
    head = _without_type(element[:close])
    end = formula_end(element)
    formula = element[close + 1 : end]
    if ref is not None:
        formula = re.sub(rb'(\sref=")[^"]*', rb"\g<1>" + str(ref).encode(), formula, count=1)
    extension = element.find(b"<extLst", end)
    tail = element[extension:-4] if extension >= 0 else b""
    kind, content = type_and_content(value, False)
    return b"%s%s>%s%s%s</c>" % (head, kind, formula, content, tail)


def formula_end(element: bytes) -> int:
    """Where the formula in a cell's element ends."""
    end = element.find(b"</f>") + 4
    if end < 4:  # <f .../>: a follower of a shared formula
        end = element.index(b">", element.index(b"<f")) + 1
    return end


def with_value(match: re.Match[bytes], value: Value, as_input: bool) -> bytes:
    """The element of a cell without a formula, with another value."""
    kind, content = type_and_content(value, as_input)
    body = content + (match[8] or b"")
    head = b'<c r="%s%s"%s%s' % (match[1], match[2], _without_type(match[3]), kind)
    return head + (b">%s</c>" % body if body else b"/>")


def _without_type(attributes: bytes) -> bytes:
    """The attributes of a cell without what describes its old value.

    vm points at a richer form of it, such as a picture or the reason of a #SPILL!, and goes with it.
    """
    if b" t=" in attributes or b" vm=" in attributes:
        return _TYPE.sub(b"", attributes)
    return attributes


def type_and_content(value: Value, as_input: bool) -> tuple[bytes, bytes]:
    """The t attribute and the inside of a cell that holds a value."""
    if value.__class__ is float and math.isfinite(value):
        return b"", b"<v>%s</v>" % write_number(value)
    if value is None:
        return b"", b""
    if isinstance(value, CellError):
        return b' t="e"', b"<v>%s</v>" % error_value(value.code).code.encode()
    if isinstance(value, bool):
        return b' t="b"', b"<v>%d</v>" % value
    if isinstance(value, str):
        text = write_text(value)
        space = b' xml:space="preserve"' if text != text.strip() or b"\n" in text else b""
        if as_input:
            return b' t="inlineStr"', b"<is><t%s>%s</t></is>" % (space, text)
        return b' t="str"', b"<v%s>%s</v>" % (space, text)
    return type_and_content(float(value), as_input) if math.isfinite(value) else (b' t="e"', b"<v>#NUM!</v>")
