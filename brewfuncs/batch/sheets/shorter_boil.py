"""A shorter boil: what it takes to brew the recipe in less time, with the same wort and bitterness at the end.

The recipe stays as it was found; one cell says which of the two boils is brewed.
"""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch import thresholds
from brewfuncs.batch.block import Block
from brewfuncs.batch.chart import Chart, Line
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.page import Column, Page, Result
from brewfuncs.batch.sheets.recipe import BITTER, METHODS, Course, after_boil, boil_verdict, mean_gravity
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import amount, cell, look, number, pick, say

__all__ = ["build"]

_POINTS = 20
#: how far papers part, in words
_VOLATILITIES = "{} to {}".format(*thresholds.DMS_VOLATILITY)
_HALF_LIVES = "{:g} to {:g} min".format(*thresholds.DMS_HALF_LIFE)


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Shorter boil", "Shorter boil")
    left, right = page.columns()
    _decide(left)
    _steps(right)
    page.skip_to(left, right)
    left, right = page.columns()
    _side(left, "old", "The boil as found", "old_minutes")
    _side(right, "new", "The shorter boil", "shorter_time_in_min")
    page.skip_to(left, right)
    _schedule(page)
    _workings(workings)
    page.next_sheet_of_paper()
    _charts(page, workings)
    page.skip_to(_constants(page))
    page.notes(
        "Less water to sparge with may cost a little extract. In a shorter boil the wort darkens less, its pH falls "
        "less and less protein coagulates: more haze and trub are possible, flavour hardly changes (brewers' trials; "
        "no source with numbers for small kettles). Kettle finings go in 10 to 15 min before the end "
        "all the same.",
        "The four bittering models disagree: take one, keep to it, and taste. DMS is what the wort holds at pitching: "
        "fermentation drives most of it off, and some yeasts and bacteria make a little.",
        "Boiling wort scalds and foams up, in a short boil as in a long one; a fuller kettle leaves it less room.",
    )


def _decide(block: Block) -> None:
    block.section("What is brewed")
    for key in ("shorter.time", "shorter.brewed"):
        block.input(key)
    block.state("shorter_state", "The shorter boil", _state("new"))
    block.result("water_saved", "Water off the sparge", "=old_preboil_volume_in_L-new_preboil_volume_in_L",
                 units.Litre, "batch_volume_unit")  # fmt: skip
    block.result("heat_saved", "Heat saved", "=old_heat-new_heat", units.KilowattHour)


def _state(side: str) -> str:
    verdict = f"{side}_verdict"
    return "=" + pick(
        ("shorter_time_in_min>boil_time_in_min", look("it is longer than the one found")),
        (f'{verdict}="unknown"', pick(('malts_unknown<>""', "malts_unknown"),
                                      otherwise=look(cell("precursor_unknown")))),
        (f'{verdict}="uncertain"', look("uncertain whether long enough for DMS")),
        (f'{verdict}="too short"', look("too short", cell(f'IF({side}_dms_low="",""," for DMS")'))),
        (f'{verdict}="longer than needed"', say("longer than DMS needs")),
        otherwise=say("long enough for DMS"),
    )  # fmt: skip


def _steps(block: Block) -> None:
    """What to do, in the order of doing it; nothing has to be typed anew."""
    block.section("To brew it")
    water = pick(
        ("water_saved_in_L>0", say("with ", amount("water_saved", 1), " less")),
        ("water_saved_in_L<0", say("with ", number("-water_saved", 1), " ", cell("water_saved_unit"), " more")),
        otherwise=say("as found"),
    )
    for text in (
        "="
        + pick(
            ("shorter_is_brewed=1", say("1. It is chosen: plan and brew day follow it, nothing is typed anew.")),
            otherwise=say('1. Choose "shorter" as the boil to brew: plan and brew day follow.'),
        ),
        "=" + say("2. Add the hops by the table below; masses differ by model."),
        "=" + say("3. ", cell('IF(grain_in_kg=0,"Fill the kettle ","Sparge ")'), cell(water), ": ",
                  amount("new_preboil_volume", 1), " at ", number("new_preboil_gravity_in_SG", 3), " before the boil."),
        "4. Boil it open and vigorously, and chill it fast.",
        "5. Taste, and keep what you found for the next batch.",
    ):  # fmt: skip
        block.line(text)


