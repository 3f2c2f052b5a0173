"""Fermentation: readings over time, the temperature to set, and what goes into the package.

Bottles that are closed too early burst; so what fermentation would still add stands beside the priming sugar, and a
gravity counts as steady only once two readings two days apart agree.
"""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch.chart import Chart, Line
from brewfuncs.batch.plan import SECTIONS
from brewfuncs.batch.sheet import Block, Column, Draft, Page, Result
from brewfuncs.batch.sheets.workings import Workings

__all__ = ["build"]

_READINGS = next(section for section in SECTIONS if section.key == "readings").rows


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Fermentation", "Fermentation")
    left, right = page.columns()
    _plan(left)
    _beer(right)
    page.skip_to(left, right)
    _workings(workings)
    _charts(page, workings)
    page.section("Readings, and the temperature to set each day")
    _readings(page)
    page.row += 1
    page.notes(
        "Bottle only at a steady gravity: two readings two days apart that agree within 0.001 (common practice, no "
        "source). Four points too early are two volumes on top. Bottles can burst: wear eye protection, and keep them "
        "in a closed box.",
        "Over 3 volumes needs bottles or kegs made for it. Stay under what keg, bottle and regulator are rated for, "
        "keep the relief valve working, and vent a keg before opening it. Carbon dioxide from a fermenter gathers low "
        "down: air the room.",
        "Alcohol and energy are estimates: not for duty, not for a label.",
    )


def _plan(block: Block) -> None:
    block.section("Fermentation")
    for key in ("temp", "ramp_day", "end_temp", "per_day", "pitch_rate"):
        block.input(f"fermentation.{key}")
    block.measurement("fermented.fermenter_gravity", '=IF(fermenter_gravity="",postboil_gravity_used,{x})')
    block.gap()
    block.section("Package")
    for key in ("kind", "target", "temp", "sugar"):
        block.input(f"package.{key}")
    block.measurement(
        "fermented.warmest_temp", '=IF(warmest_temp="",MAX(fermentation_temp_in_C,fermentation_end_temp_in_C),{x})'
    )
    block.measurement(
        "fermented.package_volume", '=IF(package_volume="",MAX(0,fermenter_volume_used-kettle_fermenter_loss_in_L),{x})'
    )


def _beer(block: Block) -> None:
    block.section("Yeast and beer")
    block.result(
        "yeast_cells",
        "Yeast to pitch",
        "=BEER_PITCH(fermenter_volume_used,fermenter_gravity_used,fermentation_pitch_rate)",
        units.BillionCells,
    )
    block.result(
        "expected_final",
        "Final gravity to expect",
        "=BEER_FINAL(fermenter_gravity_used,yeast_attenuation)",
        units.Gravity,
        "batch_gravity_unit",
    )
    block.result(
        "gravity_now",
        "Gravity at the last reading",
        "=latest_gravity",
        units.Gravity,
        "batch_gravity_unit",
        "Before the first reading, that of the wort.",
    )
    block.result(
        "attenuation_now",
        "Attenuation so far",
        "=IF(fermenter_gravity_used>1.0001,BEER_ATTENUATION(fermenter_gravity_used,MIN(latest_gravity,"
        "fermenter_gravity_used)),0)",
        units.Share,
    )
    block.result(
        "alcohol_now",
        "Alcohol so far",
        "=BEER_ABV(fermenter_gravity_used,MIN(latest_gravity,fermenter_gravity_used))",
        units.Share,
    )
    block.result("alcohol_expected", "Alcohol to expect", "=BEER_ABV(fermenter_gravity_used,lowest_final)", units.Share)
    block.result(
        "energy",
        "Energy of the beer then",
        "=BEER_ENERGY(fermenter_gravity_used,lowest_final)",
        units.KilocaloriePer100Millilitre,
    )
    block.state(
        "gravity_steady",
        "Gravity",
        '=IF(latest_day<0,"No reading yet",IF(steady_day<0,"Look here: read again in two days",'
        'IF(ABS(steady_gravity-latest_gravity)>0.0011,"Look here: not steady yet",IF('
        'latest_gravity>expected_final_in_SG+0.002,"Look here: steady, but high","Steady"))))',
        "Steady: two readings at least two days apart agree within 0.001. High: more than 0.002 over the final "
        "gravity to expect; it may start again.",
    )
    block.gap()
    block.section("Package")
    block.result(
        "residual_co2",
        "Carbonation it has kept",
        "=BEER_RESIDUAL_CO2(warmest_temp_used)",
        units.Carbonation,
        note="Fermented under an airlock, not under pressure.",
    )
    block.result(
        "priming_sugar",
        "Sugar for all bottles",
        '=IF(package_kind="bottles",BEER_PRIMING('
        "package_volume_used,MAX(package_target_in_vol,residual_co2),residual_co2,package_sugar),0)",
        units.Gram,
        "hops_mass_unit",
        "0 for a keg, which is pressurised instead.",
    )
    block.result(
        "co2_to_come",
        "Fermentation would still add",
        '=IF(latest_day<0,"",BEER_CO2_TO_COME('
        "fermenter_gravity_used,MIN(latest_gravity,fermenter_gravity_used),lowest_final))",
        units.Carbonation,
        note="In a closed vessel, on top of the priming. Blank before the first reading.",
        blank=True,
    )
    block.result(
        "co2_in_all",
        "Carbonation in all",
        '=IF(co2_to_come="","",MAX(package_target_in_vol,residual_co2)+co2_to_come)',
        units.Carbonation,
        note="If it were closed now.",
        blank=True,
    )
    block.note("Bottle only at a steady gravity: what is still to come adds to the priming.")
    block.result(
        "package_pressure",
        "Pressure at that temperature",
        "=BEER_CO2_PRESSURE(package_temp_in_C,package_target_in_vol)",
        units.Bar,
        'IF(package_temp_unit="°F","psi","bar")',
        "Gauge pressure that holds this carbonation: set it on a keg; a bottle reaches it.",
    )
    block.state(
        "package_state",
        "Package",
        '=IF(package_kind="keg",IF(package_target_in_vol>3,"Look here: over 3 volumes","Set that pressure"),IF('
        'co2_to_come="","Look here: take a reading first",IF(co2_to_come>0.3,"Look here: not finished",IF('
        'package_target_in_vol>3,"Look here: over 3 volumes",IF(package_target_in_vol<residual_co2,"Look here: it '
        'holds more already","Bottle only at a steady gravity")))))',
    )


