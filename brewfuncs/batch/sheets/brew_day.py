"""Brew day: the sheet one brews from, in the order of the clock, with plan and reading side by side.

A reading that isn't taken, or can't be used, leaves the plan's value in force; formulas read the `..._used` cells
alone. A hot reading without its temperature is unknown: it is asked about, not used.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from brewfuncs import units
from brewfuncs.batch import thresholds
from brewfuncs.batch.block import Block
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.formats import number_format
from brewfuncs.batch.inputs import quantity
from brewfuncs.batch.names import suffix
from brewfuncs.batch.page import Page
from brewfuncs.batch.sections import INPUTS, find_section
from brewfuncs.batch.sheets.recipe import METHODS, Course, after_boil, after_boil_cells, unless_unknown
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import amount, cell, look, number, pick, say, small

__all__ = ["build"]

_HOPS = find_section("hops").rows
#: the hot side as it was measured, as far as it was
_COURSE = Course(
    "boiled_minutes_used",
    "actual_evaporation",
    "day_load",
    "stood_minutes_used",
    "stood_at",
    "chilled_minutes_used",
    "actual_cooling",
)


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Brew day", "Brew day", row_height=18)  # there is room to write by hand
    page.notes("Write readings into the pale cells. Until then the plan's figures stand in, and they stay beside them.")
    day = _Day(page, workings)

    day.start("Water and mash", "What to do", (("C", "plan"),))
    _mash(day)
    day.start("Before the boil", "What it leads to")
    _reading(day, "preboil", "brewed_preboil_volume", "brewed_preboil_gravity", "malts_unknown")
    _forecast(day, "before", "preboil", "boil_minutes_now")
    day.start("The boil", "Hops go in by the length it really boils")
    _boil(day)
    day.end()
    _hops(page, workings)
    day.end()
    page.next_sheet_of_paper()
    day.start("In the boil", "What it leads to")
    day.reading("midboil_minutes")
    _reading(
        day,
        "midboil",
        f"WORT_POSTBOIL_VOLUME({_PREBOIL},{_GONE})",
        f"WORT_POSTBOIL_GRAVITY({_PREBOIL},{_GONE})",
        'IF(midboil_minutes="","no",malts_unknown)',
    )
    _forecast(day, "during", "midboil", "minutes_to_go")
    day.start("After the boil", "What it gives")
    day.reading("boiled_minutes", "boil_minutes_now")
    _reading(
        day,
        "postboil",
        f"WORT_POSTBOIL_VOLUME({_MIDBOIL},{_LEFT})",
        f"WORT_POSTBOIL_GRAVITY({_MIDBOIL},{_LEFT})",
        "malts_unknown",
    )
    day.reading("water_added")
    day.reading("extract_added")
    _after(day)
    day.start("Stand and chill", "In the fermenter")
    _chill(day)
    _pitch(day)
    day.start("Instruments", "For the next batch", ())
    day.left.input("instruments.hydrometer_temp")
    day.left.input("instruments.refractometer_factor")
    _carry(day.right)
    day.end()
    page.notes(
        "Boiling wort scalds: stay with the kettle as it comes to the boil, leave room for the foam, and lift no full "
        "kettle. Read volumes from a safe distance; let a sample cool before reading it.",
        "Extract before and after the boil should agree within "
        f"{100 * thresholds.EXTRACT_AGREES:g} % (common practice, no source): where it does not, one of the "
        "four readings is off, and the forecasts with it.",
    )
    _workings(workings)
    workings.cells("Brew day: the plan's figures and readings, in the formulas' units", day.bases)


_HEADS = (("C", "plan"), ("D", "read"), ("F", "apart"))  # over the columns on the left


class _Day:
    """The sheet while it is filled: on the left plan, reading, unit and difference; on the right what follows."""

    def __init__(self, page: Page, workings: Workings) -> None:
        self.page, self.book, self.workings = page, page.book, workings
        self.bases: dict[str, tuple[str, str]] = {}  # for Workings: name -> formula, number format
        self.left, self.right = page.columns()

    def start(self, title: str, right: str, heads: Sequence[tuple[str, str]] = _HEADS) -> None:
        """Two blocks under those before them, each with its band."""
        self.end()
        row = self.left.row
        self.left.section(title)
        for letter, head in heads:
            self.page.put(f"{letter}{row}", head, "section right")
        if right:
            self.right.section(right)

    def end(self) -> None:
        """Go on under both blocks."""
        if max(self.left.row, self.right.row) > self.page.row:
            self.page.skip_to(self.left, self.right)
        self.left, self.right = self.page.columns()

    # ------------------------------------------------------------ rows on the left
    def plan(self, name: str, label: str, formula: str, what: Any, follows: str = "") -> None:
        """A figure of the plan, to do rather than to read. `follows` is the cell whose unit it is shown in."""
        row, base = self.left.row, quantity(what).symbol
        self.page.put(f"B{row}", label, "label")
        self._figure("C", name, formula, base, follows, "result")
        self.left.row += 1

    def _figure(self, letter: str, name: str, formula: str, base: str, follows: str, look: str) -> None:
        """A figure in the unit of another cell; the same in the formulas' unit goes to Workings."""
        row, inner, shown = self.left.row, f"{name}_{suffix(base)}", number_format(base)
        self.bases[inner] = ("=" + formula, shown)
        value = f'UNIT_CONVERT({inner},"{base}",{follows})' if follows else inner
        self.page.put(f"{letter}{row}", f'=IF({inner}="","",{value})', look, shown)
        self.page.put(f"E{row}", f"={follows}" if follows else base, "unit")
        self.book.define(name, self.page, f"{letter}{row}")
        if base == "SG":
            self.page.as_gravity(f"{letter}{row}", f"E{row}")

    def reading(self, key: str, plan: str = "", used: str = "") -> None:
        """A reading to take. `plan` gives what stands in for it, in the formulas' unit; then `{key}_used` is either."""
        row = self.left.row
        item = INPUTS[f"day.{key}"].item
        base = item.quantity.symbol if item.is_number else ""
        self.page.put(f"B{row}", item.label, "label")
        symbol = self.page.enter(f"D{row}", key, item)
        read = key
        if item.unit_choices:
            self.page.unit(f"E{row}", item, symbol)
            self.book.define(f"{key}_unit", self.page, f"E{row}")
            read = f'UNIT_CONVERT({key},{key}_unit,"{base}")'
            if base == "SG":
                self.page.as_gravity(f"C{row}:D{row}", f"E{row}")
        elif symbol:
            self.page.put(f"E{row}", symbol, "unit")
        if plan:
            shown = number_format(symbol)
            self.bases[f"{key}_expected"] = ("=" + plan, number_format(base))
            self.bases[f"{key}_used"] = (f'=IF({key}="",{key}_expected,{used or read})', number_format(base))
            to = f'UNIT_CONVERT({{}},"{base}",{key}_unit)' if item.unit_choices else "{}"
            self.page.put(f"C{row}", f"={to.format(f'{key}_expected')}", "value", shown)
            apart = f"{to.format(f'{key}_used')}-{to.format(f'{key}_expected')}"
            self.page.put(f"F{row}", f'=IF({key}="","",{apart})', "value", _signed(shown))
        self.left.row += 1

    def compare(self, name: str, label: str, planned: str, read: str, what: Any, follows: str, unknown: str) -> None:
        """Plan and reading as cold wort, in one unit: `{name}_expected`, `{name}_read`, and `{name}_used` for formulas.
        `read` is "" where there is no reading that can be used; `unknown` isn't "" where the plan has nothing."""
        row, base = self.left.row, quantity(what).symbol
        shown = number_format(base)
        page, book = self.page, self.book
        self.bases[f"{name}_expected"] = ("=" + planned, shown)
        self.bases[f"{name}_read"] = ("=" + read, shown)
        self.bases[f"{name}_used"] = (f'=IF({name}_read="",{name}_expected,{name}_read)', shown)
        page.put(f"B{row}", label, "label")

        def to(cell_name: str) -> str:
            return f'UNIT_CONVERT({cell_name},"{base}",{follows})'

        page.put(f"C{row}", f'=IF({unknown}<>"","",{to(f"{name}_expected")})', "value", shown)
        page.put(f"D{row}", f'=IF({name}_read="","",{to(f"{name}_read")})', "result", shown)
        page.put(f"E{row}", f"={follows}", "unit")
        apart = f"{to(f'{name}_read')}-{to(f'{name}_expected')}"
        page.put(f"F{row}", f'=IF(OR({name}_read="",{unknown}<>""),"",{apart})', "value", _signed(shown))
        book.define(f"{name}_plan", page, f"C{row}")
        book.define(f"{name}_cold", page, f"D{row}")
        if base == "SG":
            page.as_gravity(f"C{row}:D{row}", f"E{row}")
            page.as_gravity(f"F{row}", f"E{row}")
        self.left.row += 1

    def ask(self, name: str, formula: str) -> None:
        """A line that asks for what is missing; empty where nothing is."""
        self.page.put(f"B{self.left.row}", formula, "state")
        self.page.look_here(f"B{self.left.row}:F{self.left.row}")
        self.page.merge("B", "F", self.left.row)
        self.book.define(name, self.page, f"B{self.left.row}")
        self.left.row += 1

    # ------------------------------------------------------------ rows on the right
    def advice(self, name: str, formula: str, lines: int = 3) -> None:
        """What to do, over the block's width and some rows."""
        block, page = self.right, self.page
        page.put(f"{block.label}{block.row}", "=" + formula, "answer")
        page.merge(block.label, block.base, block.row, lines)
        page.book.define(name, page, f"{block.label}{block.row}")
        block.row += lines


