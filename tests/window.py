"""A private LibreOffice with a window on a virtual display, into which one types.

    with window.document(path) as book:
        book.type("batch_volume", "22.5")                 # keys, and Return
        book.choose("batch_volume_unit", "gal")           # from the list under the cell

Setting a cell through an API passes by data validation, percent entry and autocorrection; keys don't. It is built on
tests/office.py and needs Xvfb, xdotool and openbox beside LibreOffice (.ci/install-libreoffice).
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from tests.office import Document, Office, missing, require_office

PROGRAMS = ("Xvfb", "xdotool", "openbox")


class Typed(NamedTuple):
    """What a cell shows after an entry, and the sentence with which the entry was refused, if it was."""

    shown: str
    refused: str = ""


class Window(Office):
    """One running LibreOffice with a window."""

    driver = Path(__file__).with_name("window_driver.py")

    def __init__(self, addin: Path, within: Mapping[str, str] | None = None) -> None:
        super().__init__(addin, within)
        self.entries = 0  # how many were typed or chosen

    def document(self, path: Path | None = None) -> Sheets:
        return Sheets(self, self.call("open", str(path)))


class Sheets(Document):
    """A workbook in the window; cells go by their names."""

    _office: Window

    def type(self, name: str, text: str) -> Typed:
        """Type something else than is there."""
        return self._typed("type", name, text)

    def choose(self, name: str, word: str) -> Typed:
        return self._typed("choose", name, word)

    def clear(self, name: str) -> Typed:
        return self._typed("clear", name)

    def _typed(self, function: str, *arguments: str) -> Typed:
        self._office.entries += 1
        return Typed(**self._office.call(function, *arguments))

    def infobar(self, name: str, seconds: float) -> bool:
        """Whether a line of that name stands above the sheet, within so many seconds."""
        return bool(self._office.call("infobar", name, seconds))

    def picture(self, path: Path) -> Path:
        self._office.call("picture", str(path))
        return path


def require_window() -> None:
    require_office()
    for program in PROGRAMS:
        if not shutil.which(program):
            missing(f"{program} (.ci/install-libreoffice)")
