"""Fermentation: readings over time, whether they are steady, and the temperature to set."""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch.block import Block
from brewfuncs.batch.chart import Chart, Line
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.page import Column, Page, Result
from brewfuncs.batch.sections import find_section
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.thresholds import (
    CO2_TO_COME,
    DAYS_STEADY,
    DAYS_STEADY_UNSURE,
    FALLEN,
    HARDLY_A_WORT,
    LOWER_THAN_EXPECTED,
    RISEN,
)
from brewfuncs.batch.wording import cell, look, number, pick, say

__all__ = ["STEADY_BUT_HIGH", "STILL_FALLING", "build"]

_READINGS = find_section("readings").rows
# as the other sheets', with room for dates and for the unit of the pitching rate
_WIDTHS = {"A": 1.5, "B": 25, "C": 8, "D": 12, "E": 8.5, "F": 9, "G": 2,
           "H": 12, "I": 12, "J": 10, "K": 9.5, "L": 9, "M": 8}  # fmt: skip
#: states that the sheet Package explains
STILL_FALLING, STEADY_BUT_HIGH = look("still falling"), look("steady, but high")
_TINY = 0.00005  # what rounding may add to the difference of two gravities
_NEVER = 1000000  # a day


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Fermentation", "Fermentation", widths=_WIDTHS)
    left, _ = page.columns()
    left.state("gravity_steady", "Gravity", _steady(), "What makes it steady stands below.")
    page.skip_to(left, gap=0)
    page.row += 1
    page.section("Readings, and the temperature to set each day")
    _readings(page)
    page.row += 1
    left, right = page.columns()
    _plan(left)
    _beer(right)
    page.skip_to(left, right)
    _workings(workings)
    _charts(page, workings)
    page.notes(
        f"Steady: hydrometer readings over at least {DAYS_STEADY} days of which none is higher than the last by more "
        f"than {FALLEN}; over {DAYS_STEADY_UNSURE} days where the wort's gravity wasn't read, or where the beer is "
        "lower than expected (common practice, no source). A cold beer stands still without being finished. A point, "
        "0.001, is half a volume of carbon dioxide in a closed bottle.",
        "A refractometer reads 1 to 2 points low or high in finished beer: it shows the way, and a hydrometer decides. "
        "Carbon dioxide from a fermenter gathers low down: air the room.",
        "Alcohol and energy are estimates: not for duty, not for a label.",
    )


def _plan(block: Block) -> None:
    block.section("Temperature and yeast")
    for key in ("temp", "ramp_day", "end_temp", "per_day", "pitch_rate"):
        block.input(f"fermentation.{key}")
    for key in ("cells_per_gram", "slurry_density", "slurry_viability"):
        block.input(f"yeast.{key}")
    block.measurement("fermented.fermenter_gravity", '=IF(fermenter_gravity="",pitch_gravity_now,{x})')
    block.measurement("fermented.fast_ferment_gravity", '=IF(fast_ferment_gravity="","",{x})')