def _signed(shown: str) -> str:
    """A number format with the sign written out."""
    plain = shown.split(";")[-1] if shown.startswith("[") else shown
    plain = "0.0" if plain == "General" else plain
    return f"+{plain};-{plain};{plain}"


# -- mash ------------------------------------------------------------------------------------------------------------


def _mash(day: _Day) -> None:
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


# -- readings --------------------------------------------------------------------------------------------------------

_PREBOIL = "preboil_volume_used,preboil_gravity_used"
_GONE = "BOIL_OFF(boil_rate_used,midboil_minutes_used)"
#: the wort as last read in the boil, and the water that leaves it until the boil's end
_MIDBOIL = "midboil_volume_used,midboil_gravity_used"
_LEFT = "BOIL_OFF(boil_rate_used,MAX(0,boiled_minutes_used-midboil_minutes_used))"


def _reading(day: _Day, when: str, volume: str, gravity: str, unknown: str) -> None:
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


# -- forecasts and advice --------------------------------------------------------------------------------------------


def _forecast(day: _Day, stage: str, reading: str, minutes: str) -> None:
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
                     (f"OR(boil_rate_used=0,{reading}_gravity_used<=1)", '""'),
                     otherwise=f"BOIL_MINUTES({wort},kettle_wanted,boil_rate_used)"),
                 units.Minute, "boil_time_unit", "From this reading on. Blank for a covered kettle: gravity never "
                 "rises.", blank=True)  # fmt: skip
    _correction(block, stage, f"{stage}_volume_in_L", f"{stage}_gravity_in_SG")
    read = f'OR({reading}_volume_read<>"",{reading}_gravity_read<>"")'
    day.bases[f"{stage}_floor"] = (f"=MAX(0,shortest_boil-({minutes_gone(stage)}))", "0")
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


