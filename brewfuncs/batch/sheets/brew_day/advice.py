"""What is read of the wort, what it leads to, and what to do about it: minutes, water or extract."""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch import thresholds
from brewfuncs.batch.block import Block
from brewfuncs.batch.sheets.brew_day.layout import Day
from brewfuncs.batch.sheets.recipe import unless_unknown
from brewfuncs.batch.wording import amount, cell, look, number, pick, say

__all__ = ["correction", "forecast", "read_wort"]


def read_wort(day: Day, when: str, volume: str, gravity: str, unknown: str) -> None:
    """Volume and gravity at one point of the brew day; `volume` and `gravity` stand in while they aren't read."""
    for key in ("volume", "volume_temp"):
        day.reading(f"{when}_{key}")
    day.compare(
        f"{when}_volume",
        "Cold, at 20 °C",
        volume,
        f'IF(OR({when}_volume="",{when}_volume_temp=""),"",WORT_VOLUME_AT(UNIT_CONVERT({when}_volume,'
        f'{when}_volume_unit,"L"),UNIT_CONVERT({when}_volume_temp,{when}_volume_temp_unit,"°C"),20))',
        units.Litre,
        f"{when}_volume_unit",
        unknown,
    )
    for key in ("gravity", "gravity_temp", "brix"):
        day.reading(f"{when}_{key}")
    day.compare(
        f"{when}_gravity",
        "Gravity at 20 °C",
        gravity,
        f'IF({when}_gravity<>"",IF({when}_gravity_temp="","",WORT_HYDROMETER(UNIT_CONVERT({when}_gravity,'
        f'{when}_gravity_unit,"SG"),UNIT_CONVERT({when}_gravity_temp,{when}_gravity_temp_unit,"°C"),'
        f'instruments_hydrometer_temp_in_C)),IF({when}_brix="","",WORT_REFRACTOMETER({when}_brix,'
        "instruments_refractometer_factor)))",
        units.Gravity,
        f"{when}_gravity_unit",
        unknown,
    )
    day.ask(
        f"{when}_asks",
        "="
        + pick(
            (
                f'AND({when}_volume<>"",{when}_volume_temp="")',
                look("how warm was the wort? Without it the volume isn't used."),
            ),
            (
                f'AND({when}_gravity<>"",{when}_gravity_temp="")',
                look("how warm was the sample? Without it the gravity isn't used."),
            ),
        ),
    )


def forecast(day: Day, stage: str, reading: str, minutes: str) -> None:
    """What a boil of so many minutes more leads to, and what to do about it."""
    block = day.right
    wort = f"{reading}_volume_used,{reading}_gravity_used"
    block.result(f"{stage}_volume", "Volume, boiled as planned",
                 unless_unknown("malts_unknown", f"WORT_POSTBOIL_VOLUME({wort},BOIL_OFF(boil_rate_used,{minutes}))"),
                 units.Litre, "batch_volume_unit", blank=True)  # fmt: skip
    block.result(f"{stage}_gravity", "Gravity, boiled as planned",
                 unless_unknown("malts_unknown", f"WORT_POSTBOIL_GRAVITY({wort},BOIL_OFF(boil_rate_used,{minutes}))"),
                 units.Gravity, "batch_gravity_unit", blank=True)  # fmt: skip
    block.result(f"{stage}_minutes", "Boil for the gravity wanted", "=" + pick(
                     ('malts_unknown<>""', '""'),
                     (f"{reading}_gravity_used>=kettle_wanted", "0"),
                     (f"OR(boil_rate_used=0,{reading}_gravity_used<{thresholds.HARDLY_A_WORT:g})", '""'),
                     otherwise=f"BOIL_MINUTES({wort},kettle_wanted,boil_rate_used)"),
                 units.Minute, "boil_time_unit", "From this reading on. Blank for a covered kettle: gravity never "
                 "rises.", blank=True)  # fmt: skip
    correction(block, stage, f"{stage}_volume_in_L", f"{stage}_gravity_in_SG")
    read = f'OR({reading}_volume_read<>"",{reading}_gravity_read<>"")'
    day.bases[f"{stage}_floor"] = (f"=MAX(0,shortest_boil-({_minutes_gone(stage)}))", "0")
    day.bases[f"{stage}_shorter"] = (
        f'=IF({stage}_minutes_in_min="","",MAX({stage}_minutes_in_min,{stage}_floor))',
        "0",
    )
    day.bases[f"{stage}_if_longer"] = (
        f'=IF({stage}_minutes_in_min="","",WORT_POSTBOIL_VOLUME({wort},BOIL_OFF(boil_rate_used,'
        f"{stage}_minutes_in_min)))",
        "0.00",
    )
    day.bases[f"{stage}_volume_if_longer"] = (
        f'=IF({stage}_if_longer="","",UNIT_CONVERT({stage}_if_longer,"L",batch_volume_unit))',
        "0.00",
    )
    day.advice(f"advice_{stage}", _advice(stage, minutes, read), 4)


