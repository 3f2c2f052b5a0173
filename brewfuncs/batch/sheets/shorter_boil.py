"""A shorter boil: the old schedule on one side, the new one on the other, with the same wort at the end."""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch.chart import Chart, Line
from brewfuncs.batch.sheet import Block, Column, Draft, Page, Result
from brewfuncs.batch.sheets.plan import BITTER, METHODS
from brewfuncs.batch.sheets.workings import Workings

__all__ = ["build"]

_POINTS = 20
_EASILY, _BADLY = 75, 18  # the volatilities of DMS that papers span


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Shorter boil", "Shorter boil")
    left, right = page.columns()
    _side(left, "old", "The plan's boil", "boil_time_in_min")
    _side(right, "new", "A shorter boil", "shorter_time_in_min")
    page.skip_to(left, right)
    left, right = page.columns()
    _settings(left)
    _outcome(right)
    page.skip_to(left, right)
    _schedule(page)
    _workings(workings)
    _charts(page, workings)
    page.notes(
        "Less water to sparge with may cost a little extract (common practice, no source). The four bittering models "
        "disagree: take one, keep to it, and taste. DMS figures are upper bounds: fermentation strips much of it.",
    )


def _side(block: Block, side: str, title: str, minutes: str) -> None:
    """The same rows for either boil."""
    block.section(title)
    if side == "new":
        block.input("shorter.time")
    else:
        block.result("old_minutes", "Boiling time", "=boil_time_in_min", units.Minute, "boil_time_unit", look="value")
    evaporated = f"{side}_evaporated_in_L"
    block.result(
        f"{side}_evaporated", "Boils off", f"=BOIL_OFF(boil_rate_used,{minutes})", units.Litre, "batch_volume_unit"
    )
    block.result(
        f"{side}_preboil_volume",
        "Volume before the boil",
        f"=WORT_PREBOIL_VOLUME(batch_volume_in_L,original_gravity_in_SG,{evaporated})",
        units.Litre,
        "batch_volume_unit",
    )
    block.result(
        f"{side}_preboil_gravity",
        "Gravity before the boil",
        f"=WORT_PREBOIL_GRAVITY(batch_volume_in_L,original_gravity_in_SG,{evaporated})",
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
        note="Share of a hop aroma, linalool, that an addition at the start of the boil would keep: an upper "
        "bound of what boiling drives off.",
    )
    block.result(
        f"{side}_dms",
        "DMS at pitching",
        _dms(side, minutes, "dms_volatility"),
        units.MicrogramPerLitre,
        note="At the volatility set below.",
    )
    block.result(
        f"{side}_dms_low",
        f"if DMS leaves easily ({_EASILY})",
        _dms(side, minutes, str(_EASILY)),
        units.MicrogramPerLitre,
        look="value",
    )
    block.result(
        f"{side}_dms_high",
        f"if it leaves badly ({_BADLY})",
        _dms(side, minutes, str(_BADLY)),
        units.MicrogramPerLitre,
        look="value",
    )


def _dms(side: str, minutes: str, volatility: str, load: str = "precursor_load") -> str:
    return (
        f"=DMS_AT_PITCH({load},{minutes},{side}_evaporation,chill_time_in_min,chill_cooling_in_per_min,"
        f"chill_coolant_temp_in_C,{volatility},dms_precursor_half_life_in_min,boiling_temp_in_C)"
    )


def _settings(block: Block) -> None:
    block.section("Compare by")
    block.input("shorter.method")
    for key in ("limit", "volatility", "precursor_half_life"):
        block.input(f"dms.{key}")
    block.input("shorter.old_style_precursor")


def _outcome(block: Block) -> None:
    block.section("What the shorter boil changes")
    block.result(
        "water_saved",
        "Water off the sparge",
        "=old_preboil_volume_in_L-new_preboil_volume_in_L",
        units.Litre,
        "batch_volume_unit",
    )
    block.result("heat_saved", "Heat saved", "=old_heat-new_heat", units.KilowattHour)
    block.result(
        "dms_boil_needed",
        "Boil that DMS asks for",
        _needed("dms_volatility"),
        units.Minute,
        blank=True,
        note="For the DMS limit on the left, at the new boil's evaporation; blank for a covered kettle, which "
        "keeps its DMS in, and where no malt states its precursor.",
    )
    block.result(
        "dms_boil_needed_low",
        f"if DMS leaves easily ({_EASILY})",
        _needed(str(_EASILY)),
        units.Minute,
        look="value",
        blank=True,
    )
    block.result(
        "dms_boil_needed_high",
        f"if it leaves badly ({_BADLY})",
        _needed(str(_BADLY)),
        units.Minute,
        look="value",
        blank=True,
    )
    block.state(
        "shorter_state",
        "This boil is",
        '=IF(shorter_time_in_min>boil_time_in_min,"Look here: no shorter '
        'than the plan\'s",IF(precursor_load=0,"Unknown for DMS",IF(new_dms_high<=dms_limit_in_ug_L,'
        '"Long enough for DMS",IF(new_dms<=dms_limit_in_ug_L,"Look here: uncertain for DMS",'
        '"Look here: too short for DMS"))))',
        "Uncertain: over the limit only where DMS leaves badly; papers disagree on that. Unknown: no malt states its "
        "DMS precursor.",
    )


