"""Cleaning: how much sanitizer, how strong that is, what drying does to it, and what it does to plastics."""

from __future__ import annotations

from openpyxl.styles import Alignment

from brewfuncs import units
from brewfuncs.batch.chart import CHART_ROWS, Chart, Line, draw
from brewfuncs.batch.plan import SECTIONS
from brewfuncs.batch.sheet import Block, Column, Draft, Page, Result
from brewfuncs.batch.sheets.workings import Workings

__all__ = ["build"]

_WIDTHS = {
    "A": 1.5,
    "B": 23,
    "C": 13,
    "D": 13.5,
    "E": 9,
    "F": 6,
    "G": 2,
    "H": 12,
    "I": 12,
    "J": 10,
    "K": 9.5,
    "L": 9,
    "M": 8,
}
_SENTENCE_HEIGHT = 54  # points: four lines, the longest of SANI_PLASTIC's cautions over H to M
_PARTS = next(section for section in SECTIONS if section.key == "parts").rows


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Cleaning", "Cleaning", widths=_WIDTHS)
    page.notes(
        "The label comes first: its dose, its contact time, whether to rinse, what it must not touch. Local rules "
        "decide what may go down the drain.",
        "Never mix chlorine with acid, nor let one follow the other without a rinse: it gives off chlorine gas. Wear "
        "gloves and eye protection, pour concentrate into water and never water into it, air the room, keep both from "
        "children.",
    )
    page.row += 1
    left, right = page.columns()
    _inputs(left)
    _acid(right)
    _chlorine(right)
    _drying(right)
    _chart(right, workings)
    page.skip_to(left, right)
    _workings(workings)
    _parts(page)


def _inputs(block: Block) -> None:
    block.section("Acid sanitizer")
    for key in ("name", "volume", "rate", "limit", "poured", "share", "density", "solids"):
        _optional(block, f"acid_{key}")
    block.input("cleaning.alkalinity")
    block.gap()
    block.section("Chlorine sanitizer")
    for key in ("name", "volume", "rate", "limit", "poured", "share", "density"):
        _optional(block, f"chlorine_{key}")
    block.gap()
    block.section("Drying")
    for key in ("film", "area", "air_temp", "humidity", "air_moves"):
        block.input(f"cleaning.{key}")


#: what stands in for an input that may be blank
_INSTEAD = {
    "acid_limit": "cleaning_acid_rate_in_mL_L",
    "acid_poured": "acid_dose_in_mL",
    "chlorine_limit": "cleaning_chlorine_rate_in_mL_L",
    "chlorine_poured": "chlorine_dose_in_mL",
}


def _optional(block: Block, key: str) -> None:
    if key in _INSTEAD:
        block.measurement(f"cleaning.{key}", f'=IF(cleaning_{key}="",{_INSTEAD[key]},{{x}})')
    else:
        block.input(f"cleaning.{key}")


def _acid(block: Block) -> None:
    block.section("Acid sanitizer")
    _dose(block, "acid")
    _strength(block, "acid", "SANI_STRENGTH({rate},cleaning_acid_share,cleaning_acid_density_in_kg_L)")
    block.result(
        "acid_ph",
        "pH of the solution",
        '=IF(acid_in_use=1,SANI_PH(acid_strength,cleaning_alkalinity_in_mg_L),"")',
        units.Ph,
        note="Phosphoric acid and the water's alkalinity alone. A pH doesn't make a sanitizer: the label's dose does.",
        blank=True,
    )


def _chlorine(block: Block) -> None:
    block.gap()
    block.section("Chlorine sanitizer")
    _dose(block, "chlorine")
    _strength(
        block,
        "chlorine",
        "SANI_CHLORINE({rate}*cleaning_chlorine_volume_in_L,cleaning_chlorine_volume_in_L,cleaning_chlorine_share,"
        "cleaning_chlorine_density_in_kg_L)",
    )


def _dose(block: Block, kind: str) -> None:
    block.result(
        f"{kind}_dose",
        "Dose by the label",
        f'=IF({kind}_in_use=1,SANI_DOSE(cleaning_{kind}_volume_in_L,cleaning_{kind}_rate_in_mL_L),"")',
        units.Millilitre,
        f"cleaning_{kind}_poured_unit",
        blank=True,
    )


def _strength(block: Block, kind: str, strength: str) -> None:
    """The strength, beside it the strongest that the label allows, below it what that means."""
    poured = f"cleaning_{kind}_poured_used/cleaning_{kind}_volume_in_L"
    row, page = block.row, block.page
    block.result(
        f"{kind}_strength",
        "Strength",
        f'=IF({kind}_in_use=1,{strength.replace("{rate}", poured)},"")',
        units.MilligramPerLitre,
        note="Of the active substance, from what was poured in; beside it the label's limit.",
        blank=True,
    )
    limit = strength.replace("{rate}", f"cleaning_{kind}_limit_used")
    page.put(f"{block.converted}{row}", f'=IF({kind}_in_use=1,{limit},"")', "quiet", "0")
    page.put(f"{block.base}{row}", "limit", "unit")
    page.book.define(f"{kind}_strength_limit", page, f"{block.converted}{row}")
    block.state(
        f"{kind}_state",
        "Against the label",
        f'=IF({kind}_in_use=0,"Not in use",IF({kind}_strength>1.001*{kind}_strength_limit,"Look here: too strong, '
        f'rinse as it says",IF(ABS('
        f"cleaning_{kind}_poured_used/"
        f'{kind}_dose_in_mL-1)>0.1,"Look here: off the label\'s dose","As the label says")))',
        "Within a tenth of the label's dose, and never over its limit.",
    )