def _minutes_gone(stage: str) -> str:
    return "0" if stage == "before" else "midboil_minutes_used"


def _advice(stage: str, planned: str, read: str) -> str:
    """What to do about it: minutes, water or extract; never below what DMS, hops and protein ask of a boil, and with
    what it costs."""
    needed, gravity = f"{stage}_minutes_in_min", f"{stage}_gravity_in_SG"
    extract = say("stir in ", amount(f"{stage}_extract_to_add", 2), " of dry extract at the end, off the heat")
    water = say("add ", amount(f"{stage}_water_to_add", 1), " of water at the end")
    longer, less = f"({needed}-({planned}))", f"(({planned})-{stage}_shorter)"
    leaves = say("that leaves ", number(f"{stage}_volume_if_longer", 1), " instead of ", amount(f"{stage}_volume", 1))
    in_all = say(number(f"{_minutes_gone(stage)}+{needed}"), " min in all")
    as_wanted = say("As wanted: boil ", number(planned), " min more." if stage == "during" else " min.")
    if stage == "before":
        as_wanted = f'IF({read},"",{say("Nothing read yet: this is the plan. ")})&{as_wanted}'
    return pick(
        ('malts_unknown<>""', "malts_unknown"),
        *_later_readings(stage),
        *([(f"NOT({read})", say("Nothing read yet."))] if stage == "during" else []),
        (f"ABS({gravity}-kettle_wanted)<{thresholds.GRAVITY_NEAR:g}", as_wanted),
        (f"AND({gravity}<kettle_wanted,{needed}=\"\")",
         say("Too weak, and a covered kettle boils nothing off: ", cell(extract), ".")),
        (f"AND({gravity}<kettle_wanted,{longer}>{thresholds.MOST_LONGER})",
         say("Too weak: ", cell(extract), ", or brew it at ", number(gravity, 3), ". Boiling down to it takes ",
             number(longer), " min more, and ", cell(leaves), ".")),
        (f"{gravity}<kettle_wanted",
         say("Boil ", number(longer), " min longer, ", cell(in_all), ": ", cell(leaves),
             ", and the hops go in that much later. Or ", cell(extract), ".")),
        (f"AND({stage}_shorter={needed},{less}>={thresholds.MINUTES_NEAR})",
         say("Boil ", number(less), " min less, ", cell(in_all), ", with the hops earlier, or boil as planned and ",
             cell(water), ".")),
        (f"{stage}_shorter={needed}", say("Too strong: boil as planned and ", cell(water), ", or keep it stronger.")),
        otherwise=say("Too strong: boil as planned and ", cell(water), ", or keep it stronger. A boil short enough "
                      "would fall below the ", number("shortest_boil"), " min that ", cell("shortest_boil_reason"),
                      "."),
    )  # fmt: skip


def _later_readings(stage: str) -> list[tuple[str, str]]:
    """A later reading is nearer to what will be: advice from an earlier one stands back, so that no two differ."""
    after = ("postboil_measured=1", say("Read again after the boil: see there."))
    in_boil = 'OR(midboil_volume_read<>"",midboil_gravity_read<>"")'
    return [after] if stage == "during" else [after, (in_boil, say("Read again in the boil: see there."))]


def correction(block: Block, when: str, volume: str, gravity: str) -> None:
    """What brings a wort to the gravity wanted: water, or extract."""
    block.result(
        f"{when}_water_to_add",
        "Water to add at the end",
        "="
        + pick(
            ('malts_unknown<>""', '""'),
            (
                f"AND({gravity}>kettle_wanted,kettle_wanted>1)",
                f"WORT_WATER_TO_ADD({volume},{gravity},kettle_wanted)",
            ),
            otherwise="0",
        ),
        units.Litre,
        "batch_volume_unit",
        "Boiled or clean brewing water.",
        blank=True,
    )
    block.result(
        f"{when}_extract_to_add",
        "or dry extract",
        "="
        + pick(
            ('malts_unknown<>""', '""'),
            (f"{gravity}<kettle_wanted", f"WORT_EXTRACT_TO_ADD({volume},{gravity},kettle_wanted)"),
            otherwise="0",
        ),
        units.Kilogram,
        "malts_mass_unit",
        "Stir it into hot wort off the heat: it foams up.",
        blank=True,
    )
