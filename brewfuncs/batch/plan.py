"""A plan: what stands in the inputs of a batch workbook, from tables of texts or from a plan file."""

from __future__ import annotations

import difflib
import math
import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from brewfuncs import units
from brewfuncs.batch.formats import house_unit
from brewfuncs.batch.inputs import Amount, Entered, Input, Section
from brewfuncs.batch.sections import INPUTS, SECTIONS, find_section
from brewfuncs.errors import BrewError, WorkbookError

__all__ = ["Plan", "load"]


@dataclass
class Plan:
    """What stands in the inputs: by key in full, and for lists row by row; and the units of cells, by their names, as
    far as somebody chose them."""

    values: dict[str, Entered] = field(default_factory=dict)
    rows: dict[str, list[dict[str, Entered]]] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)

    @classmethod
    def empty(cls, with_optional: bool = False, system: str = "metric") -> Plan:
        """No batch: the usual equipment, in round figures of that system of units, no malts, no hops; and no water, but
        for `with_optional`."""
        plan = cls()
        for key, (section, item) in INPUTS.items():
            if section.optional and not with_optional:
                continue
            if section.rows:
                if section.key not in plan.rows:
                    plan.rows[section.key] = [
                        {name: section.find(name).read(given) for name, given in row.items()} for row in section.start
                    ]
            else:
                plan.values[key] = _usual(item, system)
        return plan

    @classmethod
    def of(cls, given: Mapping[str, Any], *, measured: bool = False) -> Plan:
        """A plan from tables of texts, as a plan file has them: {"mash": {"temp": "66 °C"}, "hops": [{...}]}.

        With `measured`, what is put into the workbook and not into the plan may be there too: the brew day's readings.
        Raises BrewError with key and reason.
        """
        plan = cls()
        sections = {section.key: section for section in SECTIONS if section.in_file or measured}
        for key, content in given.items():
            section = _known(key, sections, "")
            if section.rows:
                if not isinstance(content, list) or not all(isinstance(row, dict) for row in content):
                    raise BrewError(f"{key}: a list of rows is wanted, each headed [[{key}]]")
                if len(content) > section.rows:
                    raise BrewError(f"{key}: {len(content)} rows, and the sheet has {section.rows}")
                plan.rows[key] = [_table(section, row, f"{key} {n}") for n, row in enumerate(content, 1)]
                for n, row in enumerate(plan.rows[key], 1):
                    plan.units |= {section.name(k, n): v.unit for k, v in row.items() if isinstance(v, Amount)}
            else:
                if not isinstance(content, dict):
                    raise BrewError(f"{key}: a table is wanted, headed [{key}]")
                table = _table(section, content, key)
                plan.values |= {f"{key}.{name}": value for name, value in table.items()}
                plan.units |= {section.name(k): v.unit for k, v in table.items() if isinstance(v, Amount)}
        missing = [
            f"{section.key}.{item.key}"
            for section in sections.values()
            for item in section.inputs
            if item.required and not section.rows and item.key not in given.get(section.key, {})
        ]
        if missing:
            first, *others = missing
            *most, last = others or [""]
            too = f", and so are {', '.join(most)} and" if most else ", and so is" if others else ""
            raise BrewError(f"{first} is missing{too} {last}".rstrip())
        usual = cls.empty(_states_optional(given), plan.system)
        return cls(usual.values | plan.values, usual.rows | plan.rows, plan.units)

    @property
    def has_water(self) -> bool:
        """Whether it states anything of its water, and the workbook shows it."""
        return "water.distilled" in self.values

    def base(self, key: str) -> float | None:
        """A number of the plan in the formulas' unit; None where it is blank."""
        value = self.values.get(key)
        return INPUTS[key].item.in_base(value) if isinstance(value, Amount) else None

    @property
    def system(self) -> str:
        """The system of units it is written in, as the batch's volume tells."""
        unit = self.units.get("batch_volume", "L")
        return (
            "imperial" if unit.startswith("imp ") else "us" if unit in ("gal", "qt", "pt", "fl oz", "bbl") else "metric"
        )

    def entries(self) -> Iterator[tuple[str, Entered]]:
        """Every value with the name of its cell."""
        for key, value in self.values.items():
            section, item = INPUTS[key]
            yield section.name(item.key), value
        for section_key, rows in self.rows.items():
            section = find_section(section_key)
            for n, row in enumerate(rows, 1):
                for key, value in row.items():
                    yield section.name(key, n), value


