"""Water: what the brewing water holds, the pH of the mash it makes, and the acid and salts that bring the one wanted.

Made only where the plan states something of its water. What isn't stated stays unknown, with the reason; the pH of a
mash is an estimate, and a reading takes its place.
"""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch import thresholds
from brewfuncs.batch.block import Block
from brewfuncs.batch.draft import Draft
from brewfuncs.batch.page import Column, Page, Result
from brewfuncs.batch.sections import find_section
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import Part, cell, look, number, pick, say

__all__ = ["build"]

# wider than usual on the right, for the malts' names and kinds
_WIDTHS = {"A": 1.5, "B": 25, "C": 10, "D": 10, "E": 11, "F": 8.5, "G": 2,
           "H": 17, "I": 14.5, "J": 13, "K": 11.5, "L": 11.5, "M": 8}  # fmt: skip
#: what is dissolved, by the key of the plan, and as WATER_SALT names it
_IONS = {"calcium": "Ca", "magnesium": "Mg", "sodium": "Na", "chloride": "Cl", "sulfate": "SO4"}
#: the waters that are told, with the volume of each and the salts in it
_WATERS = (
    ("blend", "Blended, without salts", "water_in_L", ""),
    ("mash_water", "In the mash", "strike_water_in_L", "mash"),
    ("sparge_water", "In the sparge", "sparge_water_in_L", "sparge"),
)
#: a malt's kind for its pH by words in its name, the first that fits; "" is none that is known
_KINDS = (
    ("", ("flaked", "rolled", "oat", "rye", "unmalted", "raw", "torrified")),
    ("acidulated", ("acidulated", "acid malt")),
    ("roasted", ("roast", "chocolate", "black")),
    ("wheat", ("wheat",)),
    ("munich", ("munich",)),
    ("vienna", ("vienna",)),
    ("pilsner", ("pils", "lager")),
    ("pale", ("pale",)),
)
_CARAMEL = ("crystal", "caramel")
_LIGHT_CARAMEL, _DARK_CARAMEL = 20, 60  # °L, as MASH_MALT_PH tells them apart
_NO_PART = ("sugar", "syrup")  # that take no part in a mash's pH
_HARDLY_ANY = 6  # mg/L of alkalinity as CaCO3: more than hydroxide alone gives water of pH 10
_ENDS = ("low", "typical", "high")


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Water", "Water", widths=_WIDTHS)
    page.notes(
        "Acids burn skin and eyes: goggles and gloves, and acid into water, never water into acid. Neither acid nor "
        "metabisulfite may meet a chlorine cleaner, nor one another undiluted: they give off poisonous gas. The label "
        "comes first.",
    )
    page.row += 1
    left, right = page.columns()
    _inputs(left)
    _mash(right)
    _sparge(right)
    _tap(right)
    page.skip_to(left, right)
    _waters(page)
    page.row += 1
    _tables(page)
    page.row += 1
    page.notes(
        "Weigh salts and acid on a scale made for grams. Salts are taken as wholly dissolved: chalk hardly dissolves, "
        "and calcium chloride draws water, so that an open packet holds less. Slaked lime is caustic: gloves and "
        "goggles. Mineral contents are told before any acid; distilled water is taken to leave the tap's pH as it is.",
        "The mash's pH is a balance of charges between the malts' buffers and residual alkalinity (Kolbach 1953, as "
        "commonly quoted), of a sample cooled to 25 °C. Add half of the acid, stir, measure, then the rest. A usual "
        f"mash has pH {thresholds.USUAL_MASH_PH[0]:g} to {thresholds.USUAL_MASH_PH[1]:g} (common practice, no source).",
    )
    _workings(workings)


# -- inputs ----------------------------------------------------------------------------------------------------------