def minutes_gone(stage: str) -> str:
    return "0" if stage == "before" else "midboil_minutes_used"


def _advice(stage: str, planned: str, read: str) -> str:
    """What to do about it: minutes, water or extract; never below what DMS, hops and protein ask of a boil, and with
    what it costs."""
    needed, gravity = f"{stage}_minutes_in_min", f"{stage}_gravity_in_SG"
    extract = say("stir in ", amount(f"{stage}_extract_to_add", 2), " of dry extract at the end, off the heat")
    water = say("add ", amount(f"{stage}_water_to_add", 1), " of water at the end")
    longer, less = f"({needed}-({planned}))", f"(({planned})-{stage}_shorter)"
    leaves = say("that leaves ", number(f"{stage}_volume_if_longer", 1), " instead of ", amount(f"{stage}_volume", 1))
    in_all = say(number(f"{minutes_gone(stage)}+{needed}"), " min in all")
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


def _correction(block: Block, when: str, volume: str, gravity: str) -> None:
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


# -- the boil and its hops -------------------------------------------------------------------------------------------


def _boil(day: _Day) -> None:
    day.reading("boil_for", "brewed_minutes")
    day.reading("boil_start")
    day.right.line("=" + say("Kettle finings, if you use them: 10 to 15 min before the end, by their label."))


