"""Names of cells: the endings for units, and which names every spreadsheet program takes."""

from __future__ import annotations

import re

from brewfuncs.catalogue import catalogue

__all__ = ["check_name", "suffix"]


def suffix(symbol: str) -> str:
    """The ending of the name of a cell that holds a value in this unit.

    >>> suffix("°C"), suffix("µg/L"), suffix("/min"), suffix("°L")
    ('in_C', 'in_ug_L', 'in_per_min', 'in_Lovibond')
    """
    if symbol == "°L":
        return "in_Lovibond"
    plain = re.sub(r"^/", "per_", symbol).translate(str.maketrans("µ²/ ", "u2__", "°"))
    return f"in_{plain}"


_ADDRESS_LIKE = re.compile(r"[A-Za-z]{1,3}\d+|[Rr]\d*|[Cc]\d*|[Rr]\d*[Cc]\d*|true|false", re.IGNORECASE)


def check_name(name: str) -> str:
    """The name, if every spreadsheet program takes it for one; raises ValueError otherwise."""
    if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", name) or len(name) > 60 or _ADDRESS_LIKE.fullmatch(name):
        raise ValueError(f"{name} can't be the name of a cell")
    if name.upper() in catalogue():
        raise ValueError(f"{name} is the name of a function, and a cell of that name would hide it")
    return name