def _inputs(block: Block) -> None:
    block.section("Tap water")
    for key in ("calcium", "magnesium", "hardness", "sodium", "chloride", "sulfate", "alkalinity", "ph", "chlorine",
                "metabisulfite", "distilled"):  # fmt: skip
        block.input(f"water.{key}")
    block.gap()
    block.section("Acid")
    for key in ("mash_ph", "mash_acid", "mash_acid_share", "mash_acid_density", "mash_acid_mass", "sparge_ph",
                "sparge_acid", "sparge_acid_share", "sparge_acid_density"):  # fmt: skip
        block.input(f"water.{key}")
    block.gap()
    block.section("Measured")
    block.measurement("mashed.mash_ph_read")


def _tables(page: Page) -> None:
    """Salts on the left, malts on the right."""
    row = page.row
    page.section("Salts", "B", "F")
    page.table("salts", {"name": Column("B"), "mass": Column("C"), "into": Column("D")})
    page.row = row
    page.section("Malts, for the mash's pH", "H")
    page.table(
        "malts",
        {
            "kind": Column("J", head="Kind, by name if blank"),
            "ph": Column("K", head="pH, if measured"),
            "buffering": Column("L", head="Buffering, if measured"),
        },
        [
            Result("H", "Malt", '=IF(malt_{n}_ph_kg=0,"",malt_{n}_label)', look="text", name="malt_{n}_named"),
            Result(
                "I",
                "taken as",
                '=IF(malt_{n}_ph_kg=0,"",IF(malt_{n}_ph_missing=1,"Look: not known",IF(AND(malt_{n}_ph<>"",'
                'malt_{n}_buffering<>""),"measured",malt_{n}_ph_kind)))',
                look="text",
                name="malt_{n}_taken_as",
            ),
            Result(
                "M",
                "pH in use",
                '=IF(OR(malt_{n}_ph_kg=0,malt_{n}_ph_missing=1),"",malt_{n}_ph_typical)',
                "pH",
                "0.00",
                "malt_{n}_ph_taken",
                look="value",
            ),
        ],
    )
    page.look_here(f"I{page.row - find_section('malts').rows}:I{page.row - 1}")


# -- results ---------------------------------------------------------------------------------------------------------


def _unless(*unknown: str) -> str:
    """A condition: one of these reasons isn't "", or one of these cells is blank."""
    return "OR(" + ",".join(unknown) + ")"


def _mash(block: Block) -> None:
    block.section("The mash, by an estimate")
    block.result(
        "mash_ph_without",
        "pH without acid",
        f'=IF(mash_ph_unknown<>"","",MASH_PH({_GRIST},mash_water_residual_in_mg_L))',
        units.Ph,
        blank=True,
    )
    block.result(
        "mash_ph_forecast",
        "pH with the acid planned",
        f'=IF(OR(mash_ph_unknown<>"",mash_acid_unknown<>""),"",IF(acid_planned=0,mash_ph_without,'
        f"MASH_PH({_GRIST},mash_water_residual_in_mg_L,acid_planned,water_mash_acid,water_mash_acid_share)))",
        units.Ph,
        note="As the malts and the water lead to it. Measure.",
        blank=True,
    )
    _sentence(block, "mash_ph_says", _mash_says())
    _acid(
        block,
        "mash_acid",
        "Acid for the pH wanted",
        f'=IF(OR(water_mash_ph="",mash_ph_unknown<>"",water_mash_acid_share=""),"",IF(mash_ph_without<=water_mash_ph,0,'
        f"MASH_ACID({_GRIST},mash_water_residual_in_mg_L,water_mash_ph,water_mash_acid,water_mash_acid_share)))",
        "mash_acid_density",
    )
    _sentence(block, "mash_acid_says", _mash_acid_says())
    block.result(
        "mash_ph_apart",
        "Read, less the estimate",
        '=IF(OR(mash_ph_read="",mash_ph_forecast=""),"",mash_ph_read-mash_ph_forecast)',
        units.Ph,
        number="+0.00;-0.00;0.00",
        blank=True,
    )
    _acid(
        block,
        "mash_acid_more",
        "Acid still to add",
        '=IF(OR(mash_ph_read="",water_mash_ph="",mash_ph_unknown<>"",water_mash_acid_share=""),"",IF(mash_ph_read<='
        "water_mash_ph,0,MASH_ACID(grist_in_kg,mash_ph_read,grist_buffering,strike_water_in_L,0,water_mash_ph,"
        "water_mash_acid,water_mash_acid_share)))",
        "mash_acid_density",
        "From the pH that was read to the one wanted, by the malts' buffering.",
    )
    _sentence(block, "mash_read_says", _read_says())


