"""Cleaning: how much sanitizer, how strong that is, what drying does to it, and what harms whom."""

from __future__ import annotations

from openpyxl.styles import Alignment

from brewfuncs import units
from brewfuncs.batch.block import Block
from brewfuncs.batch.chart import CHART_ROWS, Chart, Line, draw
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.listing import lines
from brewfuncs.batch.page import Column, Page, Result
from brewfuncs.batch.sections import find_section
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.thresholds import ANY_EXCESS, DOSE_NEAR
from brewfuncs.batch.wording import look, pick, say
from brewfuncs.catalogue import catalogue
from brewfuncs.errors import BrewError

__all__ = ["build"]

# wide on the right, so that most cautions fit in two lines
_WIDTHS = {"A": 1.5, "B": 23, "C": 13, "D": 13.5, "E": 9, "F": 6, "G": 2,
           "H": 12, "I": 17, "J": 10, "K": 9.5, "L": 12, "M": 12}  # fmt: skip
_CAUTION = sum(_WIDTHS[letter] for letter in "HIJKLM")
_PARTS = find_section("parts").rows


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
    page.next_sheet_of_paper()
    _parts(page)
    page.row += 1
    page.section("What harms whom")
    page.notes(*_HARM)


#: the usual cautions of safety data sheets, chemical by chemical
_HARM = (
    "Caustic cleaner burns skin and eyes at once: goggles and gloves; pour it into cold water, never water onto it. "
    "With acid it boils up and spits. On aluminium it gives off hydrogen, which explodes, and eats the metal; it eats "
    "zinc, tin and brass too, and etches glass that stands in it.",
    "Caustic in a closed vessel that holds carbon dioxide swallows the gas, and the vacuum can crush the vessel: vent "
    "it, air it, and leave it open while you clean.",
    "Percarbonate cleaner gives off oxygen: never in a closed vessel, bottle or sprayer. It is alkaline: rinse it off, "
    "keep it from aluminium and soft metals, from eyes, and from acid and chlorine.",
    "Alcohol burns with a flame that is hardly seen, and so does its vapour: no burner, no spark, no hot kettle near, "
    "and air the room.",
    "Chlorine in brewing water, or left in a rinsed vessel, makes chlorophenols, which taste of plaster at a trace: "
    "remove it from the water, and rinse with water that is free of it.",
    "Peracetic acid and iodophor are acids with an oxidiser: never with chlorine, caustic or each other; their vapour "
    "bites.",
)


def _inputs(block: Block) -> None:
    for kind, title, keys in (
        ("acid", "Acid sanitizer", ("share", "density", "solids")),
        ("chlorine", "Chlorine sanitizer", ("share", "density")),
    ):
        block.section(title)
        for key in ("name", "label_dose", "label_water", "label_most", "volume"):
            block.input(f"cleaning.{kind}_{key}")
        block.measurement(f"cleaning.{kind}_poured", f'=IF(cleaning_{kind}_poured="",{kind}_dose_in_mL,{{x}})')
        for key in keys:
            block.input(f"cleaning.{kind}_{key}")
        if kind == "acid":
            block.input("cleaning.alkalinity")
        block.gap()
    block.section("Drying")
    for key in ("film", "area", "air_temp", "humidity", "air_moves"):
        block.input(f"cleaning.{key}")


def _acid(block: Block) -> None:
    block.section("Acid sanitizer")
    _dose(block, "acid", "SANI_STRENGTH({rate},cleaning_acid_share,cleaning_acid_density_in_kg_L)")
    block.result(
        "acid_ph",
        "pH of the solution",
        '=IF(acid_strength="","",SANI_PH(acid_strength,cleaning_alkalinity_in_mg_L))',
        units.Ph,
        note="Phosphoric acid and the water's alkalinity alone. A pH doesn't make a sanitizer: the label's dose does.",
        blank=True,
    )


def _chlorine(block: Block) -> None:
    block.gap()
    block.section("Chlorine sanitizer")
    _dose(
        block,
        "chlorine",
        "SANI_CHLORINE({rate}*cleaning_chlorine_volume_in_L,cleaning_chlorine_volume_in_L,cleaning_chlorine_share,"
        "cleaning_chlorine_density_in_kg_L)",
    )


def _dose(block: Block, kind: str, strength: str) -> None:
    """The dose for this much water; what was poured against it; how strong that is."""
    block.result(
        f"{kind}_dose",
        "Dose by the label",
        f'=IF(OR({kind}_rate="",cleaning_{kind}_volume=""),"",SANI_DOSE(cleaning_{kind}_volume_in_L,{kind}_rate))',
        units.Millilitre,
        f"cleaning_{kind}_poured_unit",
        "For the water on the left. Blank until the label's dose and the water are stated.",
        number="[<10]0.00;0.0",  # a quarter of a fluid ounce is a usual dose
        blank=True,
    )
    block.result(
        f"{kind}_times",
        "times that was poured",
        f'=IF(OR({kind}_dose="",cleaning_{kind}_poured=""),"",cleaning_{kind}_poured_used/{kind}_dose_in_mL)',
        units.Number,
        number="0.00",
        blank=True,
    )
    block.state(
        f"{kind}_state",
        "Against the label",
        "="
        + pick(
            (f'AND(cleaning_{kind}_name="",{kind}_rate="",cleaning_{kind}_poured="")', say("Not in use")),
            (f'{kind}_rate=""', look("the label's dose is missing")),
            (f'{kind}_dose=""', look("how much water?")),
            (f'{kind}_times=""', say("Nothing poured yet")),
            (f"{kind}_over>{ANY_EXCESS}", look("too strong, rinse as it says")),
            (f"ABS({kind}_times-1)>{DOSE_NEAR}", look("off the label's dose")),
            otherwise=say("As the label says"),
        ),
        "Within a tenth of the label's dose, and never over its limit.",
    )
    block.result(
        f"{kind}_strength",
        "Strength",
        f'=IF(OR({kind}_dose="",cleaning_{kind}_share="",cleaning_{kind}_density=""),"",'
        + strength.replace("{rate}", f"cleaning_{kind}_poured_used/cleaning_{kind}_volume_in_L")
        + ")",
        units.MilligramPerLitre,
        note="Of the active substance, from what was poured in, else at the label's dose. Blank until share and "
        "density are stated: from label or data sheet.",
        blank=True,
    )


