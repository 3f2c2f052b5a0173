"""The public promise: names, argument order, units and defaults are in people's saved files and may not change."""

import ast
import csv
import importlib
import inspect
import pydoc
import re
from pathlib import Path

import pytest

import brewfuncs
import brewfuncs.units
from brewfuncs import catalogue
from brewfuncs.catalogue import CATALOGUE, Above, AtLeast, Between, Function, find, worksheet
from brewfuncs.errors import NotListed
from brewfuncs.units import Gram, Word
from tests.test_conventions import base

# Function: argument [unit] in order, =default, * for a range taken whole -> unit of the answer.
# A new function's line is appended (the test below shows it); a line that stands here is never edited.
PROMISED = """
WORT_PLATO(gravity [SG]) -> °P
WORT_GRAVITY(plato [°P]) -> SG
WORT_EXTRACT(volume [L], gravity [SG]) -> kg
WORT_EFFICIENCY(*malt_masses [kg], *malt_yields [], volume [L], gravity [SG]) ->
WORT_GRAVITY_OF_EXTRACT(extract [kg], volume [L]) -> SG
WORT_MASH_GRAVITY(*malt_masses [kg], *malt_yields [], *efficiency [], volume [L]) -> SG
WORT_BLEND(volume_1 [L], gravity_1 [SG], volume_2 [L], gravity_2 [SG]) -> SG
WORT_PREBOIL_GRAVITY(post_volume [L], post_gravity [SG], evaporated [L]) -> SG
WORT_PREBOIL_VOLUME(post_volume [L], post_gravity [SG], evaporated [L]) -> L
WORT_POSTBOIL_GRAVITY(pre_volume [L], pre_gravity [SG], evaporated [L]) -> SG
WORT_POSTBOIL_VOLUME(pre_volume [L], pre_gravity [SG], evaporated [L]) -> L
WORT_WATER_TO_ADD(volume [L], gravity [SG], target [SG]) -> L
WORT_EXTRACT_TO_ADD(volume [L], gravity [SG], target [SG], purity []=1) -> kg
WORT_VOLUME_AT(volume [L], from_temp [°C], to_temp [°C]) -> L
WORT_HYDROMETER(reading [SG], temp [°C], calibration [°C]=20) -> SG
WORT_REFRACTOMETER(brix [Brix], factor []=1.04) -> SG
WORT_COLOR(*malt_masses [kg], *malt_colors [°L], volume [L]) -> EBC
BOIL_TEMP(altitude [m]=0) -> °C
BOIL_RATE(power [kW], efficiency [], altitude [m]=0) -> L/h
BOIL_OFF(boil_off_rate [L/h], minutes [min]) -> L
BOIL_OFF_SHARE(volume [L], share [/h], minutes [min]) -> L
BOIL_MINUTES(pre_volume [L], pre_gravity [SG], target [SG], boil_off_rate [L/h]) -> min
BOIL_HEAT_ENERGY(volume [L], from_temp [°C], to_temp [°C]) -> kWh
BOIL_HEAT_MINUTES(volume [L], from_temp [°C], to_temp [°C], power [kW], efficiency []) -> min
BOIL_COOLING(start_temp [°C], end_temp [°C], minutes [min], coolant [°C]=20) -> /min
BOIL_EVAPORATION_ENERGY(evaporated [L]) -> kWh
HOP_UTILIZATION(minutes [min], gravity [SG]=1.05, method []=tinseth, boil_temp [°C]=100) ->
HOP_BITTERNESS(mass [g], alpha [], minutes [min], volume [L], gravity [SG]=1.05, method []=tinseth, boil_temp [°C]=100) -> mg/L
HOP_MASS(bitterness [mg/L], alpha [], minutes [min], volume [L], gravity [SG]=1.05, method []=tinseth, boil_temp [°C]=100) -> g
HOP_SWAP_MASS(mass [g], old_minutes [min], new_minutes [min], method []=tinseth, old_gravity [SG]=1.05, new_gravity [SG]=old_gravity, boil_temp [°C]=100) -> g
HOP_ISO_YIELD(minutes [min], temp [°C]=100) ->
HOP_ISO_YIELD_COOLING(boil_minutes [min], cool_minutes [min], coolant [°C]=20, cooling [/min]=0.1, boil_temp [°C]=100, stand_minutes [min]=0, stand_temp [°C]=boil_temp) ->
HOP_STAND_BITTERNESS(mass [g], alpha [], minutes [min], temp [°C], volume [L], recovery []=0.5, cool_minutes [min]=0, coolant [°C]=20, cooling [/min]=0.1) -> mg/L
HOP_AROMA_LEFT(evaporated [], volatility []) ->
HOP_BALANCE(bitterness [mg/L], gravity [SG]) -> mg/L per point
DMS_LOAD(*malt_precursors [mg/kg], *malt_masses [kg], volume [L]) -> µg/L
DMS_HALF_LIFE(temp [°C]=100, half_life_100 [min]=38) -> min
DMS_PRECURSOR_LEFT(precursor [µg/L], minutes [min], temp [°C]=100, half_life_100 [min]=38) -> µg/L
DMS_AFTER_BOIL(precursor [µg/L], minutes [min], evaporation [/h], volatility []=65, half_life_100 [min]=38, start_dms [µg/L]=0, boil_temp [°C]=100) -> µg/L
DMS_AFTER_COOLING(precursor [µg/L], minutes [min], coolant [°C]=20, cooling [/min]=0.1, start_temp [°C]=100, half_life_100 [min]=38, stand_minutes [min]=0, stand_temp [°C]=start_temp) -> µg/L
DMS_AT_PITCH(precursor [µg/L], boil_minutes [min], evaporation [/h], cool_minutes [min], cooling [/min]=0.1, coolant [°C]=20, volatility []=65, half_life_100 [min]=38, boil_temp [°C]=100, stand_minutes [min]=0, stand_temp [°C]=boil_temp, stand_evaporation [/h]=0) -> µg/L
DMS_BOIL_MINUTES(precursor [µg/L], limit [µg/L], evaporation [/h], cool_minutes [min], cooling [/min]=0.1, coolant [°C]=20, volatility []=65, half_life_100 [min]=38, boil_temp [°C]=100, stand_minutes [min]=0, stand_temp [°C]=boil_temp, stand_evaporation [/h]=0) -> min
MASH_LAUTER_EFFICIENCY(*malt_masses [kg], *malt_yields [], mash_water [L], sparge_water [L]=0, sparges []=1, absorption [L/kg]=1, left_behind [L]=0, conversion []=1) ->
MASH_PASTEUR_UNITS(minutes [min], temp [°C]) -> PU
MASH_PASTEUR_RAMP(start_temp [°C], end_temp [°C], minutes [min]) -> PU
MASH_STRIKE_TEMP(target [°C], grain_temp [°C], water_ratio [L/kg], heat_ratio []=0.4, slaking [K]=0) -> °C
MASH_REST_TEMP(strike_temp [°C], grain_temp [°C], water_ratio [L/kg], heat_ratio []=0.4, slaking [K]=0) -> °C
MASH_STEP_WATER(mash_temp [°C], target [°C], water_temp [°C], grain [kg], water [L], heat_ratio []=0.4) -> L
MASH_WATER(preboil_volume [L], grain [kg], absorption [L/kg]=1, left_behind [L]=0) -> L
SANI_DOSE(volume [L], dose_rate [mL/L]) -> mL
SANI_STRENGTH(dose_rate [mL/L], share [], density [kg/L]) -> mg/L
SANI_DOSE_FOR(strength [mg/L], volume [L], share [], density [kg/L]) -> mL
SANI_PH(phosphoric [mg/L], alkalinity [mg/L]=0) -> pH
SANI_DRY_FACTOR(nonvolatile [], water_left []=0) ->
SANI_DRY_ACID(humidity []) ->
SANI_DRY_FACTOR_IN_AIR(acid_share [], humidity []) ->
SANI_DRY_MINUTES(film [µm], temp [°C], humidity [], heat_transfer [W/m²K]=8) -> min
SANI_RESIDUE(film [µm], area [m²], strength [mg/L]) -> mg
SANI_CHLORINE(dose [mL], volume [L], share [], density [kg/L]=1.08) -> mg/L
SANI_PLASTIC(plastic [], chemistry [], state []) -> text
BEER_ABV(original [SG], final [SG], method []=balling, priming [vol]=0) ->
BEER_FINAL(original [SG], attenuation []) -> SG
BEER_REAL_EXTRACT(original [SG], final [SG]) -> °P
BEER_ATTENUATION(original [SG], final [SG], kind []=apparent) ->
BEER_ENERGY(original [SG], final [SG]) -> kcal/100 mL
BEER_REFRACTOMETER(original_brix [Brix], current_brix [Brix], factor []=1.04, method []=novotny) -> SG
BEER_CO2_PRESSURE(temp [°C], volumes [vol], altitude [m]=0) -> bar
BEER_CO2(temp [°C], pressure [bar], altitude [m]=0) -> vol
BEER_RESIDUAL_CO2(temp [°C], altitude [m]=0) -> vol
BEER_CO2_TO_COME(original [SG], current [SG], final [SG]) -> vol
BEER_PRIMING(volume [L], target [vol], residual [vol], sugar []=sucrose) -> g
BEER_PITCH(volume [L], gravity [SG], rate [million/mL/°P]=0.75) -> billion cells
BEER_OXYGEN(temp [°C], altitude [m]=0) -> mg/L
BEER_RAMP_TEMP(day [d], start_temp [°C], ramp_day [d], end_temp [°C], per_day [K]=1) -> °C
WATER_DENSITY(temp [°C]) -> kg/L
WATER_SALT(salt [], ion [], mass [g], volume [L]) -> mg/L
WATER_RESIDUAL_ALKALINITY(alkalinity [mg/L], calcium [mg/L], magnesium [mg/L]) -> mg/L
UNIT_CONVERT(value [], from_unit [], to_unit []) ->
BREW_REASON(function_name [], arguments... []) -> text
BREW_SOURCE(function_name []) -> text
HOP_EQUIVALENT_MINUTES(cool_minutes [min], coolant [°C]=20, cooling [/min]=0.1, boil_temp [°C]=100, stand_minutes [min]=0, stand_temp [°C]=boil_temp) -> min
HOP_AGED_ALPHA(alpha [], half_year_loss [], days [d], temp [°C]=20, packing []=open) ->
HOP_STORAGE_LOSS(index []) ->
WATER_BLEND(concentration_1 [mg/L], volume_1 [L], concentration_2 [mg/L], volume_2 [L]) -> mg/L
WATER_SULFITE(volume [L], chlorine [mg/L], salt []=sodium metabisulfite) -> g
WATER_ACID(volume [L], alkalinity [mg/L], ph [pH], target [pH], acid []=lactic, share []=0.8) -> g
WATER_ACID_PH(volume [L], alkalinity [mg/L], ph [pH], mass [g], acid []=lactic, share []=0.8) -> pH
MASH_PH(*malt_masses [kg], *malt_phs [pH], *malt_buffers [meq/kg/pH], water [L], residual [mg/L], mass [g]=0, acid []=lactic, share []=0.8) -> pH
MASH_ACID(*malt_masses [kg], *malt_phs [pH], *malt_buffers [meq/kg/pH], water [L], residual [mg/L], target [pH], acid []=lactic, share []=0.8) -> g
WATER_SALT_MASS(salt [], ion [], concentration [mg/L], volume [L]) -> g
WATER_SALT_ALKALINITY(salt [], mass [g], volume [L]) -> mg/L
MASH_MALT_PH(kind [], estimate []=typical) -> pH
MASH_MALT_BUFFERING(kind [], estimate []=typical) -> meq/kg/pH
BEER_SLURRY_CELLS(volume [mL], density [billion/mL], viability []) -> billion cells
BEER_SLURRY_VOLUME(cells [billion cells], density [billion/mL], viability []) -> mL
BEER_DRY_YEAST(cells [billion cells], cells_per_gram [billion/g], viability []=1) -> g
BEER_VIABILITY(viability [], loss [], days [d], loss_days [d]=30) ->
BEER_VIABILITY_LOSS(first [], second [], days [d], loss_days [d]=30) ->
BEER_STARTER_CELLS(cells [billion cells], volume [L], gravity [SG]=1.037, attenuation []=0.75, estimate []=typical) -> billion cells
BEER_STARTER_VOLUME(cells [billion cells], wanted [billion cells], gravity [SG]=1.037, attenuation []=0.75, estimate []=typical) -> L
"""  # noqa: E501
# Names that cells may hold where a name is wanted.
NAMES = {
    ("HOP_UTILIZATION", "method"): ["tinseth", "rager smooth", "rager table", "kinetic"],
    ("HOP_BITTERNESS", "method"): ["tinseth", "rager smooth", "rager table", "kinetic"],
    ("HOP_MASS", "method"): ["tinseth", "rager smooth", "rager table", "kinetic"],
    ("HOP_SWAP_MASS", "method"): ["tinseth", "rager smooth", "rager table", "kinetic"],
    ("BEER_ABV", "method"): ["balling", "hmrc", "simple"],
    ("BEER_ATTENUATION", "kind"): ["apparent", "real"],
    ("BEER_REFRACTOMETER", "method"): ["novotny", "terrill"],
    ("BEER_PRIMING", "sugar"): [
        "sucrose",
        "glucose",
        "glucose monohydrate",
        "maltose monohydrate",
        "table sugar",
        "dextrose",
        "corn sugar",
    ],
    ("WATER_SALT", "ion"): ["Ca", "Mg", "Na", "Cl", "SO4", "HCO3", "CO3"],
    ("MASH_MALT_PH", "kind"): [
        "pilsner",
        "pale",
        "vienna",
        "munich",
        "wheat",
        "light caramel",
        "caramel",
        "dark caramel",
        "roasted",
        "acidulated",
    ],
    ("MASH_MALT_BUFFERING", "estimate"): ["low", "typical", "high"],
    ("BEER_STARTER_CELLS", "estimate"): ["low", "typical", "high"],
    ("BEER_STARTER_VOLUME", "estimate"): ["low", "typical", "high"],
    ("SANI_PLASTIC", "state"): ["contact", "soaked", "rinsed", "dried"],
}
SALTS = {
    "gypsum", "calcium chloride anhydrous", "calcium chloride dihydrate", "epsom salt", "table salt", "baking soda",
    "chalk", "magnesium chloride hexahydrate", "slaked lime",
}  # fmt: skip
each_function = pytest.mark.parametrize("function", CATALOGUE.values(), ids=lambda f: f.name)


