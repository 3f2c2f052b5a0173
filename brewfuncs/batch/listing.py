"""Sheets that are one long list: columns of wrapped text, rows as high as their text, heads repeated on every page."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from brewfuncs.batch.draft import Draft
from brewfuncs.batch.page import Page

__all__ = ["Listing", "lines"]

_LINE = 13.0  # points, of type 10
_PER_WIDTH = 1.35  # characters of type 10 that fit into one unit of column width, with some air
_BOLD = 0.88  # of that where they are bold or in capitals


def lines(text: str, width: float) -> int:
    """How many lines a text takes in a cell of this width."""
    return max(1, sum(len(textwrap.wrap(part, int(width * _PER_WIDTH))) or 1 for part in text.split("\n")))


class Listing:
    """A page whose columns are given by letter, with head and width."""

    def __init__(self, book: Draft, name: str, subtitle: str, widths: Mapping[str, float]) -> None:
        self.page = Page(book, name, name, subtitle, {"A": 1.5, **widths})
        self.widths = widths

    def head(self, heads: Sequence[str], right: str = "", indented: str = "") -> None:
        """The heads of the columns, those in `right` over numbers, those in `indented` over quiet text; they stay in
        sight, and head every printed page."""
        page = self.page
        for letter, head in zip(self.widths, heads, strict=True):
            look = "head" if letter in right else "listed head" if letter in indented else "head left"
            page.put(f"{letter}{page.row}", head, look)
        page.sheet.row_dimensions[page.row].height = 18
        page.sheet.print_title_rows = f"{page.row}:{page.row}"
        page.sheet.freeze_panes = f"A{page.row + 1}"
        page.row += 1

    def reference(self) -> None:
        """A list to look things up in: it isn't printed with the batch, and alone takes as many pages as it takes."""
        self.page.prints = False
        self.page.sheet.page_setup.fitToHeight = 0

    def section(self, title: str) -> None:
        """A band with some air above it."""
        row = self.page.row
        self.page.section(title)
        self.page.sheet.row_dimensions[row].height = 20

    def row(self, texts: Mapping[str, str], bold: str = "") -> int:
        """Make the next row high enough for these texts, by column; gives its number."""
        page = self.page
        most = max(
            lines(text, self.widths[letter] * (_BOLD if letter in bold else 1)) for letter, text in texts.items()
        )
        page.sheet.row_dimensions[page.row].height = _LINE * most + 3
        page.row += 1
        return page.row - 1
