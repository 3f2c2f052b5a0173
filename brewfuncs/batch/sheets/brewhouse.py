"""Brewhouse: what earlier batches measured, one a row, and how far their spread reaches into this plan.

Made only where a batch is planned like earlier ones. The measured figures are data of those batches; mean, spread and
what follows are formulas. Nothing is left out: a batch that stands out is named, and whoever knows why clears its cell.
"""

from __future__ import annotations

from collections.abc import Sequence

from brewfuncs import units
from brewfuncs.batch.block import Block
from brewfuncs.batch.brewhouse import MEASURED, OF_THE_YEAST, Batch, Brewhouse
from brewfuncs.batch.chart import Chart, Line
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.formats import number_format
from brewfuncs.batch.page import Page
from brewfuncs.batch.sections import INPUTS
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import cell, number, percent, say

__all__ = ["build", "remarks"]

_WIDTHS = {"A": 1.5, "B": 22, "C": 11, "D": 13, "E": 9, "F": 11, "G": 10, "H": 10, "I": 10, "J": 10, "K": 11,
           "L": 2, "M": 2}  # fmt: skip
_COLUMNS = dict(zip(MEASURED, "FGHIJK", strict=True))
_SPREAD = {"mash.efficiency": "brewhouse_efficiency", "kettle.boil_off": "brewhouse_boil_off",
           "yeast.attenuation": "brewhouse_attenuation"}  # fmt: skip


def build(book: Draft, workings: Workings, brewhouse: Brewhouse) -> None:
    batches = brewhouse.batches
    page = book.page("Brewhouse", "Brewhouse", widths=_WIDTHS)
    page.sheet.page_setup.orientation = "landscape"
    page.section("What earlier batches measured", last="K")
    first, last = _table(page, batches)
    _of_this_yeast(workings, batches)
    page.row += 1
    page.notes(*remarks(brewhouse))
    page.row += 1
    block = Block(page, "BCDEF", page.row)
    block.section("This plan, with the spread of the brewhouse")
    _forecasts(block)
    page.skip_to(block)
    if sum("mash.efficiency" in batch.measured and batch.gravity is not None for batch in batches) > 1:
        page.charts(_efficiency(page, first, last))
    page.notes(
        "Spread is one sample standard deviation: about two batches in three fall within it (if they scatter as chance "
        "does), and a few batches tell little of it. The readings' own errors are in it.",
    )
    workings.cells("Brewhouse: its spread in the formulas' units", _workings())


def _table(page: Page, batches: Sequence[Batch]) -> tuple[int, int]:
    """One row a batch; gives the first and the last of these rows."""
    book, head = page.book, page.row
    page.sheet.row_dimensions[head].height = 42
    for letter, text, look in (("B", "Batch", "head left"), ("C", "Brewed", "head left"), ("D", "Yeast", "head left"),
                               ("E", "Original gravity", "head"), *((c, MEASURED[k], "head")
                               for k, c in _COLUMNS.items())):  # fmt: skip
        page.put(f"{letter}{head}", text, look)
    symbols = {}
    for key, letter in _COLUMNS.items():
        section, item = INPUTS[key]
        symbols[key] = item.quantity.symbol if item.is_share else book.unit([section.name(item.key)], item)
        page.put(f"{letter}{head + 1}", "" if item.is_share else symbols[key], "unit right")
    page.row = first = head + 2
    for batch in batches:
        row = page.row
        page.put_text(f"B{row}", batch.name, "label")
        page.put(f"C{row}", batch.date, "label", "yyyy-mm-dd")
        page.put_text(f"D{row}", batch.yeast, "label")
        page.put(f"E{row}", batch.gravity, "value", "0.000")
        for key, letter in _COLUMNS.items():
            item, value = INPUTS[key].item, batch.measured.get(key)
            if value is not None and not item.is_share:
                value = float(units.convert(value, item.quantity.symbol, symbols[key]))
            page.put(f"{letter}{row}", value, "value", number_format(symbols[key], item.is_share))
        page.row += 1
    last = page.row - 1
    for label, formula in (("Mean", "=IF(COUNT({0})=0,\"\",AVERAGE({0}))"),
                           ("Spread", '=IF(COUNT({0})<2,"",STDEV({0}))')):  # fmt: skip
        row = page.row
        page.put(f"B{row}", label, "total label")
        for key, letter in _COLUMNS.items():
            item, area = INPUTS[key].item, f"{letter}{first}:{letter}{last}"
            if key == OF_THE_YEAST:
                area = "attenuations_of_yeast"  # other yeasts don't tell
            page.put(f"{letter}{row}", formula.format(area), "result", number_format(symbols[key], item.is_share))
            if label == "Spread" and key in _SPREAD:
                book.define(f"{_SPREAD[key]}_spread", page, f"{letter}{row}")
        page.row += 1
    book.define("brewhouse_yeasts", page, f"D{first}:D{last}")
    book.define("brewhouse_attenuations", page, f"{_COLUMNS[OF_THE_YEAST]}{first}:{_COLUMNS[OF_THE_YEAST]}{last}")
    return first, last


