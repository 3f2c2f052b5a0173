"""The plan: the recipe as it was found and what it gives, on one screen; equipment and the details below.

Masses and times stay as they were found, whichever of the two boils is brewed; the answers follow that choice.
"""

from __future__ import annotations

from typing import Any

from brewfuncs import units
from brewfuncs.batch import thresholds
from brewfuncs.batch.block import Block
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.formats import number_format
from brewfuncs.batch.inputs import quantity
from brewfuncs.batch.names import suffix
from brewfuncs.batch.page import Column, Page, Result
from brewfuncs.batch.sheets.recipe import METHODS, unless_unknown
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import Part, amount, cell, look, number, percent, pick, say

__all__ = ["build"]

#: recipe and equipment on the left, answers and hops on the right
_WIDTHS = {"A": 1.5, "B": 20, "C": 8, "D": 8.5, "E": 11, "F": 8, "G": 8, "H": 9, "I": 2,
           "J": 19, "K": 8.5, "L": 10, "M": 9.5, "N": 8.5, "O": 10, "P": 11}  # fmt: skip
_INPUTS, _RESULTS = "BDEFH", "JLMNP"  # letters of label, value, unit, and what the bands reach to
_LEFT, _RIGHT = ("B", "H"), ("J", "P")


def build(book: Draft, workings: Workings, with_spread: bool = False) -> None:
    """`with_spread`: what earlier batches measured is in the workbook, and forecasts say how far it scatters."""
    page = book.page("Plan", "Plan", widths=_WIDTHS)
    page.sheet.page_setup.orientation = "landscape"
    top = page.row
    left = Block(page, _INPUTS, top)
    _batch(left)
    _answers(page, workings, top, with_spread)
    page.row = left.row + 1
    bottom = _recipe(page)
    page.row = bottom + 1
    page.next_sheet_of_paper()
    left, right = Block(page, _INPUTS, page.row), Block(page, _RESULTS, page.row)
    _equipment(left)
    _details(page, right)
    page.skip_to(left, right)
    page.notes(
        "Boiling wort scalds and foams up: stay with it as it comes to the boil, and keep children and pets away.",
    )


def _batch(block: Block) -> None:
    block.section("Batch")
    for key in ("batch.name", "batch.date", "batch.volume", "batch.gravity", "batch.bitterness", "batch.bittering",
                "boil.time", "yeast.name", "yeast.attenuation"):  # fmt: skip
        block.input(key)


# -- the answers -----------------------------------------------------------------------------------------------------


def _answers(page: Page, workings: Workings, row: int, with_spread: bool) -> None:
    page.row = row
    page.section("", *_RIGHT)
    page.put(f"J{row}", '="What it gives, brewed with the boil "&IF(shorter_is_brewed=1,"made shorter","as found")',
             "section")  # fmt: skip
    answers = _Answers(page, row + 1)
    answers.figure(
        "original_gravity", "Original gravity", unless_unknown("malts_unknown", "pitch_gravity_planned"),
        units.Gravity, "batch_gravity_unit", "gravity_state",
        _with_spread("original_gravity_spread", number("original_gravity_spread", 3), _gravity_state())
        if with_spread else _gravity_state(),
    )  # fmt: skip
    answers.figure(
        "final_gravity", "Final gravity",
        unless_unknown("malts_unknown", "BEER_FINAL(pitch_gravity_planned,yeast_attenuation)"),
        units.Gravity, "batch_gravity_unit",
    )  # fmt: skip
    answers.figure(
        "alcohol", "Alcohol by volume",
        unless_unknown("malts_unknown", "BEER_ABV(pitch_gravity_planned,BEER_FINAL(pitch_gravity_planned,"
                                        "yeast_attenuation))"),
        units.Share,
        state="alcohol_state" if with_spread else "",
        words=_with_spread("alcohol_spread", percent("alcohol_spread", 1)),
    )  # fmt: skip
    answers.figure(
        "bitterness", "Bitterness", "=bitterness_planned", units.Bitterness, "", "bitterness_state",
        _bitterness_state(), unit="mg/L (IBU)",
    )  # fmt: skip
    answers.figure(
        "color", "Colour", unless_unknown("color_unknown", "WORT_COLOR(malts_kg,malts_lovibond,wort_volume)"),
        units.Ebc, 'IF(malts_color_unit="EBC","EBC","SRM")', "color_state",
        pick(('malts_unknown<>""', '""'), ('color_unknown<>""', look(cell("color_unknown")))),
    )  # fmt: skip
    answers.figure(
        "water", "Brewing water", unless_unknown("malts_unknown", "MASH_WATER(runoff_volume,grain_in_kg,"
        "mash_absorption_in_L_kg,IF(grain_in_kg=0,0,mash_loss_in_L))"),
        units.Litre, "batch_volume_unit", "water_state", _water_state(),
    )  # fmt: skip
    answers.figure("dms", "DMS at pitching", "=dms_planned", units.MicrogramPerLitre, "", "dms_state", _dms_state())
    answers.figure(
        "boil_length", "Boil", "=brewed_minutes", units.Minute, "boil_time_unit", "boil_state", _boil_state()
    )
    answers.figure(
        "hot_preboil_volume", "In the kettle, boiling",
        unless_unknown("malts_unknown", "WORT_VOLUME_AT(brewed_preboil_volume,20,MIN(100,boiling_temp_in_C))"),
        units.Litre, "batch_volume_unit", "kettle_state", _kettle_state(),
    )  # fmt: skip
    workings.cells("Answers, in the formulas' units", answers.bases)