def declared(function: Function) -> str:
    """A function as PROMISED writes it."""
    arguments = []
    for p in function.params:
        default = p.same_as or ("" if p.required or p.variable else p.shown_default)
        name = ("*" if p.whole else "") + p.name + ("..." if p.variable else "")
        arguments.append(f"{name} [{p.symbol}]" + (f"={default}" if default else ""))
    answer = "text" if function.gives_text else function.result.symbol
    return f"{function.name}({', '.join(arguments)}) -> {answer}".rstrip()


def test_every_promise_is_kept() -> None:
    kept = {function.name: declared(function) for function in CATALOGUE.values()}
    for line in PROMISED.strip().splitlines():
        assert kept[line.partition("(")[0]] == line.rstrip()


def test_nothing_is_on_offer_that_is_not_promised() -> None:
    promised = {line.partition("(")[0] for line in PROMISED.strip().splitlines()}
    missing = [declared(function) for function in CATALOGUE.values() if function.name not in promised]
    assert not missing, "check names, order, units and defaults, then append to PROMISED:\n" + "\n".join(missing)


def test_names_in_cells_are_promises_too() -> None:
    for (name, parameter), names in NAMES.items():
        function = find(name)
        assert set(names) <= set((function.params[function.index[parameter]].names or {}).values()), name
    salts = find("WATER_SALT").params[0].names or {}
    assert set(salts.values()) >= SALTS
    substances = find("HOP_AROMA_LEFT").params[1].table or {}
    assert {"linalool", "2-phenylethanol", "dms"} <= substances.keys()


