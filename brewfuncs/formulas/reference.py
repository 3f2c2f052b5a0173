"""Units, and questions about the functions themselves."""

from typing import Annotated

from ..catalogue import Between, find, worksheet
from ..units import Anyhow, Number, Sentence, Word, convert


@worksheet(
    source="Exact definitions of the units; °P: the ASBC table's cubic; EBC = SRM 25/12.7; "
    "°Lovibond: SRM = 1.3546 °L - 0.76, as commonly quoted",
    equation="base = factor value + offset; P = -616.868 + 1111.14 S - 630.272 S^2 + 135.997 S^3; "
    "SRM = 12.7 / 25 EBC = 1.3546 degL - 0.76",
    no_answer="the other scale doesn't reach that far",
)
def unit_convert(
    value: Annotated[Number, Between(-1e300, 1e300), "a number"],
    from_unit: Annotated[Word, "its unit, such as gal or °P"],
    to_unit: Annotated[Word, "the unit wanted, of the same kind"],
) -> Number:
    """A value in another unit of the same kind.

    gal, qt, pt and fl oz are US; imp gal and imp pt imperial; bbl is the US beer barrel. Temperatures convert as
    temperatures; a difference is K or Δ°F. What waterworks give in mmol/L is mmol/L HCO3 where it is alkalinity (acid
    capacity), mmol/L CaCO3 where it is hardness; an ion is one of "mg/L HCO3", "mg/L Ca", "mg/L Mg".

    >>> unit_convert(1, "fl oz/gal", "mL/L")
    7.8125
    """
    return convert(value, from_unit, to_unit)


@worksheet(source="This package's own range checks", equation="none: the declared ranges, looked up")
def brew_reason(
    function_name: Annotated[Word, "the function asked about, such as HOP_BITTERNESS"],
    *arguments: Annotated[Anyhow, "the arguments as they stand in its call"],
) -> Sentence:
    """The sentence that says what is wrong with a call, or an empty text where the call is fine.

    >>> brew_reason("BOIL_OFF", 4.5, -10)
    'minutes -10 min is outside 0 to 600 min'
    """
    from ..cells import reason

    return reason(find(function_name), arguments)


@worksheet(source="The declarations of the functions themselves", equation="none: the declaration, looked up")
def brew_source(function_name: Annotated[Word, "the function asked about, such as HOP_BITTERNESS"]) -> Sentence:
    """The published source of a function's formula, and the revision of its constants.

    >>> brew_source("WATER_DENSITY")
    'Kell 1975, J. Chem. Eng. Data 20:97; revision 1'
    """
    function = find(function_name)
    return f"{function.source}; revision {function.revision}"
