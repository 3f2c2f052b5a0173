"""The rules: what may be a slip, when, what is said of it, and by what source."""

from __future__ import annotations

from dataclasses import dataclass

from brewfuncs.batch import thresholds
from brewfuncs.batch.sheets.worth_a_look.figures import BOIL_MEASURED
from brewfuncs.batch.wording import amount, asks_for_a_look, cell, number, percent, pick, say, small

__all__ = ["RULES", "WATER_RULES", "Rule"]

_PRACTICE = "Common practice, no source"
_DMS = "Wilson & Booer 1979; Fix 1999"
_LABEL = "The label decides"


@dataclass(frozen=True)
class Rule:
    """One rule. It asks for a look where `look` holds, isn't used where `unused` does, isn't known where `unknown`
    does, and is uncertain where `uncertain` does but not `look`. Reasons are expressions, made by `say`."""

    key: str
    title: str
    look: str
    when_look: str
    when_fine: str
    source: str = _PRACTICE
    unused: str = ""
    when_unused: str = '""'
    unknown: str = ""
    when_unknown: str = '""'
    uncertain: str = ""

    @property
    def state(self) -> str:
        cases = ((self.unused, "not used"), (self.unknown, "unknown"), (self.look, "look here"),
                 (self.uncertain, "uncertain"))  # fmt: skip
        return "=" + pick(*((when, f'"{state}"') for when, state in cases if when), otherwise='"fine"')

    @property
    def reason(self) -> str:
        """Follows the state, so that an error in one is an error in the other."""
        name = f"look_{self.key}"
        cases = (
            (self.unused, "not used", self.when_unused),
            (self.unknown, "unknown", self.when_unknown),
            ("always", "fine", self.when_fine),
        )
        return "=" + pick(
            (f"ISERROR({name})", say("A value that this rule reads is in error.")),
            *((f'{name}="{state}"', said) for when, state, said in cases if when and said != self.when_look),
            otherwise=self.when_look,
        )


def _dms_said() -> str:
    return say(
        number("dms_planned"),
        " µg/L of DMS at pitching, ",
        number("dms_planned_low"),
        " to ",
        number("dms_planned_high"),
        " as papers part; at most ",
        number("dms_limit_in_ug_L"),
        " is wanted. ",
    )


def _shown_as_0(name: str) -> str:
    return f'{number(name).formula}="0"'


_NEEDED = cell(
    pick(
        ('boil_needed=""', '""'),
        (_shown_as_0("boil_needed_high"), say("For its DMS this malt needs no set time.")),
        (
            _shown_as_0("boil_needed"),
            say("For its DMS this malt needs no set time (up to ", number("boil_needed_high"), " min as papers part)."),
        ),
        otherwise=say(
            "For its DMS this malt needs at least ",
            number("boil_needed"),
            " min (",
            number("boil_needed_low"),
            " to ",
            number("boil_needed_high"),
            " as papers part).",
        ),
    )
)
_HOT_WORT = cell(say(number(f'UNIT_CONVERT({thresholds.HOT_WORT},"°C",mash_temp_unit)'), " ", cell("mash_temp_unit")))
_FULL = 100 * thresholds.KETTLE_FULL
_NOT_STATED = say("Dose, share or density isn't stated on the sheet Cleaning.")
_NOT_POURED = say("The label's dose, the water or what was poured isn't stated on the sheet Cleaning.")
_LOW_ALPHA, _HIGH_ALPHA = thresholds.USUAL_ALPHA
_LOW_EFFICIENCY, _HIGH_EFFICIENCY = thresholds.USUAL_EFFICIENCY
_LOW_EVAPORATION, _HIGH_EVAPORATION = thresholds.USUAL_EVAPORATION
_EARLY_FLAVOUR, _LATE_FLAVOUR = thresholds.FLAVOUR_HOPS


def _span(low: float, high: float) -> str:
    return f"{100 * low:g} to {100 * high:g} %"


