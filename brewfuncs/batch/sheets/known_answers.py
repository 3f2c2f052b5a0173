"""Published values, and what the program that has the workbook open makes of them."""

from __future__ import annotations

import math

from brewfuncs.batch.draft import Draft
from brewfuncs.batch.listing import Listing
from brewfuncs.hosts.known_answers import KnownAnswer, known_answers

__all__ = ["build"]


def build(book: Draft) -> None:
    sheet = Listing(
        book,
        "Known answers",
        "Does this program compute right? Recalculate everything first (Excel Ctrl+Alt+F9, LibreOffice Ctrl+Shift+F9)",
        {"B": 41, "C": 11, "D": 11, "E": 10, "F": 10, "G": 8, "H": 53},
    )
    page, answers = sheet.page, known_answers()
    count = len(answers)
    page.answer(
        f'=IF(COUNTIF(known_answers_pass,"yes")={count},"All {count} known answers come out right here.",'
        f'{count}-COUNTIF(known_answers_pass,"yes")&" of {count} known answers don\'t come out right here: see which '
        "below, and don't brew by this program until they do.\")"
    )
    book.define("known_answers_state", page, f"B{page.row - 1}")
    page.row += 1
    sheet.head(
        ("Formula", "Known value", "Computed", "Difference", "Tolerance", "Passes", "Source"),
        right="CDEF",
        indented="GH",
    )
    top = page.row
    for answer in answers:
        _line(sheet, answer)
    book.define("known_answers_pass", page, f"G{top}:G{page.row - 1}")
    sheet.reference()


def _line(sheet: Listing, answer: KnownAnswer) -> None:
    put = sheet.page.put
    row = sheet.row({"B": answer.formula, "H": answer.source}, bold="BH")
    number = _digits(answer.expected)
    sheet.page.put_text(f"B{row}", answer.formula, "listed")
    put(f"C{row}", answer.expected, "listed number", number)
    put(f"D{row}", answer.formula, "listed value", number)
    put(f"E{row}", f"=D{row}-C{row}", "listed number", "0.0E+00")
    put(f"F{row}", answer.tolerance, "listed number", "0.0E+00")
    put(f"G{row}", f'=IF(ABS(E{row})<=F{row},"yes","no")', "listed quiet")
    put(f"H{row}", answer.source, "listed quiet")


def _digits(value: float) -> str:
    """A number format that shows five digits of a value, or the value as it is where it has fewer."""
    decimals = max(0, 4 - math.floor(math.log10(abs(value))))
    return "0." + "0" * decimals if decimals else "0"
