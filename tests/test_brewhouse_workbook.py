"""Several finished workbooks lead to a plan with mean and spread; a scaled recipe keeps extract and bitterness."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy
import pytest
from click.testing import CliRunner

from brewfuncs.batch import demo
from brewfuncs.batch.generate import new
from brewfuncs.batch.inputs import Amount
from brewfuncs.batch.like import carried_over
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.scale import scaled
from brewfuncs.cli import MISUSED, main
from brewfuncs.errors import WorkbookError
from brewfuncs.xlsx.package import Package
from tests.batch_books import Book, TypedBook

EFFICIENCIES = (0.70, 0.74, 0.73, 0.78, 0.75)
RATES = (4.1, 4.6, 4.4, 4.9, 4.5)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A batch of which nothing is measured."""
    return Book.made(tmp_path_factory.mktemp("planned") / "plain.xlsx").path


@pytest.fixture(scope="module")
def finished(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Five batches whose readings give these efficiencies and boil-offs: 24 L before the boil at what mass and extract
    say (ASBC cubic, solved here by numpy), then so much less water after an hour."""
    folder, made = tmp_path_factory.mktemp("batches"), []
    for n, (efficiency, rate) in enumerate(zip(EFFICIENCIES, RATES, strict=True), 1):
        batch = Book(shutil.copy(planned, folder / f"batch{n}.xlsx"))
        extract = efficiency * (4.2 * 0.79 + 0.3 * 0.74 + 0.3 * 0.81)
        before = gravity_of(extract, 24.0)
        mass = 24.0 * before * 0.998203 - rate * 0.998203
        after = gravity_of_share(100 * extract / mass)
        readings = {"batch_name": f"Batch {n}", "preboil_volume": 24, "preboil_gravity": before, "boiled_minutes": 60,
                    "postboil_volume": mass / (after * 0.998203), "postboil_gravity": after}  # fmt: skip
        readings |= {f"{when}_{what}_temp": 20 for when in ("preboil", "postboil") for what in ("volume", "gravity")}
        made.append(batch.record(**readings).path)
    return made


def gravity_of_share(plato: float) -> float:
    roots = numpy.roots([135.997, -630.272, 1111.14, -616.868 - plato])
    return float(min(root.real for root in roots if abs(root.imag) < 1e-9 and 0.9 < root.real < 1.3))


def gravity_of(extract: float, volume: float) -> float:
    """Specific gravity of so many litres that hold so much extract, by halving."""
    low, high = 1.0, 1.2
    for _ in range(60):
        middle = (low + high) / 2
        plato = numpy.polyval([135.997, -630.272, 1111.14, -616.868], middle)
        low, high = (middle, high) if plato / 100 * middle * 0.998203 * volume < extract else (low, middle)
    return low


def test_the_new_plan_starts_from_the_means_and_shows_the_spread(finished: list[Path], tmp_path: Path) -> None:
    book = Book.made(tmp_path / "next.xlsx", like=finished)
    # readings are hydrometer readings at 20 °C: glass and water change nothing there
    assert book["mash_efficiency"] == pytest.approx(numpy.mean(EFFICIENCIES), rel=1e-4)
    assert book["kettle_boil_off"] == pytest.approx(numpy.mean(RATES), rel=1e-3)
    assert book["brewhouse_efficiency_spread"] == pytest.approx(numpy.std(EFFICIENCIES, ddof=1), rel=1e-3)
    assert book["brewhouse_boil_off_spread"] == pytest.approx(numpy.std(RATES, ddof=1), rel=1e-3)
    # first order: gravity points go with the efficiency and against the volume
    spread_of_volume = numpy.std(RATES, ddof=1)  # of one hour's boil
    relative = numpy.hypot(numpy.std(EFFICIENCIES, ddof=1) / numpy.mean(EFFICIENCIES), spread_of_volume / 21)
    points = book["original_gravity_in_SG"] - 1
    assert book["original_gravity_spread"] == pytest.approx(points * relative, rel=2e-3)
    assert f"± {points * relative:.3f}" in book["gravity_state"]
    assert book["original_gravity_forecast"] == f"Original gravity {points + 1:.3f} ± {points * relative:.3f}"
    assert book["alcohol_forecast"] == ""  # no batch measured its attenuation


def test_one_batch_gives_no_spread_and_an_unmeasured_one_no_sheet(
    finished: list[Path], planned: Path, tmp_path: Path
) -> None:
    book = Book.made(tmp_path / "next.xlsx", like=finished[:1])
    assert book["mash_efficiency"] == pytest.approx(EFFICIENCIES[0], rel=1e-3)
    assert book["brewhouse_efficiency_spread"] == ""
    assert "±" not in book["gravity_state"]
    with Package("again.xlsx", data=new(like=planned)) as package:
        assert "Brewhouse" not in package.sheet_parts


def test_several_are_given_behind_like(finished: list[Path], tmp_path: Path) -> None:
    arguments = [str(path) for path in finished[:2]]
    made = CliRunner().invoke(main, ["new", "--like", *arguments, "-o", str(tmp_path / "next.xlsx")])
    assert made.exit_code == 0, made.output
    assert Book(tmp_path / "next.xlsx")["mash_efficiency"] == pytest.approx(numpy.mean(EFFICIENCIES[:2]), rel=1e-3)
    for wrong in (arguments, ["plan.toml", "--like", arguments[0]], ["--equipment", arguments[0]]):
        refused = CliRunner().invoke(main, ["new", *wrong, "-o", str(tmp_path / "other.xlsx")])
        assert refused.exit_code == MISUSED, refused.output


# -- another volume --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["tinseth", "kinetic", "rager table"])
def test_a_scaled_recipe_is_the_same_beer(method: str) -> None:
    """Twice the volume: gravity, colour and bitterness by the plan's own model stay, though the boil concentrates the
    fuller kettle less."""
    text = demo.LANTERN_PALE | {"batch": {**demo.LANTERN_PALE["batch"], "bittering": method}}
    big = scaled(Plan.of(text), "42 L")
    big.values["kettle.loss"] = Amount(3.0, "L")  # twice, so that the fermenter gets the same share
    small, large = TypedBook.made(Plan.of(text)), TypedBook.made(big)
    assert large["batch_volume"] == 42
    for name in ("original_gravity_in_SG", "color_in_EBC", "bitterness"):
        assert large[name] == pytest.approx(small[name], rel=2e-3), name
    assert large["kettle_boil_off"] == small["kettle_boil_off"]
    assert large["malt_1_mass"] == pytest.approx(8.4)


def test_water_is_as_hard_in_another_volume() -> None:
    """Salts go by the water they go into: what mash and sparge hold stays, and so does the mash's pH."""
    small = TypedBook.made(Plan.of(demo.HARD_WATER))
    large = TypedBook.made(scaled(Plan.of(demo.HARD_WATER), "42 L"))
    for water in ("mash_water", "sparge_water"):
        for ion in ("calcium", "chloride", "sulfate"):
            name = f"{water}_{ion}"
            assert large[name] == pytest.approx(small[name], rel=1e-3), name
    assert large["mash_ph_forecast"] == pytest.approx(small["mash_ph_forecast"], abs=1e-3)
    # twice the grain and its water; less than twice to sparge with, since the kettle boils off no more
    assert large["salt_2_mass"] == pytest.approx(4)
    assert large["water_mash_acid_mass"] == pytest.approx(12)
    assert small["salt_1_mass"] < large["salt_1_mass"] < 2 * small["salt_1_mass"]


def test_the_next_batch_takes_its_water_along(tmp_path: Path) -> None:
    first = Book.made(tmp_path / "first.xlsx", Plan.of(demo.HARD_WATER))
    first.record(mash_ph_read=5.5, salt_3_name="epsom salt", salt_3_mass=1, malt_2_kind="dark caramel")
    second = Book.made(tmp_path / "second.xlsx", like=first.path)
    assert second["water_alkalinity"] == 268
    assert second["water_alkalinity_unit"] == "mg/L HCO3"
    assert second["salt_3_name"] == "epsom salt"
    assert second["malt_1_ph"] == pytest.approx(5.72)
    assert second["malt_2_kind"] == "dark caramel"
    assert second["mash_ph_read"] is None  # measured, and of that batch alone


def test_another_kettle_brings_its_own_figures() -> None:
    other = Plan.of(
        demo.LANTERN_PALE | {"mash": {"efficiency": "60 %"}, "kettle": {"boil_off": "9 L/h", "size": "70 L"}}
    )
    plan = Plan.of(demo.LANTERN_PALE)
    big = scaled(plan, "42 L", other)
    assert big.values["kettle.boil_off"] == Amount(9.0, "L/h")
    assert big.values["mash.efficiency"] == other.values["mash.efficiency"]
    assert big.values["mash.temp"] == plan.values["mash.temp"]  # of the recipe
    mass = big.rows["malts"][0]["mass"]
    assert isinstance(mass, Amount)
    assert mass.number == pytest.approx(4.2 * 2 * 0.73 / 0.60, rel=1e-9)


def test_a_volume_that_cant_be_read() -> None:
    with pytest.raises(WorkbookError, match="volume"):
        scaled(Plan.of(demo.LANTERN_PALE), "much")


def test_an_efficiency_of_none_is_a_sentence() -> None:
    plan, none = (Plan.of(demo.LANTERN_PALE | {"mash": {"efficiency": share}}) for share in ("70 %", "0 %"))
    for recipe, equipment in ((plan, none), (none, plan)):
        with pytest.raises(WorkbookError, match=r"mash\.efficiency is 0"):
            scaled(recipe, "42 L", equipment)


def test_what_belongs_to_the_recipe_is_not_taken_from_the_other_kettle() -> None:
    """Topping up goes with the volume, and with nobody's kettle; a stand's hops too."""
    plan = Plan.of(demo.LANTERN_PALE | {"kettle": {**demo.LANTERN_PALE["kettle"], "topup": "4 L"}})
    other = Plan.of(demo.LANTERN_PALE | {"kettle": {"boil_off": "9 L/h", "topup": "1 L"}, "chill": {"time": 45}})
    big = scaled(plan, "42 L", other)
    assert big.values["kettle.topup"] == Amount(8.0, "L")
    assert big.values["chill.time"] == other.values["chill.time"] != plan.values["chill.time"]
    assert big.rows["hops"][2]["mass"] == Amount(60.0, "g")
    assert big.rows["hops"][2]["time"] == plan.rows["hops"][2]["time"]
    assert plan.values["kettle.topup"] == Amount(4.0, "L")  # the one given stays as it is
    assert plan.rows["hops"][2]["mass"] == Amount(30.0, "g")
    assert scaled(plan, "21 L").rows["hops"][0]["mass"] == plan.rows["hops"][0]["mass"]


def test_a_covered_kettle_concentrates_nothing() -> None:
    """Hops of a covered kettle go with the volume alone: no water leaves, in either."""
    plan = Plan.of(demo.LANTERN_PALE | {"boil": {**demo.LANTERN_PALE["boil"], "kettle": "covered"}})
    mass = scaled(plan, "42 L").rows["hops"][0]["mass"]
    assert isinstance(mass, Amount)
    # what stays behind in the kettle is the same 1.5 L: nothing of that is in the gravity while nothing is topped up
    assert mass.number == pytest.approx(56.0, rel=1e-9)


def test_sugar_goes_with_the_volume_and_not_with_the_mash() -> None:
    malts = [*demo.LANTERN_PALE["malts"], {"name": "Sugar", "mass": "500 g"}]
    plan = Plan.of(demo.LANTERN_PALE | {"malts": malts})
    other = Plan.of(demo.LANTERN_PALE | {"mash": {"efficiency": "60 %"}})
    sugar = scaled(plan, "42 L", other).rows["malts"][3]["mass"]
    assert isinstance(sugar, Amount)
    assert sugar.number == pytest.approx(1000)


def test_what_one_batch_measured_is_carried_over(finished: list[Path]) -> None:
    plan = carried_over(finished[0])
    rate = plan.values["kettle.boil_off"]
    assert isinstance(rate, Amount)
    assert rate.number == pytest.approx(RATES[0], rel=1e-3)