def _workings(workings: Workings) -> None:
    """Which reading is the latest, and which one is old enough to compare it with; -1 where there is none."""
    workings.rows(
        "readings",
        "Readings: the day of each that was taken, and those at least two days before the latest",
        {
            "reading_{n}_taken": ('=IF(OR(reading_{n}_day="",reading_{n}_used=""),-1,reading_{n}_day)', "0.0"),
            "reading_{n}_before": (
                "=IF(AND(reading_{n}_taken>=0,reading_{n}_taken<=latest_day-2),reading_{n}_taken,-1)",
                "0.0",
            ),
        },
        {"reading_{n}_taken": "readings_taken", "reading_{n}_before": "readings_before"},
    )
    last = "INDEX(readings_used,MATCH({day},{column},0))"
    workings.cells(
        "Fermentation",
        {
            "latest_day": ("=MAX(readings_taken)", "0.0"),
            "latest_gravity": (
                f"=IF(latest_day<0,fermenter_gravity_used,{last.format(day='latest_day', column='readings_taken')})",
                "0.000",
            ),
            "steady_day": ("=MAX(readings_before)", "0.0"),
            "steady_gravity": (
                f"=IF(steady_day<0,fermenter_gravity_used,{last.format(day='steady_day', column='readings_before')})",
                "0.000",
            ),
            "lowest_final": ("=MIN(latest_gravity,expected_final_in_SG)", "0.000"),
            "wort_brix": (
                '=IF(postboil_brix<>"",postboil_brix,WORT_PLATO('
                "fermenter_gravity_used)*instruments_refractometer_factor)",
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
    # a row without a reading repeats the point before it, so that the line has no gap; the first point is the wort
    points = [[("=0", "0.0"), ("=fermenter_gravity_used", "0.000")]]
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
        [[(day, "0.0"), ("=expected_final_in_SG", "0.000")] for day in ("=0", "=fermentation_days")],
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
            '=IF(latest_day<0,"No reading yet: it starts at ","On day "&FIXED(latest_day,0,TRUE)&" at ")&FIXED('
            'latest_gravity,3,TRUE)&", "&FIXED(100*attenuation_now,0,TRUE)&" % attenuated; "&'
            'FIXED(expected_final_in_SG,3,TRUE)&" is to be expected."',
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
        'IF(reading_{n}_brix="","",IF(reading_{n}_brix>=wort_brix,WORT_REFRACTOMETER(reading_{n}_brix,'
        "instruments_refractometer_factor),BEER_REFRACTOMETER(wort_brix,reading_{n}_brix,"
        "instruments_refractometer_factor))))"
    )
    below = "MIN(reading_{n}_used,fermenter_gravity_used)"
    taken = '=IF(OR(reading_{n}_used="",fermenter_gravity_used<=1.0001),"",'
    top = page.row + 2
    page.table(
        "readings",
        {
            "note": Column("B"),
            "day": Column("C"),
            "gravity_temp": Column("E", "F"),
            "gravity": Column("H", "I"),
            "brix": Column("J"),
        },
        [
            Result(
                "D",
                "Set to",
                '=IF(reading_{n}_day="","",' + _set_to("reading_{n}_day")[1:] + ")",
                "=fermentation_temp_unit",
                "0.0",
                name="reading_{n}_set",
            ),
            Result("K", "Gravity", gravity, "SG", "0.000", name="reading_{n}_used"),
            Result(
                "L",
                "Attenuated",
                f"{taken}BEER_ATTENUATION(fermenter_gravity_used,{below}))",
                "",
                "0.0 %",
                look="value",
            ),
            Result("M", "Alcohol", f"{taken}BEER_ABV(fermenter_gravity_used,{below}))", "", "0.0 %", look="value"),
        ],
    )
    page.as_gravity(f"H{top}:H{top + _READINGS - 1}", f"H{top - 1}")
    page.book.define("readings_used", page, f"K{top}:K{top + _READINGS - 1}")
