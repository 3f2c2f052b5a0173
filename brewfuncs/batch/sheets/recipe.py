"""The recipe worked out: what its fermentables give and where they go, its two boils, and the one that is brewed.

All of it stands on Workings. The other sheets read `planned_...`, `brew_...` and `bitterness_...`, which follow the
boil that is brewed; `old_...` is the boil as found, `new_...` the shorter one. What rests on a blank is "" here: a
blank is not 0.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from brewfuncs.batch import thresholds
from brewfuncs.batch.sections import SPARGES
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import Part, cell, percent, pick, say

__all__ = [
    "BITTER",
    "METHODS",
    "Course",
    "after_boil",
    "after_boil_cells",
    "boil_verdict",
    "build",
    "goes_to",
    "mean_gravity",
    "unless_unknown",
]

#: the bittering models in the order every sheet shows them: name in formulas, in tables, in names of cells
METHODS = (
    ("tinseth", "Tinseth", "tinseth"),
    ("kinetic", "Kinetic", "kinetic"),
    ("rager smooth", "Rager smooth", "rager_smooth"),
    ("rager table", "Rager table", "rager_table"),
)
BITTER = "0;-0;"  # an empty row shows nothing

#: kinds of fermentables by words in their name, with the extract of such as it is (common practice, no source)
_KINDS = (
    ("dry extract", ("dry extract", "dried extract", "dry malt extract", "dried malt extract"), 0.95),
    ("liquid extract", ("extract",), 0.78),
    ("syrup", ("syrup", "honey"), 0.78),
    ("sugar", ("sugar", "sucrose", "dextrose", "glucose"), 1.0),
    ("crystal malt", ("crystal", "caramel"), 0.74),
    ("roasted grain", ("roast", "chocolate", "black"), 0.68),
    ("wheat malt", ("wheat",), 0.80),
    ("flaked grain", ("flaked", "rolled", "oats"), 0.70),
)
_BASE_MALT, _BASE_YIELD = "base malt", 0.78
_DISSOLVED = ("dry extract", "liquid extract", "syrup", "sugar")  # that need no mash
_NO_PRECURSOR = ("sugar", "syrup")  # that bring no precursor of DMS


def build(workings: Workings) -> None:
    _malts(workings)
    _wort(workings)
    _hops(workings)
    _brewed(workings)


def goes_to(name: str, stated: str | None) -> str:
    """Where a fermentable goes, as the sheet works it out: what is stated, else by the kind that its name tells."""
    kinds = (kind for kind, words, _ in _KINDS if any(word in name.casefold() for word in words))
    return stated or ("kettle" if next(kinds, _BASE_MALT) in _DISSOLVED else "mash")


def _any(name: str, words: tuple[str, ...]) -> str:
    return "OR(" + ",".join(f'{name}="{word}"' for word in words) + ")"


# -- fermentables ----------------------------------------------------------------------------------------------------


def _malts(workings: Workings) -> None:
    kind = "malt_{n}_sort"
    by_name = pick(
        ("malt_{n}_kg=0", '""'),
        *(
            ("OR(" + ",".join(f'ISNUMBER(SEARCH("{word}",malt_{{n}}_name))' for word in words) + ")", f'"{name}"')
            for name, words, _ in _KINDS
        ),
        otherwise=f'"{_BASE_MALT}"',
    )
    usual = pick(*((f'{kind}="{name}"', f"{share:g}") for name, _, share in _KINDS), otherwise=f"{_BASE_YIELD:g}")
    workings.rows(
        "malts",
        "Fermentables: kind, where each goes, its extract and how much of it arrives (kg)",
        {
            "malt_{n}_kg": ('=IF(malt_{n}_mass="",0,malt_{n}_mass_in_kg)', "0.00"),
            kind: (f"={by_name}", "General"),
            "malt_{n}_goes_to": (
                f'=IF(malt_{{n}}_goes<>"",malt_{{n}}_goes,IF({_any(kind, _DISSOLVED)},"kettle","mash"))',
                "General",
            ),
            "malt_{n}_extract": (f'=IF(malt_{{n}}_yield<>"",0+malt_{{n}}_yield,{usual})', "0.0 %"),
            "malt_{n}_mash_kg": ('=IF(malt_{n}_goes_to="mash",malt_{n}_kg,0)', "0.00"),
            "malt_{n}_kettle_kg": ('=IF(malt_{n}_goes_to="kettle",malt_{n}_kg,0)', "0.00"),
            "malt_{n}_fermenter_kg": ('=IF(malt_{n}_goes_to="fermenter",malt_{n}_kg,0)', "0.00"),
            "malt_{n}_mash_extract": ("=malt_{n}_mash_kg*malt_{n}_extract*mash_efficiency", "0.00"),
            "malt_{n}_kettle_extract": ("=malt_{n}_kettle_kg*malt_{n}_extract", "0.00"),
            "malt_{n}_fermenter_extract": ("=malt_{n}_fermenter_kg*malt_{n}_extract", "0.00"),
        },
        {
            "malt_{n}_kg": "malts_kg",
            "malt_{n}_extract": "malts_extract",
            "malt_{n}_mash_kg": "malts_mash_kg",
            "malt_{n}_kettle_kg": "malts_kettle_kg",
            "malt_{n}_fermenter_kg": "malts_fermenter_kg",
            "malt_{n}_mash_extract": "malts_mash_extract",
            "malt_{n}_kettle_extract": "malts_kettle_extract",
            "malt_{n}_fermenter_extract": "malts_fermenter_extract",
        },
    )
    assumed = pick(
        ("malt_{n}_kg=0", '""'),
        ('malt_{n}_yield=""', say("; ", cell("malt_{n}_label"), ": ", percent("malt_{n}_extract"), " extract, as ",
                                  cell(kind))),
        ('AND(malt_{n}_goes="",malt_{n}_goes_to<>"mash")', say("; ", cell("malt_{n}_label"), ": into the kettle")),
    )  # fmt: skip
    workings.rows(
        "malts",
        "Fermentables: colour, DMS precursor, and what isn't stated (1: missing)",
        {
            "malt_{n}_label": ('=IF(malt_{n}_name="","Row {n}",malt_{n}_name)', "General"),
            "malt_{n}_lovibond": ('=IF(malt_{n}_color="",0,malt_{n}_color_in_Lovibond)', "0.0"),
            "malt_{n}_dms": ("=0+malt_{n}_precursor", "0.0"),
            "malt_{n}_boiled_kg": ("=malt_{n}_mash_kg+malt_{n}_kettle_kg", "0.00"),
            "malt_{n}_no_mass": ('=IF(AND(malt_{n}_name<>"",malt_{n}_mass=""),1,0)', "0"),
            "malt_{n}_no_color": ('=IF(AND(malt_{n}_kg>0,malt_{n}_color=""),1,0)', "0"),
            "malt_{n}_no_precursor": (
                f'=IF(AND(malt_{{n}}_boiled_kg>0,malt_{{n}}_precursor="",NOT({_any(kind, _NO_PRECURSOR)})),1,0)',
                "0",
            ),
            "malt_{n}_assumed": (f"={assumed}", "General"),
        },
        {
            "malt_{n}_label": "malts_label",
            "malt_{n}_lovibond": "malts_lovibond",
            "malt_{n}_dms": "malts_dms",
            "malt_{n}_boiled_kg": "malts_boiled_kg",
            "malt_{n}_no_mass": "malts_no_mass",
            "malt_{n}_no_color": "malts_no_color",
            "malt_{n}_no_precursor": "malts_no_precursor",
        },
    )
    rows = range(1, workings.count("malts") + 1)
    workings.cells(
        "Fermentables: what isn't stated, in words; blank where all is",
        {
            "malts_unknown": (
                "="
                + pick(
                    ("SUM(malts_no_mass)>0", say(_first("malts_no_mass", "malts_label"), " has no mass yet")),
                    ("fermentables_in_kg=0", say("No malt yet")),
                ),
                "General",
            ),
            "color_unknown": (
                "="
                + pick(
                    ('malts_unknown<>""', "malts_unknown"),
                    ("SUM(malts_no_color)>0", say(_first("malts_no_color", "malts_label"), " states no colour")),
                ),
                "General",
            ),
            "precursor_unknown": (
                "="
                + pick(
                    ('malts_unknown<>""', "malts_unknown"),
                    ("SUM(malts_no_precursor)>0",
                     say(_first("malts_no_precursor", "malts_label"), " states no DMS precursor")),
                ),
                "General",
            ),
            "malts_assumed": ("=MID(" + "&".join(f"malt_{n}_assumed" for n in rows) + ",3,400)", "General"),
        },
    )  # fmt: skip


def _first(flags: str, labels: str) -> Part:
    """The name in the first row that is flagged."""
    return cell(f"INDEX({labels},MATCH(1,{flags},0))")


# -- wort ------------------------------------------------------------------------------------------------------------


def _wort(workings: Workings) -> None:
    """By conservation of mass and extract: what arrives in the kettle, and what the fermenter gets."""
    density = "WATER_DENSITY(20)"
    plain = "AND(kettle_topup_in_L=0,fermenter_fermentables_in_kg=0)"

    def scaled(kettle_gravity: str) -> str:
        """The factor on all masses that brings the gravity wanted, at so heavy a wort at the end of the boil; none
        where no extract reaches the fermenter."""
        return (
            f'=IF(kettle_extract*sent_share+fermenter_extract=0,"",(sent_volume*{kettle_gravity}+kettle_topup_in_L)'
            f"*{density}*wanted_share/(kettle_extract*sent_share+fermenter_extract-wanted_share*"
            "fermenter_fermentables_in_kg))"
        )

    def after(factor: str) -> str:
        return f"WORT_GRAVITY_OF_EXTRACT({factor}*kettle_extract,batch_volume_in_L)"

    workings.cells(
        "Wort: kg of fermentables and of extract, gravities, and what the fermenter gets",
        {
            "grain_in_kg": ("=SUM(malts_mash_kg)", "0.00"),
            "kettle_fermentables_in_kg": ("=SUM(malts_kettle_kg)", "0.00"),
            "fermenter_fermentables_in_kg": ("=SUM(malts_fermenter_kg)", "0.00"),
            "fermentables_in_kg": ("=SUM(malts_kg)", "0.00"),
            "mash_extract": ("=SUM(malts_mash_extract)", "0.000"),
            "kettle_extract": ("=mash_extract+SUM(malts_kettle_extract)", "0.000"),
            "fermenter_extract": ("=SUM(malts_fermenter_extract)", "0.000"),
            "sent_volume": ("=MAX(0,batch_volume_in_L-kettle_loss_in_L)", "0.00"),
            "sent_share": ("=sent_volume/batch_volume_in_L", "0.0 %"),
            "wanted_share": ("=WORT_PLATO(batch_gravity_in_SG)/100", "0.00 %"),
            # the gravity at the end of the boil that leads to the one wanted in the fermenter
            "kettle_wanted": (
                f"=IF(OR({plain},sent_volume=0),batch_gravity_in_SG,WORT_GRAVITY(MAX(0,wanted_share*(sent_volume*"
                f"batch_gravity_in_SG*{density}+kettle_topup_in_L*{density}+fermenter_fermentables_in_kg)-"
                f"fermenter_extract)/(sent_volume*batch_gravity_in_SG*{density})*100))",
                "0.0000",
            ),
            # without malts the gravity wanted stands in, so that hops and water can be planned
            "kettle_gravity": (
                '=IF(malts_unknown<>"",kettle_wanted,WORT_GRAVITY_OF_EXTRACT(kettle_extract,batch_volume_in_L))',
                "0.0000",
            ),
            "sent_mass": (f"=sent_volume*kettle_gravity*{density}", "0.00"),
            "pitch_mass": (
                f"=sent_mass+kettle_topup_in_L*{density}+fermenter_fermentables_in_kg",
                "0.00",
            ),
            "pitch_gravity_planned": (
                f"=IF({plain},kettle_gravity,WORT_GRAVITY(100*(WORT_EXTRACT(sent_volume,"
                "kettle_gravity)+fermenter_extract)/pitch_mass))",
                "0.0000",
            ),
            "pitch_volume_planned": (
                f"=IF({plain},sent_volume,pitch_mass/(pitch_gravity_planned*{density}))",
                "0.00",
            ),
            "dilution": ("=IF(sent_volume=0,1,pitch_volume_planned/sent_volume)", "0.000"),
            # all the wort as if it had been topped up with the rest: what colour, hops and DMS are spread over
            "wort_volume": ("=batch_volume_in_L*dilution", "0.00"),
            "scale_at_first": (scaled("kettle_wanted"), "0.000"),
            "scale_then": (scaled(after("scale_at_first")), "0.000"),
            "malts_scale": (f'=IF(malts_unknown<>"","",{scaled(after("scale_then"))[1:]})', "0.000"),
            "boil_rate_used": ('=IF(boil_kettle="covered",0,kettle_boil_off_in_L_h)', "0.00"),
            "precursor_load": ("=DMS_LOAD(malts_dms,malts_boiled_kg,wort_volume)", "0"),
        },
    )


# -- the hot side -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Course:
    """The hot side of a batch, by the names of cells: boil, a stand, and chilling under a lid."""

    minutes: str
    evaporation: str
    load: str = "precursor_load"
    stand_minutes: str = "stand_minutes"
    stand_at: str = "stand_at"
    chill_minutes: str = "chill_time_in_min"
    cooling: str = "chill_cooling_in_per_min"

    def _after_boil(self, volatility: str, half_life: str) -> str:
        return (
            f"{self.chill_minutes},{self.cooling},chill_coolant_temp_in_C,{volatility},{half_life},boiling_temp_in_C,"
            f"{self.stand_minutes},{self.stand_at},stand_evaporation)"
        )

    def dms(self, volatility: str = "dms_volatility", half_life: str = "dms_precursor_half_life_in_min") -> str:
        """DMS at pitching."""
        return f"DMS_AT_PITCH({self.load},{self.minutes},{self.evaporation},{self._after_boil(volatility, half_life)}"

    def needed(self, volatility: str = "dms_volatility", half_life: str = "dms_precursor_half_life_in_min") -> str:
        """The shortest boil that keeps within the DMS limit."""
        after = self._after_boil(volatility, half_life)
        return f"DMS_BOIL_MINUTES({self.load},dms_limit_in_ug_L,{self.evaporation},{after}"

    def equivalent(self) -> str:
        """Minutes of boiling that turn as much alpha acid bitter as the hot time after the boil."""
        return (
            f"HOP_EQUIVALENT_MINUTES({self.chill_minutes},chill_coolant_temp_in_C,{self.cooling},boiling_temp_in_C,"
            f"{self.stand_minutes},{self.stand_at})"
        )

    def hop_bitterness(self, grams: str, minutes: str, volume: str, gravity: str, method: str, after: str) -> str:
        """Bitterness of an addition, in the boil or to the stand. `method` is a text of a formula, `after` the minutes
        of boiling that the hot time after the boil is worth to it."""
        return (
            f"IF(hop_{{n}}_stands=0,HOP_BITTERNESS({grams},hop_{{n}}_alpha,MIN(240,{minutes}+{after}),{volume},{gravity},"
            f"{method},boiling_temp_in_C),HOP_STAND_BITTERNESS({grams},hop_{{n}}_alpha,{minutes},MIN(hop_{{n}}_stand_at,"
            f"boiling_temp_in_C),{volume},0.5,{self.chill_minutes},chill_coolant_temp_in_C,{self.cooling}))"
        )

    def cells(self, name: str, needed: str = "") -> dict[str, tuple[str, str]]:
        """Cells of Workings: DMS by the values set, and how far papers part, volatility and half-life together; the
        same of the boil that is `needed`, where it has a name."""
        badly, easily = map(str, thresholds.DMS_VOLATILITY)
        lives = [f"{life:g}" for life in thresholds.DMS_HALF_LIFE]

        def both(part: str, of: Callable[[str, str], str], volatility: str, own: str) -> str:
            return f"{part}({own},{','.join(of(volatility, life) for life in lives)})"

        found = {
            name: (unless_unknown("precursor_unknown", self.dms()), "0"),
            f"{name}_low": (unless_unknown("precursor_unknown", both("MIN", self.dms, easily, name)), "0"),
            f"{name}_high": (unless_unknown("precursor_unknown", both("MAX", self.dms, badly, name)), "0"),
        }
        if needed:
            unknown = 'IF(boil_rate_used=0,"covered",precursor_unknown)'
            found[needed] = (unless_unknown(unknown, self.needed()), "0")
            low, high = both("MIN", self.needed, easily, needed), both("MAX", self.needed, badly, needed)
            found[f"{needed}_low"] = (unless_unknown(unknown, low), "0")
            found[f"{needed}_high"] = (unless_unknown(unknown, high), "0")
        return found


#: of the boil as found, and of what any boil of this plan has in common: stand and chill
AS_FOUND = Course("boil_time_in_min", "old_evaporation")


# -- hops as found ---------------------------------------------------------------------------------------------------


def mean_gravity(minutes: str) -> str:
    """Of the wort from an addition with so many minutes to go until the end of the boil."""
    return (
        f"(WORT_PREBOIL_GRAVITY(batch_volume_in_L,kettle_gravity,BOIL_OFF(boil_rate_used,{minutes}))+kettle_gravity)/2"
    )


def _hops(workings: Workings) -> None:
    too_hot = f"AND(hop_{{n}}_stands=1,hop_{{n}}_stand_at>boiling_temp_in_C+{thresholds.STAND_OVER_BOIL:g})"
    columns = {
        "hop_{n}_label": ('=IF(hop_{n}_name="","Row {n}",hop_{n}_name)', "General"),
        "hop_{n}_g": ('=IF(hop_{n}_mass="",0,hop_{n}_mass_in_g)', "0.0"),
        "hop_{n}_stands": ('=IF(hop_{n}_stand_temp="",0,1)', "0"),
        "hop_{n}_stand_at": ('=IF(hop_{n}_stand_temp="",0,hop_{n}_stand_temp_in_C)', "0.0"),
        "hop_{n}_timed": (
            f'=IF(OR(hop_{{n}}_alpha="",hop_{{n}}_time="",{too_hot}),0,1)',
            "0",
        ),
        "hop_{n}_missing": (
            '=IF(AND(hop_{n}_name="",hop_{n}_mass=""),0,IF(OR(hop_{n}_mass="",AND(hop_{n}_g>0,hop_{n}_timed=0)),1,0))',
            "0",
        ),
        "hop_{n}_counts": ("=IF(AND(hop_{n}_g>0,hop_{n}_timed=1),1,0)", "0"),
        "hop_{n}_stand_minutes": ("=IF(hop_{n}_stands*hop_{n}_counts=1,0+hop_{n}_time,0)", "0"),
        "hop_{n}_stood_at": ("=IF(hop_{n}_stand_minutes>0,hop_{n}_stand_at,0)", "0.0"),
        "hop_{n}_boiled": ("=IF(hop_{n}_stands=1,0,MIN(0+hop_{n}_time,boil_time_in_min))", "0"),
        "hop_{n}_own_minutes": ("=IF(hop_{n}_stands=1,0+hop_{n}_time,hop_{n}_boiled)", "0"),
        "hop_{n}_mean_gravity": (f"={mean_gravity('hop_{n}_boiled')}", "0.0000"),
    }
    workings.rows(
        "hops",
        "Hops as found: what is stated (timed: alpha acid and time; missing: something is), time in the boil",
        columns,
        {
            "hop_{n}_label": "hops_label",
            "hop_{n}_stood_at": "hops_stood_at",
            "hop_{n}_missing": "hops_missing",
            "hop_{n}_counts": "hops_counts",
            "hop_{n}_stands": "hops_stands",
            "hop_{n}_stand_minutes": "hops_stand_minutes",
        },
    )
    workings.rows(
        "hops",
        "Hops as found: bitterness by each method, and what 1 g more would add by the method chosen",
        {
            **{f"hop_{{n}}_{name}": (_bitterness(method), BITTER) for method, _, name in METHODS},
            "hop_{n}_per_gram": (
                "=IF(hop_{n}_timed=0,0,"
                + _from_mass("1", "batch_bittering", 'IF(batch_bittering="kinetic",after_boil_kinetic,after_boil)')
                + ")",
                "0.000",
            ),
        },
        {f"hop_{{n}}_{name}": f"hops_{name}" for _, _, name in METHODS},
    )
    found = ",".join(f"SUM(hops_{name})" for _, _, name in METHODS)
    workings.cells(
        "Hops",
        {
            "hops_count": ("=SUM(hops_counts)", "0"),
            "hops_unknown": (
                "="
                + pick(
                    (
                        "SUM(hops_missing)>0",
                        say(
                            cell("INDEX(hops_label,MATCH(1,hops_missing,0))"),
                            ": mass, alpha acid or time is missing, or its stand is hotter than the boil",
                        ),
                    ),
                    ("hops_count=0", say("No hops yet")),
                ),
                "General",
            ),
            "method_number": (
                "=" + pick(*((f'batch_bittering="{m}"', str(i)) for i, (m, _, _) in enumerate(METHODS[1:], 2)),
                           otherwise="1"),
                "0",
            ),
            "found_bitterness": (f"=CHOOSE(method_number,{found})", "0.0"),
            "stand_minutes": (
                '=IF(stand_time="",MAX(hops_stand_minutes),stand_time_in_min)',
                "0",
            ),
            "stand_at": (
                '=IF(stand_minutes=0,boiling_temp_in_C,MIN(boiling_temp_in_C,IF(stand_temp<>"",stand_temp_in_C,IF('
                "MAX(hops_stood_at)>0,MAX(hops_stood_at),boiling_temp_in_C))))",
                "0.0",
            ),
            "stand_evaporation": (
                f"=MIN({thresholds.EVAPORATION_ANSWERED:g},stand_boil_off_in_L_h/batch_volume_in_L)",
                "0.0 %",
            ),
            **after_boil_cells(AS_FOUND),
        },
    )  # fmt: skip


def _from_mass(grams: str, method: str, after: str) -> str:
    """Bitterness of some grams in the boil as found; `method` is a text of a formula."""
    return AS_FOUND.hop_bitterness(grams, "hop_{n}_own_minutes", "wort_volume", "hop_{n}_mean_gravity", method, after)


def after_boil(method: str, course: str = "") -> str:
    """The cell with the minutes that the hot time after the boil is worth to a bittering model."""
    return f"{course}after_boil_kinetic" if method == "kinetic" else f"{course}after_boil"


def after_boil_cells(course: Course, prefix: str = "") -> dict[str, tuple[str, str]]:
    """What the hot time after the boil is worth, as minutes of boiling. The kinetics count all of it; the others come
    from breweries that chilled, so that only what goes beyond a usual chill is new to them."""
    usual = thresholds.USUAL_CHILL
    return {
        f"{prefix}after_boil_kinetic": (f"={course.equivalent()}", "0.0"),
        f"{prefix}after_boil": (f"=MAX(0,{prefix}after_boil_kinetic-{usual:g})", "0.0"),
    }


def _bitterness(method: str) -> str:
    found = _from_mass("hop_{n}_g", f'"{method}"', after_boil(method))
    return f"=IF(hop_{{n}}_counts=0,0,{found})"


# -- what is brewed --------------------------------------------------------------------------------------------------


def unless_unknown(unknown: str, formula: str) -> str:
    """A formula that gives nothing while what it rests on isn't known."""
    return f'=IF({unknown}<>"","",{formula})'