def _side(block: Block, side: str, title: str, minutes: str) -> None:
    """The same rows for either boil."""
    block.section(title)
    evaporated = f"{side}_evaporated_in_L"
    if side == "old":
        block.result("old_minutes", "Boiling time", "=boil_time_in_min", units.Minute, look="value")
    else:
        block.result("new_minutes", "Boiling time", "=shorter_time_in_min", units.Minute, look="value")
    block.result(
        f"{side}_evaporated", "Boils off", f"=BOIL_OFF(boil_rate_used,{minutes})", units.Litre, "batch_volume_unit"
    )
    block.result(
        f"{side}_preboil_volume",
        "Volume before the boil",
        f"=WORT_PREBOIL_VOLUME(batch_volume_in_L,kettle_gravity,{evaporated})",
        units.Litre,
        "batch_volume_unit",
    )
    block.result(
        f"{side}_preboil_gravity",
        "Gravity before the boil",
        f"=WORT_PREBOIL_GRAVITY(batch_volume_in_L,kettle_gravity,{evaporated})",
        units.Gravity,
        "batch_gravity_unit",
    )
    block.result(
        f"{side}_heat",
        "Heat to the boil and in it",
        f"=BOIL_HEAT_ENERGY({side}_preboil_volume_in_L,"
        f"mash_temp_in_C,boiling_temp_in_C)+BOIL_EVAPORATION_ENERGY({evaporated})",
        units.KilowattHour,
    )
    block.result(
        f"{side}_aroma",
        "Linalool kept, whole boil",
        f'=HOP_AROMA_LEFT({evaporated}/{side}_preboil_volume_in_L,"linalool")',
        units.Share,
        note="Share of a hop aroma, linalool, that an addition at the start of the boil would keep, by equilibrium "
        "with the steam.",
    )
    block.result(f"{side}_dms_shown", "DMS at pitching", f"={side}_dms", units.MicrogramPerLitre,
                 note="At the volatility and half-life set below.", blank=True)  # fmt: skip
    block.result(f"{side}_dms_span", "as papers part", "=" + pick(
        (f'{side}_dms=""', '""'), otherwise=say(number(f"{side}_dms_low"), " to ", number(f"{side}_dms_high"))),
        units.MicrogramPerLitre, look="value",
        note=f"Volatility {_VOLATILITIES} and half-life {_HALF_LIVES} together.")  # fmt: skip
    block.result(f"{side}_needed_shown", "Boil that DMS asks for", f"={side}_needed", units.Minute, look="value",
                 note="For the DMS limit below; blank for a covered kettle, which keeps its DMS in, and where a malt "
                      "states no precursor.", blank=True)  # fmt: skip
    span = say(number(f"{side}_needed_low"), " to ", number(f"{side}_needed_high"))
    block.result(f"{side}_needed_span", "as papers part", "=" + pick(
        (f'{side}_needed=""', '""'), otherwise=span),
        units.Minute, look="value")  # fmt: skip


def _constants(page: Page) -> Block:
    left, right = page.columns()
    left.section("DMS, for both boils")
    for key in ("limit", "volatility", "precursor_half_life"):
        left.input(f"dms.{key}")
    left.input("shorter.old_style_precursor")
    right.section("How far to trust them")
    for text in (
        f"How easily DMS leaves is uncertain by a factor of four: papers give {_VOLATILITIES}.",
        "The precursor's half-life is 32.5 min at pH 5.5, 38 at pH 5.2, 40 at most.",
        "Stand and chill count, under a lid unless the plan says what steams off.",
    ):
        right.note(text)
    return left