#: the malts as one, which has their mean pH and buffering, and the water they meet
_GRIST = "grist_in_kg,grist_ph,grist_buffering,strike_water_in_L"


def _sentence(block: Block, name: str, formula: str) -> None:
    """A sentence over the block's width, two lines high."""
    page, at = block.page, f"{block.label}{block.row}"
    page.put(at, "=" + formula, "sentence")
    page.merge(block.label, block.base, block.row, 2)
    page.look_here(f"{at}:{block.base}{block.row + 1}")
    block.book.define(name, page, at)
    block.row += 2


def _acid(block: Block, name: str, label: str, formula: str, density: str, note: str = "") -> None:
    """An acid's mass, and its volume where its density is known: `density` is the cell with it in kg/L."""
    block.result(f"{name}_mass", label, formula, units.Gram, note=note or "As sold, weighed.", number="0.0", blank=True)
    volume = f'=IF(OR({name}_mass="",{density}=""),"",{name}_mass/{density})'
    block.result(
        f"{name}_volume", "by volume", volume, units.Millilitre, note="Where its density is stated.", blank=True
    )


def _weighed(name: str) -> Part:
    """An acid's mass in a sentence, and its volume where that is known."""
    return cell(
        say(number(f"{name}_mass", 1), " g", cell(f'IF({name}_volume="","",' + say(" (", number(f"{name}_volume", 1),
                                                                                    " mL)") + ")"))
    )  # fmt: skip


def _mash_says() -> str:
    return pick(
        ("grain_in_kg=0", pick(('malts_unknown<>""', "malts_unknown"), otherwise=say("No mash."))),
        ('mash_ph_unknown<>""', look(cell("mash_ph_unknown"), ".")),
        ('mash_acid_unknown<>""', look(cell("mash_acid_unknown"), ".")),
        otherwise=say(number("mash_ph_low", 2), " to ", number("mash_ph_high", 2), " as the malts' figures part: ",
                      cell('IF(malts_by_kind=0,"all are measured","some go by their kind")'), ". Measure it."),
    )  # fmt: skip


def _mash_acid_says() -> str:
    return pick(
        ('OR(water_mash_ph="",mash_ph_unknown<>"")', '""'),
        ('water_mash_acid_share=""', look("the acid's strength isn't stated.")),
        ("mash_acid_mass=0", say("The mash is no higher than that without any acid.")),
        otherwise=say(_weighed("mash_acid"), " of ", cell("water_mash_acid"), " acid for pH ",
                      number("water_mash_ph", 2), cell('IF(mash_ph_read="",": half of it first, stir, measure, then '
                                                       'the rest."," by the estimate; go by the reading.")')),
    )  # fmt: skip


