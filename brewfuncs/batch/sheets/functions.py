"""The guide: every worksheet function in a line, with an example that is worked out here."""

from __future__ import annotations

from brewfuncs.batch.draft import Draft
from brewfuncs.batch.formats import number_format
from brewfuncs.batch.listing import Listing
from brewfuncs.catalogue import Function
from brewfuncs.translate.names import named
from brewfuncs.units import Anything, Text
from brewfuncs.workbook.embed import in_numbers

__all__ = ["build"]

#: the groups in the order of a brew day, with what they are about
GROUPS = {
    "MASH": "Mash: heat and water",
    "WORT": "Wort: gravity, extract, volume",
    "BOIL": "Boil: water driven off, heat, altitude",
    "HOP": "Hops: bitterness and aroma",
    "DMS": "DMS: precursor, boil, cooling",
    "SANI": "Sanitizers: dose, drying, plastics",
    "BEER": "Beer: fermentation, package",
    "WATER": "Water",
    "UNIT": "Units",
    "BREW": "About the functions",
}


def build(book: Draft, *, as_names: bool = False) -> None:
    """as_names: in a workbook that carries the functions as names, which read no text with a unit."""
    from brewfuncs.catalogue import catalogue

    sheet = Listing(
        book,
        "Functions",
        "Each works in any cell of any workbook; the value is worked out here, by the program that has the file open",
        {"B": 43, "C": 42, "D": 13, "E": 34, "F": 12},
    )
    sheet.head(("Function and arguments", "Answers", "in", "For example", "gives"), right="F", indented="D")
    functions = catalogue().values()
    for group, title in GROUPS.items():
        sheet.section(title)
        for function in functions:
            if function.group == group:
                _line(sheet, function, as_names)
    assert {function.group for function in functions} == set(GROUPS)
    sheet.page.row += 1
    texts, reason = '; text with a unit works too, as in "5 gal"', ", and BREW_REASON says why"
    if as_names:
        texts, reason = "; text with a unit needs an add-in", ""
    sheet.page.notes(
        f"A number stands in the unit listed{texts}. Shares are 0.055 or 5.5 %. "
        f"What is out of range is an error{reason}; BREW_SOURCE names the published source.",
    )
    sheet.reference()


def _line(sheet: Listing, function: Function, as_names: bool) -> None:
    put = sheet.page.put
    example = in_numbers(function.example) if as_names else function.example
    row = sheet.row({"B": function.signature, "C": function.summary, "E": example}, bold="BE")
    put(f"B{row}", function.signature, "listed name")
    put(f"C{row}", function.summary, "listed")
    put(f"D{row}", _unit(function), "listed quiet")
    sheet.page.put_text(f"E{row}", example, "listed")
    if as_names and function.name not in named():
        return
    if function.gives_text:  # a sentence needs room: a row of its own
        row = sheet.row({"C": "two\nlines"})
        put(f"C{row}", example, "listed")
        sheet.page.merge("C", "F", row)
    else:
        put(f"F{row}", example, "listed value", _number(function))


def _unit(function: Function) -> str:
    if isinstance(function.result, Text | Anything):
        return "text"
    return str(function.result.symbol or function.result.dimension.name)


def _number(function: Function) -> str:
    share = function.result.dimension.name.startswith("share")
    shown = number_format(function.result.symbol, share)
    return "0.00##" if shown == "General" else shown
