"""What a cell can hold, and how a file writes it."""

from __future__ import annotations

import math
import re

from brewfuncs.errors import CellError, WorkbookError
from brewfuncs.xlsx.xml import escape

MAX_TEXT = 32_767

#: what a cell holds: a number, text, a truth value, an error, or nothing
Value = float | str | bool | CellError | None
#: the error values that every program accepts as a stored value; the newer ones (#SPILL!, #CALC!) are stored as #VALUE!
ERROR_CODES = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#GETTING_DATA")
_errors = {code: CellError(code) for code in ERROR_CODES}
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff\ud800-\udfff]")
_ENTITY = re.compile(r"&(?:#(\d+)|#[xX]([0-9A-Fa-f]+)|(\w+));")
_ENTITIES = {"lt": "<", "gt": ">", "amp": "&", "quot": '"', "apos": "'"}


def error_value(code: str) -> CellError:
    """The one object that stands for an error code in a cell."""
    return _errors.get(code) or _errors["#VALUE!"]


def same_value(old: Value, new: Value, tolerance: float = 1e-12) -> bool:
    """Whether two values are the same to a reader: numbers within the tolerance of each other, relative.

    >>> same_value(0.1 + 0.2, 0.3), same_value(1.0, True), same_value("1", 1.0)
    (True, False, False)
    """
    if type(old) is float and type(new) is float:
        return old == new or abs(old - new) <= tolerance * max(abs(old), abs(new))
    if isinstance(old, CellError) or isinstance(new, CellError):
        return isinstance(old, CellError) and isinstance(new, CellError) and old.code == new.code
    return type(old) is type(new) and old == new


def without_escapes(text: str) -> str:
    """Undo the file format's own escapes.

    >>> without_escapes("malt_x000A_and _x005F_x000A_")
    'malt\\nand _x000A_'
    """
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text


def unescape(text: str) -> str:
    """Undo XML's escapes."""
    if "&" not in text:
        return text

    def one(match: re.Match[str]) -> str:
        decimal, hexadecimal, name = match.groups()
        if name:
            return _ENTITIES.get(name, match[0])
        return chr(int(decimal) if decimal else int(hexadecimal, 16))

    return _ENTITY.sub(one, text)


def read_text(raw: bytes) -> str:
    """Text of an XML element as a spreadsheet reads it: XML's escapes, then the _x000D_ of the file format."""
    return without_escapes(unescape(raw.decode("utf-8")).replace("\r\n", "\n").replace("\r", "\n"))


def write_text(text: str) -> bytes:
    if len(text.encode("utf-16-le", "surrogatepass")) // 2 > MAX_TEXT:
        raise WorkbookError(f"a cell holds at most {MAX_TEXT} characters of text")
    text = _ESCAPED.sub(lambda match: "_x005F" + match[0], text)
    return escape(_UNPRINTABLE.sub(lambda match: f"_x{ord(match[0]):04X}_", text)).encode("utf-8")


def write_number(value: float) -> bytes:
    if value == 0:
        return b"0"  # and not -0.0
    text = repr(value)
    return (text[:-2] if text.endswith(".0") else text).replace("e", "E").encode()


def read_number(raw: bytes) -> float | None:
    try:
        value = float(raw)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