def _schedule(page: Page) -> None:
    page.section("Additions: as found on the left, in the shorter boil on the right, for the same bitterness")
    unit, number_shown = "=hops_mass_unit", "[<10]0.00;0.0"

    def shown(formula: str) -> str:  # an empty row stays empty
        return f'=IF(hop_{{n}}_counts=0,"",{formula})'

    def in_unit(name: str) -> str:
        return shown(f'UNIT_CONVERT(new_{{n}}_{name}_in_g,"g",hops_mass_unit)')

    stand = '=IF(OR(hop_{n}_stands=0,hop_{n}_counts=0),""&hop_{n}_name,hop_{n}_name&" (stand)")'
    new_time = shown("IF(hop_{n}_stands=0,new_{n}_time,hop_{n}_time)")
    page.table(
        "later",
        {"time": Column("F", head="or later, at")},
        [
            Result("B", "Hop", stand, look="text"),
            Result("C", "Time found", shown("hop_{n}_time"), "min", "0", look="value"),
            Result("D", "Mass found", shown("hop_{n}_mass"), unit, number_shown, look="value"),
            Result("E", "New time", new_time, "min", "0", "new_{n}_minutes"),
            *(
                Result(at, title, in_unit(name), unit, number_shown, look="value")
                for at, (_, title, name) in zip("HIJK", METHODS, strict=True)
            ),
            Result("L", '="New mass by "&batch_bittering', in_unit("mass"), unit, number_shown, "new_{n}_mass"),
            Result("M", "times", shown("new_{n}_mass_in_g/hop_{n}_g"), "", "0.00", look="value"),
        ],
    )
    for label, name, formula, number_format in (
        (
            "An addition at the start: hops times",
            "factor",
            '=IF(new_start_time=boil_time_in_min,1,HOP_SWAP_MASS(1,MIN(240,boil_time_in_min+{after}),MIN(240,new_start_time+{after}),"{method}",'
            "old_start_gravity,new_start_gravity,boiling_temp_in_C))",
            "0.00",
        ),
        ("Bitterness in all, as found", "old_bitterness", '=IF(hops_unknown<>"","",SUM(hops_{name}))', "0"),
        ("Bitterness in all, the shorter boil", "new_bitterness", '=IF(hops_unknown<>"","",SUM(new_{name}_bitterness))',
         "0"),
    ):  # fmt: skip
        page.put(f"B{page.row}", label, "label")
        for at, (method, _, short) in zip("HIJK", METHODS, strict=True):
            text = formula.replace("{method}", method).replace("{name}", short).replace("{after}", after_boil(method))
            page.put(f"{at}{page.row}", text, "result", number_format)
            page.book.define(f"{name}_{short}", page, f"{at}{page.row}")
        page.put(f"L{page.row}", "mg/L (IBU)" if number_format == "0" else "", "unit")
        page.row += 1
    page.row += 1