class _Answers:
    """Rows of label, figure, unit, and what it means in words; the figure in the formulas' unit is on Workings."""

    def __init__(self, page: Page, row: int) -> None:
        self.page, self.row = page, row
        self.bases: dict[str, tuple[str, str]] = {}  # for Workings: name -> formula, number format

    def figure(
        self, name: str, label: str, formula: str, what: Any, follows: str = "", state: str = "", words: str = "",
        unit: str = "",
    ) -> None:  # fmt: skip
        """`follows` is the cell, or expression, that gives the unit to show it in."""
        page, book, row = self.page, self.page.book, self.row
        base = quantity(what).symbol
        share = quantity(what).dimension.name.startswith("share")
        shown = number_format(base, share)
        page.put(f"J{row}", label, "label")
        if follows:
            inner = f"{name}_{suffix(base)}"
            self.bases[inner] = (formula, shown)
            page.put(f"L{row}", f"={follows}", "unit")
            book.define(f"{name}_unit", page, f"L{row}")
            formula = f'=IF({inner}="","",UNIT_CONVERT({inner},"{base}",{name}_unit))'
        elif not share:
            page.put(f"L{row}", unit or base, "unit")
        page.put(f"K{row}", formula, "result", shown)
        book.define(name, page, f"K{row}")
        if base == "SG":
            page.as_gravity(f"K{row}", f"L{row}")
        if state:
            page.put(f"M{row}", f"={words}", "state")
            page.merge("M", "P", row)
            page.look_here(f"M{row}:P{row}")
            book.define(state, page, f"M{row}")
        self.row += 1


def _with_spread(name: str, shown: Part, words: str = "") -> str:
    """What a state says, and the spread where one is known."""
    spread = say("; ± ", shown) if words else say("± ", shown)
    unknown = words or '""'
    return f'IF({name}="",{unknown},{f"{words}&{spread}" if words else spread})'


def _gravity_state() -> str:
    near = f"ABS(pitch_gravity_planned-batch_gravity_in_SG)<{thresholds.GRAVITY_NEAR:g}"
    return pick(
        ('malts_unknown<>""', "malts_unknown"),
        (near, say("as wanted")),
        ("pitch_gravity_planned<batch_gravity_in_SG", look("more malt is needed")),
        otherwise=look("less malt will do"),
    )


def _bitterness_state() -> str:
    spread = say(number("bitterness_low"), " to ", number("bitterness_high"), " by four models")
    near = f"ABS(bitterness_planned-batch_bitterness)<={thresholds.BITTERNESS_NEAR:g}*batch_bitterness"
    return pick(
        ('hops_unknown<>""', pick(("SUM(hops_missing)>0", look(cell("hops_unknown"))),
                                  otherwise="hops_unknown")),
        ('batch_bitterness=""', spread),
        (near, spread),
        ("bitterness_planned<batch_bitterness", look("less than wanted; ", Part(spread))),
        otherwise=look("more than wanted; ", Part(spread)),
    )  # fmt: skip


def _water_state() -> str:
    return pick(
        ('malts_unknown<>""', '""'),
        ("grain_in_kg=0", say("no mash: all into the kettle")),
        otherwise=say(
            amount("strike_water", 1), " at ", amount("strike_temp", 1), ", then ", number("sparge_water", 1)
        ),
    )


def _dms_state() -> str:
    return pick(
        ('malts_unknown<>""', '""'),
        ('precursor_unknown<>""', look(cell("precursor_unknown"))),
        otherwise=say(number("dms_planned_low"), " to ", number("dms_planned_high"), " as papers part; limit ",
                      number("dms_limit_in_ug_L")),
    )  # fmt: skip