def _beer(block: Block) -> None:
    """What follows from the wort and the latest reading; blank while there is none."""
    block.section("Yeast and beer")
    block.result(
        "yeast_cells",
        "Yeast to pitch",
        '=IF(wort_known=0,"",BEER_PITCH(fermenter_volume_used,fermenter_gravity_used,fermentation_pitch_rate))',
        units.BillionCells,
    )
    block.result(
        "dry_yeast",
        "as dry yeast",
        '=IF(OR(yeast_cells="",yeast_cells_per_gram=""),"",BEER_DRY_YEAST(yeast_cells,yeast_cells_per_gram))',
        units.Gram,
        note="By the cells that its maker states; the maker's own dose goes first where it differs.",
        blank=True,
    )
    block.result(
        "slurry",
        '=IF(AND(yeast_slurry_density<>"",yeast_slurry_viability=""),"as slurry: how many live?","as slurry")',
        '=IF(OR(yeast_cells="",yeast_slurry_density="",yeast_slurry_viability=""),"",BEER_SLURRY_VOLUME(yeast_cells,'
        "yeast_slurry_density_in_billion_mL,yeast_slurry_viability))",
        units.Millilitre,
        note="As good as the count: stir it first, and leave trub out of the volume.",
        number="0",
        blank=True,
    )
    block.result(
        "expected_final",
        "Final gravity to expect",
        '=IF(fast_ferment_gravity<>"",fast_ferment_gravity_used,IF(wort_known=0,"",'
        "BEER_FINAL(fermenter_gravity_used,yeast_attenuation)))",
        units.Gravity,
        "batch_gravity_unit",
        "By the yeast's attenuation, or the fast ferment test.",
        blank=True,
    )
    block.result(
        "gravity_now",
        "Gravity at the last reading",
        '=IF(latest_day<0,"",latest_gravity)',
        units.Gravity,
        "batch_gravity_unit",
        blank=True,
    )
    block.result(
        "attenuation_now",
        "Attenuation so far",
        '=IF(OR(wort_known=0,latest_day<0),"",BEER_ATTENUATION(fermenter_gravity_used,beer_now))',
        units.Share,
    )
    block.result(
        "alcohol_now",
        "Alcohol so far",
        '=IF(OR(wort_known=0,latest_day<0),"",BEER_ABV(fermenter_gravity_used,beer_now))',
        units.Share,
    )
    block.result(
        "alcohol_expected",
        "Alcohol to expect",
        '=IF(wort_known=0,"",BEER_ABV(fermenter_gravity_used,lowest_final))',
        units.Share,
        note="Before priming, which adds to it: see the sheet Package.",
    )
    block.result(
        "energy",
        "Energy of the beer then",
        '=IF(wort_known=0,"",BEER_ENERGY(fermenter_gravity_used,lowest_final))',
        units.KilocaloriePer100Millilitre,
    )


def _steady() -> str:
    """In words, whether fermentation is over, as far as readings tell."""
    days = "ROUNDUP(days_wanted-MAX(0,steady_days),0)"
    return "=" + pick(
        ("undated_count>0", look("a reading has no day")),
        ("latest_day<0", say("No reading yet")),
        ("wort_known=0", look("the wort's gravity is missing")),
        ("hydrometer_day<latest_day", look("read it with a hydrometer")),
        (
            "steady_days>=days_wanted",
            pick(
                (f'IF(co2_to_come="",0,co2_to_come)>{CO2_TO_COME}', STEADY_BUT_HIGH),
                otherwise=say("Steady"),
            ),
        ),
        (
            "OR(steady_days>0,differing_day<0)",
            look(
                "read again in ",
                number(days),
                cell(pick((f"{days}=1", say(" day")), otherwise=say(" days"))),
            ),
        ),
        ("differing_gravity>latest_gravity", STILL_FALLING),
        otherwise=look("readings disagree"),
    )