def test_every_range_is_promised() -> None:
    """ranges.csv: where each argument is answered, "" for no end. A formula in someone's file that is answered today is
    answered tomorrow: a range may be widened there, and is narrowed only where an answer was wrong.
    """
    with (Path(__file__).with_name("ranges.csv")).open(encoding="utf-8", newline="") as file:
        promised = {
            (row["function"], row["argument"]): (
                float(row["from"] or -catalogue._HUGE), row["from itself"] == "no", float(row["to"] or catalogue._HUGE)
            )
            for row in csv.DictReader(file)
        }  # fmt: skip
    declared_ranges = {
        (function.name, p.name): (p.limits.low, p.limits.above, p.limits.high)
        for function in CATALOGUE.values()
        for p in function.params
        if not p.is_text and not p.variable
    }
    assert {key: declared_ranges.get(key) for key in promised} == promised
    assert len(promised) > 250


FITTED = {
    "the table of ASBC, to 20 °P": ((1.0, 1.083), ["WORT_PLATO gravity"]),
    "the same in °P": ((0, 20), ["WORT_GRAVITY plato"]),
    "IAPWS G7-04: Henry's constant of CO2 begins at 274.19 K": (
        (1, 60), ["BEER_CO2_PRESSURE temp", "BEER_CO2 temp", "BEER_RESIDUAL_CO2 temp"],
    ),
    "half-lives of the precursor were measured in a mash at mashing-off and up to the boil, as commonly quoted": (
        (76, 100), ["DMS_HALF_LIFE temp", "DMS_PRECURSOR_LEFT temp", "DMS_AFTER_COOLING start_temp"],
    ),
    "the papers' volatilities, as their help says": (
        (18, 75), [f"{name} volatility" for name in ("DMS_AFTER_BOIL", "DMS_AT_PITCH", "DMS_BOIL_MINUTES")],
    ),
    "Malowicki & Shellhammer, J. Agric. Food Chem. 53 (2005) 4434, abstract: 90 to 130 °C": (
        (90, 130),
        [f"HOP_{name} boil_temp" for name in ("UTILIZATION", "BITTERNESS", "MASS", "SWAP_MASS", "ISO_YIELD_COOLING",
                                              "EQUIVALENT_MINUTES")]
        + ["HOP_ISO_YIELD temp", "HOP_ISO_YIELD_COOLING stand_temp", "HOP_EQUIVALENT_MINUTES stand_temp",
           "HOP_STAND_BITTERNESS temp"],
    ),
    "Pauls & Whites Brewing Room Book 1984, from bone dry malt to 8 % of moisture": (
        (0.38, 0.42), [f"MASH_{name} heat_ratio" for name in ("STRIKE_TEMP", "REST_TEMP", "STEP_WATER")],
    ),
    "what test_sanitizer compares with PHREEQC: 0.5 to 100 mmol/L of phosphoric acid of 98 g/mol": (
        (49, 9800), ["SANI_PH phosphoric"],
    ),
    "the maker's table, from 88 to 40 % of phosphoric acid": (
        (0.07, 0.83), ["SANI_DRY_ACID humidity", "SANI_DRY_FACTOR_IN_AIR humidity"],
    ),
}  # fmt: skip


