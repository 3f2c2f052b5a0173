"""Make a batch workbook: sheets of formulas and formats, every value worked out by the engine, the same bytes twice.

Nothing is computed here. openpyxl writes formulas and looks; the engine works them out as it does in any workbook; the
zip is packed again with fixed times.
"""

from __future__ import annotations

import datetime
import io
import os
import posixpath
import re
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from brewfuncs import __version__
from brewfuncs.batch.formats import SYSTEMS
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import INPUTS
from brewfuncs.errors import BrewError, WorkbookError
from brewfuncs.workbook.recalculate import recalculated

if TYPE_CHECKING:
    from brewfuncs.batch.brewhouse import Brewhouse
    from brewfuncs.batch.draft import Draft

__all__ = ["new"]

#: what stands for every time in the file: when a workbook was made is no part of it
_MOMENT = (2026, 1, 1, 0, 0, 0)


def new(
    plan: Plan | None = None,
    *,
    units: str | None = None,
    like: str | os.PathLike[str] | Sequence[str | os.PathLike[str]] | None = None,
    as_brewed: bool = False,
    volume: str | None = None,
    equipment: Plan | None = None,
    name: str | None = None,
    date: datetime.date | None = None,
    embed: bool = False,
) -> bytes:
    """The bytes of a batch workbook.

    plan: what stands in its inputs; without it, and without `like`, an invented demo batch.
    units: "metric", "us" or "imperial": the units that input cells start with; None leaves each as the plan writes it,
        and what it leaves open to the system of its volume.
    like: an earlier batch workbook whose plan and equipment are carried over, or several: the first one's. What they
        measured takes the place of what was planned, and is shown batch by batch on a sheet of its own.
    as_brewed: with `like`, make the boil that was brewed the recipe's own: its length, the hops' masses and times.
    volume: scale the recipe to so much wort after the boil, such as "40 L"; with `equipment`, for the kettle, mash tun
        and chiller of that plan.
    name, date: of this batch, in place of the plan's.
    embed: with the functions as names within it, for programs that no add-in can be put into.

    Raises WorkbookError where a value or file can't be used.
    """
    if units is not None and units not in SYSTEMS:
        raise WorkbookError(f'units "{units}" is none of: {", ".join(SYSTEMS)}')
    measured: Brewhouse | None = None
    if like is not None:
        from brewfuncs.batch.like import carried_over_with

        files = [like] if isinstance(like, (str, os.PathLike)) else like
        plan, measured = carried_over_with(*files, as_brewed=as_brewed)
    if plan is None:
        from brewfuncs.batch import demo

        plan = Plan.of(demo.LANTERN_PALE)
    if volume is not None:
        from brewfuncs.batch.scale import scaled

        plan = scaled(plan, volume, equipment)
    book = _build(_with(plan, {"batch.name": name, "batch.date": date}), units, embed, measured)
    data = recalculated(_saved(book))
    if embed:
        from brewfuncs.workbook.embed import embedded

        data = embedded(data)
    return _packed(data)


def _with(plan: Plan, given: Mapping[str, str | datetime.date | None]) -> Plan:
    """The plan with these values, by key, in place of its own; None leaves its own."""
    values = dict(plan.values)
    for key, value in given.items():
        if value is not None:
            try:
                values[key] = INPUTS[key].item.read(value)
            except BrewError as error:
                raise WorkbookError(f"{key.partition('.')[2]}: {error}") from None
    return replace(plan, values=values)


def _build(plan: Plan, system: str | None, embed: bool, measured: Brewhouse | None) -> Draft:
    from brewfuncs.batch.draft import Draft
    from brewfuncs.batch.sheets import (
        brew_day,
        brewhouse,
        cleaning,
        fermentation,
        functions,
        known_answers,
        package,
        recipe,
        shorter_boil,
        water,
        workings,
        worth_a_look,
    )
    from brewfuncs.batch.sheets import plan as the_plan

    book = Draft(plan, system)
    working = workings.Workings(book)
    if measured is not None and not any(batch.measured for batch in measured.batches):
        measured = None
    the_plan.build(book, working, with_spread=measured is not None)
    recipe.build(working)
    shorter_boil.build(book, working)
    if plan.has_water:
        water.build(book, working)
    cleaning.build(book, working)
    brew_day.build(book, working)
    fermentation.build(book, working)
    package.build(book, working)
    if measured is not None:
        brewhouse.build(book, working, measured)
    worth_a_look.build(book, working)
    functions.build(book, as_names=embed)
    known_answers.build(book)
    working.bases()
    book.finish()
    book.workbook.move_sheet(working.page.sheet, len(book.workbook.sheetnames))
    working.page.sheet.sheet_state = "hidden"  # for whoever wants to follow a figure; nobody brews from it
    return book


def _saved(book: Draft) -> bytes:
    """The workbook as openpyxl writes it, without values."""
    from openpyxl.packaging.custom import StringProperty

    from brewfuncs.catalogue import catalogue

    workbook = book.workbook
    used = {
        word
        for sheet in workbook.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
        for word in re.findall(r"[A-Z][A-Z0-9_]+(?=\()", str(cell.value))
    }
    revisions = " ".join(
        f"{f.name}={f.revision}" for f in sorted(catalogue().values(), key=lambda f: f.name) if f.name in used
    )
    properties = workbook.custom_doc_props
    properties.append(StringProperty(name="brewfuncs_version", value=__version__))
    properties.append(StringProperty(name="brewfuncs_revisions", value=revisions))
    workbook.properties.creator = "brewfuncs"
    workbook.properties.title = str(book.values.get("batch_name") or "Batch")
    workbook.properties.created = datetime.datetime(*_MOMENT)
    out = io.BytesIO()
    workbook.save(out)
    return out.getvalue()


def _packed(data: bytes) -> bytes:
    """The same parts, in the same order, with the same times whenever it is done, and written more as Excel does.

    openpyxl states the type of blank cells, which some programs then take for 0.
    """
    out = io.BytesIO()
    moment = "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z".format(*_MOMENT).encode()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for info in old.infolist():
            content = old.read(info)
            if info.filename.endswith(".rels"):
                content = _relative(info.filename, content)
            if info.filename.startswith("xl/worksheets/"):
                content = re.sub(rb'(<c r="[A-Z]+[0-9]+"(?: s="[0-9]+")?) t="n"', rb"\1", content)
            if info.filename == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + moment, content)
            fixed = zipfile.ZipInfo(info.filename, _MOMENT)
            fixed.compress_type, fixed.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
            package.writestr(fixed, content)
    return out.getvalue()


def _relative(name: str, content: bytes) -> bytes:
    """The targets of a part's relationships as seen from that part, as Excel writes them; openpyxl counts from the
    root, which the standard allows and not every program resolves."""
    folder = posixpath.dirname(posixpath.dirname(name)) or "."

    def target(match: re.Match[str]) -> str:
        return f'Target="{posixpath.relpath(match[1], folder)}"'

    return re.sub(r'Target="/([^"]*)"', target, content.decode()).encode()
