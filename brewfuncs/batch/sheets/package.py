"""Package: the one verdict before anything is closed, the sugar or the pressure, and what the vessel has to stand.

A closed vessel holds what was wanted and what fermentation still adds; it holds it at the warmest it will be, against
the air of where it stands. Vessels that can't hold it burst; so what isn't known keeps the verdict from "Ready".
"""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch.block import Block
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.sections import INPUTS
from brewfuncs.batch.sheets.fermentation import STEADY_BUT_HIGH, STILL_FALLING
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.thresholds import DAYS_STEADY, USUAL_VOLUMES
from brewfuncs.batch.wording import amount, at_least, cell, look, number, pick, say

__all__ = ["build"]

_MOST = f"{INPUTS['package.target'].item.parameter.limits.high:g}"  # volumes that BEER_CO2_PRESSURE answers
_MASS = "[<1]0.00;[<10]0.0;0"  # of sugar: a bottle's is a few grams, or a tenth of an ounce


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Package", "Package")
    left, right = page.columns()
    _inputs(left)
    _verdict(right)
    page.skip_to(left, right)
    left, right = page.columns()
    _priming(left)
    _beer(right)
    page.skip_to(left, right)
    page.notes(
        "Bottles burst without warning: wear eye protection, keep them in a closed box, away from people and out of "
        "the sun, and open one, cold, after a week. Four points too early are two volumes on top.",
        f"Over {USUAL_VOLUMES} volumes needs bottles or kegs made for it (common practice, no source). Stay under what "
        "bottle, keg and regulator are rated for; bottles that are scratched, chipped or were frozen stand less. Keep "
        "a keg's relief valve working, and vent the keg before opening it.",
        "What is added after the last reading, such as fruit or dry hops, starts fermentation again: read again, days "
        "later. Mix the sugar in evenly: a bottle that gets twice its sugar holds more than anything here says. "
        "Alcohol is an estimate: not for duty, not for a label.",
    )
    workings.cells(
        "Package",
        {
            "volumes_wanted": ("=MAX(package_target_in_vol,residual_co2)", "0.00"),
            # bottles are kept warm first, so that the yeast works on the sugar
            "warmest_in_package": (
                '=IF(package_kind="bottles",MAX(package_warmest_in_C,warmest_temp_used),package_warmest_in_C)',
                "0.0",
            ),
        },
    )


def _inputs(block: Block) -> None:
    block.section("Package")
    for key in ("kind", "target", "temp", "sugar", "bottle"):
        block.input(f"package.{key}")
    block.measurement(
        "fermented.warmest_temp", '=IF(warmest_temp="",MAX(fermentation_temp_in_C,fermentation_end_temp_in_C),{x})'
    )
    block.measurement(
        "fermented.package_volume",
        '=IF(package_volume="",IF(wort_known=0,"",MAX(0,fermenter_volume_used-kettle_fermenter_loss_in_L)),{x})',
    )
    block.gap()
    block.section("What it has to stand")
    for key in ("warmest", "rating"):
        block.input(f"package.{key}")


def _verdict(block: Block) -> None:
    block.section("Before anything is closed")
    block.state("package_state", "Verdict", "=" + _state(), "Everything here joined; the reason stands below.")
    _reason(block)
    block.result(
        "co2_to_come",
        "Fermentation would still add",
        '=IF(OR(wort_known=0,latest_day<0),"",IF(latest_gravity<expected_final_in_SG,"",BEER_CO2_TO_COME('
        "fermenter_gravity_used,beer_now,expected_final_in_SG)))",
        units.Carbonation,
        note="In a closed vessel, on top of what is wanted, down to the final gravity to expect. Blank before the "
        "first reading, and below the gravity to expect: how far it goes then isn't known.",
        blank=True,
    )
    block.result(
        "co2_in_all",
        "Carbonation in all",
        '=IF(co2_to_come<>"",volumes_wanted+co2_to_come,IF(gravity_steady="Steady",volumes_wanted,""))',
        units.Carbonation,
        note="If it were closed now. Blank where what fermentation would still add isn't known.",
        blank=True,
    )
    block.result(
        "pressure_warmest",
        "Pressure at its warmest",
        f'=IF(co2_in_all="","",IF(co2_in_all>{_MOST},"",BEER_CO2_PRESSURE(warmest_in_package,co2_in_all,boil_altitude_in_m)))',
        units.Bar,
        "package_rating_unit",
        "Gauge pressure of the carbonation in all, at the warmest it will be and at the plan's altitude. Blank where "
        f"that isn't known, or over {_MOST} volumes.",
        blank=True,
    )
    block.result(
        "pressure_wanted",
        "with what is wanted alone",
        f"=BEER_CO2_PRESSURE(warmest_in_package,MIN({_MOST},volumes_wanted),boil_altitude_in_m)",
        units.Bar,
        "package_rating_unit",
        "The same, of the carbonation wanted and no more: what the bottles or the keg have to stand at least.",
        look="value",
    )


def _reason(block: Block) -> None:
    """In two rows, so that the inputs beside it keep their rhythm."""
    block.page.put(f"{block.label}{block.row}", "=" + _why(), "answer")
    block.page.merge(block.label, block.base, block.row, 2)
    block.book.define("package_why", block.page, f"{block.label}{block.row}")
    block.row += 2