def _workings(workings: Workings) -> None:
    """Which reading is the latest, and which earlier ones it is compared with; -1 where there is none."""
    workings.rows(
        "readings",
        "Readings: the day of each that was taken; of those by hydrometer; of these, those that differ from the latest "
        "one, and those since then that agree with it",
        {
            "reading_{n}_taken": ('=IF(OR(reading_{n}_day="",reading_{n}_used=""),-1,reading_{n}_day)', "0.0"),
            "reading_{n}_read": ('=IF(reading_{n}_gravity="",-1,reading_{n}_taken)', "0.0"),
            "reading_{n}_differs": (
                "=IF(reading_{n}_read<0,-1,IF(OR(reading_{n}_used-latest_gravity>"
                f"{FALLEN + _TINY:.5f},latest_gravity-reading_{{n}}_used>{RISEN + _TINY:.5f}),reading_{{n}}_read,-1))",
                "0.0",
            ),
            "reading_{n}_agrees": (
                f"=IF(AND(reading_{{n}}_read>=0,reading_{{n}}_read>differing_day),reading_{{n}}_read,{_NEVER})",
                "0.0",
            ),
        },
        {
            "reading_{n}_taken": "readings_taken",
            "reading_{n}_read": "readings_read",
            "reading_{n}_differs": "readings_differ",
            "reading_{n}_agrees": "readings_agree",
        },
    )
    workings.cells(
        "Fermentation",
        {
            "wort_read": ('=IF(OR(fermenter_gravity<>"",postboil_gravity<>"",postboil_brix<>""),1,0)', "0"),
            # the plan's gravity is known by its malts
            "wort_known": (
                f'=IF(fermenter_gravity_used="",0,IF(AND(fermenter_gravity_used>{HARDLY_A_WORT:g},OR(wort_read=1,'
                'malts_unknown="")),1,0))',
                "0",
            ),
            "undated_count": ('=COUNT(readings_used)-COUNTIF(readings_taken,">=0")', "0"),
            "latest_day": ("=MAX(readings_taken)", "0.0"),
            "hydrometer_day": ("=MAX(readings_read)", "0.0"),
            "latest_gravity": (
                "=IF(latest_day<0,IF(wort_known=0,1,fermenter_gravity_used),IF(hydrometer_day=latest_day,"
                "INDEX(readings_used,MATCH(latest_day,readings_read,0)),"
                "INDEX(readings_used,MATCH(latest_day,readings_taken,0))))",
                "0.0000",
            ),
            "days_wanted": (
                # unsure what to expect: the wort wasn't read, or the beer is lower than that
                f'=IF(OR(AND(wort_read=0,fast_ferment_gravity=""),expected_final=""),{DAYS_STEADY_UNSURE},'
                f"IF(latest_gravity<expected_final_in_SG-{LOWER_THAN_EXPECTED + _TINY:.5f},{DAYS_STEADY_UNSURE},"
                f"{DAYS_STEADY}))",
                "0",
            ),
            "differing_day": ("=MAX(readings_differ)", "0.0"),
            "differing_gravity": (
                "=IF(differing_day<0,latest_gravity,INDEX(readings_used,MATCH(differing_day,readings_differ,0)))",
                "0.0000",
            ),
            "steady_days": ("=MAX(-1,hydrometer_day-MIN(readings_agree))", "0.0"),
            # a reading may lie above the wort's own gravity, before anything has fermented
            "beer_now": ("=IF(wort_known=0,latest_gravity,MIN(latest_gravity,fermenter_gravity_used))", "0.0000"),
            "lowest_final": ('=IF(expected_final="",beer_now,MIN(beer_now,expected_final_in_SG))', "0.0000"),
            "wort_brix": (
                # the refractometer's own reading, as long as it still is of this wort
                '=IF(AND(postboil_brix<>"",postboil_gravity="",fermenter_gravity="",ABS(pitch_gravity_now-'
                'postboil_gravity_used)<0.00005),postboil_brix,IF(wort_known=0,"",WORT_PLATO('
                "fermenter_gravity_used)*instruments_refractometer_factor))",
                "0.0",
            ),
            "ramp_end_day": (
                "=fermentation_ramp_day_in_d+ABS("
                "fermentation_end_temp_in_C-fermentation_temp_in_C)/fermentation_per_day_in_K",
                "0.0",
            ),
            "fermentation_days": ("=MAX(14,latest_day,ramp_end_day+2)", "0"),
        },
    )


