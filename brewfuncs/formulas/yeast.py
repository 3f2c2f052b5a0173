"""Yeast: living cells in slurry and dry yeast, what storage takes of them, and what a starter can grow.

Slurry and starters ferment: nothing that makes gas is closed tight.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Between, NotAbove, OneOf, worksheet
from ..units import (
    BillionCells,
    CellDensity,
    CellsPerGram,
    Day,
    Gram,
    Gravity,
    Litre,
    Millilitre,
    Share,
    Word,
    plato_of_gravity,
)
from .beer import real_extract
from .numeric import maximum, only_if
from .water import WATER_20
from .wort import PLATO_AND_RHO, SG

VIABILITY = Above(0, 1)
_DENSITY = Above(0, 20)
_HELP_DENSITY = "cells in it, living and dead, counted; thick slurry has 1 to 2 (common practice, no source)"
_HELP_VIABILITY = "living share of the cells, counted with a stain"
_DAYS = Between(1, 3650)
_HELP_LOSS_DAYS = "days in which that share is lost: 30 for a month"


@worksheet(source="Definition: volume times cells times living share", equation="cells = V density viability")
def beer_slurry_cells(
    volume: Annotated[Millilitre, AtLeast(0), "of slurry"],
    density: Annotated[CellDensity, _DENSITY, _HELP_DENSITY],
    viability: Annotated[Share, VIABILITY, _HELP_VIABILITY],
) -> BillionCells:
    """Living cells in a slurry of yeast, to compare with BEER_PITCH.

    As good as the count: stir first, and leave trub out of the volume. Without a count a slurry may hold half of what
    is thought, or twice.

    >>> beer_slurry_cells(150, 1.2, 0.9)
    162.0
    """
    return volume * density * viability


@worksheet(source="Inverse of BEER_SLURRY_CELLS", equation="V = cells / (density viability)")
def beer_slurry_volume(
    cells: Annotated[BillionCells, AtLeast(0), "living cells wanted, such as BEER_PITCH gives"],
    density: Annotated[CellDensity, _DENSITY, _HELP_DENSITY],
    viability: Annotated[Share, VIABILITY, _HELP_VIABILITY],
) -> Millilitre:
    """Slurry that holds so many living cells; the exact inverse of BEER_SLURRY_CELLS.

    >>> beer_slurry_volume(162, 1.2, 0.9)
    150.0
    """
    return cells / (density * viability)


@worksheet(source="Definition: cells over living cells a gram", equation="g = cells / (cells_per_gram viability)")
def beer_dry_yeast(
    cells: Annotated[BillionCells, AtLeast(0), "living cells wanted, such as BEER_PITCH gives"],
    cells_per_gram: Annotated[CellsPerGram, Above(0, 40), "living cells as its maker states them; often 5 to 20"],
    viability: Annotated[Share, VIABILITY, "share of those that age and rehydration leave"] = 1.0,
) -> Gram:
    """Dry yeast for so many living cells.

    Makers state what is there at least, until the best-before date; packets often hold more. Their own dose in g/hL
    goes first where it differs.

    >>> beer_dry_yeast(186, 10)
    18.6
    """
    return cells / (cells_per_gram * viability)


_STORED = "First-order loss: the same share of the living in equal times; the rate is your own, no source carries one"


@worksheet(source=_STORED, equation="viability (1 - loss)^(days / loss_days)")
def beer_viability(
    viability: Annotated[Share, VIABILITY, "living share of the cells at the start"],
    loss: Annotated[Share, Between(0, 0.99), "share of the living cells lost in loss_days"],
    days: Annotated[Day, Between(0, 3650), "since then"],
    loss_days: Annotated[Day, _DAYS, _HELP_LOSS_DAYS] = 30.0,
) -> Share:
    """Living share of stored yeast, from a loss that you counted or that its maker states.

    The loss has no usual value: strain, health, cold and packing change it several times over. BEER_VIABILITY_LOSS
    works it out from two counts. Yeast doesn't keep to one rate: count again before a brew that matters.

    >>> beer_viability(0.95, 0.2, 45)
    0.680
    """
    return viability * (1 - loss) ** (days / loss_days)


@worksheet(
    source=f"Inverse of BEER_VIABILITY. {_STORED}",
    equation="loss = 1 - (second / first)^(loss_days / days)",
    relations=[NotAbove("second", "first")],
)
def beer_viability_loss(
    first: Annotated[Share, VIABILITY, "living share of the cells at the first count"],
    second: Annotated[Share, VIABILITY, "at the second"],
    days: Annotated[Day, _DAYS, "between the counts"],
    loss_days: Annotated[Day, _DAYS, _HELP_LOSS_DAYS] = 30.0,
) -> Share:
    """Share of the living that storage takes in a month, or other days, from two counts; for BEER_VIABILITY.

    A stain under the microscope tells 0.05 either way at best: two counts that near say little.

    >>> beer_viability_loss(0.95, 0.68, 45)
    0.20
    """
    return 1 - (second / first) ** (loss_days / days)


# -- starters --------------------------------------------------------------------------------------------------------

# g of dry yeast for each g of extract fermented, and pg of dry mass a cell: low as few grow, high as many
_YIELDS = {"low": 0.03, "typical": 0.065, "high": 0.10}
_CELL_MASSES = {"low": 50.0, "typical": 37.5, "high": 25.0}
_STARTER = (
    "Balance of mass. Yield 0.03 g/g as in beer (common practice, no source) to 0.10, anaerobic (Verduyn et al. 1990, "
    "J. Gen. Microbiol. 136:395), cells of 25 to 50 pg: as commonly quoted, originals not consulted"
)
_GROWTH = (
    "growth = 1e6 yield / cell V S rho20 0.8192 attenuation P(S) / 100; "
    f"yield / cell = 0.03 / 50 pg low, 0.065 / 37.5 pg typical, 0.10 / 25 pg high; {PLATO_AND_RHO}"
)
ESTIMATES = OneOf(*_YIELDS)
_CELLS = Above(0, 1e6)
_HELP_CELLS = "living cells that go into it"
_HELP_GRAVITY = "specific gravity of its wort, usually 1.030 to 1.040"
_HELP_ATTENUATION = "apparent attenuation of its wort"
_HELP_ESTIMATE = "low, typical or high growth"


def _grown(gravity: Any, attenuation: Any, estimate: str) -> Any:
    """Billion cells that a litre can grow."""
    plato = maximum(plato_of_gravity(gravity), 0.0)
    fermented = gravity * WATER_20 * (plato - real_extract(plato, plato * (1 - attenuation))) / 100  # kg
    return 1e6 * _YIELDS[estimate] / _CELL_MASSES[estimate] * fermented


@worksheet(source=_STARTER, equation=f"cells after = cells + growth; {_GROWTH}")
def beer_starter_cells(
    cells: Annotated[BillionCells, _CELLS, _HELP_CELLS],
    volume: Annotated[Litre, AtLeast(0), "of the starter's wort"],
    gravity: Annotated[Gravity, SG, _HELP_GRAVITY] = 1.037,
    attenuation: Annotated[Share, Between(0, 1), _HELP_ATTENUATION] = 0.75,
    estimate: Annotated[Word, ESTIMATES, _HELP_ESTIMATE] = "typical",
) -> BillionCells:
    """Living cells in a starter that has fermented out: a bound by what the sugar can build, not a count.

    Low and high are some seven times apart in what has grown: show both. Low is yeast that grows as in beer, high one
    that has all the air and food it wants; few cells in much wort, or no air, fall short even of low. The extract to
    weigh in is WORT_EXTRACT_TO_ADD's. Leave the flask loosely covered: it makes gas.

    >>> beer_starter_cells(100, 2, 1.037)
    304.3
    """
    return cells + volume * _grown(gravity, attenuation, estimate)


@worksheet(
    source=f"Inverse of BEER_STARTER_CELLS. {_STARTER}",
    equation=f"V = (wanted - cells) / growth a litre; {_GROWTH}",
    relations=[NotAbove("cells", "wanted")],
    no_answer="nothing grows in a wort that doesn't ferment",
)
def beer_starter_volume(
    cells: Annotated[BillionCells, _CELLS, _HELP_CELLS],
    wanted: Annotated[BillionCells, _CELLS, "living cells wanted, such as BEER_PITCH gives"],
    gravity: Annotated[Gravity, SG, _HELP_GRAVITY] = 1.037,
    attenuation: Annotated[Share, Between(0, 1), _HELP_ATTENUATION] = 0.75,
    estimate: Annotated[Word, ESTIMATES, _HELP_ESTIMATE] = "typical",
) -> Litre:
    """Wort in which a starter can grow to so many cells; the exact inverse of BEER_STARTER_CELLS.

    "low" growth asks for the most wort and is the safe side.

    >>> beer_starter_volume(100, 304.3, 1.037)
    2.0
    """
    grown = _grown(gravity, attenuation, estimate)
    return (wanted - cells) / only_if(grown > 0, grown)