RULES: tuple[Rule, ...] = (
    # -- boil and hops
    Rule(
        "boil",
        "Length of the boil",
        'OR(boil_verdict="too short",boil_verdict="longer than needed")',
        pick(
            (
                'boil_verdict="longer than needed"',
                say(
                    number("brewed_minutes"),
                    " min. ",
                    _NEEDED,
                    " A shorter boil saves heat and water: see the sheet Shorter boil.",
                ),
            ),
            (
                f"brewed_minutes<{thresholds.SHORTEST_BOIL}",
                say(f"Under {thresholds.SHORTEST_BOIL} min a boil hardly turns protein and bitterness."),
            ),
            otherwise=say(number("brewed_minutes"), " min: ", cell(_dms_said()), _NEEDED),
        ),
        say(number("brewed_minutes"), " min: ", cell(_dms_said()), _NEEDED),
        f"{_DMS}; limit: MEBAK B-400.35; minutes: common practice",
        unused='AND(malts_unknown<>"",fermentables_in_kg=0)',
        when_unused=say("No malt yet."),
        unknown='boil_verdict="unknown"',
        when_unknown=say(cell("precursor_unknown"), ": how long it needs to boil isn't known."),
        uncertain='boil_verdict="uncertain"',
    ),
    Rule(
        "covered",
        "Covered kettle",
        "boil_rate_used=0",
        say("Nothing boils off: DMS stays in the wort, and a covered kettle boils over sooner. Leave the lid off."),
        say(
            "Open: ",
            cell('IF(evaporated="","wort boils off",' + say(amount("evaporated", 1), " boil off") + ")"),
            ", and DMS with it.",
        ),
        "DMS leaves with the steam: Wilson & Booer 1979",
    ),
    Rule(
        "hop_too_long",
        "Hops longer than the boil",
        "too_long_count>0",
        say(
            cell("INDEX(hops_label,MATCH(1,hops_too_long,0))"),
            " is to boil longer than the boil as found: it counts as the whole boil.",
        ),
        say("No addition is to boil longer than the boil as found."),
        "Definition",
        "hops_count=0",
        say("No hops."),
    ),
    Rule(
        "flavour",
        "Flavour addition",
        "flavour_count>0",
        say(
            cell("flavour_name"),
            " boils ",
            number("flavour_time"),
            " min",
            cell(
                "IF(flavour_count>1,"
                + say(", and ", number("flavour_count-1"), f" more between {_EARLY_FLAVOUR} and {_LATE_FLAVOUR}")
                + ',"")'
            ),
            ": most aroma leaves, and it is less bitter than at the start. In the last 10 min it gives aroma "
            "instead: then the first addition takes more, by the sheet Shorter boil.",
        ),
        say(f"No addition but the earliest boils {_EARLY_FLAVOUR} to {_LATE_FLAVOUR} min."),
        unused="earliest_hop=0",
        when_unused=say("No hops in the boil."),
    ),
    Rule(
        "slow_chill",
        "Slow chill",
        f"minutes_hot>{thresholds.SLOW_CHILL}",
        say(
            number("minutes_hot"),
            " min above ",
            _HOT_WORT,
            ": the late hops go on turning bitter, and their aroma leaves. Chill faster, or add them cooler.",
        ),
        say(
            number("minutes_hot", 1),
            " min above ",
            _HOT_WORT,
            f" after the boil, with hops added in its last {thresholds.LATE_HOPS} min.",
        ),
        unused="late_count=0",
        when_unused=say(f"No hops in the last {thresholds.LATE_HOPS} min of the boil."),
    ),
    Rule(
        "kettle_full",
        "Kettle",
        f"hot_preboil_volume_in_L>{thresholds.KETTLE_FULL:g}*kettle_size_in_L",
        say(
            amount("hot_preboil_volume", 1),
            " of hot wort fill ",
            percent("hot_preboil_volume_in_L/kettle_size_in_L"),
            " of the kettle: it may boil over, and boiling wort scalds. Boil less, or in two kettles.",
        ),
        say(
            amount("hot_preboil_volume", 1),
            " of hot wort fill ",
            percent("hot_preboil_volume_in_L/kettle_size_in_L"),
            f" of the kettle; up to {_FULL:g} % leaves room for foam.",
        ),
        unused='OR(kettle_size_in_L=0,malts_unknown<>"")',
        when_unused=pick(
            ("kettle_size_in_L=0", say("The kettle's size isn't stated.")), otherwise=say(cell("malts_unknown"), ".")
        ),
    ),
    # -- figures that may be slips
    Rule(
        "gravity",
        "Gravity wanted",
        f"ABS(pitch_gravity_planned-batch_gravity_in_SG)>={thresholds.GRAVITY_NEAR:g}",
        say(
            "These malts give ",
            number("pitch_gravity_planned", 4),
            " where ",
            number("batch_gravity_in_SG", 4),
            " is wanted: beside each mass stands the one that meets it.",
        ),
        say("These malts give ", number("pitch_gravity_planned", 4), ", as wanted."),
        "Conservation of extract",
        unknown='malts_unknown<>""',
        when_unknown=say(cell("malts_unknown"), "."),
    ),
    Rule(
        "alpha",
        "Alpha acid",
        "odd_alpha_count>0",
        say(
            number("odd_alpha_count"),
            f" of these hops: outside {_span(_LOW_ALPHA, _HIGH_ALPHA)} is rare. 5.5 % is "
            "typed as 5.5 in a cell that shows %.",
        ),
        say(f"All hops are within {_span(_LOW_ALPHA, _HIGH_ALPHA)}."),
        unused="hops_count=0",
        when_unused=say("No hops."),
    ),
    Rule(
        "efficiency",
        "Extract reaching the kettle",
        f"OR(mash_efficiency<{_LOW_EFFICIENCY:g},mash_efficiency>{_HIGH_EFFICIENCY:g})",
        say(
            percent("mash_efficiency"),
            f": outside {_span(_LOW_EFFICIENCY, _HIGH_EFFICIENCY)} is rare. Look at masses, "
            "volumes and the malts' yields.",
        ),
        say(percent("mash_efficiency"), f", within {_span(_LOW_EFFICIENCY, _HIGH_EFFICIENCY)}."),
        unused="grain_in_kg=0",
        when_unused=say("No mash."),
    ),
    Rule(
        "lauter",
        "Efficiency and water",
        "lauter_too_much=1",
        pick(
            (
                "lauter_too_much=1",
                say(
                    percent("mash_efficiency"),
                    " is assumed, and so much water can bring at most ",
                    percent("lauter_bound", 1),
                    " of this grain's extract: plan with less. A stronger beer leaves more with the grain.",
                ),
            ),
            (
                'mash_sparge=""',
                say(
                    percent("mash_efficiency"),
                    " is assumed: one batch of sparge water can bring ",
                    percent("lauter_one", 1),
                    " of this grain's extract, many small ones ",
                    percent("lauter_bound", 1),
                    ". State how it is sparged.",
                ),
            ),
            otherwise=say(
                percent("mash_efficiency"),
                " is assumed: many small batches of sparge water can bring ",
                percent("lauter_bound", 1),
                " of this grain's extract. More takes water that pushes the wort before it.",
            ),
        ),
        say(
            percent("mash_efficiency"),
            " is assumed, and so much water, ",
            cell('IF(sparge_water_in_L=0,"without a sparge",IF(mash_sparge="","in one batch","so sparged"))'),
            ", can bring ",
            percent('IF(mash_sparge="",lauter_one,lauter_bound)', 1),
            " of this grain's extract.",
        ),
        "Balance of mass and extract; all dissolved, evenly mixed",
        unused="grain_in_kg=0",
        when_unused=say("No mash."),
        unknown='lauter_unknown<>""',
        when_unknown=say(cell("lauter_unknown"), "."),
        uncertain="lauter_unsure=1",
    ),
    Rule(
        "evaporation",
        "Evaporation",
        f"OR(evaporation_an_hour<{_LOW_EVAPORATION:g},evaporation_an_hour>{_HIGH_EVAPORATION:g})",
        say(
            percent("evaporation_an_hour", 1),
            f" of the kettle an hour: outside {_span(_LOW_EVAPORATION, _HIGH_EVAPORATION)} is rare. ",
            cell(pick((BOIL_MEASURED, say("It was measured.")), otherwise=say("Measure it on the brew day."))),
        ),
        say(
            percent("evaporation_an_hour", 1),
            f" of the kettle an hour, within {_span(_LOW_EVAPORATION, _HIGH_EVAPORATION)}.",
        ),
        unused="boil_rate_used=0",
        when_unused=say("Nothing boils off: see the covered kettle."),
    ),
    Rule(
        "methods",
        "Bitterness by model",
        f"bitterness_high>{thresholds.METHODS_APART:g}*bitterness_low",
        say(
            "The four models give ",
            number("bitterness_low"),
            " to ",
            number("bitterness_high"),
            " mg/L (IBU), more than "
            "half apart; the beer may lie outside that. Keep to the model that your beers have matched.",
        ),
        say(
            "The four models give ",
            number("bitterness_low"),
            " to ",
            number("bitterness_high"),
            " mg/L (IBU): that is how far they part, not what the beer will have.",
        ),
        "Tinseth 1995-97; Malowicki & Shellhammer 2005; Rager 1990",
        "hops_count=0",
        say("No hops."),
        'hops_unknown<>""',
        say(cell("hops_unknown"), "."),
    ),
    # -- sanitizer and materials
    *(
        rule
        for kind, title in (("acid", "Acid sanitizer"), ("chlorine", "Chlorine sanitizer"))
        for rule in (
            Rule(
                f"{kind}_dose",
                f"{title}: dose",
                f"ABS({kind}_times-1)>{thresholds.DOSE_NEAR}",
                say(
                    amount(f"cleaning_{kind}_poured", small(f"{kind}_dose")),
                    " where the label has ",
                    number(f"{kind}_dose", small(f"{kind}_dose")),
                    ": too little may not sanitize, and more is not safer.",
                ),
                say(
                    amount(f"cleaning_{kind}_poured", small(f"{kind}_dose")),
                    ", and the label has ",
                    number(f"{kind}_dose", small(f"{kind}_dose")),
                    " for this much water.",
                ),
                f"{_LABEL}; a tenth: common practice, no source",
                f'{kind}_times=""',
                _NOT_POURED,
            ),
            Rule(
                f"{kind}_strength",
                f"{title}: strength",
                f"{kind}_over>{thresholds.ANY_EXCESS}",
                say(
                    number(f"{kind}_over", 2),
                    " times the most that the label allows: rinse as it says, or mix it anew.",
                ),
                say(
                    number(f"{kind}_over", 2),
                    " of the most that the label allows. Any excess means rinsing as it says.",
                ),
                _LABEL,
                f'{kind}_times=""',
                _NOT_POURED,
            ),
        )
    ),
    Rule(
        "acid_ph",
        "Acid sanitizer: pH",
        f"acid_ph>{thresholds.ACID_PH}",
        say(
            "pH ",
            number("acid_ph", 2),
            f": over {thresholds.ACID_PH} an acid sanitizer may not work. Use softer water, or the dose that the label "
            "has for yours.",
        ),
        say(
            "pH ",
            number("acid_ph", 2),
            f", under {thresholds.ACID_PH}. That alone doesn't make a sanitizer: dose and time do.",
        ),
        unused='acid_ph=""',
        when_unused=_NOT_STATED,
    ),
    Rule(
        "acetal",
        "Acid on acetal",
        "acetal_count>0",
        say(
            number("acetal_count"),
            " of these parts: acetal (POM) that soaks in acid, or has it dried on, can crack. "
            "Rinse it off after the label's time.",
        ),
        say("No acetal (POM) of this brewery soaks in acid or has it dried on."),
        "Inferred, and resistance charts, as commonly quoted",
        "parts_count=0",
        say("No parts on the sheet Cleaning."),
    ),
    Rule(
        "caustic",
        "Caustic on aluminium",
        "caustic_count>0",
        say(
            number("caustic_count"),
            " of these parts: caustic or percarbonate cleaner eats aluminium and gives off hydrogen, which explodes. "
            "Use a cleaner made for aluminium.",
        ),
        say("No aluminium of this brewery meets caustic or percarbonate cleaner."),
        "Resistance charts, as commonly quoted",
        "parts_count=0",
        say("No parts on the sheet Cleaning."),
    ),
    Rule(
        "steel",
        "Chlorine on stainless steel",
        "steel_count>0",
        say(
            number("steel_count"),
            " of these parts: chloride pits stainless steel. The label's time at most, then "
            "rinse; never leave it overnight.",
        ),
        say("No stainless steel of this brewery meets chlorine without a rinse."),
        "Resistance charts, as commonly quoted",
        "parts_count=0",
        say("No parts on the sheet Cleaning."),
    ),
    # -- fermentation and package
    Rule(
        "rise",
        "Rise towards the end",
        f"fermentation_end_temp_in_C-fermentation_temp_in_C<{thresholds.RISE_HELPS}",
        say(
            number("temp_rise", 1),
            " ",
            cell("fermentation_per_day_unit"),
            ": a rise of ",
            number("temp_rise_wanted", 1),
            " ",
            cell("fermentation_per_day_unit"),
            " or more helps the yeast to finish and to clear diacetyl.",
        ),
        say(
            number("temp_rise", 1),
            " ",
            cell("fermentation_per_day_unit"),
            " from day ",
            number("fermentation_ramp_day_in_d"),
            " on helps the yeast to finish.",
        ),
    ),
    Rule(
        "unfinished",
        "Before it is closed",
        asks_for_a_look("package_state"),
        "package_why",
        "package_why",
        "Balling's equation; steadiness: common practice, no source",
        "latest_day<0",
        say("No reading yet on the sheet Fermentation."),
        uncertain='package_rating=""',
    ),
    Rule(
        "high_target",
        "Much carbonation",
        f'AND(package_rating="",package_target_in_vol>{thresholds.USUAL_VOLUMES})',
        say(
            number("package_target_in_vol", 1),
            f" volumes: over {thresholds.USUAL_VOLUMES} needs bottles or kegs made "
            "for it. State on the sheet Package what they are rated for, and stay under it.",
        ),
        say(
            number("package_target_in_vol", 1),
            f" volumes; up to {thresholds.USUAL_VOLUMES} is what usual bottles are "
            "made for, and more is judged by what yours are rated for.",
        ),
    ),
)

