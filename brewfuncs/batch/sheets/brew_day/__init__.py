"""Brew day: the sheet one brews from, in the order of the clock, with plan and reading side by side.

A reading that isn't taken, or can't be used, leaves the plan's value in force; formulas read the `..._used` cells
alone. A hot reading without its temperature is unknown: it is asked about, not used.
"""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch import thresholds
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.sheets.brew_day.additions import hops
from brewfuncs.batch.sheets.brew_day.advice import forecast, read_wort
from brewfuncs.batch.sheets.brew_day.balance import work_out
from brewfuncs.batch.sheets.brew_day.layout import Day
from brewfuncs.batch.sheets.brew_day.outcome import after_the_boil, chill, for_the_next_batch, in_the_fermenter
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import amount, cell, pick, say, small

__all__ = ["build"]

_PREBOIL = "preboil_volume_used,preboil_gravity_used"
_GONE = "BOIL_OFF(boil_rate_used,midboil_minutes_used)"
#: the wort as last read in the boil, and the water that leaves it until the boil's end
_MIDBOIL = "midboil_volume_used,midboil_gravity_used"
_LEFT = "BOIL_OFF(boil_rate_used,MAX(0,boiled_minutes_used-midboil_minutes_used))"


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Brew day", "Brew day", row_height=18)  # there is room to write by hand
    page.notes("Write readings into the pale cells. Until then the plan's figures stand in, and they stay beside them.")
    day = Day(page)

    day.start("Water and mash", "What to do", (("C", "plan"),))
    _mash(day)
    day.start("Before the boil", "What it leads to")
    read_wort(day, "preboil", "brewed_preboil_volume", "brewed_preboil_gravity", "malts_unknown")
    forecast(day, "before", "preboil", "boil_minutes_now")
    day.start("The boil", "Hops go in by the length it really boils")
    _boil(day)
    day.end()
    hops(page, workings)
    day.end()
    page.next_sheet_of_paper()
    day.start("In the boil", "What it leads to")
    day.reading("midboil_minutes")
    read_wort(
        day,
        "midboil",
        f"WORT_POSTBOIL_VOLUME({_PREBOIL},{_GONE})",
        f"WORT_POSTBOIL_GRAVITY({_PREBOIL},{_GONE})",
        'IF(midboil_minutes="","no",malts_unknown)',
    )
    forecast(day, "during", "midboil", "minutes_to_go")
    day.start("After the boil", "What it gives")
    day.reading("boiled_minutes", "boil_minutes_now")
    read_wort(
        day,
        "postboil",
        f"WORT_POSTBOIL_VOLUME({_MIDBOIL},{_LEFT})",
        f"WORT_POSTBOIL_GRAVITY({_MIDBOIL},{_LEFT})",
        "malts_unknown",
    )
    day.reading("water_added")
    day.reading("extract_added")
    after_the_boil(day)
    day.start("Stand and chill", "In the fermenter")
    chill(day)
    in_the_fermenter(day)
    day.start("Instruments", "For the next batch", ())
    day.left.input("instruments.hydrometer_temp")
    day.left.input("instruments.refractometer_factor")
    for_the_next_batch(day.right)
    day.end()
    page.notes(
        "Boiling wort scalds: stay with the kettle as it comes to the boil, leave room for the foam, and lift no full "
        "kettle. Read volumes from a safe distance; let a sample cool before reading it.",
        "Extract before and after the boil should agree within "
        f"{100 * thresholds.EXTRACT_AGREES:g} % (common practice, no source): where it does not, one of the "
        "four readings is off, and the forecasts with it.",
    )
    work_out(workings)
    workings.cells("Brew day: the plan's figures and readings, in the formulas' units", day.bases)


def _mash(day: Day) -> None:
    for name, label, formula, what, follows in (
        ("day_water", "Brewing water in all", "water_in_L", units.Litre, "batch_volume_unit"),
        ("day_strike_water", "for the mash", "strike_water_in_L", units.Litre, "batch_volume_unit"),
        ("day_strike_temp", "heated to", "strike_temp_in_C", units.Celsius, "mash_temp_unit"),
        ("day_mash_temp", "Mash at", 'IF(strike_temp_in_C="","",mash_temp_in_C)', units.Celsius, "mash_temp_unit"),
        ("day_mash_time", "for", 'IF(strike_temp_in_C="","",mash_time_in_min)', units.Minute, ""),
        ("day_mashout_temp", "Mash out at", 'IF(OR(strike_temp_in_C="",mash_mashout_time_in_min=0),"",'
         "mash_mashout_temp_in_C)", units.Celsius, "mash_temp_unit"),
        ("day_sparge_water", "Water for the sparge", "sparge_water_in_L", units.Litre, "batch_volume_unit"),
    ):  # fmt: skip
        day.plan(name, label, formula, what, follows)
    for line in (
        "="
        + pick(
            (
                'AND(acid_dose<>"",cleaning_acid_name<>"")',
                say(cell("cleaning_acid_name"), ": ", amount("acid_dose", small("acid_dose")), " in ",
                    amount("cleaning_acid_volume", small("cleaning_acid_volume")), ", then its label's time."),
            ),
            otherwise=say("Mix the sanitizer by its label: see the sheet Cleaning."),
        ),
        "=" + pick(('malts_unknown<>""', "malts_unknown"),
                   ("grain_in_kg+kettle_fermentables_in_kg=0",
                    say("No mash: heat the water. Sugar and extract go into the fermenter.")),
                   ("grain_in_kg=0", say("No mash: heat the water, take it off the heat, stir in the extract.")),
                   otherwise=say("Preheat the tun; hot water scalds. Stir the grain in slowly, then measure.")),
        "=" + pick(("kettle_fermentables_in_kg>0", say("Into the kettle before the boil: ", amount("day_dissolved", 2),
                                                        " of sugar or extract.")),),
    ):  # fmt: skip
        day.right.line(line)
    if day.book.has_water:
        day.right.line("Salts and acid: the sheet Water; read the mash's pH there.")
    day.bases["day_dissolved"] = ('=UNIT_CONVERT(kettle_fermentables_in_kg,"kg",malts_mass_unit)', "0.00")
    day.bases["day_dissolved_unit"] = ("=malts_mass_unit", "General")


def _boil(day: Day) -> None:
    day.reading("boil_for", "brewed_minutes")
    day.reading("boil_start")
    day.right.line("=" + say("Kettle finings, if you use them: 10 to 15 min before the end, by their label."))