def _usual(item: Input, system: str) -> Entered:
    """What an input holds where nobody says otherwise: a round figure in the units of that system too."""
    value = item.read(item.default)
    if not isinstance(value, Amount) or (unit := house_unit(value.unit, system)) == value.unit or not value.number:
        return value
    number = units.convert(value.number, value.unit, unit)
    return Amount(round(number, max(0, 1 - math.floor(math.log10(abs(number))))), unit)


def _states_optional(given: Mapping[str, Any]) -> bool:
    """Whether tables of a plan hold anything optional."""
    optional = {section.key for section in SECTIONS if section.optional}
    within = {(section.key, item.key) for section, item in INPUTS.values() if item.optional}
    rows = ((key, row) for key, content in given.items() if isinstance(content, list) for row in content)
    return bool(optional & set(given)) or any((key, name) in within for key, row in rows for name in row)


def _known(key: str, known: Mapping[str, Any], where: str) -> Any:
    if key in known:
        return known[key]
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
    full = f"{where}.{key}" if where else key
    raise BrewError(
        f"{full} is not a key of a plan" + (f"; did you mean {near[0]}?" if near else f"; known are {', '.join(known)}")
    )


def _table(section: Section, content: Mapping[str, Any], where: str) -> dict[str, Entered]:
    """One table of a plan file; `where` is how messages name it."""
    known = {item.key: item for item in section.inputs}
    found: dict[str, Entered] = {}
    for key, given in content.items():
        item = _known(key, known, where)
        try:
            found[key] = item.read(given)
        except BrewError as error:
            reason = re.sub(rf"^{re.escape(key)} ", "", str(error))
            raise BrewError(f"{where}.{key}: {reason}") from None
    if section.rows:
        for item in section.inputs:
            if item.required and found.get(item.key) is None:
                raise BrewError(f"{where}.{item.key} is missing")
    return found


_MAX_KEY = 50
_DEEP_KEY = re.compile(rf"(?<![\w\"'-])(?:[\w\"'-]+[ \t]*\.[ \t]*){{{_MAX_KEY}}}")


def load(path: str | os.PathLike[str]) -> Plan:
    """Read a plan file. Raises WorkbookError with one sentence: file, key, reason."""
    path = Path(path)
    try:
        if path.stat().st_size > 1 << 20:
            raise WorkbookError(f"{path} is too large for a plan file")
        text = path.read_text(encoding="utf-8-sig")
        if _DEEP_KEY.search(text):  # whose parts tomllib goes through once for each
            raise WorkbookError(f"{path} is no plan file: a key in it has more than {_MAX_KEY} parts")
        given = tomllib.loads(text)
    except FileNotFoundError:
        raise WorkbookError(f"{path} does not exist") from None
    except OSError as error:
        raise WorkbookError(f"{path} can't be read: {(error.strerror or str(error)).lower()}") from None
    except UnicodeDecodeError:
        raise WorkbookError(f"{path} is no text file in UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        raise WorkbookError(f"{path} is no TOML file: {message[:1].lower()}{message[1:]}") from None
    except RecursionError:
        raise WorkbookError(f"{path} is no plan file: its brackets stand too deep in one another") from None
    try:
        return Plan.of(given)
    except BrewError as error:
        raise WorkbookError(f"{path}: {error}") from None