def test_ranges_that_formulas_were_fitted_over() -> None:
    """Help tells them as the source's, so they are the source's."""
    fitted = {f"{f.name} {p.name}": tuple(p.fitted) for f in CATALOGUE.values() for p in f.params if p.fitted}
    assert fitted == {place: ends for ends, places in FITTED.values() for place in places}


def test_revisions_are_those_of_the_changelog() -> None:
    """It counts up when a constant is corrected, and a file that was made with an older one is told."""
    log = (Path(__file__).parent.parent / "CHANGELOG.md").read_text(encoding="utf-8")
    told: dict[str, int] = {}
    for names, revision in re.findall(r"([A-Z][A-Z0-9_, and]+) \(revision (\d+)\)", log):
        told |= {name: max(int(revision), told.get(name, 1)) for name in re.findall(r"[A-Z][A-Z0-9_]+", names)}
    assert len(told) >= 4
    assert {f.name: f.revision for f in CATALOGUE.values()} == dict.fromkeys(CATALOGUE, 1) | told


@each_function
def test_declarations_are_complete(function: Function) -> None:
    assert 3 < len(function.source) < 240
    assert function.revision >= 1
    assert function.summary.endswith((".", ".\n"))
    assert 10 < len(function.summary) < 256
    assert function.description
    assert ">>>" not in function.description
    assert re.fullmatch(r"=[A-Z0-9_]+\(.*\)", function.example)
    required = [p.required for p in function.params if not p.variable]
    assert required == sorted(required, reverse=True), "optional arguments stand last"
    for p in function.params:
        assert re.fullmatch(r"[a-z][a-z0-9_]*", p.name)
        assert p.help
        assert len(p.help) < 256
        assert not p.help.endswith(".")
        if p.default is not None and not p.is_text:
            assert p.read(p.default) == p.default
        if p.fitted:
            assert p.fitted.low < p.fitted.high
    if function.zero_when:
        assert function.zero_when in function.index