def _hops(page: Page, workings: Workings) -> None:
    """The additions in the order of the clock."""
    page.section("Hops, in the order they go in")
    head, top = page.row, page.row + 1
    page.sheet.row_dimensions[head].height = 28
    for letter, title in zip(
        "BCDEFHI",
        ("Hop", "Mass", "", "before the end", "after the start", "", "at"),
        strict=True,
    ):
        if title:
            page.put(f"{letter}{head}", title, "head left" if letter == "B" else "head")
    for n in range(1, _HOPS + 1):
        row, there = top + n - 1, f"next_{n}=0"
        item = f"INDEX({{}},next_{n})"
        stands = f"{item.format('hops_stands')}=1"
        page.put(f"B{row}", f'=IF({there},"",{item.format("hops_label")}&IF({stands}," (stand)",""))', "text")
        page.put(f"C{row}", f'=IF({there},"",UNIT_CONVERT({item.format("brew_g")},"g",hops_mass_unit))', "result",
                 "[<10]0.0;0")  # fmt: skip
        page.put(f"D{row}", f'=IF({there},"",hops_mass_unit)', "unit")
        page.put(f"E{row}", f'=IF({there},"",{item.format("day_minutes")})', "result", '0" min"')
        page.put(f"F{row}", f'=IF({there},"",IF({item.format("hops_stands")}=1,"",MAX(0,boil_minutes_now-'
                 f'{item.format("day_minutes")})))', "value", '0" min"')  # fmt: skip
        clock = f"MOD(boil_start+(boil_minutes_now-{item.format('day_minutes')})/1440,1)"
        page.put(f"I{row}", f'=IF(OR({there},boil_start=""),"",IF({stands},"after the boil",{clock}))',
                 "value", "hh:mm")  # fmt: skip
        page.book.define(f"schedule_{n}_mass", page, f"C{row}")
        page.book.define(f"schedule_{n}_minutes", page, f"E{row}")
        page.book.define(f"schedule_{n}_clock", page, f"I{row}")
    page.row = top + _HOPS + 1
    workings.rows(
        "hops",
        "Hops on the day: minutes before the end, the order they go in, and what they really boiled",
        {
            "hop_{n}_day_minutes": (
                "=IF(hop_{n}_stands=1,brew_{n}_minutes,MIN(brew_{n}_minutes,boil_minutes_now))",
                "0",
            ),
            # the longest first, stands after all others, rows that tie in their own order; -999 is no addition. A
            # condition made with & holds 15 digits, and a number that has more would count itself: so it is rounded
            "hop_{n}_order": (
                "=IF(hop_{n}_counts=0,-999,ROUND(1000+IF(hop_{n}_stands=1,hop_{n}_stand_at/1000-1,brew_{n}_minutes)-"
                "{n}/100000,9))",
                "0.0000",
            ),
            "hop_{n}_place": ('=IF(hop_{n}_counts=0,0,COUNTIF(hops_order,">"&hop_{n}_order)+1)', "0"),
            "next_{n}": ("=IF({n}>hops_count,0,MATCH({n},hops_place,0))", "0"),
            "hop_{n}_real_minutes": (
                "=MAX(0,hop_{n}_day_minutes+IF(hop_{n}_stands=1,stood_minutes_used-stand_minutes,boiled_minutes_used-"
                "boil_minutes_now))",
                "0",
            ),
            "hop_{n}_real_gravity": (
                "=IF(hop_{n}_counts=0,1,(WORT_PREBOIL_GRAVITY(postboil_volume_used,postboil_gravity_used,BOIL_OFF("
                "actual_rate,IF(hop_{n}_stands=1,0,hop_{n}_real_minutes)))+postboil_gravity_used)/2)",
                "0.0000",
            ),
            **{
                f"hop_{{n}}_final_{name}": (
                    "=IF(hop_{n}_counts=0,0,"
                    + _COURSE.hop_bitterness(
                        "brew_{n}_g",
                        "hop_{n}_real_minutes",
                        "final_wort_volume",
                        "hop_{n}_real_gravity",
                        f'"{method}"',
                        after_boil(method, "real_"),
                    )
                    + ")",
                    "0.0",
                )
                for method, _, name in METHODS
            },
        },
        {
            "hop_{n}_day_minutes": "day_minutes",
            "hop_{n}_order": "hops_order",
            "hop_{n}_place": "hops_place",
            **{f"hop_{{n}}_final_{name}": f"final_{name}" for _, _, name in METHODS},
        },
    )