_LOW_PH, _HIGH_PH = thresholds.USUAL_MASH_PH
#: where the plan states something of its water
WATER_RULES: tuple[Rule, ...] = (
    Rule(
        "mash_ph",
        "Mash pH",
        f"OR(mash_ph_now<{_LOW_PH:g},mash_ph_now>{_HIGH_PH:g})",
        pick(
            (
                'mash_ph_read<>""',
                say(
                    "pH ",
                    number("mash_ph_now", 2),
                    f" was read; {_LOW_PH:g} to {_HIGH_PH:g} is usual. See the sheet Water.",
                ),
            ),
            otherwise=say(
                "pH ",
                number("mash_ph_now", 2),
                " is estimated, ",
                number("mash_ph_low", 2),
                " to ",
                number("mash_ph_high", 2),
                f" as the malts' figures part; {_LOW_PH:g} to {_HIGH_PH:g} is usual. Measure it.",
            ),
        ),
        pick(
            (
                'mash_ph_read<>""',
                say("pH ", number("mash_ph_now", 2), f" was read, within the usual {_LOW_PH:g} to {_HIGH_PH:g}."),
            ),
            otherwise=say(
                "pH ",
                number("mash_ph_now", 2),
                f" is estimated, within the usual {_LOW_PH:g} to {_HIGH_PH:g}. Measure it.",
            ),
        ),
        unused="grain_in_kg=0",
        when_unused=say("No mash."),
        unknown='mash_ph_now=""',
        when_unknown=say(cell('IF(mash_ph_unknown<>"",mash_ph_unknown,mash_acid_unknown)'), "."),
        uncertain=f'AND(mash_ph_read="",OR(mash_ph_low<{_LOW_PH:g},mash_ph_high>{_HIGH_PH:g}))',
    ),
    Rule(
        "lime",
        "Slaked lime",
        "lime_in_g>0",
        say(
            number("lime_in_g", 1),
            " g: it is caustic, and burns skin and eyes. Goggles and gloves, what its label says, and never with acid.",
        ),
        say("No slaked lime among the salts."),
        _LABEL,
        unused="salts_count=0",
        when_unused=say("No salts."),
    ),
)
