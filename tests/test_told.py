"""What `record` tells of a change: the words beside a cell, the digits that the cell shows, nothing that isn't seen.

The expected words are read off the sheets as a person reads them: label or row and head, value, unit.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from brewfuncs.batch.demo import HARD_WATER
from brewfuncs.batch.generate import new
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.record import record
from brewfuncs.batch.told import Setting, Told, settings, told
from brewfuncs.errors import WorkbookError


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("told") / "batch.xlsx"
    path.write_bytes(new())
    return path


def lines(demo: Path, tmp_path: Path, **values: Any) -> list[Told]:
    found = told(record(shutil.copy(demo, tmp_path / "batch.xlsx"), values))
    assert found is not None
    return found


def of(found: list[Told], sheet: str, label: str) -> tuple[str, str, str]:
    (one,) = (line for line in found if (line.sheet, line.label) == (sheet, label))
    return one.old, one.new, one.unit


def test_times_of_day_are_rounded_to_the_minute(demo: Path, tmp_path: Path) -> None:
    """6:10 and 50 minutes are a hair under 7:00 as a cell holds them."""
    found = lines(demo, tmp_path, boil_start="6:10")
    assert of(found, "Brew day", "Boil began at") == ("blank", "06:10", "")
    assert of(found, "Brew day", "Ostrane, at") == ("blank", "06:10", "")
    assert of(found, "Brew day", "Velmark, at") == ("blank", "07:00", "")


def test_dates_and_shares(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, batch_date="2026-05-01", mash_efficiency="70.25 %")
    assert of(found, "Plan", "Brew day") == ("2026-03-14", "2026-05-01", "")
    assert of(found, "Plan", "Extract reaching the kettle") == ("73.0 %", "70.25 %", "")
    assert of(found, "Plan", "Alcohol by volume") == ("5.2 %", "5.0 %", "")
    assert of(found, "Plan", "Original gravity") == ("1.051", "1.049", "SG")


def test_of_two_tables_side_by_side_each_row_has_its_own_name(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, hop_1_mass="31 g", malt_2_mass="0.2 kg")
    assert of(found, "Plan", "Ostrane, Mass") == ("28.0", "31.0", "g")
    assert of(found, "Plan", "Crystal malt, Mass") == ("0.3", "0.2", "kg")
    labels = {line.label for line in found if line.sheet == "Plan"}
    assert {"Ostrane, by tinseth", "Velmark, For that bitterness", "Pale malt, For that gravity"} <= labels
    assert not [label for label in labels if "malt" in label and ("bitterness" in label or "tinseth" in label)]
    assert of(found, "Shorter boil", "Ostrane, Mass found") == ("28.0", "31.0", "")


def test_the_same_change_in_two_rows_is_told_of_both(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, malt_2_mass="0.4 kg", malt_3_mass="0.4 kg")  # 0.3 kg both
    assert {line.label for line in found if line.is_input} == {"Crystal malt, Mass", "Wheat malt, Mass"}


def test_another_unit_is_told_once_and_figures_in_it(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, batch_volume_unit="gal", batch_volume=5.5)
    assert [line.label for line in found if line.new == "gal"] == ["Wort after the boil"]
    old, new, unit = of(found, "Plan", "Volume before the boil")
    assert (old, unit) == ("25.5", "gal")
    assert 5.5 < float(new) < 8


def test_a_figure_that_stands_in_for_a_reading_is_told_as_that(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, mash_efficiency="70 %")
    assert of(found, "Fermentation", "Gravity at pitching, in use") == ("1.051", "1.049", "SG")


def test_a_span_has_its_label_and_a_sentence_stands_alone(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, dms_limit="60 µg/L")
    spans = [line for line in found if line.label == "as papers part"]
    assert {line.unit for line in spans} == {"min"}
    found = lines(demo, tmp_path, kettle_size="28 L")
    assert [line.new for line in found if line.is_sentence] == ["Look: may boil over"]


def test_words_in_a_row_of_a_table_are_told_with_the_row_and_its_head(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, hop_2_stand_temp="80 °C", part_1_state="soaked")  # without a time of day too
    said = [line.new for line in found if line.is_sentence]
    assert "Velmark (stand), at: after the boil" in said
    assert len([words for words in said if words.startswith("Fermenter, What is known of it: No harm known")]) == 1


def test_a_malts_row_on_the_sheet_water_has_the_heads_of_its_columns(tmp_path: Path) -> None:
    """Words stand in the rows above it."""
    (tmp_path / "water.xlsx").write_bytes(new(Plan.of(HARD_WATER)))
    found = lines(tmp_path / "water.xlsx", tmp_path, malt_2_name="Flaked oats", malt_3_name="Munich malt")
    assert of(found, "Water", "Munich malt, taken as") == ("wheat", "munich", "")
    on_water = [line.label or line.new for line in found if line.sheet == "Water"]
    of_the_oats = [words for words in on_water if words.startswith("Flaked oats")]
    assert of_the_oats == ["Flaked oats, taken as: Look: not known", "Flaked oats, pH"]  # and not the name once more


def test_what_nobody_sees_is_not_told(demo: Path, tmp_path: Path) -> None:
    """A hundred-thousandth of gravity: typed it is shown in full, and nothing else shows a difference."""
    found = lines(demo, tmp_path, batch_gravity=1.05001)
    assert found == [Told("Plan", "Gravity wanted", "1.050", "1.05001", "SG", True)]


def test_readings_with_their_difference_to_the_plan(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, boiled_minutes=65)
    assert of(found, "Brew day", "Boiled for") == ("blank", "65", "min")
    assert of(found, "Brew day", "Boiled for, apart") == ("blank", "5", "")


def test_what_can_be_set_is_listed_with_its_row(demo: Path) -> None:
    found = {one.name: one for one in settings(str(demo))}
    assert found["hop_2_time"] == Setting("hop_2_time", "Plan", "Velmark, Time", "10", "min")
    assert found["hop_2_name"] == Setting("hop_2_name", "Plan", "Hop", "Velmark", "")
    assert found["hop_9_time"] == Setting("hop_9_time", "Plan", "Time", "", "min")
    assert found["preboil_gravity"] == Setting("preboil_gravity", "Brew day", "Hydrometer before the boil", "", "SG")


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("Volume before the boil", "preboil_volume"),
        ("gravity at pitching", "fermenter_gravity"),
        ("Alpha acid", "hop_1_alpha"),
        ("preboil volume", "preboil_volume"),
    ],
)
def test_the_words_beside_a_cell_are_answered_with_its_name(demo: Path, words: str, name: str) -> None:
    with pytest.raises(WorkbookError, match=f'no cell named "{words}"; did you mean {name}( or |\\?)'):
        record(demo, {words: 1.0})


def test_words_of_inputs_that_a_workbook_lacks_are_not_answered(demo: Path) -> None:
    with pytest.raises(WorkbookError) as refused:  # of the sheet Water
        record(demo, {"Distilled water in it": 0.4})
    assert "water_distilled" not in str(refused.value)


@pytest.fixture(scope="module")
def american(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("told") / "batch.xlsx"
    path.write_bytes(new(Plan.of(HARD_WATER), units="us"))
    return path


def test_figures_have_the_digits_of_the_unit_they_are_shown_in(american: Path, tmp_path: Path) -> None:
    found = lines(american, tmp_path, water_chlorine="0.3 mg/L", package_warmest="95 °F", batch_bitterness=25)
    _, metabisulfite, unit = of(found, "Water", "Metabisulfite")
    assert (len(metabisulfite), unit) == (
        len("0.006"),
        "g",
    )  # some milligrams, which 0.01 g would tell as half or twice
    _, pressure, unit = of(found, "Package", "with what is wanted alone")
    assert (len(pressure), unit) == (len("46.1"), "psi")
    wanted = next(line for line in found if line.label.endswith("For that bitterness"))
    assert len(wanted.new) == len("1.27")  # oz


def test_readings_are_told_with_their_day(demo: Path, tmp_path: Path) -> None:
    found = lines(demo, tmp_path, reading_5_gravity=1.014, reading_5_gravity_temp="20 °C", reading_7_day="6.5 d",
                  reading_7_gravity=1.014, reading_7_gravity_temp="20 °C")  # fmt: skip
    assert [(line.label, line.new) for line in found if line.is_input] == [
        ("Day 4, Hydrometer", "1.014"), ("Day 4, Sample at", "20.0"), ("Day", "6.5"),
        ("Day 6.5, Hydrometer", "1.014"), ("Day 6.5, Sample at", "20.0"),
    ]  # fmt: skip
    figures = ("Gravity", "Attenuated", "Alcohol")
    told_of = {f"{day}, {figure}" for day in ("Day 4", "Day 6.5") for figure in figures}
    assert told_of <= {line.label for line in found if not line.is_input}