@each_function
def test_sources_are_told(function: Function) -> None:
    told = find("BREW_SOURCE").call(function.name)
    assert told == f"{function.source}; revision {function.revision}"
    assert len(told) < 256
    assert find("BREW_SOURCE").call(f" {function.name.lower()} ") == told


def test_source_of_what_is_not_there() -> None:
    with pytest.raises(NotListed, match='no function "HOPS_MASS"; near: HOP_MASS'):
        find("BREW_SOURCE").call("HOPS_MASS")


@each_function
def test_names_are_no_cell_addresses(function: Function) -> None:
    """A name such as ABV1 would be a cell in a sheet."""
    assert re.fullmatch(r"[A-Z]+_[A-Z0-9_]+", function.name)
    assert not re.fullmatch(r"[A-Z]{1,3}[0-9]+", function.name)
    assert len(function.name) <= 31


# -- Python ----------------------------------------------------------------------------------------------------------


def test_every_function_is_exported_under_its_lower_case_name() -> None:
    """The exports are typed lines, for editors and type checkers; here they are held against the catalogue."""
    for name, function in CATALOGUE.items():
        assert getattr(brewfuncs, name.lower()) is function.call, name
    tree = ast.parse(Path(brewfuncs.__file__).read_text(encoding="utf-8"))
    imported = {
        alias.name: f"brewfuncs.{node.module}"
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.level == 1 and str(node.module).startswith("formulas.")
        for alias in node.names
    }
    assert imported.keys() == {name.lower() for name in CATALOGUE}
    for name, module in imported.items():
        assert getattr(importlib.import_module(module), name) is getattr(brewfuncs, name)
    assert set(imported) <= set(brewfuncs.__all__)


