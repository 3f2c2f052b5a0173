"""A UNO type library (.rdb) that declares one interface, written without any SDK.

LibreOffice learns from it which functions an add-in has and what they take. The format is little-endian: a magic
number, then records that speak of each other by offset, the root map last; it is described in LibreOffice's own source,
unoidl/source/unoidlprovider.cxx.
"""

import struct
from collections.abc import Iterable
from typing import NamedTuple

__all__ = ["Method", "interface"]

_MAGIC = b"UNOIDL\xff\x00"
_MODULE, _INTERFACE, _IN = b"\x00", b"\x05", b"\x00"
_BASE = "com.sun.star.uno.XInterface"


class Method(NamedTuple):
    """One method: its name, the type it returns, and (name, type) of each argument; types as UNOIDL spells them."""

    name: str
    returns: str
    arguments: tuple[tuple[str, str], ...]


class _Writer:
    def __init__(self) -> None:
        self.bytes = bytearray(_MAGIC + bytes(8))  # the root map's offset and length come last
        self._written: dict[str, int] = {}

    def number(self, *values: int) -> None:
        self.bytes += struct.pack(f"<{len(values)}I", *values)

    def text(self, text: str) -> None:
        """A text in place, or, when it was written before, where that was."""
        if text in self._written:
            self.number(self._written[text] | 0x80000000)
            return
        self._written[text] = len(self.bytes)
        self.number(len(text))
        self.bytes += text.encode("ascii")

    def name(self, name: str) -> int:
        """The name of a map entry; where it is."""
        at = len(self.bytes)
        self.bytes += name.encode("ascii") + b"\0"
        return at


def interface(full_name: str, methods: Iterable[Method]) -> bytes:
    """The type library of the interface `module.module.XName`."""
    methods = list(methods)
    *modules, name = full_name.split(".")
    out = _Writer()

    record = len(out.bytes)
    out.bytes += _INTERFACE
    out.number(1)  # mandatory bases
    out.text(_BASE)
    out.number(0, 0, len(methods))  # optional bases, attributes, methods
    for method in methods:
        out.text(method.name)
        out.text(method.returns)
        out.number(len(method.arguments))
        for argument, kind in method.arguments:
            out.bytes += _IN
            out.text(argument)
            out.text(kind)
        out.number(0)  # exceptions

    for module in reversed(modules):
        entry = out.name(name), record
        record, name = len(out.bytes), module
        out.bytes += _MODULE
        out.number(1, *entry)
    entry = out.name(name), record
    root = len(out.bytes)
    out.number(*entry)
    out.bytes[len(_MAGIC) : len(_MAGIC) + 8] = struct.pack("<2I", root, 1)
    return bytes(out.bytes)