def _state() -> str:
    return pick(
        ("latest_day<0", look("take a reading first")),
        ('gravity_steady<>"Steady"', "gravity_steady"),
        ("package_target_in_vol<residual_co2", look("it holds more already")),
        (f"co2_in_all>{_MOST}", look(f"over {_MOST} volumes")),
        (
            'package_rating=""',
            pick(
                (f"co2_in_all>{USUAL_VOLUMES}", look(f"over {USUAL_VOLUMES} volumes")),
                otherwise=say("Ready, if it is made for ", at_least("pressure_warmest", 1)),
            ),
        ),
        ("pressure_warmest_in_bar>package_rating_in_bar", look("more than it is made for")),
        otherwise=say("Ready"),
    )


def _why() -> str:
    """The reason, in one sentence."""
    return pick(
        ("latest_day<0", say("No reading on the sheet Fermentation.")),
        ("wort_known=0", say("What it may still ferment rests on the wort's gravity, and that isn't known.")),
        (
            "hydrometer_day<latest_day",
            say("A refractometer can hide 1 to 2 points in finished beer: half a volume to a whole one."),
        ),
        (
            f"gravity_steady={STILL_FALLING}",
            say("From ", number("differing_gravity", 4), " on day ", number("differing_day"), " to ",
                number("latest_gravity", 4), " on day ", number("latest_day"), "."),
        ),
        (
            "steady_days<days_wanted",
            say("It has to stay the same for ", cell("days_wanted"), " days",
                cell(pick((f"days_wanted>{DAYS_STEADY}", say(", as what to expect isn't sure")))), "."),
        ),
        (
            f"gravity_steady={STEADY_BUT_HIGH}",
            say("It may start again, down to ", number("expected_final_in_SG", 3), ": ", number("co2_to_come", 1),
                " volumes more. A fast ferment test would tell."),
        ),
        ('gravity_steady<>"Steady"', say("See the readings on the sheet Fermentation.")),
        (
            "package_target_in_vol<residual_co2",
            say("It has kept ", number("residual_co2", 2), " volumes. For less, let it warm up, open."),
        ),
        ('pressure_warmest=""', say("No usual vessel is made for that.")),
        otherwise=say(
            number("co2_in_all", 1), " volumes are ", amount("pressure_warmest", 1), " at ",
            number('UNIT_CONVERT(warmest_in_package,"°C",package_warmest_unit)'), " ", cell("package_warmest_unit"),
            " and ", amount("boil_altitude"),
            cell(pick(('package_rating=""', say("; what it is made for isn't stated.")),
                      otherwise=say("; it is made for ", amount("package_rating", 1), "."))),
        ),
    )  # fmt: skip


def _priming(block: Block) -> None:
    block.section("Priming, for bottles")
    block.result(
        "residual_co2",
        "Carbonation it has kept",
        "=BEER_RESIDUAL_CO2(warmest_temp_used,boil_altitude_in_m)",
        units.Carbonation,
        number="0.00",
        note="Fermented under an airlock, not under pressure.",
    )
    sugar = "BEER_PRIMING({volume},volumes_wanted,residual_co2,package_sugar)"
    block.result(
        "priming_sugar",
        "Sugar for all bottles",
        '=IF(OR(package_kind<>"bottles",package_volume_used=""),"",' + sugar.format(volume="package_volume_used") + ")",
        units.Gram,
        "hops_mass_unit",
        "For the carbonation wanted alone; what fermentation still adds comes on top. Blank for a keg.",
        number=_MASS,
        blank=True,
    )
    block.result(
        "bottle_sugar",
        "Sugar for one bottle",
        '=IF(OR(package_kind<>"bottles",package_bottle=""),"",'
        + sugar.format(volume="package_bottle_in_mL/1000")
        + ")",
        units.Gram,
        "hops_mass_unit",
        "Blank until it is stated what a bottle holds.",
        number=_MASS,
        blank=True,
    )
    block.result(
        "bottle_count",
        "Bottles",
        '=IF(OR(priming_sugar="",package_bottle=""),"",INT(1000*package_volume_used/package_bottle_in_mL))',
        units.Number,
        number="0",
        note="Full ones.",
        blank=True,
    )
    block.line(
        "="
        + pick(
            ('OR(priming_sugar="",LEFT(package_state,5)="Ready")', '""'),
            otherwise=say("Add it only once the verdict is Ready."),
        ),
        "answer",
    )


def _beer(block: Block) -> None:
    block.section("Keg, and the beer")
    block.result(
        "package_pressure",
        "Pressure to set on a keg",
        '=IF(package_kind="keg",BEER_CO2_PRESSURE(package_temp_in_C,package_target_in_vol,boil_altitude_in_m),"")',
        units.Bar,
        "package_rating_unit",
        "Gauge pressure that holds the carbonation wanted at the temperature the keg is kept at. Blank for bottles.",
        blank=True,
    )
    block.result(
        "alcohol_packaged",
        "Alcohol in the package",
        '=IF(wort_known=0,"",BEER_ABV(fermenter_gravity_used,lowest_final,"balling",IF(package_kind="bottles",'
        "volumes_wanted-residual_co2,0)))",
        units.Share,
        note="In bottles, with that of the priming sugar.",
    )