def boil_verdict(minutes: str, dms: str, needed: str) -> str:
    """One verdict for the length of a boil: too short, uncertain, long enough, longer than needed, or unknown."""
    limit = "dms_limit_in_ug_L"
    long = f"{thresholds.LONGER_THAN_NEEDED}+MAX({thresholds.USUAL_SHORT_BOIL},{needed}_high)"
    return pick(
        (f"{minutes}<{thresholds.SHORTEST_BOIL}", say("too short")),
        ('precursor_unknown<>""', say("unknown")),
        (f"{dms}_low>{limit}", say("too short")),
        (f"{dms}_high>{limit}", say("uncertain")),
        (f"IF(boil_rate_used=0,FALSE,{minutes}>{long})", say("longer than needed")),
        otherwise=say("long enough"),
    )


def _lauter() -> dict[str, tuple[str, str]]:
    """The bound that mash and sparge water set to the efficiency, and how the one assumed stands against it. Where it
    isn't stated in how many batches, one batch and continuous sparging are the ends."""
    given = 'OR(malts_unknown<>"",grain_in_kg=0)'
    most = max(SPARGES.values())

    def bound(batches: str) -> str:
        return (
            f"MASH_LAUTER_EFFICIENCY(malts_mash_kg,malts_extract,strike_water_in_L,sparge_water_in_L,{batches},"
            "mash_absorption_in_L_kg,mash_loss_in_L)"
        )

    return {
        "sparge_batches": (
            "="
            + pick(
                *((f'mash_sparge="{word}"', str(count)) for word, count in SPARGES.items() if count < most),
                otherwise=f"{most}",
            ),
            "0",
        ),
        # batches are stated, or there is no sparge at all: otherwise the bound isn't one
        "lauter_is_bound": (
            f"=IF({given},0,IF(OR(sparge_water_in_L=0,sparge_batches<{most}),1,0))",
            "0",
        ),
        "lauter_bound": (
            f'=IF({given},"",IF(ISERROR({bound("sparge_batches")}),"",{bound("sparge_batches")}))',
            "0.0 %",
        ),
        "lauter_one": (f'=IF({given},"",IF(ISERROR({bound("1")}),"",{bound("1")}))', "0.0 %"),
        "lauter_unknown": (
            "="
            + pick(
                ('malts_unknown<>""', "malts_unknown"),
                (
                    'AND(grain_in_kg>0,lauter_bound="")',
                    say("so much grain holds all of the water, or the wort is too strong"),
                ),
            ),
            "General",
        ),
        "lauter_too_much": ('=IF(lauter_bound="",0,IF(AND(lauter_is_bound=1,mash_efficiency>lauter_bound),1,0))', "0"),
        # assumed is more than one batch brings where it isn't stated, or more than many do
        "lauter_unsure": (
            '=IF(OR(lauter_bound="",lauter_is_bound=1),0,IF(mash_efficiency>IF(mash_sparge="",lauter_one,lauter_bound),1,0))',
            "0",
        ),
    }