def _workings(workings: Workings) -> None:
    evaporation = (
        f"=MIN({thresholds.EVAPORATION_ANSWERED:g},boil_rate_used/(({{side}}_preboil_volume_in_L+batch_volume_in_L)/2))"
    )
    start_gravity = "={}".format(mean_gravity("{t}"))
    sides = {"old": "boil_time_in_min", "new": "shorter_time_in_min"}
    cells = {
        "new_start_time": ("=MIN(boil_time_in_min,shorter_time_in_min)", "0"),
        "old_start_gravity": (start_gravity.replace("{t}", "boil_time_in_min"), "0.0000"),
        "new_start_gravity": (start_gravity.replace("{t}", "new_start_time"), "0.0000"),
        "old_style_load": ("=DMS_LOAD(shorter_old_style_precursor_in_mg_kg,grain_in_kg,wort_volume)", "0"),
        "longest_boil": ("=MAX(boil_time_in_min,shorter_time_in_min)", "0"),
        **{f"first_{name}": (f"=IF(hop_1_counts=0,1,new_1_{name}_in_g/hop_1_g)", "0.00") for _, _, name in METHODS},
    }
    for side, minutes in sides.items():
        cells[f"{side}_evaporation"] = (evaporation.replace("{side}", side), "0.0 %")
        cells |= Course(minutes, f"{side}_evaporation").cells(f"{side}_dms", f"{side}_needed")
        cells[f"{side}_verdict"] = ("=" + boil_verdict(minutes, f"{side}_dms", f"{side}_needed"), "General")
    workings.cells("Shorter boil", cells)
    swapped = (
        "=IF(OR(hop_{n}_counts=0,new_{n}_time=hop_{n}_boiled),hop_{n}_g,"
        'HOP_SWAP_MASS(hop_{n}_g,MIN(240,hop_{n}_boiled+{after}),MIN(240,new_{n}_time+{after}),"{method}",hop_{n}_mean_gravity,'
        "new_{n}_mean_gravity,boiling_temp_in_C))"
    )
    bitterness = (
        "=IF(hop_{n}_counts=0,0,IF(hop_{n}_stands=0,HOP_BITTERNESS(new_{n}_mass_in_g,hop_{n}_alpha,MIN(240,"
        'new_{n}_time+{after}),wort_volume,new_{n}_mean_gravity,"{method}",boiling_temp_in_C),hop_{n}_{name}))'
    )
    columns = {
        "new_{n}_time": ("=MIN(hop_{n}_boiled,shorter_time_in_min,later_{n}_time)", "0"),
        "new_{n}_mean_gravity": (f"={mean_gravity('new_{n}_time')}", "0.0000"),
    }
    for method, _, name in METHODS:
        columns[f"new_{{n}}_{name}_in_g"] = (
            swapped.replace("{method}", method).replace("{after}", after_boil(method)),
            "0.0",
        )
    choice = ",".join(f"new_{{n}}_{name}_in_g" for _, _, name in METHODS)
    columns["new_{n}_mass_in_g"] = (f"=CHOOSE(method_number,{choice})", "0.0")
    for method, _, name in METHODS:
        formula = bitterness.replace("{method}", method).replace("{name}", name).replace("{after}", after_boil(method))
        columns[f"new_{{n}}_{name}"] = (formula, BITTER)
    whole = {f"new_{{n}}_{name}": f"new_{name}_bitterness" for _, _, name in METHODS}
    workings.rows("hops", "Hops in the shorter boil: g by each method, and the bitterness they give", columns, whole)


def _first_bitterness(method: str, time: str) -> str:
    """Bitterness of the plan's first hop after some minutes."""
    return (
        f'=IF(hop_1_counts=0,0,HOP_BITTERNESS(hop_1_g,hop_1_alpha,{time},wort_volume,kettle_gravity,"{method}",'
        "boiling_temp_in_C))"
    )


def _or_off_chart(dms: str) -> str:
    """DMS to draw, or a point under the axis: at 0 a malt that states no precursor would look like one without any."""
    return f'=IF(precursor_unknown<>"",-1,{dms})'


def _over_minutes(workings: Workings) -> tuple[int, int]:
    """What the first two charts draw: a column each, over the minutes of a boil; gives first and last row."""
    start = workings.next_row
    lines = []
    for k in range(_POINTS + 1):
        x = f"B{start + k}"
        lines.append(
            [
                (f"=MAX(60,longest_boil)*{k}/{_POINTS}", "0.0"),
                *((_first_bitterness(method, x), "0.0") for method in ("tinseth", "kinetic", "rager smooth")),
                (_or_off_chart(Course(x, "new_evaporation").dms()), "0"),
                ("=" + Course(x, "new_evaporation", "old_style_load").dms(), "0"),
                ("=dms_limit_in_ug_L", "0"),
            ]
        )
    heads = ["minutes", "Tinseth", "kinetic", "Rager smooth", "DMS, this grain", "DMS, old-style malt", "DMS limit"]
    top = workings.columns("Charts: over the minutes of a boil", heads, lines)
    return top, top + _POINTS


def _over_boil(workings: Workings) -> tuple[int, int]:
    """What the third chart draws: volume and gravity from the start of the longer boil on."""
    start = workings.next_row
    lines = []
    for k in range(_POINTS + 1):
        water = f"BOIL_OFF(boil_rate_used,C{start + k})"
        volume = f"WORT_PREBOIL_VOLUME(batch_volume_in_L,kettle_gravity,{water})"
        lines.append(
            [
                (f"=longest_boil*{k}/{_POINTS}", "0.0"),
                (f"=longest_boil-B{start + k}", "0.0"),
                (f'=UNIT_CONVERT({volume},"L",batch_volume_unit)', "0.0"),
                (f"=WORT_PREBOIL_GRAVITY(batch_volume_in_L,kettle_gravity,{water})", "0.000"),
            ]
        )
    top = workings.columns(
        "Charts: volume and gravity over the longer boil", ["minutes", "minutes left", "volume", "gravity"], lines
    )
    return top, top + _POINTS