def _drying(block: Block) -> None:
    block.gap()
    block.section("What drying does")
    block.result(
        "film_minutes",
        "Film of water gone after",
        '=IF(AND(acid_rate="",chlorine_rate=""),"",SANI_DRY_MINUTES(cleaning_film_in_um,cleaning_air_temp_in_C,'
        "cleaning_humidity,cleaning_air_moves))",
        units.Minute,
        note="On a wall that gives no heat; good for its size only, and no contact time.",
        blank=True,
    )
    block.result(
        "dried_acid",
        "Acid in what never dries",
        '=IF(acid_strength="","",SANI_DRY_ACID(cleaning_humidity))',
        units.Share,
        note="By mass, at this humidity: it burns skin and eyes, and attacks what it sits on.",
        blank=True,
    )
    block.result(
        "dried_factor",
        "times as strong as mixed",
        '=IF(acid_strength="","",SANI_DRY_FACTOR_IN_AIR(acid_strength/1000000,cleaning_humidity))',
        units.Number,
        number="0",
        blank=True,
    )
    block.result(
        "residue",
        "Left on the wall",
        '=IF(acid_strength="","",SANI_RESIDUE(cleaning_film_in_um,cleaning_area_in_m2,acid_strength))',
        units.Milligram,
        note="Acid, where it is left to dry.",
        blank=True,
    )


def _workings(workings: Workings) -> None:
    def by_label(kind: str) -> dict[str, tuple[str, str]]:
        dose, water, most = (f"cleaning_{kind}_label_{key}" for key in ("dose", "water", "most"))
        return {
            f"{kind}_rate": (f'=IF(OR({dose}="",{water}=""),"",{dose}_in_mL/{water}_in_L)', "0.00"),
            # against the most that the label allows without a rinse, in the same water; else against its dose
            f"{kind}_over": (
                f'=IF({kind}_times="","",IF({most}="",{kind}_times,{kind}_times*{dose}_in_mL/{most}_in_mL))',
                "0.00",
            ),
        }

    workings.cells(
        "Cleaning",
        {
            **by_label("acid"),
            **by_label("chlorine"),
            # of the mixed solution, by volume
            "nonvolatile": (
                '=IF(acid_strength="","",cleaning_acid_poured_used/('
                "cleaning_acid_poured_used+1000*cleaning_acid_volume_in_L)*"
                'IF(cleaning_acid_solids="",cleaning_acid_share,cleaning_acid_solids))',
                "0.0000",
            ),
            # of the water: what the acid holds on to in this air, from its mass shares before and after
            "water_that_stays": (
                '=IF(acid_strength="","",MIN(1,acid_strength/1000000*(1-dried_acid)/dried_acid))',
                "0.0000",
            ),
        },
    )


def _chart(block: Block, workings: Workings) -> None:
    """Drawn left of the chart's edge, and so not seen, where no acid sanitizer is in use."""
    page, sheet = block.page, workings.page.sheet
    left = (0, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, *(n / 10 for n in range(1, 11)))
    top = workings.columns(
        "Chart: how many times stronger against the water left, %",
        ["water left", "times"],
        [
            [
                (f'=IF(acid_strength="",-1,{100 * share:g})', "0.0"),
                (f'=IF(acid_strength="",1,SANI_DRY_FACTOR(nonvolatile,{share:g}))', "0"),
            ]
            for share in left
        ],
    )
    mark = workings.columns(
        "Mark: where this air lets it be",
        ["water left", "times"],
        [
            [
                ('=IF(acid_strength="",-1,100*water_that_stays)', "0.00"),
                ('=IF(acid_strength="",1,SANI_DRY_FACTOR(nonvolatile,water_that_stays))', "0"),
            ]
        ],
    )
    block.gap()
    page.put(
        f"{block.label}{block.row}",
        '=IF(acid_strength="","Nothing to show: no acid sanitizer in use, or its share and density aren\'t stated.",'
        '"Left to dry in this air, the acid sanitizer gets about "&FIXED(dried_factor,0,TRUE)&" '
        'times as strong: rinse or drain well what should not meet that.")',
        "answer",
    )
    page.merge(block.label, block.base, block.row, 2)
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
    page.section("What this brewery is made of")
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
    for n, row in enumerate(range(top, top + _PARTS), 1):
        page.sheet[f"B{row}"].alignment = Alignment(vertical="center", wrap_text=True)  # there is room for long names
        page.merge("E", "F", row)
        page.merge("H", "M", row)
        page.sheet.row_dimensions[row].height = 13 * _lines(page.book, n) + 3


def _lines(book: Draft, part: int) -> int:
    """How many lines the caution of a part takes; two in a row that is still to be filled."""
    stated = [book.values.get(f"part_{part}_{key}") for key in ("plastic", "chemistry", "state")]
    if not all(stated):
        return 2
    try:
        caution = str(catalogue()["SANI_PLASTIC"].call(*stated))
    except BrewError as error:
        caution = f"Not known: {error}"
    return max(2, lines(caution, _CAUTION))