def _of_this_yeast(workings: Workings, batches: Sequence[Batch]) -> None:
    """The attenuations that count for this plan."""
    value = "INDEX(brewhouse_attenuations,{n})"
    other = f'OR({value}="",INDEX(brewhouse_yeasts,{{n}})<>yeast_name)'
    top = workings.columns(
        "Brewhouse: attenuation of this plan's yeast",
        ["attenuation"],
        [[(f'=IF({other},"",{value})'.replace("{n}", str(n)), "0.0 %")] for n in range(1, len(batches) + 1)],
    )
    workings.book.define("attenuations_of_yeast", workings.page, f"B{top}:B{top + len(batches) - 1}")


def remarks(brewhouse: Brewhouse) -> list[str]:
    """What these batches leave to be said: which of them stand out, and what the plan starts from."""
    found = []
    if len(brewhouse.batches) == 1:
        found.append("One batch gives no spread: the plan starts from what it measured, and its forecasts carry none.")
    for key, head in MEASURED.items():
        one = brewhouse.spreads.get(key)
        if one is not None and one.stand_out:
            names = ", ".join(one.stand_out)
            found.append(f"{head}: {names} stands out from the others (modified z-score over 3.5). It is counted in.")
    if brewhouse.line is not None:
        found.append("The plan's efficiency is the one of the batches' straight line at the gravity wanted.")
        found += [f"Off that line: {name}. It is counted in." for name in brewhouse.line.stand_out]
    found.append("Attenuation: only batches with this plan's yeast count. Without two of them alcohol has no spread.")
    return found


def _forecasts(block: Block) -> None:
    shown = 'UNIT_CONVERT({},"L",batch_volume_unit)'.format
    volume = say("Wort after the boil ", number("batch_volume", 1), " ± ", number(shown("wort_volume_spread"), 1), " ",
                 cell("batch_volume_unit"))  # fmt: skip
    gravity = say("Original gravity ", number("original_gravity_in_SG", 3), " ± ", number("original_gravity_spread", 3))
    alcohol = say("Alcohol ", percent("alcohol", 1), " ± ", percent("alcohol_spread", 1))
    for name, known, words in (("wort_volume", "wort_volume_spread", volume),
                               ("original_gravity", "original_gravity_spread", gravity),
                               ("alcohol", "alcohol_spread", alcohol)):  # fmt: skip
        block.line(f'=IF({known}="","",{words})', "answer", f"{name}_forecast")


def _workings() -> dict[str, tuple[str, str]]:
    """First-order: gravity points go with the extract and against the volume, alcohol with both and the attenuation."""
    rate = 'UNIT_CONVERT(brewhouse_boil_off_spread,kettle_boil_off_unit,"L/h")'
    unknown = 'OR(original_gravity_in_SG="",brewhouse_efficiency_spread="",wort_volume_spread="",kettle_extract=0)'
    return {
        "wort_volume_spread": (f'=IF(brewhouse_boil_off_spread="","",{rate}*brewed_minutes/60)', "0.00"),
        "original_gravity_spread": (
            f'=IF({unknown},"",(original_gravity_in_SG-1)*SQRT((brewhouse_efficiency_spread/mash_efficiency*'
            "mash_extract/kettle_extract)^2+(wort_volume_spread/batch_volume_in_L)^2))",
            "0.0000",
        ),
        "alcohol_spread": (
            '=IF(OR(alcohol="",original_gravity_spread="",brewhouse_attenuation_spread=""),"",alcohol*SQRT(('
            "original_gravity_spread/(original_gravity_in_SG-1))^2+(brewhouse_attenuation_spread/yeast_attenuation)^2))",
            "0.0 %",
        ),
    }


def _efficiency(page: Page, first: int, last: int) -> Chart:
    letter = _COLUMNS["mash.efficiency"]
    column = "ABCDEFGHIJK".index(letter) + 1
    return Chart(
        "Does a stronger wort cost efficiency?",
        "=" + say("Mean ", percent(f"AVERAGE({letter}{first}:{letter}{last})", 1)),
        "original gravity",
        "extract reaching the kettle",
        [Line("batches", page.sheet, (5, first, last), (column, first, last), "marks")],
        y_format="0 %",
        from_zero=False,
        x_format="0.000",
        x_from=None,
    )