def _read_says() -> str:
    near = f"ROUND(mash_ph_read-water_mash_ph,6)<={thresholds.MASH_PH_NEAR:g}"

    def more(after: str) -> Part:
        said = say(" ", _weighed("mash_acid_more"), " more bring it to ", number("water_mash_ph", 2), after)
        return Part(pick(
            ('mash_acid_more_mass=""', '""'),
            ("mash_acid_more_mass=0", say(" It needs no more acid.")),
            (near, say(" Near enough to ", number("water_mash_ph", 2), ".")),
            otherwise=said,
        ))  # fmt: skip

    return pick(
        ('mash_ph_read=""', say("Not read yet.")),
        ('mash_ph_forecast=""', '""'),
        ("OR(mash_ph_read<mash_ph_low,mash_ph_read>mash_ph_high)",
         look("further off than the estimate can be with the acid planned in it: read again, and try the meter in its "
              "buffers.", more(", should it stay so."))),
        otherwise=say("Within what the estimate tells.",
                      more(". Once it is in, add it to Acid planned and read again.")),
    )  # fmt: skip


def _sparge(block: Block) -> None:
    block.gap()
    block.section("The sparge water")
    acid = (
        "WATER_ACID(sparge_water_in_L,sparge_water_alkalinity_in_mg_L,water_ph,water_sparge_ph,sparge_acid_kind,"
        "sparge_acid_strength)"
    )
    # only then has the function no answer; any other error is told
    too_little = f"IF(AND(sparge_water_alkalinity_in_mg_L<{_HARDLY_ANY},ISERROR({acid})),0,{acid})"
    _acid(
        block,
        "sparge_acid",
        "Acid for the pH wanted",
        f'=IF(OR(water_sparge_ph="",sparge_unknown<>""),"",IF(water_ph<=water_sparge_ph,0,{too_little}))',
        "sparge_acid_density",
    )
    _sentence(
        block,
        "sparge_says",
        pick(
            ('water_sparge_ph=""', say("Not acidified.")),
            ('malts_unknown<>""', "malts_unknown"),
            ("sparge_water_in_L=0", say("No sparge.")),
            ('sparge_unknown<>""', look(cell("sparge_unknown"), ".")),
            ("sparge_acid_mass=0", say("It is no higher than that, or holds hardly any alkalinity: no acid.")),
            otherwise=say(_weighed("sparge_acid"), " of ", cell("sparge_acid_kind"), " acid into it for pH ",
                          number("water_sparge_ph", 2), ", stirred in before the grain meets it."),
        ),
    )  # fmt: skip


def _tap(block: Block) -> None:
    block.gap()
    block.section("Before anything else")
    unless = 'IF(malts_unknown<>"","",{})'.format
    block.result("tap_water", "Tap water", "=" + unless("water_in_L*(1-water_distilled)"), units.Litre,
                 "batch_volume_unit", blank=True)  # fmt: skip
    block.result("distilled_water", "Distilled water", "=" + unless("water_in_L*water_distilled"), units.Litre,
                 "batch_volume_unit", blank=True)  # fmt: skip
    block.result(
        "metabisulfite_mass",
        "Metabisulfite",
        '=IF(OR(tap_water_in_L="",water_chlorine=""),"",WATER_SULFITE(tap_water_in_L,water_chlorine_in_mg_L,'
        "water_metabisulfite))",
        units.Gram,
        note="Into the tap water, some minutes before anything else; no more than that. An old powder holds less.",
        number="0.000",  # 6 mg for a small batch
        blank=True,
    )