def _brewed(workings: Workings) -> None:
    new = "shorter_is_brewed=1"

    def either(name: str) -> str:
        return f"=IF({new},new_{name},old_{name})"

    workings.cells(
        "The boil that is brewed",
        {
            "shorter_is_brewed": ('=IF(shorter_brewed="shorter",1,0)', "0"),
            "brewed_minutes": (f"=IF({new},shorter_time_in_min,boil_time_in_min)", "0"),
            "brewed_evaporated": (either("evaporated_in_L"), "0.00"),
            "brewed_preboil_volume": (either("preboil_volume_in_L"), "0.00"),
            "brewed_preboil_gravity": (either("preboil_gravity_in_SG"), "0.0000"),
            "evaporation_share": (either("evaporation"), "0.0 %"),
            "runoff_mass": (
                "=brewed_preboil_volume*brewed_preboil_gravity*WATER_DENSITY(20)-kettle_fermentables_in_kg",
                "0.00",
            ),
            "runoff_volume": (
                "=IF(kettle_fermentables_in_kg=0,brewed_preboil_volume,runoff_mass/(WORT_GRAVITY(100*mash_extract/"
                "runoff_mass)*WATER_DENSITY(20)))",
                "0.00",
            ),
        },
    )
    workings.cells("Mash and sparge: share of the malts' extract that can reach the kettle", _lauter())
    course = Course("brewed_minutes", "evaporation_share")
    workings.cells("DMS of what is brewed (µg/L), and the boil it asks for", course.cells("dms_planned", "boil_needed"))
    workings.cells(
        "Verdict on the boil",
        {"boil_verdict": ("=" + boil_verdict("brewed_minutes", "dms_planned", "boil_needed"), "General")},
    )
    workings.rows(
        "hops",
        "Hops as brewed: g, minutes, mean gravity, and the bitterness by each method",
        {
            "brew_{n}_g": (f"=IF(hop_{{n}}_counts=0,0,IF({new},new_{{n}}_mass_in_g,hop_{{n}}_g))", "0.0"),
            "brew_{n}_minutes": (
                f"=IF(hop_{{n}}_stands=1,0+hop_{{n}}_time,IF({new},new_{{n}}_time,hop_{{n}}_boiled))",
                "0",
            ),
            **{
                f"brew_{{n}}_{name}": (f"=IF({new},new_{{n}}_{name},hop_{{n}}_{name})", BITTER)
                for _, _, name in METHODS
            },
        },
        {"brew_{n}_g": "brew_g"} | {f"brew_{{n}}_{name}": f"brew_{name}" for _, _, name in METHODS},
    )
    sums = ",".join(f"bitterness_{name}" for _, _, name in METHODS)
    workings.cells(
        "Bitterness of what is brewed",
        {
            **{f"bitterness_{name}": (f"=SUM(brew_{name})", "0.0") for _, _, name in METHODS},
            "bitterness_planned": (unless_unknown("hops_unknown", f"CHOOSE(method_number,{sums})"), "0.0"),
            "bitterness_low": (unless_unknown("hops_unknown", f"MIN({sums})"), "0.0"),
            "bitterness_high": (unless_unknown("hops_unknown", f"MAX({sums})"), "0.0"),
        },
    )
