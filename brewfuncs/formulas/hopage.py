"""Hops that have aged: what storage takes of the alpha acid."""

from typing import Annotated, Any

from ..catalogue import Above, Between, OneOf, worksheet
from ..units import Celsius, Day, Number, Share, Word
from .numeric import exp, log1p, log10, maximum

_PACKING = {"open": 1.0, "airtight": 0.75, "vacuum": 0.5}
_HALF_YEAR = 182.5  # days
_FRESH = 0.25  # hop storage index of fresh hops


@worksheet(
    source="Nickerson & Likens, J. ASBC 37 (1979) 184; temperature and packing as commonly quoted; "
    "originals not consulted",
    equation="A = A0 e^(-k f s t), k = -ln(1 - loss) / 182.5 d, f = 2^((T - 20) / 15), s = 1, 0.75 or 0.5",
)
def hop_aged_alpha(
    alpha: Annotated[Share, Above(0, 0.65), "alpha acid when fresh, from the packet"],
    half_year_loss: Annotated[Share, Between(0, 0.95), "of the alpha acid lost in half a year at 20 °C, the variety's"],
    days: Annotated[Day, Between(0, 3650), "since the analysis"],
    temp: Annotated[Celsius, Between(-40, 40), "of the store"] = 20.0,
    packing: Annotated[
        Word, OneOf(*_PACKING), "open: in air; airtight: sealed with air in; vacuum: or inert gas"
    ] = "open",
) -> Share:
    """Alpha acid left after storage; an estimate, a fifth of the loss either way at best.

    Varieties lose from some 15 to 60 % in half a year. Aged hops taste of what the lost acids have become too.

    >>> hop_aged_alpha(0.12, 0.35, 365, 5, "vacuum")
    0.0968
    """
    rate = -log1p(-half_year_loss) / _HALF_YEAR
    return alpha * exp(-rate * 2 ** ((temp - 20) / 15) * _PACKING[packing] * days)


@worksheet(
    source="Nickerson & Likens, J. ASBC 37 (1979) 184 (as commonly quoted; original not consulted)",
    equation="loss = 1.10 log10(HSI / 0.25), HSI = A275 / A325",
)
def hop_storage_loss(
    index: Annotated[Number, Between(0.2, 1.9), "hop storage index, absorbance at 275 nm over that at 325 nm"],
) -> Share:
    """Share of the alpha and beta acids lost, from the hop storage index of an analysis; 0 for fresh hops.

    >>> hop_storage_loss(0.40)
    0.2245
    """
    loss: Any = 1.10 * log10(index / _FRESH)
    return maximum(loss, 0.0)
