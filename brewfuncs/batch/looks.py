"""How everything looks: colours, each with one meaning, the one family of type, and the looks of cells by name."""

from __future__ import annotations

from typing import Any

from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side

INK, QUIET, RULE = "1F2933", "6B7280", "D6D3CC"  # text, quiet text, rules
PALE, BAND = "FBF6E9", "E8EFEC"  # an input, a section
ACCENT, SECOND = "2F6B5E", "B45309"  # results and a first series, a second series
LOOK = "FDECD8"  # a state to look at; the word stands beside it
FONT = "Calibri"


def font(size: float = 11, bold: bool = False, color: str = INK) -> Font:
    return Font(name=FONT, size=size, bold=bold, color=color)


def fill(color: str) -> PatternFill:
    return PatternFill("solid", fgColor=color, bgColor=color)


def align(
    horizontal: str = "left", wrap: bool = False, vertical: str = "center", indent: int = 0, shrink: bool = False
) -> Alignment:
    return Alignment(
        horizontal=horizontal, vertical=vertical, wrap_text=wrap, indent=indent, shrink_to_fit=shrink or None
    )


_UNDER = Border(bottom=Side("thin", color=RULE))
_FREE = Protection(locked=False)

#: the arguments of each look's named style
LOOKS: dict[str, dict[str, Any]] = {
    "title": {"font": font(18, True), "alignment": align()},
    "subtitle": {"font": font(11, color=QUIET), "alignment": align()},
    "section": {"font": font(12, True), "fill": fill(BAND), "alignment": align()},
    "section right": {"font": font(10, color=QUIET), "fill": fill(BAND), "alignment": align("right")},
    "label": {"font": font(), "alignment": align()},
    "unit": {"font": font(color=QUIET), "alignment": align()},
    "unit right": {"font": font(color=QUIET), "alignment": align("right")},
    "quiet": {"font": font(color=QUIET), "alignment": align("right")},
    "value": {"font": font(), "alignment": align("right")},
    "result": {"font": font(bold=True, color=ACCENT), "alignment": align("right")},
    # in one line, which may hold names of any length: set smaller where they need it, never cut
    "state": {"font": font(), "alignment": align(shrink=True)},
    "answer": {"font": font(bold=True), "alignment": align(wrap=True)},
    "note": {"font": font(10, color=QUIET), "alignment": align(wrap=True, vertical="top")},
    "head": {
        "font": font(10, color=QUIET), "border": _UNDER, "alignment": align("right", wrap=True, vertical="bottom"),
    },
    "head left": {"font": font(10, color=QUIET), "border": _UNDER, "alignment": align(wrap=True, vertical="bottom")},
    "input": {
        "fill": fill(PALE), "border": _UNDER, "font": font(), "alignment": align("right"), "protection": _FREE,
    },
    "text": {"font": font(), "alignment": align(wrap=True)},
    "input text": {
        "fill": fill(PALE), "border": _UNDER, "font": font(), "alignment": align(wrap=True), "protection": _FREE,
    },
    "input unit": {
        "fill": fill(PALE), "border": _UNDER, "font": font(color=QUIET), "alignment": align(), "protection": _FREE,
    },
    "input unit right": {
        "fill": fill(PALE), "border": _UNDER, "font": font(color=QUIET), "alignment": align("right"),
        "protection": _FREE,
    },
    "listed": {"font": font(10), "alignment": align(wrap=True, vertical="top")},
    "sentence": {"font": font(10), "alignment": align(wrap=True)},
    "listed name": {"font": font(10, True), "alignment": align(wrap=True, vertical="top")},
    "listed quiet": {"font": font(10, color=QUIET), "alignment": align(wrap=True, vertical="top", indent=1)},
    "listed head": {"font": font(10, color=QUIET), "border": _UNDER, "alignment": align(vertical="bottom", indent=1)},
    "listed value": {"font": font(10, color=ACCENT), "alignment": align("right", vertical="top")},
    "listed number": {"font": font(10, color=QUIET), "alignment": align("right", vertical="top")},
    "total label": {"font": font(bold=True), "border": Border(top=Side("thin", color=RULE)), "alignment": align()},
}  # fmt: skip
