"""What may be typed into an input: the rule that refuses the rest, the sentence it refuses with, and what the cursor
shows. The ranges are those of the plan file and of `record`, in whatever unit stands beside the input."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from openpyxl.worksheet.datavalidation import DataValidation

from brewfuncs import units
from brewfuncs.batch.inputs import FIRST_DAY, LONGEST_TEXT, Input

__all__ = ["help_text", "least_share", "one_of", "rule"]

_EPOCH = datetime.date(1899, 12, 30)
_UNBOUNDED = 1e300
# Excel's limits, in characters
_SENTENCE, _FORMULA, _TITLE = 255, 255, 32

#: Shares that are never smaller: 0.055 was typed for 5.5 % where 0.055 % stands. By what the input is.
_LEAST_SHARES = {
    "HOP_BITTERNESS.alpha": 0.003,
    "WORT_MASH_GRAVITY.malt_yields": 0.01,
    "WORT_MASH_GRAVITY.efficiency": 0.01,
    "BEER_FINAL.attenuation": 0.012,
    "MASH_ACID.share": 0.011,
    "WATER_ACID.share": 0.011,
    "BEER_SLURRY_VOLUME.viability": 0.011,
    "distilled": 0.011,  # an input that is no function's
}


def least_share(item: Input) -> float:
    """The smallest share that can be meant, apart from none at all."""
    return _LEAST_SHARES.get(item.of if isinstance(item.of, str) else item.key, 0.0)


def one_of(words: Sequence[str]) -> DataValidation:
    """A drop-down with these words, and nothing else."""
    listed = ",".join(words)
    assert len(listed) <= _FORMULA, listed
    sentence = f"Choose one of: {', '.join(words)}."
    if len(sentence) > _SENTENCE:
        sentence = "Choose one from the list: Alt and the down arrow open it."
    return _refusing("Not in the list", sentence, type="list", formula1=f'"{listed}"', allow_blank=False)


def rule(item: Input, address: str, unit_cell: str) -> DataValidation:
    """The rule of an input at this address; `unit_cell` is the name of the cell that states its unit."""
    if item.words:
        return one_of(item.words)
    if item.is_text:
        return _refusing(
            "Too long",
            f"One line of at most {LONGEST_TEXT} characters is wanted.",
            type="textLength",
            operator="lessThanOrEqual",
            formula1=str(LONGEST_TEXT),
        )
    if item.is_date:
        return _refusing(
            "Not a date",
            "Write a date, such as 2026-03-14.",
            type="date",
            operator="greaterThanOrEqual",
            formula1=str((FIRST_DAY - _EPOCH).days),
            prompt="2026-03-14",
        )
    if item.is_time:
        return _refusing(
            "Not a time of day",
            "Write a time of day, such as 9:30.",
            prompt="9:30",
            **_between(address, "0", _written(1 - 1 / 86400), above=False),
        )
    return _share(item, address) if item.is_share else _number(item, address, unit_cell)


def _refusing(title: str, sentence: str, prompt: str = "", **rule: str | bool) -> DataValidation:
    assert len(title) <= _TITLE, title
    assert len(sentence) <= _SENTENCE, sentence
    made = DataValidation(errorStyle="stop", errorTitle=title, error=sentence, **{"allow_blank": True, **rule})
    made.showErrorMessage = True
    if prompt:
        made.prompt, made.showInputMessage = prompt, True
    return made


def _share(item: Input, address: str) -> DataValidation:
    limits, least = item.parameter.limits, least_share(item)
    example = "73" if limits.high >= 1 else "5.5"
    typed = f"type {example} for {example} %"
    sentence = f"A share of {_percent(limits.low)} to {_percent(limits.high)} is wanted: {typed}, without the sign."
    if least:
        sentence += f" Less than {_percent(least)} can't be meant."
    low, high = _written(least or limits.low), _written(limits.high)
    allowed = _between(address, low, high, above=limits.above and not least, or_zero=bool(least) and not limits.above)
    return _refusing("Not such a share", sentence, prompt=_capital(typed), **allowed)


def _percent(share: float) -> str:
    return f"{share * 100:.3g} %"


def _number(item: Input, address: str, unit_cell: str) -> DataValidation:
    limits = item.parameter.limits
    words = limits.words(item.parameter.symbol)
    sentence = f"A number is wanted{'' if words == 'any number' else f', {words}'}."
    if item.unit_choices:
        sentence += " Its unit stands in a cell of its own."
    low, high = (_bound(item, unit_cell, bound) for bound in (limits.low, limits.high))
    return _refusing("Not such a number", sentence, **_between(address, low, high, limits.above))


def _bound(item: Input, unit_cell: str, bound: float) -> str:
    """A bound as a formula in the unit that the input's cell is in; "" where there is none."""
    if abs(bound) > _UNBOUNDED:
        return ""
    formula = _written(bound)
    others: dict[str, list[str]] = {}
    for symbol in item.unit_choices:
        if (there := _written(units.convert(bound, item.quantity.symbol, symbol))) != formula:
            others.setdefault(there, []).append(f'{unit_cell}="{symbol}"')
    for there, asked in others.items():
        formula = f"IF(OR({','.join(asked)}),{there},{formula})"
    assert len(formula) <= _FORMULA, formula
    return formula


def _written(number: float) -> str:
    return f"{number:.10g}"


def _between(address: str, low: str, high: str, above: bool, or_zero: bool = False) -> dict[str, str]:
    """The rule that a number is from low to high, where either may be missing; `above`: low itself is refused."""
    if or_zero or (above and high):  # which no operator says
        inside = f"AND(ISNUMBER({address}),{address}{'>' if above else '>='}{low},{address}<={high})"
        return {"type": "custom", "formula1": f"OR({address}=0,{inside})" if or_zero else inside}
    if not high:
        operator = "greaterThan" if above else "greaterThanOrEqual"
        return {"type": "decimal", "operator": operator, "formula1": low or f"-{_UNBOUNDED:g}"}
    return {"type": "decimal", "operator": "between", "formula1": low, "formula2": high}


def help_text(item: Input) -> str:
    """The note on an input: what it is, in which units, within which range."""
    if not item.is_number:
        return item.help + (f"\nOne of: {', '.join(item.words)}." if item.words else "")
    limits = item.parameter.limits
    text = item.help or _capital(item.parameter.help).removesuffix(".") + "."
    words = limits.words(item.parameter.symbol)
    units_text = f" The unit beside it can be changed: {', '.join(item.unit_choices)}." if item.unit_choices else ""
    if item.is_share:
        words = f"{limits.low:.0%} to {limits.high:.0%}"
    return f"{text}\nRange: {words}.{units_text}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