def _waters(page: Page) -> None:
    """What each water holds: a row each."""
    page.section("What the water holds, before any acid")
    head, book = page.row, page.book
    columns = {
        "volume": "C",
        **dict(zip(_IONS, "DEFHI", strict=True)),
        "alkalinity": "J",
        "residual": "K",
        "ratio": "L",
    }
    heads = {"volume": "Water", "alkalinity": "Alkalinity", "residual": "Residual alkalinity", "ratio": "Sulfate over "
             "chloride"} | {key: key.capitalize() for key in _IONS}  # fmt: skip
    page.sheet.row_dimensions[head].height = 42
    for key, letter in columns.items():
        page.put(f"{letter}{head}", heads[key], "head")
        unit = {"volume": "=batch_volume_unit", "ratio": ""}.get(
            key, "mg/L" if key in _IONS else "=water_alkalinity_unit"
        )
        page.put(f"{letter}{head + 1}", unit, "unit right")
    for row, (water, label, volume, _) in enumerate(_WATERS, head + 2):
        page.put(f"B{row}", label, "label")
        shown = f'=IF({volume}="","",UNIT_CONVERT({volume},"L",batch_volume_unit))'
        page.put(f"C{row}", shown, "value", "[<10]0.00;0.0")
        book.define(f"{water}_volume", page, f"C{row}")
        for key in _IONS:
            page.put(f"{columns[key]}{row}", f"={water}_{key}_in_mg_L", "result", "0")
            book.define(f"{water}_{key}", page, f"{columns[key]}{row}")
        for key in ("alkalinity", "residual"):
            inner = f"{water}_{key}_in_mg_L"
            shown = f'=IF({inner}="","",UNIT_CONVERT({inner},"mg/L",water_alkalinity_unit))'
            page.put(f"{columns[key]}{row}", shown, "result", "[>=10]0;0.0")
            book.define(f"{water}_{key}", page, f"{columns[key]}{row}")
        chloride, sulfate = f"{water}_chloride_in_mg_L", f"{water}_sulfate_in_mg_L"
        ratio = f'=IF(OR({chloride}="",{sulfate}=""),"",IF({chloride}=0,"",{sulfate}/{chloride}))'
        page.put(f"{columns['ratio']}{row}", ratio, "result", "0.0")
        book.define(f"{water}_ratio", page, f"{columns['ratio']}{row}")
    page.row = head + 2 + len(_WATERS)
    _says_unknown(page)


def _says_unknown(page: Page) -> None:
    """What is missing, in one line; blank where nothing is."""
    at = f"B{page.row}"
    page.put(at, '=IF(waters_unknown="","",' + look(cell("waters_unknown"), ".") + ")", "state")
    page.merge("B", "M", page.row)
    page.look_here(f"{at}:M{page.row}")
    page.book.define("waters_say", page, at)
    page.row += 1


# -- on Workings -----------------------------------------------------------------------------------------------------


def _workings(workings: Workings) -> None:
    _tap_water(workings)
    _salts(workings)
    _contents(workings)
    _malts(workings)
    _acids(workings)


def _tap_water(workings: Workings) -> None:
    def left(of: str, other: str, symbol: str, other_symbol: str) -> str:
        """What hardness leaves for one of the two, where it isn't stated and the other is."""
        stated = f'AND(water_{of}="",water_hardness<>"",water_{other}<>"")'
        rest = f'water_hardness_in_mg_L-UNIT_CONVERT(water_{other}_in_mg_L,"mg/L {other_symbol}","mg/L")'
        return f'=IF(water_{of}<>"",water_{of}_in_mg_L,IF({stated},UNIT_CONVERT({rest},"mg/L","mg/L {symbol}"),""))'

    workings.cells(
        "Water: the tap's, and what isn't stated of it, in words",
        {
            "tap_calcium": (left("calcium", "magnesium", "Ca", "Mg"), "0.0"),
            "tap_magnesium": (left("magnesium", "calcium", "Mg", "Ca"), "0.0"),
            **{f"tap_{key}": (f'=IF(water_{key}="","",water_{key}_in_mg_L)', "0.0")
               for key in ("sodium", "chloride", "sulfate", "alkalinity")},
            "tap_unknown": (
                "="
                + pick(
                    ("water_distilled=1", '""'),
                    *((f'tap_{key}=""', say(f"The tap water's {key} isn't stated"))
                      for key in ("alkalinity", "calcium", "magnesium")),
                    *((f"tap_{key}<0", say(f"Hardness is less than {other} alone"))
                      for key, other in (("calcium", "magnesium"), ("magnesium", "calcium"))),
                ),
                "General",
            ),
        },
    )  # fmt: skip