def _drying(block: Block) -> None:
    block.gap()
    block.section("What drying does")
    block.result(
        "film_minutes",
        "Film of water gone after",
        "=SANI_DRY_MINUTES(cleaning_film_in_um,cleaning_air_temp_in_C,cleaning_humidity,cleaning_air_moves)",
        units.Minute,
        note="On a wall that gives no heat; good for its size only, and no contact time.",
    )
    block.result(
        "dried_acid",
        "Acid in what never dries",
        '=IF(acid_in_use=1,SANI_DRY_ACID(cleaning_humidity),"")',
        units.Share,
        note="By mass, at this humidity: it burns skin and eyes, and attacks what it sits on.",
        blank=True,
    )
    block.result(
        "dried_factor",
        "times as strong as mixed",
        '=IF(acid_in_use=1,SANI_DRY_FACTOR_IN_AIR(acid_strength/1000000,cleaning_humidity),"")',
        units.Number,
        number="0",
        blank=True,
    )
    block.result(
        "residue",
        "Left on the wall",
        '=IF(acid_in_use=1,SANI_RESIDUE(cleaning_film_in_um,cleaning_area_in_m2,acid_strength),"")',
        units.Milligram,
        note="Acid, where it is left to dry.",
        blank=True,
    )


def _workings(workings: Workings) -> None:
    def in_use(kind: str) -> tuple[str, str]:
        stated = ",".join(f'cleaning_{kind}_{key}<>""' for key in ("share", "density"))
        return f"=IF(AND(cleaning_{kind}_rate_in_mL_L>0,cleaning_{kind}_volume_in_L>0,{stated}),1,0)", "0"

    workings.cells(
        "Cleaning",
        {
            "acid_in_use": in_use("acid"),
            "chlorine_in_use": in_use("chlorine"),
            # of the mixed solution, by volume
            "nonvolatile": (
                "=IF(acid_in_use=1,cleaning_acid_poured_used/("
                "cleaning_acid_poured_used+1000*cleaning_acid_volume_in_L)*"
                'IF(cleaning_acid_solids="",cleaning_acid_share,cleaning_acid_solids),1)',
                "0.0000",
            ),
            # of the water: what the acid holds on to in this air, from its mass shares before and after
            "water_that_stays": (
                "=IF(acid_in_use=1,MIN(1,acid_strength/1000000*(1-dried_acid)/dried_acid),1)",
                "0.0000",
            ),
        },
    )


def _chart(block: Block, workings: Workings) -> None:
    page, sheet = block.page, workings.page.sheet
    left = (0, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, *(n / 10 for n in range(1, 11)))
    start = workings.row + 2
    top = workings.columns(
        "Chart: how many times stronger against the water left, %",
        ["water left", "times"],
        [
            [(f"=100*{share}", "0.0"), (f"=SANI_DRY_FACTOR(nonvolatile,B{start + k}/100)", "0")]
            for k, share in enumerate(left)
        ],
    )
    mark = workings.columns(
        "Mark: where this air lets it be",
        ["water left", "times"],
        [[("=100*water_that_stays", "0.00"), ("=SANI_DRY_FACTOR(nonvolatile,water_that_stays)", "0")]],
    )
    block.gap()
    page.put(
        f"{block.label}{block.row}",
        '=IF(acid_in_use=1,"Left to dry in this air, the acid sanitizer gets about "&FIXED(dried_factor,0,TRUE)&" '
        'times as strong: rinse or drain well what should not meet that.","No acid sanitizer in use.")',
        "answer",
    )
    page.sheet.merge_cells(f"{block.label}{block.row}:{block.base}{block.row + 1}")
    chart = draw(
        Chart(
            "How strong does a drying film get?",
            "",
            "% of the water still there",
            "times as strong",
            [
                Line("acid sanitizer", sheet, (2, top, top + len(left) - 1), (3, top, top + len(left) - 1)),
                Line("dries no further in this air", sheet, (2, mark, mark), (3, mark, mark), "marks"),
            ],
            from_zero=False,
            left=0.15,
        )
    )
    chart.y_axis.scaling.logBase, chart.y_axis.scaling.min = 10, 1
    chart.x_axis.scaling.max = 100
    page.sheet.add_chart(chart, f"{block.label}{block.row + 3}")
    block.row += CHART_ROWS + 4


def _parts(page: Page) -> None:
    page.section("Plastics of this brewery")
    given = "part_{n}_plastic,part_{n}_chemistry,part_{n}_state"
    blank = ",".join(f'{name}=""' for name in given.split(","))
    top = page.row + 2
    page.table(
        "parts",
        {"name": Column("B"), "plastic": Column("C"), "chemistry": Column("D"), "state": Column("E")},
        [
            Result(
                "H",
                "What is known of it",
                f'=IF(OR({blank}),"",IF(ISNA(SANI_PLASTIC({given})),"Not known: "&BREW_REASON("SANI_PLASTIC",{given}),'
                f"SANI_PLASTIC({given})))",
                look="sentence",
                name="part_{n}_caution",
            ),
        ],
    )
    page.put(f"H{top - 2}", "What is known of it", "head left")
    page.merge("H", "M", top - 2)
    page.merge("E", "F", top - 2)
    for row in range(top, top + _PARTS):
        page.sheet[f"B{row}"].alignment = Alignment(vertical="center", wrap_text=True)  # there is room for long names
        page.merge("E", "F", row)
        page.merge("H", "M", row)
        page.sheet.row_dimensions[row].height = _SENTENCE_HEIGHT
