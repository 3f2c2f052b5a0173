"""A plot of each function where one helps, for the built site."""

from __future__ import annotations

import ast
import io
import re
from typing import Any, NamedTuple

from brewfuncs.catalogue import Function
from brewfuncs.errors import BrewError


class Plot(NamedTuple):
    """The argument that is varied, from where to where; `series` is another one and the values it takes.

    All other arguments are as in the function's example. Without `series`, a function with methods shows each.
    """

    over: str
    low: float
    high: float
    series: tuple[str, tuple[Any, ...]] | None = None
    logarithmic: bool = False


_VOLATILITIES = ("volatility", (18, 65, 75))

PLOTS = {
    "WORT_PLATO": Plot("gravity", 1.0, 1.12),
    "WORT_GRAVITY": Plot("plato", 0, 28),
    "WORT_PREBOIL_GRAVITY": Plot("evaporated", 0, 10),
    "WORT_PREBOIL_VOLUME": Plot("evaporated", 0, 10),
    "WORT_POSTBOIL_GRAVITY": Plot("evaporated", 0, 10),
    "WORT_WATER_TO_ADD": Plot("gravity", 1.05, 1.08),
    "WORT_EXTRACT_TO_ADD": Plot("gravity", 1.03, 1.05),
    "WORT_VOLUME_AT": Plot("to_temp", 0, 100),
    "WORT_HYDROMETER": Plot("temp", 5, 60),
    "WORT_REFRACTOMETER": Plot("brix", 0, 25, ("factor", (1.0, 1.04, 1.06))),
    "BOIL_TEMP": Plot("altitude", 0, 3000),
    "BOIL_RATE": Plot("power", 1, 5, ("efficiency", (0.7, 0.85))),
    "BOIL_MINUTES": Plot("target", 1.0412, 1.07),
    "BOIL_HEAT_MINUTES": Plot("power", 1.5, 6, ("efficiency", (0.7, 0.85))),
    "BOIL_COOLING": Plot("minutes", 5, 60),
    "HOP_UTILIZATION": Plot("minutes", 0, 90),
    "HOP_BITTERNESS": Plot("minutes", 0, 90),
    "HOP_MASS": Plot("minutes", 10, 90),
    "HOP_SWAP_MASS": Plot("new_minutes", 10, 90),
    "HOP_ISO_YIELD": Plot("minutes", 0, 120, ("temp", (100, 90, 80))),
    "HOP_ISO_YIELD_COOLING": Plot("cool_minutes", 0, 120, ("cooling", (0.01, 0.05, 0.1))),
    "HOP_STAND_BITTERNESS": Plot("temp", 60, 100),
    "HOP_AROMA_LEFT": Plot("evaporated", 0, 0.2, ("volatility", ("2-phenylethanol", "linalool", "DMS"))),
    "DMS_HALF_LIFE": Plot("temp", 80, 105),
    "DMS_PRECURSOR_LEFT": Plot("minutes", 0, 120, ("temp", (100, 95))),
    "DMS_AFTER_BOIL": Plot("minutes", 0, 120, _VOLATILITIES),
    "DMS_AFTER_COOLING": Plot("minutes", 0, 120, ("cooling", (0.01, 0.05, 0.1))),
    "DMS_AT_PITCH": Plot("boil_minutes", 0, 120, _VOLATILITIES),
    "DMS_BOIL_MINUTES": Plot("precursor", 200, 2000, _VOLATILITIES),
    "MASH_PASTEUR_UNITS": Plot("temp", 55, 80, logarithmic=True),
    "MASH_STRIKE_TEMP": Plot("water_ratio", 2, 5, ("grain_temp", (10, 18, 25))),
    "MASH_STEP_WATER": Plot("target", 55, 75),
    "SANI_PH": Plot("phosphoric", 100, 3000, ("alkalinity", (0, 100))),
    "SANI_DRY_FACTOR": Plot("water_left", 0, 0.1),
    "SANI_DRY_ACID": Plot("humidity", 0.1, 0.9),
    "SANI_DRY_FACTOR_IN_AIR": Plot("humidity", 0.1, 0.9),
    "SANI_DRY_MINUTES": Plot("humidity", 0.1, 0.9),
    "BEER_ABV": Plot("final", 1.0, 1.05),
    "BEER_FINAL": Plot("attenuation", 0.6, 1),
    "BEER_REFRACTOMETER": Plot("current_brix", 5, 12.5),
    "BEER_CO2_PRESSURE": Plot("temp", 0, 20, ("volumes", (2, 2.5, 3))),
    "BEER_CO2": Plot("pressure", 0, 2.5, ("temp", (2, 10, 20))),
    "BEER_RESIDUAL_CO2": Plot("temp", 0, 28),
    "BEER_PRIMING": Plot("target", 1.5, 3),
    "BEER_RAMP_TEMP": Plot("day", 0, 14),
    "WATER_DENSITY": Plot("temp", 0, 100),
}