def _salts(workings: Workings) -> None:
    share = "IF({total}=0,0,salt_{{n}}_g*{part}/{total})".format
    to = {
        water: f'IF(salt_{{n}}_into="{other}",0,IF(salt_{{n}}_into="{water}",salt_{{n}}_g,'
        + share(part=f"N({water}_water_known)", total="N(all_water_known)") + "))"
        for water, other in (("mash", "sparge"), ("sparge", "mash"))
    }  # fmt: skip
    workings.cells(
        "Water: volumes, 0 where they aren't known",
        {
            "mash_water_known": ('=IF(strike_water_in_L="",0,strike_water_in_L)', "0.00"),
            "sparge_water_known": ('=IF(sparge_water_in_L="",0,sparge_water_in_L)', "0.00"),
            "all_water_known": ("=mash_water_known+sparge_water_known", "0.00"),
        },
    )
    each = {"alkalinity": "IF(salt_{n}_g=0,0,WATER_SALT_ALKALINITY(salt_{n}_name,1,1))"} | {
        key: f'IF(salt_{{n}}_g=0,0,WATER_SALT(salt_{{n}}_name,"{ion}",1,1))' for key, ion in _IONS.items()
    }
    workings.rows(
        "salts",
        "Salts: g of each into mash and sparge, and the mg/L that 1 g brings in 1 L",
        {
            "salt_{n}_g": ('=IF(OR(salt_{n}_name="",salt_{n}_mass=""),0,salt_{n}_mass)', "0.00"),
            "salt_{n}_missing": ('=IF(salt_{n}_name="",IF(salt_{n}_mass="",0,1),IF(salt_{n}_mass="",1,0))', "0"),
            "salt_{n}_to_mash": (f"={to['mash']}", "0.00"),
            "salt_{n}_to_sparge": (f"={to['sparge']}", "0.00"),
            **{f"salt_{{n}}_{key}": (f"={formula}", "0.0") for key, formula in each.items()},
        },
        {f"salt_{{n}}_{key}": f"salts_{key}" for key in ("g", "missing", "to_mash", "to_sparge", *each)},
    )
    workings.cells(
        "Salts: what isn't stated, in words",
        {
            "salts_unknown": (
                '=IF(SUM(salts_missing)=0,"",' + say("Salt in row ", number("MATCH(1,salts_missing,0)"),
                                                     ": its name or its mass is missing") + ")",
                "General",
            ),
            "salts_count": ('=COUNTIF(salts_name,"?*")', "0"),
            "lime_in_g": ('=SUMIF(salts_name,"slaked lime",salts_g)', "0.0"),
            "salts_lost": (
                '=IF(malts_unknown<>"","",IF(OR(AND(SUM(salts_to_mash)>0,mash_water_known=0),AND(SUM(salts_to_sparge)>0,'
                'sparge_water_known=0)),' + say("A salt goes into a water that there is none of") + ',""))',
                "General",
            ),
        },
    )  # fmt: skip


def _contents(workings: Workings) -> None:
    cells: dict[str, tuple[str, str]] = {
        "waters_unknown": (
            '=IF(tap_unknown<>"",tap_unknown,IF(salts_unknown<>"",salts_unknown,salts_lost))', "General"
        )
    }  # fmt: skip
    for water, _, _, salts in _WATERS:
        for key in (*_IONS, "alkalinity"):
            none = f'tap_{key}=""'
            if key in ("calcium", "magnesium"):  # below 0: hardness and what is stated beside it don't agree
                none = f"OR({none},N(tap_{key})<0)"
            blend = f'IF(water_distilled=1,0,IF({none},"",tap_{key}*(1-water_distilled)))'
            if salts:
                none = f'OR(blend_{key}_in_mg_L="",salts_unknown<>"",{salts}_water_known=0)'
                added = f"SUMPRODUCT(salts_to_{salts},salts_{key})/{salts}_water_known"
                blend = f'IF({none},"",blend_{key}_in_mg_L+{added})'
            cells[f"{water}_{key}_in_mg_L"] = (f"={blend}", "0.0")
        given = [f"{water}_{key}_in_mg_L" for key in ("alkalinity", "calcium", "magnesium")]
        # where the tap's are known, one of them is blank where all are
        residual = f'=IF(OR({given[0]}="",tap_unknown<>""),"",WATER_RESIDUAL_ALKALINITY({",".join(given)}))'
        cells[f"{water}_residual_in_mg_L"] = (residual, "0.0")
    workings.cells("Water: what each holds, mg/L; alkalinity and residual alkalinity as CaCO3", cells)