def _needed(volatility: str) -> str:
    return (
        "=IF(AND(boil_rate_used>0,precursor_load>0),DMS_BOIL_MINUTES(precursor_load,dms_limit_in_ug_L,new_evaporation,chill_time_in_min,"
        f'chill_cooling_in_per_min,chill_coolant_temp_in_C,{volatility},dms_precursor_half_life_in_min,boiling_temp_in_C),"")'
    )


def _schedule(page: Page) -> None:
    page.section("Additions: old on the left, new on the right by each method, for the same bitterness")
    unit, number = "=hops_mass_unit", "[<10]0.00;0.0"

    def shown(formula: str) -> str:  # an empty row stays empty
        return f'=IF(hop_{{n}}_mass="","",{formula})'

    def in_unit(name: str) -> str:
        return shown(f'UNIT_CONVERT(new_{{n}}_{name}_in_g,"g",hops_mass_unit)')

    stand = '=hop_{n}_name&IF(OR(hop_{n}_stand_temp="",hop_{n}_mass=""),""," (stand)")'
    new_time = shown('IF(hop_{n}_stand_temp="",new_{n}_time,hop_{n}_time)')
    ratio = shown("IF(hop_{n}_mass_in_g=0,1,new_{n}_mass_in_g/hop_{n}_mass_in_g)")
    page.table(
        "later",
        {"time": Column("F", head="To move later still")},
        [
            Result("B", "Hop", stand, look="text"),
            Result("C", "Old time", shown("hop_{n}_time"), "min", "0", look="value"),
            Result("D", "Old mass", shown("hop_{n}_mass"), unit, number, look="value"),
            Result("E", "New time", new_time, "min", "0"),
            *(
                Result(at, title, in_unit(name), unit, number, look="value")
                for at, (_, title, name) in zip("HIJK", METHODS, strict=True)
            ),
            Result("L", '="New mass by "&shorter_method', in_unit("mass"), unit, number),
            Result("M", '="times, by "&shorter_method', ratio, "", "0.00", look="value"),
        ],
    )
    for label, name, formula, number in (
        (
            "An addition at the start: hops times",
            "factor",
            '=IF(new_start_time=0,1,HOP_SWAP_MASS(1,boil_time_in_min,new_start_time,"{method}",old_start_gravity,'
            "new_start_gravity,boiling_temp_in_C))",
            "0.00",
        ),
        ("Bitterness in all, the plan's boil", "old_bitterness", "=bitterness_{name}", "0"),
        ("Bitterness in all, the shorter boil", "new_bitterness", "=SUM(new_{name}_bitterness)", "0"),
    ):
        page.put(f"B{page.row}", label, "label")
        for at, (method, _, short) in zip("HIJK", METHODS, strict=True):
            text = formula.replace("{method}", method).replace("{name}", short)
            page.put(f"{at}{page.row}", text, "result", number)
            page.book.define(f"{name}_{short}", page, f"{at}{page.row}")
        page.put(f"L{page.row}", "mg/L" if number == "0" else "", "unit")
        page.row += 1
    page.row += 1


_MEAN_GRAVITY = (  # from an addition with {t} minutes to go to the end
    "=(WORT_PREBOIL_GRAVITY(batch_volume_in_L,original_gravity_in_SG,BOIL_OFF(boil_rate_used,{t}))"
    "+original_gravity_in_SG)/2"
)