@each_function
def test_python_signatures_have_real_names_and_defaults(function: Function) -> None:
    parameters = inspect.signature(function.call).parameters
    assert [p.name for p in function.params] == list(parameters)
    assert inspect.getdoc(function.call)
    assert function.call.__name__ == function.name.lower()
    assert function.call.__module__.startswith("brewfuncs.formulas.")


@each_function
def test_help_reads_like_a_page(function: Function) -> None:
    shown = pydoc.plain(pydoc.render_doc(function.call))
    signature = shown.splitlines()[2]
    assert signature.startswith(f"{function.name.lower()}(")
    assert "Annotated" not in signature
    assert "Between" not in signature
    defaults = inspect.signature(function.call).parameters
    for p in function.params:
        assert f"    {p.name} : {'share, ' if p.is_share and not p.whole else ''}" in shown
        assert function.range_words(p) in shown
        assert p.help in shown
        if not p.required and not p.variable:
            assert defaults[p.name].default == p.default
    for part in (function.summary.split("\n")[0][:40], *function.equation_parts, function.source, ">>> "):
        assert part in shown
    assert function.result.symbol in shown


def constants(tree: ast.AST) -> set[float]:
    """Every number in code, powers of ten and signs aside."""
    return {abs(n.value) for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, (int, float))}


