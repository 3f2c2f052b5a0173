"""FIND and SEARCH."""

from __future__ import annotations

import re
from typing import Any

from brewfuncs.hosts.standard.declare import UNKNOWN, VALUE, Refusal, pattern, single, sound, whole


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    sound(value)
    if isinstance(value, str):
        return value
    raise Refusal(UNKNOWN)  # numbers come as text already


def _place(found: re.Match[str] | None) -> float:
    if found is None:
        raise Refusal(VALUE)
    return found.start() + 1.0


def _sought(wanted: Any, within: Any, start: Any) -> tuple[str, str, int]:
    text, first = _text(within), whole(start)
    if first < 1:
        raise Refusal(VALUE)
    if not _text(wanted) and first > len(text):
        raise Refusal(UNKNOWN)
    return _text(wanted), text, first - 1


@single("FIND")
def _find(wanted: Any, within: Any, start: Any = 1.0) -> float:
    sought, text, first = _sought(wanted, within, start)
    return _place(re.compile(re.escape(sought)).search(text, first))


@single("SEARCH")
def _search(wanted: Any, within: Any, start: Any = 1.0) -> float:
    sought, text, first = _sought(wanted, within, start)
    return _place(pattern(sought).search(text, first))