def _malts(workings: Workings) -> None:
    named = [
        ("OR(" + ",".join(f'ISNUMBER(SEARCH("{word}",malt_{{n}}_name))' for word in words) + ")", f'"{kind}"')
        for kind, words in _KINDS
    ]
    caramel = "OR(" + ",".join(f'ISNUMBER(SEARCH("{word}",malt_{{n}}_name))' for word in _CARAMEL) + ")"
    by_colour = pick(
        ('malt_{n}_color=""', '""'),
        (f"malt_{{n}}_lovibond<={_LIGHT_CARAMEL}", say("light caramel")),
        (f"malt_{{n}}_lovibond>={_DARK_CARAMEL}", say("dark caramel")),
        otherwise=say("caramel"),
    )
    kind = pick(('malt_{n}_kind<>""', "malt_{n}_kind"), *named[:2], (caramel, by_colour), *named[2:])
    no_part = ",".join(f'malt_{{n}}_sort="{sort}"' for sort in _NO_PART)
    columns = {
        "malt_{n}_ph_kg": (f"=IF(OR({no_part}),0,malt_{{n}}_mash_kg)", "0.00"),
        "malt_{n}_ph_kind": (f'=IF(malt_{{n}}_ph_kg=0,"",{kind})', "General"),
        "malt_{n}_ph_missing": (
            '=IF(AND(malt_{n}_ph_kg>0,malt_{n}_ph_kind="",OR(malt_{n}_ph="",malt_{n}_buffering="")),1,0)', "0",
        ),
        "malt_{n}_by_kind": (
            '=IF(AND(malt_{n}_ph_kg>0,OR(malt_{n}_ph="",malt_{n}_buffering="")),1,0)', "0",
        ),
    }  # fmt: skip
    for end in _ENDS:
        for key, measured, function in (("ph", "ph", "MASH_MALT_PH"), ("buffer", "buffering", "MASH_MALT_BUFFERING")):
            columns[f"malt_{{n}}_{key}_{end}"] = (
                f'=IF(OR(malt_{{n}}_ph_kg=0,malt_{{n}}_ph_missing=1),0,IF(malt_{{n}}_{measured}<>"",'
                f'0+malt_{{n}}_{measured},{function}(malt_{{n}}_ph_kind,"{end}")))',
                "0.00",
            )
    whole = {name: name.replace("malt_{n}", "malts") for name in columns if not name.endswith("kind")}
    whole["malt_{n}_by_kind"] = "malts_kinds"
    workings.rows("malts", "Malts, for the mash's pH: kg, kind, pH and meq/kg/pH, 0 where not known", columns, whole)
    capacity = {end: f"SUMPRODUCT(malts_ph_kg,malts_buffer_{end})" for end in _ENDS}
    known = 'IF(mash_ph_unknown<>"","",{})'.format
    ends = [
        f"MASH_PH(grist_in_kg,grist_ph_{end},grist_buffering_{buffers},strike_water_in_L,mash_water_residual_in_mg_L,"
        "acid_planned,water_mash_acid,IF(acid_planned=0,1,water_mash_acid_share))"
        for end in ("low", "high")
        for buffers in ("low", "high")
    ]
    spread = 'IF(mash_ph_forecast="","",{})'.format
    workings.cells(
        "The mash's pH: all malts as one, as it is and as far as their figures part",
        {
            "malts_by_kind": ("=SUM(malts_kinds)", "0"),
            "malts_ph_unknown": (
                '=IF(SUM(malts_ph_missing)=0,"",' + say(cell("INDEX(malts_label,MATCH(1,malts_ph_missing,0))"),
                ": state its kind, or measure its pH and buffering") + ")",
                "General",
            ),
            "mash_ph_unknown": (
                "="
                + pick(
                    ('malts_unknown<>""', "malts_unknown"),
                    ("SUM(malts_ph_kg)=0", say("No mash")),
                    ('malts_ph_unknown<>""', "malts_ph_unknown"),
                    otherwise="waters_unknown",
                ),
                "General",
            ),
            "grist_in_kg": ("=SUM(malts_ph_kg)", "0.00"),
            "grist_buffering": ("=" + known(f"{capacity['typical']}/grist_in_kg"), "0.0"),
            "grist_buffering_low": ("=" + known(f"{capacity['low']}/grist_in_kg"), "0.0"),
            "grist_buffering_high": ("=" + known(f"{capacity['high']}/grist_in_kg"), "0.0"),
            **{
                name: (
                    "=" + known(f"SUMPRODUCT(malts_ph_kg,malts_buffer_typical,malts_ph_{end})/{capacity['typical']}"),
                    "0.00",
                )
                for name, end in (("grist_ph", "typical"), ("grist_ph_low", "low"), ("grist_ph_high", "high"))
            },
            # a reading takes the estimate's place
            "mash_ph_now": ('=IF(mash_ph_read="",mash_ph_forecast,mash_ph_read)', "0.00"),
            "mash_ph_low": (
                "=" + spread(f"MIN(mash_ph_forecast-{thresholds.MASH_PH_TRUST:g},{','.join(ends)})"), "0.00"),
            "mash_ph_high": (
                "=" + spread(f"MAX(mash_ph_forecast+{thresholds.MASH_PH_TRUST:g},{','.join(ends)})"), "0.00"),
        },
    )  # fmt: skip


