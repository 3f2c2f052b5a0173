"""What a run did to a workbook, for whoever prints it."""

from __future__ import annotations

from dataclasses import dataclass, field

from brewfuncs import __version__
from brewfuncs.xlsx.values import Value


@dataclass(slots=True)  # and not frozen, which is slow to make: there can be hundreds of thousands
class Change:
    """A stored value that was replaced."""

    sheet: str
    cell: str
    name: str | None  # the defined name of the cell
    old: Value
    new: Value


@dataclass(frozen=True)
class Kept:
    """A formula whose stored value stayed."""

    sheet: str
    cell: str
    name: str | None  # the defined name of the cell
    formula: str
    reason: str
    value: Value
    stale: bool = False  # something it rests on has changed, so that the value is to be worked out elsewhere
    origin: str | None = None  # the cell it rests on whose reason it is, as Sheet!B4


@dataclass(frozen=True)
class Failing:
    """A cell in error that has to do with our functions."""

    sheet: str
    cell: str
    name: str | None
    code: str
    sentence: str | None  # why, where one of our functions says so
    origin: str  # the cell where the error starts, as Sheet!B4


@dataclass(frozen=True)
class Revision:
    """A formula that was corrected since the workbook was made."""

    function: str
    stored: int
    installed: int | None  # None: the function isn't there any more
    changed: tuple[str, ...]  # the cells that call it and changed, as Sheet!B4


@dataclass
class Report:
    """What a run did to a workbook."""

    path: str
    formulas: int = 0
    written: bool = False
    inputs: list[Change] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    kept: list[Kept] = field(default_factory=list)
    failing: list[Failing] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    volatile: int = 0  # cells that differ at every calculation (NOW, RAND) and are no reason to write
    made_by: str | None = None  # the version that made the workbook, where it says so
    installed: str = __version__
    on_open: bool = False  # the file was marked to be worked out by the next program that opens it
    revisions: list[Revision] = field(default_factory=list)

    @property
    def stale(self) -> list[Kept]:
        """What should have changed and couldn't be vouched for."""
        return [kept for kept in self.kept if kept.stale]