def _boil_state() -> str:
    return pick(
        ('AND(malts_unknown<>"",boil_verdict="unknown")', '""'),
        ('boil_verdict="unknown"', look("unknown whether long enough")),
        ('boil_verdict="long enough"', "boil_verdict"),
        otherwise=look(cell("boil_verdict"), cell('IF(boil_verdict="uncertain"," whether long enough","")')),
    )


_ASSUMED = cell(say(percent("mash_efficiency"), " is assumed"))


def _lauter_state() -> str:
    return pick(
        ('OR(malts_unknown<>"",grain_in_kg=0)', '""'),
        ('lauter_unknown<>""', look(cell("lauter_unknown"))),
        ("lauter_too_much=1", look(_ASSUMED, ": more than that")),
        ("lauter_unsure=1", look(_ASSUMED, ": more than a sparge is sure to bring")),
        ('mash_sparge=""', say(_ASSUMED, "; one batch brings ", percent("lauter_one"))),
        otherwise=say(_ASSUMED, ": within it"),
    )


def _kettle_state() -> str:
    return pick(
        ('malts_unknown<>""', '""'),
        ("kettle_size_in_L=0", '""'),
        ("hot_preboil_volume_in_L>kettle_size_in_L", look("the kettle holds less")),
        (f"hot_preboil_volume_in_L>{thresholds.KETTLE_FULL:g}*kettle_size_in_L", look("may boil over")),
        otherwise=say("room enough"),
    )


# -- the recipe ------------------------------------------------------------------------------------------------------


def _recipe(page: Page) -> int:
    """Malts on the left, hops on the right; gives the row under the longer."""
    row = page.row
    page.section("Malts, sugars, extracts", *_LEFT)
    page.table(
        "malts",
        {
            "name": Column("B"),
            "mass": Column("C", "C"),
            "goes": Column("E", indent=1),
            "yield": Column("F"),
            "color": Column("G", "G"),
            "precursor": Column("H", head="DMS precursor"),
        },
        [
            Result(
                "D",
                "For that gravity",
                '=IF(OR(malt_{n}_mass="",malts_scale=""),"",UNIT_CONVERT(malt_{n}_kg*malts_scale,"kg",malts_mass_unit))',
                "=malts_mass_unit",
                "[<10]0.00;0.0",
                "malt_{n}_wanted",
                look="value",
            ),
        ],
    )
    page.put(f"B{page.row}", '=IF(malts_assumed="","","Usual values where blank: "&malts_assumed)', "note")
    page.merge("B", "H", page.row, 3)  # several malts take more lines; hops have more rows
    page.row = row
    page.section("Hops as found", *_RIGHT)
    page.table(
        "hops",
        {
            "name": Column("J"),
            "mass": Column("K", "K"),
            "alpha": Column("M"),
            "time": Column("N"),
            "stand_temp": Column("O", "O", "Only a stand: at"),
        },
        [
            Result(
                "L",
                "For that bitterness",
                # blank too where another one isn't known, or where there is more than that without this one
                '=IF(OR(batch_bitterness="",hop_{n}_per_gram=0,SUM(hops_missing)>hop_{n}_missing),"",'
                'IF(hop_{n}_g*hop_{n}_per_gram<found_bitterness-batch_bitterness,"",UNIT_CONVERT(hop_{n}_g+('
                'batch_bitterness-found_bitterness)/hop_{n}_per_gram,"g",hops_mass_unit)))',
                "=hops_mass_unit",
                "[<10]0.00;0.0",
                "hop_{n}_wanted",
                look="value",
            ),
            Result(
                "P",
                '="by "&batch_bittering',
                '=IF(hop_{n}_counts=0,"",CHOOSE(method_number,'
                + ",".join(f"hop_{{n}}_{name}" for _, _, name in METHODS)
                + "))",
                "mg/L",
                "0.0",
                "hop_{n}_bitterness",
                look="value",
            ),
        ],
    )
    page.put(
        f"J{page.row}",
        '=IF(batch_bitterness="","","For the bitterness wanted: this addition alone changed, the others as they are.")',
        "note",
    )
    page.merge("J", "P", page.row)
    return page.row + 1


# -- below the first screen ------------------------------------------------------------------------------------------