def _charts(page: Page, workings: Workings) -> None:
    sheet = workings.page.sheet
    top, bottom = _over_minutes(workings)
    over_top, over_bottom = _over_boil(workings)
    marks = workings.columns(
        "Charts: the two boils marked",
        ["first hop, minutes", "Tinseth", "boil, minutes", "DMS", "start", "volume"],
        [
            [
                (f"={hop}", "0"),
                (_first_bitterness("tinseth", hop), "0.0"),
                (f"={minutes}", "0"),
                (_or_off_chart(f"{side}_dms"), "0"),
                (f"=longest_boil-{minutes}", "0"),
                (f"={side}_preboil_volume", "0.0"),
            ]
            for side, minutes, hop in (
                ("old", "boil_time_in_min", "hop_1_boiled"),
                ("new", "shorter_time_in_min", "new_1_time"),
            )
        ],
    )

    def line(name: str, column: int, look: str) -> Line:
        return Line(name, sheet, (2, top, bottom), (column, top, bottom), look)

    def over_line(name: str, column: int, look: str) -> Line:
        return Line(name, sheet, (2, over_top, over_bottom), (column, over_top, over_bottom), look)

    def mark(name: str, column: int, x: int = 2) -> Line:
        return Line(name, sheet, (x, marks, marks + 1), (column, marks, marks + 1), "marks")

    page.charts(
        Chart(
            "How bitter does the first addition get?",
            "=" + pick(("hop_1_counts=0", say("No hops yet.")),
                       ("hop_1_stands=1", say("The first row is a hop stand.")),
                       ("new_1_time=hop_1_boiled", say("It boils ", number("new_1_time"), " min in both boils: the "
                                                       "same mass.")),
                       otherwise=say("At ", number("new_1_time"), " instead of ", number("hop_1_boiled"),
                                     " min it takes hops times ", number("first_tinseth", 2), " by Tinseth, ",
                                     number("first_kinetic", 2), " kinetic, ", number("first_rager_smooth", 2),
                                     " Rager smooth.")),
            "minutes in the boil",
            "mg/L",
            [
                line("Tinseth", 3, "first"),
                line("Kinetic", 4, "second"),
                line("Rager smooth", 5, "third"),
                mark("its old and new time", 3),
            ],
        ),
        Chart(
            "How much DMS is left at pitching?",
            "=" + pick(('precursor_unknown<>""', say("Unknown: ", cell("precursor_unknown"), ".")),
                       otherwise=say(number("new_dms"), " µg/L after ", number("shorter_time_in_min"),
                                     " min at the values set; ", number("new_dms_low"), " to ",
                                     number("new_dms_high"), " as papers part.")),
            "minutes of boiling",
            "µg/L",
            [
                line("this grain", 6, "first"),
                line("old-style pilsner malt", 7, "second"),
                line("limit", 8, "limit"),
                mark("these two boils", 5, 4),
            ],
        ),
    )  # fmt: skip
    page.charts(
        Chart(
            "How do volume and gravity move over the boil?",
            "=" + say("The shorter boil starts with ", amount("new_preboil_volume", 1), " at ",
                      number("new_preboil_gravity_in_SG", 3), ", the one found with ",
                      amount("old_preboil_volume", 1), " at ", number("old_preboil_gravity_in_SG", 3), "."),
            "minutes from the start of the longer boil",
            "volume, in the plan's unit",
            [
                over_line("volume", 4, "first"),
                mark("start of each boil", 7, 6),
            ],
            "0.0",
            [over_line("gravity", 5, "second")],
            "gravity (SG)",
            "0.000",
            from_zero=False,
        ),
    )  # fmt: skip