def test_equations_hold_the_constants_that_are_computed_with() -> None:
    """An equation is text: a constant that is changed in the code alone would leave it behind."""
    code = [Path(brewfuncs.units.__file__), *Path(brewfuncs.__file__).parent.glob("formulas/*.py")]
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in code]
    known = {x for tree in trees for x in constants(tree)}
    seen = 0
    for function in CATALOGUE.values():
        for number in re.findall(r"(?<![\w.])\d+\.?\d*(?:e-?\d+)?", function.equation):
            if float(number) in (0, 1, 2, 3, 4, 20, 100, 1000):
                continue
            seen += 1
            assert float(number) in known, (function.name, number)
    assert seen > 150


@each_function
def test_arguments_by_name(function: Function) -> None:
    if function.variable:
        return
    if function.name == "BREW_SOURCE":
        assert function.call(function_name="HOP_MASS")
        return
    values = dict(zip((p.name for p in function.params), base(function), strict=True))
    assert function.call(**values) == function.call(*base(function))


# -- what a declaration may not leave out ----------------------------------------------------------------------------


def test_an_incomplete_declaration_fails_at_import() -> None:
    from typing import Annotated

    def no_range(mass: Annotated[Gram, "a mass"]) -> Gram:
        """X.

        >>> no_range(1)
        1
        """

    def no_help(mass: Annotated[Gram, AtLeast(0)]) -> Gram:
        """X.

        >>> no_help(1)
        1
        """

    def no_example(mass: Annotated[Gram, AtLeast(0), "a mass"]) -> Gram:
        """X."""

    def no_unit(mass: Annotated[Gram, AtLeast(0), "a mass"]) -> float:
        """X.

        >>> no_unit(1)
        1
        """

    def bare(mass: float) -> Gram:
        """X.

        >>> bare(1)
        1
        """

    def wort_plato(name: Annotated[Word, "a name"]) -> Gram:
        """X.

        >>> wort_plato("x")
        1
        """

    before = dict(CATALOGUE)
    for kernel, says in (
        (no_range, "needs a range"),
        (no_help, "a help text"),
        (no_example, "needs an example"),
        (no_unit, "return annotation needs a quantity"),
        (bare, "needs a quantity"),
        (wort_plato, "declared twice"),
    ):
        with pytest.raises(TypeError, match=says):
            worksheet(source="a source", equation="m = m")(kernel)
    for source in ("", "x" * 241):
        with pytest.raises(TypeError, match="source"):
            worksheet(source=source, equation="m = m")(no_example)
    for equation in ("", "ρ = m / V"):
        with pytest.raises(TypeError, match="needs an equation, in plain ASCII or TeX"):
            worksheet(source="a source", equation=equation)(no_example)
    with pytest.raises(TypeError, match="equation"):
        worksheet(source="a source")(no_example)  # type: ignore[call-arg]
    assert before == CATALOGUE


def test_ranges_in_words() -> None:
    assert Between(0, 100).words("°C") == "0 to 100 °C"
    assert Above(0).words("L") == "more than 0 L"
    assert AtLeast(0).words("g") == "0 g or more"
    assert Above(0, 1).words("") == "above 0 to 1"
    assert catalogue.ANY_NUMBER.words("") == "any number"


def test_a_docstring_keeps_what_is_indented_further() -> None:
    """As Python's own inspect.cleandoc, which costs its import."""
    for doc in (
        "One.\n\n        Two:\n            further in\n        out again.\n        ",
        "\n    One.\n      further in\n\n    out again.\n",
        "\n    One.\n      further in\n",
        "One.",
        "",
        "One.\n\n    Two.",
    ):
        assert catalogue._dedent(doc) == inspect.cleandoc(doc)