def _charts(page: Page, workings: Workings) -> None:
    sheet = workings.page.sheet
    start = workings.row + 2
    # a row without a reading repeats the point before it, so that the line has no gap; the first point is the wort.
    # What isn't there is drawn left of the chart's edge
    points = [[("=IF(wort_known=0,-1,0)", "0.0"), ("=IF(wort_known=0,1,fermenter_gravity_used)", "0.000")]]
    points += [
        [
            (f"=IF(reading_{n}_taken<0,B{start + n - 1},reading_{n}_taken)", "0.0"),
            (f"=IF(reading_{n}_taken<0,C{start + n - 1},reading_{n}_used)", "0.000"),
        ]
        for n in range(1, _READINGS + 1)
    ]
    top = workings.columns("Chart: gravity", ["day", "gravity"], points)
    ends = workings.columns(
        "Chart: final gravity to expect",
        ["day", "gravity"],
        [
            [(f'=IF(expected_final="",-1,{day})', "0.0"), ('=IF(expected_final="",1,expected_final_in_SG)', "0.000")]
            for day in ("0", "fermentation_days")
        ],
    )
    start = workings.row + 2
    days = ("=0", "=fermentation_ramp_day_in_d", "=ramp_end_day", "=fermentation_days")
    ramp = workings.columns(
        "Chart: temperature to set",
        ["day", "temperature"],
        [[(day, "0.0"), (_set_to(f"B{start + k}"), "0.0")] for k, day in enumerate(days)],
    )

    def line(name: str, top: int, count: int, look: str) -> Line:
        return Line(name, sheet, (2, top, top + count - 1), (3, top, top + count - 1), look)

    cool, warm = "FIXED(fermentation_temp,1,TRUE)", _converted("fermentation_end_temp_in_C")
    page.charts(
        Chart(
            "How far has it fermented?",
            '=IF(wort_known=0,"No wort yet.",IF(latest_day<0,"No reading yet: the wort starts at "&'
            'FIXED(fermenter_gravity_used,3,TRUE)&".","On day "&FIXED(latest_day,0,TRUE)&" at "&'
            'FIXED(latest_gravity,3,TRUE)&", "&FIXED(100*attenuation_now,0,TRUE)&" % attenuated; "&'
            'FIXED(expected_final_in_SG,3,TRUE)&" is to be expected."))',
            "days since pitching",
            "gravity, SG",
            [
                line("readings", top, _READINGS + 1, "first"),
                line("final gravity to expect", ends, 2, "limit"),
            ],
            y_format="0.000",
            from_zero=False,
            left=0.15,
        ),
        Chart(
            "How warm on which day?",
            f'=IF(ramp_end_day=fermentation_ramp_day_in_d,"It stays at "&{cool}&" "&fermentation_temp_unit,"From day "&'
            f'FIXED(fermentation_ramp_day_in_d,0,TRUE)&" it goes from "&{cool}&" to "&FIXED({warm},1,TRUE)&" "&'
            'fermentation_temp_unit&", reached on day "&FIXED(ramp_end_day,0,TRUE))&"."',
            "days since pitching",
            "temperature to set",
            [line("temperature to set", ramp, len(days), "first")],
            from_zero=False,
        ),
    )


def _converted(celsius: str) -> str:
    return f'UNIT_CONVERT({celsius},"°C",fermentation_temp_unit)'


def _set_to(day: str) -> str:
    ramp = (
        f"BEER_RAMP_TEMP({day},fermentation_temp_in_C,fermentation_ramp_day_in_d,fermentation_end_temp_in_C,"
        "fermentation_per_day_in_K)"
    )
    return "=" + _converted(ramp)


def _readings(page: Page) -> None:
    gravity = (
        '=IF(reading_{n}_gravity<>"",WORT_HYDROMETER(reading_{n}_gravity_in_SG,IF(reading_{n}_gravity_temp="",20,'
        "reading_{n}_gravity_temp_in_C),instruments_hydrometer_temp_in_C),"
        'IF(OR(reading_{n}_brix="",wort_brix=""),"",IF(reading_{n}_brix>=wort_brix,WORT_REFRACTOMETER('
        "reading_{n}_brix,instruments_refractometer_factor),BEER_REFRACTOMETER(wort_brix,reading_{n}_brix,"
        "instruments_refractometer_factor))))"
    )
    below = "MIN(reading_{n}_used,fermenter_gravity_used)"
    taken = '=IF(OR(reading_{n}_used="",wort_known=0),"",'
    top = page.row + 2
    page.table(
        "readings",
        {
            "note": Column("B"),
            "day": Column("C"),
            "gravity_temp": Column("F", "N"),
            "gravity": Column("H", "O"),
            "brix": Column("I"),
        },
        [
            Result(
                "D",
                "Date",
                '=IF(OR(batch_date="",reading_{n}_day=""),"",batch_date+reading_{n}_day)',
                "",
                "yyyy-mm-dd",
                name="reading_{n}_date",
                look="value",
            ),
            Result(
                "E",
                "Set to",
                '=IF(reading_{n}_day="","",' + _set_to("reading_{n}_day")[1:] + ")",
                "=fermentation_temp_unit",
                "0.0",
                name="reading_{n}_set",
            ),
            Result("J", "Gravity", gravity, "SG", "0.000", name="reading_{n}_used"),
            Result(
                "K",
                "Attenuated",
                f"{taken}BEER_ATTENUATION(fermenter_gravity_used,{below}))",
                "",
                "0.0 %",
                look="value",
            ),
            Result("L", "Alcohol", f"{taken}BEER_ABV(fermenter_gravity_used,{below}))", "", "0.0 %", look="value"),
        ],
    )
    page.as_gravity(f"H{top}:H{top + _READINGS - 1}", f"H{top - 1}")
    page.book.define("readings_used", page, f"J{top}:J{top + _READINGS - 1}")