# ink, accent, second, quiet: told apart by their dashes as well
_LINES = (("#2F6B5E", "-"), ("#B45309", "--"), ("#1F2933", "-."), ("#6B7280", ":"))
_INK, _QUIET, _RULE = "#1F2933", "#6B7280", "#D6D3CC"
_POINTS = 240


def _example_arguments(function: Function) -> dict[str, Any]:
    match = re.search(r"^ *>>> (\w+\(.*\))$", function.doc, re.MULTILINE)
    assert match is not None
    call = ast.parse(match[1], mode="eval").body
    assert isinstance(call, ast.Call)
    return {p.name: ast.literal_eval(value) for p, value in zip(function.params, call.args, strict=False)}


def _series(function: Function, plot: Plot) -> tuple[str, tuple[Any, ...]]:
    if plot.series:
        return plot.series
    for parameter in function.params:
        if parameter.name == "method" and parameter.names:
            return "method", tuple(parameter.names.values())
    return "", ("",)


def caption(function: Function) -> str:
    """What the plot shows, for those who can't see it as well."""
    plot = PLOTS[function.name]
    other, values = _series(function, plot)
    by = f", {other} {', '.join(str(v) for v in values)}" if other else ""
    rest = [f"{k} {v}" for k, v in _example_arguments(function).items() if k not in (plot.over, other)]
    symbol = function.params[function.index[plot.over]].symbol
    return (
        f"{function.name} over {plot.over}, {plot.low:g} to {plot.high:g} {symbol}".rstrip()
        + by
        + (f"; {', '.join(rest)}" if rest else "")
    )


def draw(function: Function) -> bytes:
    """The function over its main argument, as SVG: the same bytes every time."""
    import matplotlib as mpl

    mpl.use("svg")
    from matplotlib.figure import Figure

    plot = PLOTS[function.name]
    other, values = _series(function, plot)
    at = [plot.low + (plot.high - plot.low) * n / _POINTS for n in range(_POINTS + 1)]
    with mpl.rc_context({"svg.hashsalt": "brewfuncs", "font.size": 10, "text.color": _INK, "axes.labelcolor": _INK}):
        figure = Figure(figsize=(6.4, 3.2), layout="constrained")
        axes = figure.add_subplot()
        for value, (color, dashes) in zip(values, _LINES, strict=False):
            arguments = _example_arguments(function) | ({other: value} if other else {})
            axes.plot(at, [_point(function, arguments | {plot.over: x}) for x in at], dashes, color=color, label=value)
        axes.set_xlabel(_axis(plot.over, function.params[function.index[plot.over]].symbol))
        axes.set_ylabel(_axis(function.name, function.result.symbol))
        if plot.logarithmic:
            axes.set_yscale("log")
        else:
            axes.ticklabel_format(useOffset=False)
        axes.grid(axis="y", color=_RULE, linewidth=0.6)
        axes.tick_params(color=_RULE, labelcolor=_QUIET)
        for side, spine in axes.spines.items():
            spine.set_visible(side == "bottom")
            spine.set_color(_RULE)
        if other:
            figure.legend(loc="outside lower center", ncols=len(values), frameon=False, title=other, title_fontsize=9)
        file = io.BytesIO()
        figure.savefig(file, format="svg", metadata={"Date": None})
    return file.getvalue()


def _axis(name: str, symbol: str) -> str:
    return f"{name}, {symbol}" if symbol else name


def _point(function: Function, arguments: dict[str, Any]) -> float:
    try:
        return float(function.call(**arguments))
    except BrewError:
        return float("nan")  # no answer there: a gap in the line