# -- after the boil --------------------------------------------------------------------------------------------------


def _after(day: _Day) -> None:
    block = day.right
    block.result(
        "extract_change",
        "Extract after against before",
        "=IF(AND(preboil_measured=1,postboil_measured=1,preboil_gravity_used>1),WORT_EXTRACT(postboil_volume_used,"
        'postboil_gravity_used)/WORT_EXTRACT(preboil_volume_used,preboil_gravity_used)-1,"")',
        units.Share,
        number="+0.0 %;-0.0 %;0.0 %",
        note="Boiling takes water away and leaves the extract.",
    )
    block.state(
        "reading_state",
        "Readings",
        "="
        + pick(
            ('extract_change=""', say("not both taken yet")),
            (f"ABS(extract_change)>{thresholds.EXTRACT_AGREES:g}", look("repeat a reading")),
            otherwise=say("they agree"),
        ),
        f"Within {100 * thresholds.EXTRACT_AGREES:g} % (common practice, no source).",
    )
    _correction(block, "final", "postboil_volume_used", "postboil_gravity_used")
    gravity = "postboil_gravity_used"
    day.advice(
        "advice_after",
        pick(
            ('malts_unknown<>""', "malts_unknown"),
            ("postboil_measured=0", say("Not both read yet: this is the forecast.")),
            (f"ABS({gravity}-kettle_wanted)<{thresholds.GRAVITY_NEAR:g}", say("As wanted: nothing to add.")),
            ('OR(water_added<>"",extract_added<>"")',
             say("Made up to ", amount("final_volume", 1), " at ", number("made_up_gravity", 3), ".")),
            (f"{gravity}>kettle_wanted",
             say("Add ", amount("final_water_to_add", 1), " of water, or keep it stronger.")),
            otherwise=say("Stir in ", amount("final_extract_to_add", 2), " of dry extract off the heat, or leave it."),
        ),
        2,
    )  # fmt: skip
    block.result(
        "final_volume",
        "with what was added",
        unless_unknown("malts_unknown", "made_up_volume"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )
    block.result(
        "final_gravity_made",
        "its gravity",
        unless_unknown("malts_unknown", "made_up_gravity"),
        units.Gravity,
        "batch_gravity_unit",
        blank=True,
    )
    bitterness = ",".join(f"SUM(final_{name})" for _, _, name in METHODS)
    day.bases["final_bitterness_low"] = (unless_unknown("hops_unknown", f"MIN({bitterness})"), "0")
    day.bases["final_bitterness_high"] = (unless_unknown("hops_unknown", f"MAX({bitterness})"), "0")
    block.result(
        "final_bitterness",
        "Bitterness",
        unless_unknown("hops_unknown", f"CHOOSE(method_number,{bitterness})"),
        units.Bitterness,
        note="mg/L, which is IBU, by the model chosen on the plan, with the minutes really boiled.",
        blank=True,
    )
    block.line(
        "="
        + pick(
            ('hops_unknown<>""', '""'),
            otherwise=say(number("final_bitterness_low"), " to ", number("final_bitterness_high"), " by four models"),
        ),
        "unit",
    )


def _chill(day: _Day) -> None:
    day.reading("stood_minutes", "stand_minutes")
    day.reading("stood_temp", "stand_at")
    day.reading("chill_start_temp", "stood_temp_used")
    day.reading("chill_end_temp")
    day.reading("chilled_minutes", "chill_time_in_min")
    day.reading("fermenter_volume", "pitch_volume_now")


def _pitch(day: _Day) -> None:
    block = day.right
    block.result("final_dms", "DMS at pitching", "=day_dms", units.MicrogramPerLitre, blank=True)
    block.line(
        "="
        + pick(
            ('precursor_unknown<>""', say("DMS unknown: ", cell("precursor_unknown"))),
            otherwise=say(number("day_dms_low"), " to ", number("day_dms_high"), " as papers part"),
        ),
        "unit",
    )
    block.result(
        "pitch_gravity",
        "Original gravity",
        unless_unknown("malts_unknown", "pitch_gravity_now"),
        units.Gravity,
        "batch_gravity_unit",
        "In the fermenter: topped up, and with what is added there.",
        blank=True,
    )
    block.result(
        "final_alcohol",
        "Alcohol to expect",
        unless_unknown("malts_unknown", "BEER_ABV(pitch_gravity_now,BEER_FINAL(pitch_gravity_now,yeast_attenuation))"),
        units.Share,
    )
    block.result(
        "pitch_cells",
        "Yeast to pitch",
        unless_unknown("malts_unknown", "BEER_PITCH(fermenter_volume_used,pitch_gravity_now,fermentation_pitch_rate)"),
        units.BillionCells,
        blank=True,
    )
    block.result(
        "final_packaged",
        "Beer to package",
        unless_unknown("malts_unknown", "MAX(0,fermenter_volume_used-kettle_fermenter_loss_in_L)"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )


def _carry(block: Block) -> None:
    block.result(
        "measured_efficiency",
        "Extract reached the kettle",
        "=IF(AND(preboil_measured=1,grain_in_kg>0),MAX(0,WORT_EXTRACT(preboil_volume_used,preboil_gravity_used)-"
        '(kettle_extract-mash_extract))/SUMPRODUCT(malts_mash_kg,malts_extract),"")',
        units.Share,
        note="Of the mash. Blank until volume and gravity before the boil are measured.",
    )
    block.result(
        "measured_boil_rate",
        "Boiled off in an hour",
        '=IF(AND(preboil_measured=1,postboil_measured=1,boiled_minutes<>""),actual_rate,"")',
        units.LitreAnHour,
        "kettle_boil_off_unit",
        "Blank until both ends of the boil and its minutes are measured.",
        blank=True,
    )
    block.result(
        "measured_cooling",
        "Cooling constant",
        f'=IF({_COOLED},actual_cooling,"")',
        units.PerMinute,
        note="Blank until both temperatures and the time between are measured.",
    )
    block.note("A new workbook made --like this one starts with them.")


_COOLED = 'AND(chill_start_temp<>"",chill_end_temp<>"",chilled_minutes<>"")'


def _workings(workings: Workings) -> None:
    density = "WATER_DENSITY(20)"
    added = 'IF({0}="",0,UNIT_CONVERT({0},{0}_unit,"{1}"))'
    water, extract = added.format("water_added", "L"), added.format("extract_added", "kg")
    cells = {
        "boil_minutes_now": ("=boil_for_used", "0"),
        "midboil_minutes_used": ('=IF(midboil_minutes="",0,UNIT_CONVERT(midboil_minutes,midboil_minutes_unit,"min"))',
                                 "0"),
        "minutes_to_go": ("=MAX(0,boil_minutes_now-midboil_minutes_used)", "0"),
        **{
            f"{when}_measured": (f'=IF(AND({when}_volume_read<>"",{when}_gravity_read<>""),1,0)', "0")
            for when in ("preboil", "postboil")
        },
        # the shortest boil that may be advised, and why
        "earliest_hop": ("=MAX(0,hops_in_boil)", "0"),
        "shortest_boil": (
            f'=MIN(brewed_minutes,MAX({thresholds.SHORTEST_BOIL},earliest_hop,IF(boil_needed="",brewed_minutes,'
            "boil_needed)))",
            "0",
        ),
        "shortest_boil_reason": (
            "="
            + pick(
                ('boil_needed=""', say("the plan has, as how long the malt needs isn't known")),
                ("AND(boil_needed>=earliest_hop,boil_needed>=shortest_boil)", say("DMS asks for")),
                ("earliest_hop>=shortest_boil", say("the first hops need")),
                otherwise=say("a boil needs at least"),
            ),
            "General",
        ),
        "actual_rate": (
            "=IF(AND(preboil_measured=1,postboil_measured=1,boiled_minutes_used>0),MAX(0,preboil_volume_used*"
            "preboil_gravity_used-postboil_volume_used*postboil_gravity_used)/(boiled_minutes_used/60),"
            "boil_rate_used)",
            "0.00",
        ),
        "actual_evaporation": (
            f"=MIN({thresholds.EVAPORATION_ANSWERED:g},actual_rate/((preboil_volume_used+postboil_volume_used)/2))",
            "0.0 %",
        ),
        "actual_cooling": (
            f"=IF({_COOLED},BOIL_COOLING(chill_start_temp_used,"
            'UNIT_CONVERT(chill_end_temp,chill_end_temp_unit,"°C"),chilled_minutes_used,chill_coolant_temp_in_C),'
            "chill_cooling_in_per_min)",
            "0.000",
        ),
        # by conservation of mass and extract: the wort with what was added, and what the fermenter gets of it
        "made_up_mass": (
            f"=postboil_volume_used*postboil_gravity_used*{density}+{water}*{density}+{extract}",
            "0.00",
        ),
        "made_up_extract": (f"=WORT_EXTRACT(postboil_volume_used,postboil_gravity_used)+{extract}", "0.000"),
        "made_up_gravity": (
            '=IF(AND(water_added="",extract_added=""),postboil_gravity_used,WORT_GRAVITY(100*made_up_extract/'
            "made_up_mass))",
            "0.0000",
        ),
        "made_up_volume": (f"=made_up_mass/(made_up_gravity*{density})", "0.00"),
        "sent_volume_now": ("=MAX(0,made_up_volume-kettle_loss_in_L)", "0.00"),
        "pitch_mass_now": (
            f"=sent_volume_now*made_up_gravity*{density}+kettle_topup_in_L*{density}+fermenter_fermentables_in_kg",
            "0.00",
        ),
        "pitch_gravity_now": (
            "=IF(OR(AND(kettle_topup_in_L=0,fermenter_fermentables_in_kg=0),pitch_mass_now=0),made_up_gravity,"
            "WORT_GRAVITY(100*(WORT_EXTRACT(sent_volume_now,made_up_gravity)+fermenter_extract)/pitch_mass_now))",
            "0.0000",
        ),
        "pitch_volume_now": (f"=pitch_mass_now/(pitch_gravity_now*{density})", "0.00"),
        "final_wort_volume": (
            "=IF(sent_volume_now=0,made_up_volume,made_up_volume*pitch_volume_now/sent_volume_now)",
            "0.00",
        ),
        "stood_at": ("=IF(stood_minutes_used=0,boiling_temp_in_C,MIN(boiling_temp_in_C,stood_temp_used))", "0.0"),
        "day_load": ("=precursor_load*wort_volume/final_wort_volume", "0"),
    }  # fmt: skip
    workings.cells("Brew day", cells)
    workings.cells("Brew day: DMS, and what the hot time after the boil is worth", _COURSE.cells("day_dms"))
    workings.cells("Brew day: the hot time after the boil", after_boil_cells(_COURSE, "real_"))