def _workings(workings: Workings) -> None:
    evaporation = "=MIN(0.4,boil_rate_used/(({side}_preboil_volume_in_L+batch_volume_in_L)/2))"
    number = "".join(f'IF(shorter_method="{method}",{i},' for i, (method, _, _) in enumerate(METHODS, 1))
    workings.cells(
        "Shorter boil",
        {
            "old_evaporation": (evaporation.replace("{side}", "old"), "0.0 %"),
            "new_evaporation": (evaporation.replace("{side}", "new"), "0.0 %"),
            "new_start_time": ("=MIN(boil_time_in_min,shorter_time_in_min)", "0"),
            "old_start_gravity": (_MEAN_GRAVITY.replace("{t}", "boil_time_in_min"), "0.0000"),
            "new_start_gravity": (_MEAN_GRAVITY.replace("{t}", "new_start_time"), "0.0000"),
            "old_style_load": ("=DMS_LOAD(shorter_old_style_precursor_in_mg_kg,grain_in_kg,batch_volume_in_L)", "0"),
            "method_number": (f"={number}0{')' * len(METHODS)}", "0"),
            "longest_boil": ("=MAX(boil_time_in_min,shorter_time_in_min)", "0"),
            **{
                f"first_{name}": (f'=IF(OR(hop_1_mass="",hop_1_mass=0),1,new_1_{name}_in_g/hop_1_mass_in_g)', "0.00")
                for _, _, name in METHODS
            },
        },
    )
    swapped = (
        '=IF(OR(hop_{n}_stand_temp<>"",new_{n}_time=hop_{n}_boiled),IF(hop_{n}_mass="",0,hop_{n}_mass_in_g),'
        'HOP_SWAP_MASS(hop_{n}_mass_in_g,hop_{n}_boiled,new_{n}_time,"{method}",hop_{n}_mean_gravity,'
        "new_{n}_mean_gravity,boiling_temp_in_C))"
    )
    bitterness = (
        '=IF(hop_{n}_stand_temp="",HOP_BITTERNESS(new_{n}_mass_in_g,hop_{n}_alpha,new_{n}_time,batch_volume_in_L,'
        'new_{n}_mean_gravity,"{method}",boiling_temp_in_C),hop_{n}_{name})'
    )
    later = 'IF(later_{n}_time="",240,later_{n}_time)'
    columns = {
        "new_{n}_time": (f"=MIN(hop_{{n}}_boiled,shorter_time_in_min,{later})", "0"),
        "new_{n}_mean_gravity": (_MEAN_GRAVITY.replace("{t}", "new_{n}_time"), "0.0000"),
    }
    for method, _, name in METHODS:
        columns[f"new_{{n}}_{name}_in_g"] = (swapped.replace("{method}", method), "0.0")
    choice = ",".join(f"new_{{n}}_{name}_in_g" for _, _, name in METHODS)
    columns["new_{n}_mass_in_g"] = (f"=CHOOSE(method_number,{choice})", "0.0")
    for method, _, name in METHODS:
        columns[f"new_{{n}}_{name}"] = (bitterness.replace("{method}", method).replace("{name}", name), BITTER)
    whole = {f"new_{{n}}_{name}": f"new_{name}_bitterness" for _, _, name in METHODS}
    workings.rows("hops", "Hops in the shorter boil: g by each method, and the bitterness they give", columns, whole)


def _first_bitterness(method: str, time: str) -> str:
    """Bitterness of the plan's first hop after some minutes."""
    return (
        f'=HOP_BITTERNESS(hop_1_mass_in_g,hop_1_alpha,{time},batch_volume_in_L,original_gravity_in_SG,"{method}",'
        "boiling_temp_in_C)"
    )


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
                (_dms("new", x, "dms_volatility"), "0"),
                (_dms("new", x, "dms_volatility", "old_style_load"), "0"),
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
        volume = f"WORT_PREBOIL_VOLUME(batch_volume_in_L,original_gravity_in_SG,{water})"
        lines.append(
            [
                (f"=longest_boil*{k}/{_POINTS}", "0.0"),
                (f"=longest_boil-B{start + k}", "0.0"),
                (f'=UNIT_CONVERT({volume},"L",batch_volume_unit)', "0.0"),
                (f"=WORT_PREBOIL_GRAVITY(batch_volume_in_L,original_gravity_in_SG,{water})", "0.000"),
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
                (f"={side}_dms", "0"),
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
            '="At "&FIXED(new_1_time,0,TRUE)&" instead of "&FIXED(hop_1_boiled,0,TRUE)&" min it takes hops times "'
            '&FIXED(first_tinseth,2)&" by Tinseth, "&FIXED(first_kinetic,2)&" kinetic, "&FIXED(first_rager_smooth,2)'
            '&" Rager smooth."',
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
            '=FIXED(new_dms,0,TRUE)&" µg/L after "&FIXED(shorter_time_in_min,0,TRUE)&" min at a volatility of "'
            f'&FIXED(dms_volatility,0,TRUE)&"; {_EASILY} to {_BADLY} give "&FIXED(new_dms_low,0,TRUE)&" to "'
            '&FIXED(new_dms_high,0,TRUE)&" µg/L."',
            "minutes of boiling",
            "µg/L",
            [
                line("this grain", 6, "first"),
                line("old-style pilsner malt", 7, "second"),
                line("limit", 8, "limit"),
                mark("these two boils", 5, 4),
            ],
        ),
    )
    beside = page.charts(
        Chart(
            "How do volume and gravity move over the boil?",
            '="The shorter boil starts with "&FIXED(new_preboil_volume,1,TRUE)&" "&new_preboil_volume_unit&" at "'
            '&FIXED(new_preboil_gravity_in_SG,3,TRUE)&", the plan\'s with "&FIXED(old_preboil_volume,1,TRUE)&" "'
            '&old_preboil_volume_unit&" at "&FIXED(old_preboil_gravity_in_SG,3,TRUE)&"."',
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
    )
    beside.section("To brew it")
    for text in (
        '="1. On the plan, set the boiling time to "&FIXED(shorter_time_in_min,0,TRUE)&" min."',
        "2. There, enter the new times and masses of the hops.",
        '="3. Sparge with "&FIXED(water_saved,1,TRUE)&" "&water_saved_unit&" less."',
        '="4. Before the boil, expect "&FIXED(new_preboil_volume,1,TRUE)&" "&new_preboil_volume_unit&" at "&FIXED('
        'new_preboil_gravity_in_SG,3,TRUE)&"."',
        "5. Boil it open and vigorous, and chill it fast.",
    ):
        beside.line(text)
    beside.note("Boiling wort scalds and foams up, in a short boil as in a long one.")