def _equipment(block: Block) -> None:
    block.section("Brewery")
    block.input("batch.brewery")
    block.inputs("kettle")
    block.inputs("mash")
    block.section("Boil, stand and chill")
    for key in ("boil.altitude", "boil.kettle", "stand.time", "stand.temp", "stand.boil_off", "chill.time",
                "chill.coolant_temp", "chill.cooling"):  # fmt: skip
        block.input(key)


def _details(page: Page, block: Block) -> None:
    block.section("Water and mash")
    known = "malts_unknown"
    block.result(
        "strike_water",
        "Water for the mash",
        unless_unknown(known, "MIN(water_in_L,mash_ratio_in_L_kg*grain_in_kg)"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )
    block.result(
        "strike_temp",
        "Strike water at",
        unless_unknown(
            'IF(grain_in_kg=0,"no grain","")',
            "MASH_STRIKE_TEMP(mash_temp_in_C,mash_grain_temp_in_C,mash_ratio_in_L_kg)",
        ),
        units.Celsius,
        "mash_temp_unit",
        "The mash tun is left out: preheat it. Hot water scalds.",
        blank=True,
    )
    block.result(
        "sparge_water",
        "Water for the sparge",
        unless_unknown(known, "water_in_L-strike_water_in_L"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )
    block.result(
        "lauter_most",
        "Extract it can bring",
        "=lauter_bound",
        units.Share,
        note="What this grain bill and water can bring to the kettle, all of the malts' extract dissolved and each "
        "batch stirred in evenly; a strong beer leaves more with the grain. For continuous sparging, or none stated, "
        "it is that of many small batches; sparging that pushes the wort before it can do better.",
        blank=True,
    )
    block.state("lauter_state", "against what is assumed", "=" + _lauter_state())
    block.result(
        "mashout_units",
        "Pasteurised by the mash-out",
        unless_unknown(known, "MASH_PASTEUR_UNITS(mash_mashout_time_in_min,mash_mashout_temp_in_C)"),
        units.PasteurUnits,
        note="Pasteurisation units; they kill no spores, so pitch the same day.",
        blank=True,
    )
    block.section("Boil")
    block.result("boiling_temp", "Boils at", "=BOIL_TEMP(boil_altitude_in_m)", units.Celsius, "mash_temp_unit")
    block.result(
        "evaporated",
        "Boils off",
        unless_unknown(known, "brewed_evaporated"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )
    block.result(
        "planned_preboil_volume",
        "Volume before the boil",
        unless_unknown(known, "brewed_preboil_volume"),
        units.Litre,
        "batch_volume_unit",
        "Cold, at 20 °C.",
        blank=True,
    )
    block.result(
        "planned_preboil_gravity",
        "Gravity before the boil",
        unless_unknown(known, "brewed_preboil_gravity"),
        units.Gravity,
        "batch_gravity_unit",
        "With what is dissolved in the kettle.",
        blank=True,
    )
    block.result(
        "heat_used",
        "Heat into water and wort",
        unless_unknown(
            known,
            "BOIL_HEAT_ENERGY(water_in_L,chill_coolant_temp_in_C,mash_temp_in_C)+BOIL_HEAT_ENERGY("
            "brewed_preboil_volume,mash_temp_in_C,boiling_temp_in_C)+BOIL_EVAPORATION_ENERGY(brewed_evaporated)",
        ),
        units.KilowattHour,
        note="From water as cold as the cooling water; losses of the kettle come on top.",
        blank=True,
    )
    block.section("Into the fermenter")
    block.result(
        "fermenter_volume_planned",
        "Wort in the fermenter",
        unless_unknown(known, "pitch_volume_planned"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )
    block.result(
        "packaged_volume",
        "Beer to package",
        unless_unknown(known, "MAX(0,pitch_volume_planned-kettle_fermenter_loss_in_L)"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )
    block.result(
        "balance",
        "Bitterness a gravity point",
        unless_unknown(
            "malts_unknown&hops_unknown",
            'IF(pitch_gravity_planned>1,HOP_BALANCE(bitterness_planned,pitch_gravity_planned),"")',
        ),
        units.BitternessPerPoint,
        note="About 0.3 tastes malty, 0.5 even, 1 bitter (common practice, no source).",
        blank=True,
    )
    block.section("Bitterness by four models, as brewed")
    for _, title, name in METHODS:
        block.result(
            f"bitterness_by_{name}",
            title,
            unless_unknown("hops_unknown", f"bitterness_{name}"),
            units.Bitterness,
            look="value",
            blank=True,
        )
    for text in (
        "No two models agree; the span between them says how far they part,",
        "not what the beer will have: it may lie outside by a quarter and more.",
        "Keep to the model that your beers have matched.",
    ):
        block.note(text)
