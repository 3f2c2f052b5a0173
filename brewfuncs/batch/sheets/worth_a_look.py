"""Worth a look: the common mistakes as rules on this plan, each with a state in words, the reason, and its source.

A rule that reads a value in error shows that error, and the line on top counts it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from brewfuncs.batch.listing import Listing
from brewfuncs.batch.sheet import Draft
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.thresholds import ANY_EXCESS, DOSE_NEAR, USUAL_VOLUMES

__all__ = ["build"]

_PRACTICE = "Common practice, no source"
_DMS = "Wilson & Booer 1979; Dickenson 1979; Fix 1999"
_LABEL = "The label decides"
_WIDTHS = {"B": 25.0, "C": 11.0, "D": 70.0, "E": 28.0}
_NUMBERS = 14  # characters that a value and its unit take in a reason, for the height of its row


@dataclass(frozen=True)
class Rule:
    """One rule. `look` is when it asks for a look; it is not used where `unused` holds, and uncertain where
    `uncertain` does but not `look`. The reasons are expressions: texts in double quotes, values, joined by &."""

    key: str
    title: str
    look: str
    when_look: str
    when_fine: str
    source: str = _PRACTICE
    unused: str = ""
    when_unused: str = '""'
    uncertain: str = ""
    longer: int = 0  # characters that a name of the brewer's may add

    @property
    def state(self) -> str:
        otherwise = f'IF({self.uncertain},"uncertain","fine")' if self.uncertain else '"fine"'
        state = f'IF({self.look},"look here",{otherwise})'
        return f'=IF({self.unused},"not used",{state})' if self.unused else f"={state}"

    @property
    def reason(self) -> str:
        """Follows the state, so that an error in one is an error in the other."""
        name = f"look_{self.key}"
        return f'=IF({name}="not used",{self.when_unused},IF({name}="fine",{self.when_fine},{self.when_look}))'

    @property
    def longest(self) -> str:
        """A text as long as the longest reason."""
        lengths = [
            sum(_NUMBERS if piece is None else len(piece) for piece in _pieces(reason))
            for reason in (self.when_look, self.when_fine, self.when_unused)
        ]
        return ("word " * 200)[: max(lengths) + self.longer]


def _pieces(reason: str) -> list[str | None]:
    """Its texts, and None for each value between them."""
    return [quoted[1:-1] if quoted else None for quoted in re.findall(r'("[^"]*")|FIXED', reason)]


def _fixed(value: str, decimals: int = 0) -> str:
    return f"FIXED({value},{decimals},TRUE)"


_NOT_POURED = "\"The label's dose, the water or what was poured isn't stated on the sheet Cleaning.\""
_NO_PRECURSOR = '"No malt states its DMS precursor: how long it needs to boil isn\'t known."'

_RULES: dict[str, tuple[Rule, ...]] = {
    "Boil and hops": (
        Rule(
            "boil_long",
            "Boil longer than needed",
            "boil_time_in_min>15+MAX(30,boil_needed)",
            f'{_fixed("boil_time_in_min")}&" min; this malt needs "&{_fixed("boil_needed")}&" min for its DMS ("&'
            f'{_fixed("boil_needed_low")}&" to "&{_fixed("boil_needed_high")}&" as papers differ). A shorter boil '
            'saves heat and water: see the sheet Shorter boil."',
            f'{_fixed("boil_time_in_min")}&" min, and this malt needs "&{_fixed("boil_needed")}&" min for its DMS ("&'
            f'{_fixed("boil_needed_low")}&" to "&{_fixed("boil_needed_high")}&" as papers differ)."',
            _DMS + "; 30 min: common practice, no source",
            "OR(boil_rate_used=0,precursor_load=0)",
            f'IF(boil_rate_used=0,"Nothing boils off: see the covered kettle.",{_NO_PRECURSOR})',
        ),
        Rule(
            "boil_short",
            "Boil too short",
            "OR(boil_time_in_min<15,dms_if_volatile>dms_limit_in_ug_L)",
            f'IF(boil_time_in_min<15,"Under 15 min a boil hardly turns protein and bitterness. ","")&'
            f'{_fixed("dms_planned")}&" µg/L of DMS at pitching, "&{_fixed("dms_low")}&" to "&{_fixed("dms_high")}&" '
            f'as papers differ; at most "&{_fixed("dms_limit_in_ug_L")}&" is wanted."',
            f'{_fixed("dms_planned")}&" µg/L of DMS at pitching, "&{_fixed("dms_low")}&" to "&{_fixed("dms_high")}&" '
            f'as papers differ; at most "&{_fixed("dms_limit_in_ug_L")}&" is wanted."',
            _DMS + "; limit: MEBAK B-400.35; 15 min: common practice, no source",
            "AND(precursor_load=0,boil_time_in_min>=15)",
            _NO_PRECURSOR,
            uncertain="OR(dms_high>dms_limit_in_ug_L,dms_planned>dms_limit_in_ug_L)",
        ),
        Rule(
            "covered",
            "Covered kettle",
            "boil_rate_used=0",
            '"Nothing boils off: DMS stays in the wort, and a covered kettle boils over sooner. Leave the lid off."',
            f'"Open: "&{_fixed("evaporated", 1)}&" "&evaporated_unit&" boil off, and DMS with it."',
            "DMS leaves with the steam: Wilson & Booer 1979",
        ),
        Rule(
            "flavour",
            "Flavour addition",
            "flavour_count>0",
            f'flavour_name&" boils "&{_fixed("flavour_time")}&" min"&IF(flavour_count>1,", and "&'
            f'{_fixed("flavour_count-1")}&" more between 20 and 45","")&": most of its aroma leaves, and it is less '
            'bitter than at the start. Move it to the start, or into the last 10 min."',
            '"No addition but the earliest boils 20 to 45 min."',
            unused="earliest_hop<0",
            when_unused='"No hops in the boil."',
            longer=80,
        ),
        Rule(
            "slow_chill",
            "Slow chill",
            "minutes_hot>5",
            f'{_fixed("minutes_hot")}&" min above 80 °C: the late hops go on turning bitter, and their aroma leaves. '
            "Chill "
            'faster, or add them cooler."',
            f'{_fixed("minutes_hot", 1)}&" min above 80 °C after the boil, with hops added in its last 15 min."',
            unused="late_count=0",
            when_unused='"No hops in the last 15 min of the boil."',
        ),
        Rule(
            "kettle_full",
            "Kettle",
            "hot_preboil_volume_in_L>0.85*kettle_size_in_L",
            f'{_fixed("hot_preboil_volume", 1)}&" "&hot_preboil_volume_unit&" of hot wort fill "&'
            f'{_fixed("100*hot_preboil_volume_in_L/kettle_size_in_L")}&" % of the kettle: it may boil over, and '
            'boiling wort scalds. Boil less, or in two kettles."',
            f'{_fixed("hot_preboil_volume", 1)}&" "&hot_preboil_volume_unit&" of hot wort fill "&'
            f'{_fixed("100*hot_preboil_volume_in_L/kettle_size_in_L")}&" % of the kettle; up to 85 % leaves room for '
            'foam."',
            unused="kettle_size_in_L=0",
            when_unused="\"The kettle's size isn't stated.\"",
        ),
    ),
    "Sanitizer and materials": (
        *(
            rule
            for kind, title in (("acid", "Acid sanitizer"), ("chlorine", "Chlorine sanitizer"))
            for rule in (
                Rule(
                    f"{kind}_dose",
                    f"{title}: dose",
                    f"ABS({kind}_times-1)>{DOSE_NEAR}",
                    f'{_fixed(f"cleaning_{kind}_poured", 1)}&" "&{kind}_dose_unit&" where the label has "&'
                    f'{_fixed(f"{kind}_dose", 1)}&": too little may not sanitize, and more is not safer."',
                    f'{_fixed(f"cleaning_{kind}_poured", 1)}&" "&{kind}_dose_unit&", and the label has "&'
                    f'{_fixed(f"{kind}_dose", 1)}&" for this much water."',
                    f"{_LABEL}; a tenth: common practice, no source",
                    f'{kind}_times=""',
                    _NOT_POURED,
                ),
                Rule(
                    f"{kind}_strength",
                    f"{title}: strength",
                    f"{kind}_over>{ANY_EXCESS}",
                    f'{_fixed(f"{kind}_over", 2)}&" times the most that the label allows: rinse as it says, or mix it '
                    'anew."',
                    f'{_fixed(f"{kind}_over", 2)}&" of the most that the label allows. Any excess means rinsing as it '
                    'says."',
                    _LABEL,
                    f'{kind}_times=""',
                    _NOT_POURED,
                ),
            )
        ),
        Rule(
            "acid_ph",
            "Acid sanitizer: pH",
            "acid_ph>3",
            f'"pH "&{_fixed("acid_ph", 2)}&": over 3 an acid sanitizer may not work. Use softer water, or the dose '
            'that the label has for yours."',
            f'"pH "&{_fixed("acid_ph", 2)}&", under 3. That alone doesn\'t make a sanitizer: dose and time do."',
            unused='acid_ph=""',
            when_unused='"Dose, share or density isn\'t stated on the sheet Cleaning."',
        ),
        Rule(
            "acetal",
            "Acid on acetal",
            "acetal_count>0",
            f'{_fixed("acetal_count")}&" of these parts: acetal (POM) that soaks in acid, or has it dried on, can '
            "crack. Rinse it off after the label's time.\"",
            '"No acetal (POM) of this brewery soaks in acid or has it dried on."',
            "Inferred, and resistance charts, as commonly quoted",
            "parts_count=0",
            '"No parts on the sheet Cleaning."',
        ),
        Rule(
            "steel",
            "Chlorine on stainless steel",
            "steel_count>0",
            f"{_fixed('steel_count')}&\" of these parts: chloride pits stainless steel. The label's time at most, "
            f"then "
            'rinse; never leave it overnight."',
            '"No stainless steel of this brewery meets chlorine."',
            "Resistance charts, as commonly quoted",
            "parts_count=0",
            '"No parts on the sheet Cleaning."',
        ),
    ),
    "Fermentation and package": (
        Rule(
            "rise",
            "Rise towards the end",
            "fermentation_end_temp_in_C-fermentation_temp_in_C<2",
            f'{_fixed("temp_rise", 1)}&" "&fermentation_per_day_unit&": a rise of "&{_fixed("temp_rise_wanted", 1)}&'
            '" "&fermentation_per_day_unit&" or more helps the yeast to finish and to clear diacetyl."',
            f'{_fixed("temp_rise", 1)}&" "&fermentation_per_day_unit&" from day "&'
            f"{_fixed('fermentation_ramp_day_in_d')}&"
            '" on helps the yeast to finish."',
        ),
        Rule(
            "unfinished",
            "Before it is closed",
            'LEFT(package_state,4)="Look"',
            "package_why",
            "package_why",
            "Balling's equation; steadiness: common practice, no source",
            "latest_day<0",
            '"No reading yet on the sheet Fermentation."',
            uncertain='package_rating=""',
            longer=160,
        ),
        Rule(
            "high_target",
            "Much carbonation",
            f'AND(package_rating="",package_target_in_vol>{USUAL_VOLUMES})',
            f'{_fixed("package_target_in_vol", 1)}&" volumes: over {USUAL_VOLUMES} needs bottles or kegs '
            'made for it. State on the sheet Package what they are rated for, and stay under it."',
            f'{_fixed("package_target_in_vol", 1)}&" volumes; up to {USUAL_VOLUMES} is what usual bottles '
            'are made for, and more is judged by what yours are rated for."',
        ),
    ),
    "Figures that may be slips": (
        Rule(
            "alpha",
            "Alpha acid",
            "odd_alpha_count>0",
            f'{_fixed("odd_alpha_count")}&" of these hops: outside 2 to 20 % is rare. 5.5 % is written 5.5 % or '
            '0.055."',
            '"All hops are within 2 to 20 %."',
            unused="hops_count=0",
            when_unused='"No hops."',
        ),
        Rule(
            "efficiency",
            "Extract reaching the kettle",
            "OR(mash_efficiency<0.5,mash_efficiency>0.95)",
            f'{_fixed("100*mash_efficiency")}&" %: outside 50 to 95 % is rare. Look at masses, volumes and the '
            "malts' yields.\"",
            f'{_fixed("100*mash_efficiency")}&" %, within 50 to 95 %."',
            unused="grain_in_kg=0",
            when_unused='"No malts."',
        ),
        Rule(
            "evaporation",
            "Evaporation",
            "OR(evaporation_an_hour<0.04,evaporation_an_hour>0.2)",
            f'{_fixed("100*evaporation_an_hour", 1)}&" % of the kettle an hour: outside 4 to 20 % is rare. Measure it '
            'on the brew day."',
            f'{_fixed("100*evaporation_an_hour", 1)}&" % of the kettle an hour, within 4 to 20 %."',
            unused="boil_rate_used=0",
            when_unused='"Nothing boils off: see the covered kettle."',
        ),
        Rule(
            "methods",
            "Bitterness by method",
            "highest_total>1.5*lowest_total",
            f'"Tinseth, kinetic and Rager smooth give "&{_fixed("lowest_total")}&" to "&{_fixed("highest_total")}&" '
            "mg/L, more "
            'than half apart. Keep to the one that your beers have matched."',
            f'"Tinseth, kinetic and Rager smooth give "&{_fixed("lowest_total")}&" to "&{_fixed("highest_total")}&" '
            'mg/L."',
            "Tinseth 1995-97; Malowicki & Shellhammer 2005; Rager 1990",
            "highest_total=0",
            '"No hops."',
        ),
    ),
}


def build(book: Draft, workings: Workings) -> None:
    sheet = Listing(
        book, "Worth a look", "The common mistakes, looked for on this plan; a rule of thumb is no verdict", _WIDTHS
    )
    page = sheet.page
    count = sum(map(len, _RULES.values()))
    page.answer(
        '=IF(look_count+uncertain_count=0,"Nothing here asks for a look",look_count&" of these '
        f'{count} rules ask for a look"&IF(uncertain_count>0,", "&uncertain_count&" uncertain",""))'
        '&IF(failing_count>0,"; "&failing_count&" can\'t be judged, since a value they read is in error","")&"."'
    )
    page.row += 1
    sheet.head(("Rule", "State", "Why, on this plan", "Source"), indented="E")
    top = page.row
    for title, rules in _RULES.items():
        sheet.section(title)
        for rule in rules:
            row = sheet.row({"B": rule.title, "D": rule.longest, "E": rule.source}, bold="BE")
            page.put(f"B{row}", rule.title, "listed")
            page.put(f"C{row}", rule.state, "listed name")
            page.put(f"D{row}", rule.reason, "listed")
            page.put(f"E{row}", rule.source, "listed quiet")
            book.define(f"look_{rule.key}", page, f"C{row}")
    area = f"C{top}:C{page.row - 1}"
    book.define("look_states", page, area)
    page.look_here(area)
    _workings(workings, count)


def _workings(workings: Workings, count: int) -> None:
    given = 'OR(hop_{n}_mass="",hop_{n}_mass=0)'
    acids = ",".join(
        f'part_{{n}}_chemistry="{acid}"' for acid in ("acid anionic", "phosphoric acid", "iodophor", "peracetic acid")
    )
    workings.rows(
        "hops",
        "Worth a look: hops in the boil (minutes, -1 for none), flavour additions, late ones, odd alpha",
        {
            "hop_{n}_in_boil": (f'=IF({given},-1,IF(hop_{{n}}_stand_temp<>"",-1,hop_{{n}}_boiled))', "0"),
            "hop_{n}_flavour": (
                "=IF(AND(hop_{n}_in_boil>=20,hop_{n}_in_boil<=45,hop_{n}_in_boil<earliest_hop),1,0)",
                "0",
            ),
            "hop_{n}_late": ("=IF(AND(hop_{n}_in_boil>=0,hop_{n}_in_boil<=15),1,0)", "0"),
            "hop_{n}_odd_alpha": (f"=IF({given},0,IF(OR(hop_{{n}}_alpha<0.02,hop_{{n}}_alpha>0.2),1,0))", "0"),
        },
        {
            "hop_{n}_in_boil": "hops_in_boil",
            "hop_{n}_flavour": "hops_flavour",
            "hop_{n}_late": "hops_late",
            "hop_{n}_odd_alpha": "hops_odd_alpha",
        },
    )
    workings.rows(
        "parts",
        "Worth a look: parts of acetal that acid soaks or dries on, of stainless steel that meet chlorine",
        {
            "part_{n}_acetal": (
                f'=IF(AND(OR(part_{{n}}_plastic="acetal",part_{{n}}_plastic="POM"),OR({acids}),OR('
                f'part_{{n}}_state="soaked",'
                'part_{n}_state="dried")),1,0)',
                "0",
            ),
            "part_{n}_steel": ('=IF(AND(part_{n}_plastic="stainless steel",part_{n}_chemistry="chlorine"),1,0)', "0"),
        },
        {"part_{n}_acetal": "parts_acetal", "part_{n}_steel": "parts_steel"},
    )
    dms = (
        "precursor_load,{limit}evaporation_share,chill_time_in_min,chill_cooling_in_per_min,chill_coolant_temp_in_C,"
        "{volatility},dms_precursor_half_life_in_min,boiling_temp_in_C)"
    )

    def needed(volatility: str) -> tuple[str, str]:
        arguments = dms.format(limit="dms_limit_in_ug_L,", volatility=volatility)
        return f"=IF(boil_rate_used=0,0,DMS_BOIL_MINUTES({arguments})", "0"

    totals = "bitterness_tinseth,bitterness_kinetic,bitterness_rager_smooth"
    numbers = {
        "boil_needed": needed("dms_volatility"),
        "boil_needed_low": needed("75"),
        "boil_needed_high": needed("18"),
        # where even this is over the limit, it isn't over at a volatility of 18 to 26 alone
        "dms_if_volatile": (
            "=DMS_AT_PITCH(" + dms.format(limit="boil_time_in_min,", volatility="MAX(26,dms_volatility)"),
            "0",
        ),
        "earliest_hop": ("=MAX(hops_in_boil)", "0"),
        "flavour_count": ("=SUM(hops_flavour)", "0"),
        "flavour_row": ("=IF(flavour_count=0,1,MATCH(1,hops_flavour,0))", "0"),
        "flavour_time": ("=INDEX(hops_in_boil,flavour_row)", "0"),
        "flavour_name": (
            '=IF(INDEX(hops_name,flavour_row)="","Addition "&flavour_row,INDEX(hops_name,flavour_row))',
            "General",
        ),
        "late_count": ("=SUM(hops_late)", "0"),
        "odd_alpha_count": ("=SUM(hops_odd_alpha)", "0"),
        "hops_count": ("=COUNT(hops_mass)", "0"),
        # after BOIL_COOLING over one minute: the cooling constant times the minutes down to 80 °C
        "minutes_hot": (
            "=IF(boiling_temp_in_C<=80,0,IF(chill_cooling_in_per_min=0,chill_time_in_min,MIN(chill_time_in_min,"
            "BOIL_COOLING(boiling_temp_in_C,80,1,chill_coolant_temp_in_C)/chill_cooling_in_per_min)))",
            "0.0",
        ),
        "parts_count": ('=COUNTIF(parts_plastic,"?*")', "0"),
        "acetal_count": ("=SUM(parts_acetal)", "0"),
        "steel_count": ("=SUM(parts_steel)", "0"),
        "temp_rise": (
            '=UNIT_CONVERT(fermentation_end_temp_in_C-fermentation_temp_in_C,"K",fermentation_per_day_unit)',
            "0.0",
        ),
        "temp_rise_wanted": ('=UNIT_CONVERT(2,"K",fermentation_per_day_unit)', "0.0"),
        # evaporation_share is cut at the 40 % that the DMS functions answer
        "evaporation_an_hour": ("=boil_rate_used/((planned_preboil_volume_in_L+batch_volume_in_L)/2)", "0.0%"),
        "lowest_total": (f"=MIN({totals})", "0"),
        "highest_total": (f"=MAX({totals})", "0"),
        "look_count": ('=COUNTIF(look_states,"look here")', "0"),
        "uncertain_count": ('=COUNTIF(look_states,"uncertain")', "0"),
        "failing_count": (
            f'={count}-look_count-uncertain_count-COUNTIF(look_states,"fine")-COUNTIF(look_states,"not used")',
            "0",
        ),
    }
    workings.cells("Worth a look", numbers)