def _acids(workings: Workings) -> None:
    same = 'OR(water_sparge_acid="",water_sparge_acid=water_mash_acid)'
    workings.cells(
        "Acids: what is planned, and the sparge's",
        {
            "acid_planned": ('=IF(water_mash_acid_mass="",0,water_mash_acid_mass_in_g)', "0.0"),
            "mash_acid_unknown": (
                '=IF(AND(acid_planned>0,water_mash_acid_share=""),' + say("The acid's strength isn't stated") + ',"")',
                "General",
            ),
            "sparge_acid_kind": ('=IF(water_sparge_acid="",water_mash_acid,water_sparge_acid)', "General"),
            "sparge_acid_strength": (
                f'=IF(water_sparge_acid_share<>"",water_sparge_acid_share,IF(AND({same},water_mash_acid_share<>""),'
                'water_mash_acid_share,""))',
                "0.0 %",
            ),
            "mash_acid_density": ('=IF(water_mash_acid_density="","",water_mash_acid_density_in_kg_L)', "0.00"),
            "sparge_acid_density": (
                f'=IF(water_sparge_acid_density<>"",water_sparge_acid_density_in_kg_L,IF(AND({same},'
                'water_sparge_acid_share=""),mash_acid_density,""))',
                "0.00",
            ),
            "sparge_unknown": (
                "="
                + pick(
                    ('malts_unknown<>""', "malts_unknown"),
                    ("sparge_water_in_L=0", say("No sparge")),
                    ('sparge_water_alkalinity_in_mg_L=""', "waters_unknown"),
                    ('water_ph=""', say("The tap water's pH isn't stated")),
                    ('sparge_acid_strength=""', say("The acid's strength isn't stated")),
                ),
                "General",
            ),
        },
    )
