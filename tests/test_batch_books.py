"""A book that is typed holds what the file of the same plan holds after the same readings, and refuses the same."""

from __future__ import annotations

import copy
import math
from pathlib import Path
from typing import Any

import pytest

from brewfuncs.batch import demo
from brewfuncs.batch.plan import Plan
from brewfuncs.errors import BrewError
from tests.batch_books import Book, TypedBook

#: a day and what follows, in all the ways that values are given: numbers, texts, blanks, words, days, times, units
DAY: tuple[dict[str, Any], ...] = (
    {"batch_name": "1/2 pale", "batch_date": "2026-05-01", "boil_start": "23:40", "preboil_volume": "6.9 gal",
     "preboil_volume_temp": "20 °C", "hop_1_alpha": "9 %", "mash_efficiency": 0.71},
    {"preboil_gravity_temp_unit": "°C", "preboil_gravity": "1.047", "preboil_gravity_temp": 20,
     "kettle_boil_off_unit": "L/h", "kettle_boil_off": "1 gal/h",
     "hop_2_mass": "", "hop_2_name": None, "hop_2_alpha": None, "hop_2_time": None},
    {"boiled_minutes": 65, "boil_start": None, "package_kind": "keg", "hops_mass_unit": "g", "hop_1_mass": 30,
     "reading_1_note": "calm", "reading_1_gravity": 1.012, "reading_1_gravity_temp": "19 °C"},
)  # fmt: skip


@pytest.mark.parametrize(("given", "units"), [(demo.LANTERN_PALE, "us"), (demo.HARD_WATER, None)], ids=["pale", "hard"])
def test_typed_and_in_the_file_every_cell_is_the_same(tmp_path: Path, given: dict[str, Any], units: str | None) -> None:
    file = Book.made(tmp_path / "batch.xlsx", Plan.of(given), units=units)
    typed = TypedBook.made(Plan.of(given), units=units)
    assert differing(file, typed) == {}
    for step in DAY:
        before = file.values()
        assert differing(file.record(**step), typed.record(**step)) == {}
        assert len([name for name, value in file.values().items() if value != before[name]]) > 20


def differing(file: Book, typed: TypedBook) -> dict[str, Any]:
    """But for the last digits: what differs by rounding alone is left in a file as it stood."""
    there, here = file.values(), typed.values()
    assert there.keys() == here.keys()
    return {name: (value, here[name]) for name, value in there.items() if not same(value, here[name])}


def same(value: Any, other: Any) -> bool:
    if isinstance(value, float) and isinstance(other, float):
        return math.isclose(value, other, rel_tol=1e-12)
    return repr(value) == repr(other)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("planned_preboil_volume", "20 L"),
        ("preboil_volum", "20 L"),
        ("preboil_volume", "20 kg"),
        ("mash_efficiency", 73),
        ("mash_temp", 101),
        ("hops_mass_unit", "stone"),
        ("boil_kettle", "half open"),
        ("batch_date", "14"),
        ("batch_name", "x" * 81),
        ("water_ph", 7),
    ],
)
def test_what_a_file_refuses_is_refused(tmp_path: Path, name: str, value: Any, demo_file: Path) -> None:
    typed = TypedBook.made()
    before = typed.values()
    with pytest.raises(BrewError) as of_typed:
        typed.record(**{name: value, "boiled_minutes": 50})
    with pytest.raises(BrewError) as of_file:
        Book(demo_file).record(**{name: value, "boiled_minutes": 50})
    assert str(of_typed.value) == str(of_file.value).replace(str(demo_file), "batch.xlsx")
    assert typed.values() == before


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Book.made(tmp_path_factory.mktemp("demo") / "batch.xlsx").path


def test_none_sees_what_another_left() -> None:
    """Alone, beside others, and after others that changed all there is to change, units as well."""
    alone = TypedBook.made()
    expected = alone.values()
    other = TypedBook.made(units="us")
    for step in DAY:
        other.record(**step)
    other.typed("dms_limit", -1.0)
    assert other["dms_limit"] == -1.0
    assert sum(other[name] != value for name, value in expected.items()) > 300
    assert TypedBook.made().values() == expected
    changed = other.values()
    assert alone.record(boiled_minutes=65).record(boiled_minutes=None).values() == expected
    assert TypedBook.made(Plan.empty())["batch_name"] is None
    assert other.record(batch_name="1/2 pale").values() == changed
    plan = Plan.of(copy.deepcopy(demo.SLATE_PILSNER))
    assert TypedBook.made(plan).values() == TypedBook.made(plan).values() != expected
