"""The sheets of the cellar: fermentation, the verdict before anything is closed, cleaning."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from brewfuncs.batch import demo, thresholds
from brewfuncs.batch.plan import Plan
from brewfuncs.workbook.recalculate import recalculate
from brewfuncs.xlsx.address import parse_range
from tests.batch_books import Book, TypedBook, plain
from tests.office import Office
from tests.test_workbook import _same as same_value
from tests.test_workbook import _stored as stored_values

Make = Callable[..., TypedBook]
POINT = (
    0.5  # volumes of CO2 in a point of gravity, 0.001: BEER_CO2_TO_COME's 4 points and 2 volumes, by hand in test_beer
)


@pytest.fixture
def batch() -> TypedBook:
    """A batch whose wort was read at 1.050 and is to end at 1.011, by a fast ferment test; rows without days."""
    given = demo.LANTERN_PALE | {
        "fermented": {"fermenter_gravity": "1.050", "fast_ferment_gravity": "1.011", "package_volume": "20 L",
                      "warmest_temp": "20 °C"},
        "package": {"kind": "bottles", "target": "2.4 vol", "warmest": "30 °C", "rating": "6 bar", "bottle": "500 mL"},
        "readings": [],
    }  # fmt: skip
    return TypedBook.made(Plan.of(given, measured=True))


@pytest.fixture
def make() -> Make:
    """The demo batch, with some sections of it replaced."""

    def made(**sections: Any) -> TypedBook:
        given: dict[str, Any] = dict(demo.LANTERN_PALE)
        for key, content in sections.items():
            given[key] = {**given.get(key, {}), **content} if isinstance(content, dict) else content
        return TypedBook.made(Plan.of(given, measured=True))

    return made


def read(*readings: tuple[float, float]) -> dict[str, Any]:
    """Hydrometer readings, as (day, gravity), for `record`."""
    rows: dict[str, Any] = {}
    for n, (day, gravity) in enumerate(readings, 1):
        rows |= {f"reading_{n}_day": day, f"reading_{n}_gravity": gravity}
    return rows


STEADY = read((8, 1.011), (10, 1.011))


# -- readings --------------------------------------------------------------------------------------------------------


def rounded_up(pressure: float) -> str:
    """What a vessel has to stand is never rounded down."""
    return f"{math.ceil(10 * pressure) / 10:.1f}"


def test_the_temperature_to_set_rises_towards_the_end(make: Make) -> None:
    rise = {"temp": "18 °C", "ramp_day": "3 d", "end_temp": "21 °C", "per_day": "1.5 K"}
    book = make(fermentation=rise, readings=[{"day": f"{day} d"} for day in (0, 3, 4, 5, 6, 20)])
    # by hand: 18 until day 3, then 1.5 a day up to 21
    assert [book[f"reading_{n}_set"] for n in range(1, 7)] == pytest.approx([18, 18, 19.5, 21, 21, 21])
    assert book["reading_7_set"] == ""
    book.record(fermentation_temp_unit="°F", fermentation_temp=64.4)
    assert [book[f"reading_{n}_set"] for n in (1, 3, 5)] == pytest.approx([64.4, 67.1, 69.8])


def test_days_have_their_dates(make: Make) -> None:
    book = make(batch={"date": "2026-03-14"}, readings=[{"day": "0 d"}, {"day": "18 d"}])
    # serial numbers of spreadsheets: days since 1899-12-30, by Python's calendar; 14 March and 18 days are 1 April
    assert [book[f"reading_{n}_date"] for n in (1, 2, 3)] == [46095, 46113, ""]
    assert book.record(batch_date=None)["reading_1_date"] == ""


def test_the_latest_reading_counts(batch: TypedBook) -> None:
    batch.record(**read((4, 1.020), (8, 1.0115), (10, 1.011)))
    assert batch["gravity_now"] == pytest.approx(1.011)
    # 12.39 and 2.81 °P by the ASBC table's cubic (as commonly quoted)
    assert batch["attenuation_now"] == pytest.approx((12.39 - 2.81) / 12.39, abs=0.001)
    assert batch["alcohol_now"] == pytest.approx(131.25 * 0.039 / 100, abs=0.002)  # common practice; within 0.2 %
    assert batch["reading_4_used"] == ""


def test_a_refractometer_serves_where_there_is_no_hydrometer(make: Make) -> None:
    readings = [{"day": "1 d", "brix": 13.0}, {"day": "9 d", "brix": 6.2}]
    book = make(fermented={"fermenter_gravity": "1.050"}, readings=readings, instruments={"refractometer_factor": 1.0})
    assert book["reading_1_used"] > 1.05  # above the wort's own: nothing has fermented, so it is read as wort
    i, f = 12.388, 6.2  # °P of 1.050
    novotny = 1 - 0.002349 * i + 0.006276 * f
    assert book["reading_2_used"] == pytest.approx(novotny, abs=3e-5)  # Novotny 2017, linear, as commonly quoted


def test_a_reading_that_cannot_be_is_an_error_wherever_it_is_read(batch: TypedBook) -> None:
    batch.record(**read((4, 1.020)))
    batch.typed("reading_1_gravity_temp", 75)  # over the 60 °C up to which a hydrometer's correction holds
    for name in ("reading_1_used", "gravity_now", "gravity_steady", "co2_to_come", "package_state", "look_unfinished"):
        assert getattr(batch[name], "code", batch[name]) == "#NUM!", name


# -- whether it is over: each rule on both sides of where it turns ---------------------------------------------------


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ([], "No reading yet"),
        ([(8, 1.011)], "Look: read again in 2 days"),
        # thresholds.FALLEN, 0.0003: what 1.5 °C of the sample make near 20 °C (Kell's densities: 0.0002 a degree)
        ([(8, 1.0113), (10, 1.0110)], "Steady"),
        ([(8, 1.0114), (10, 1.0110)], "Look: still falling"),
        # creeping down, each time by little: half a point in two days goes on being half a point in two days
        ([(8, 1.0120), (10, 1.0115), (12, 1.0110)], "Look: still falling"),
        ([(8, 1.0120), (10, 1.0115), (12, 1.0110), (14, 1.0110)], "Steady"),
        # thresholds.DAYS_STEADY
        ([(8, 1.011), (9.9, 1.011)], "Look: read again in 1 day"),
        ([(8, 1.011), (10, 1.011)], "Steady"),
        ([(6, 1.014), (8, 1.011), (9, 1.011)], "Look: read again in 1 day"),
        # thresholds.RISEN, 0.001: no gravity rises
        ([(8, 1.0100), (10, 1.0110)], "Steady"),
        ([(8, 1.0099), (10, 1.0110)], "Look: readings disagree"),
        # the one and the other on one day
        ([(8, 1.011), (10, 1.011), (10, 1.013)], "Look: still falling"),
        # thresholds.CO2_TO_COME, 0.3 volumes: 0.6 of a point
        ([(8, 1.0115), (10, 1.0115)], "Steady"),
        ([(8, 1.0117), (10, 1.0117)], "Look: steady, but high"),
        # thresholds.LOWER_THAN_EXPECTED, 0.002: then thresholds.DAYS_STEADY_UNSURE
        ([(8, 1.0090), (10, 1.0090)], "Steady"),
        ([(8, 1.0089), (10, 1.0089)], "Look: read again in 5 days"),
        ([(8, 1.0089), (14, 1.0089)], "Look: read again in 1 day"),
        ([(8, 1.0089), (15, 1.0089)], "Steady"),
    ],
)
def test_a_gravity_is_steady_when_readings_days_apart_agree(
    batch: TypedBook, readings: list[tuple[float, float]], said: str
) -> None:
    assert batch.record(**read(*readings))["gravity_steady"] == said
    assert (batch["package_state"] == "Ready") == (said == "Steady")


def test_where_the_wort_was_not_read_a_week_has_to_pass(batch: TypedBook) -> None:
    batch.record(fermenter_gravity=None, fast_ferment_gravity=None, yeast_attenuation=0.78)
    assert batch.record(**read((8, 1.011), (14, 1.011)))["gravity_steady"] == "Look: read again in 1 day"
    assert batch.record(**read((8, 1.011), (15, 1.011)))["gravity_steady"] == "Steady"


def test_a_refractometer_alone_is_never_fine(batch: TypedBook) -> None:
    batch.record(**{f"reading_{n}_{key}": v for n, day in enumerate((8, 10, 20), 1)
                    for key, v in (("day", day), ("brix", 6.3))})  # fmt: skip
    assert batch["package_state"] == "Look: read it with a hydrometer"
    assert batch["look_unfinished"] == "look here"
    assert batch.record(**STEADY)["package_state"] == "Look: read it with a hydrometer"  # the latest by refractometer
    assert batch.record(reading_3_gravity=1.011)["package_state"] == "Ready"


def test_a_reading_without_its_day_is_not_passed_over(batch: TypedBook) -> None:
    batch.record(**STEADY, reading_3_gravity=1.005)
    assert batch["package_state"] == "Look: a reading has no day"


# -- what is in the vessel, and what it has to stand -----------------------------------------------------------------


def test_below_the_gravity_to_expect_nobody_knows_what_is_to_come(batch: TypedBook) -> None:
    batch.record(**read((8, 1.0111), (10, 1.0111)))
    assert batch["co2_to_come"] == pytest.approx(0.1 * POINT, rel=0.03)
    assert batch["co2_in_all"] == pytest.approx(2.4 + 0.1 * POINT, abs=0.005)
    batch.record(**read((8, 1.0109), (10, 1.0109)))
    assert batch["co2_to_come"] == ""  # not 0
    assert batch["co2_in_all"] == pytest.approx(2.4)  # steady: it is over
    batch.record(**read((8, 1.0109), (10, 1.0100)))
    assert (batch["co2_in_all"], batch["pressure_warmest"]) == ("", "")  # falling: unknown, not 2.4


def test_what_is_still_to_come_by_hand(batch: TypedBook) -> None:
    batch.record(fast_ferment_gravity=None, yeast_attenuation=0.775, **read((6, 1.015)))
    # of 12.39 °P, at 3.82 °P now and at 2.79 °P in the end (77.5 % attenuated: 1.0109), Balling's real extract is
    # 0.1808 and 0.8192 of the two; per litre it is °P times gravity times 9.982 g, and gives 0.9565/2.0665 of CO2
    now, end = (0.1808 * 12.39 + 0.8192 * apparent for apparent in (3.82, 2.79))
    expected = (now * 1.015 - end * 1.0109) * 9.982 * 0.9565 / 2.0665 / 1.977
    assert batch["co2_to_come"] == pytest.approx(expected, rel=0.01)  # the °P are rounded
    assert batch["co2_in_all"] == pytest.approx(2.4 + batch["co2_to_come"])


def test_sugar_for_the_batch_and_for_a_bottle(batch: TypedBook) -> None:
    residual = 3.0378 - 0.050062 * 68 + 2.6555e-4 * 68**2  # quadratic in °F, of the trade: 0.86 at 20 °C
    assert batch["residual_co2"] == pytest.approx(residual, rel=0.07)
    # one glucose unit of 162.14 g (half a sucrose, 171.15 g) gives two CO2 of 44.01 g; a volume is 1.977 g/L
    litre = (2.4 - batch["residual_co2"]) * 1.977 * 171.15 / 88.02
    assert batch["priming_sugar"] == pytest.approx(20 * litre, rel=1e-3)
    assert batch["bottle_sugar"] == pytest.approx(0.5 * litre, rel=1e-3)
    assert batch["bottle_count"] == 40
    assert batch["package_pressure"] == ""  # nothing sets the pressure of a bottle
    # fermenting 1.050 to 1.011 gives 5.1 %; the sugar as much ethanol as CO2, by molecules: 46.07 g with 44.01 g
    ethanol = (2.4 - batch["residual_co2"]) * 1.977 * 46.07 / 44.01 / 789.3
    assert batch["alcohol_packaged"] == pytest.approx(batch["alcohol_expected"] + ethanol, rel=1e-3)
    batch.record(package_bottle=None)
    assert (batch["bottle_sugar"], batch["bottle_count"]) == ("", "")


def test_a_keg_has_a_pressure_and_no_sugar(batch: TypedBook) -> None:
    batch.record(package_kind="keg", package_target=2.7, package_temp="60 °F", package_rating_unit="psi",
                 package_rating=130)  # fmt: skip
    # 60 °F and 2.7 volumes: 25.9 psi by a published force-carbonation table
    assert batch["package_pressure"] == pytest.approx(25.9, rel=0.06)
    assert batch["package_pressure_unit"] == "psi"
    assert (batch["priming_sugar"], batch["bottle_sugar"], batch["bottle_count"]) == ("", "", "")
    assert batch["alcohol_packaged"] == batch["alcohol_expected"]


def test_the_verdict_joins_carbonation_temperature_and_vessel(batch: TypedBook) -> None:
    batch.record(**STEADY)
    assert batch["package_state"] == "Ready"
    # 2.4 volumes are 4.74 g/L: 2.6 bar at 30 °C by Henry's law (IAPWS G7-04; see test_beer), less at 20 °C
    assert batch.record(package_rating=2.3)["package_state"] == "Look: more than it is made for"
    assert batch.record(package_rating=2.9)["package_state"] == "Ready"
    assert batch.record(package_rating=2.3, package_warmest=20)["package_state"] == "Ready"
    assert batch["look_unfinished"] == "fine"
    # by the number that the sheet shows, a hundredth of a bar on either side
    shown = batch["pressure_warmest"]
    assert batch.record(package_rating=shown - 0.01)["package_state"] == "Look: more than it is made for"
    assert batch.record(package_rating=shown + 0.01)["package_state"] == "Ready"


def test_bottles_are_warm_while_the_sugar_ferments(batch: TypedBook) -> None:
    """Kept at 4 °C later on, they are made at the beer's 20 °C, and have to stand that."""
    batch.record(**STEADY, package_warmest=20)
    at_20 = batch["pressure_warmest"]
    assert batch.record(package_warmest=4)["pressure_warmest"] == at_20
    assert " at 20 °C and " in batch["package_why"]
    assert batch.record(package_warmest=21)["pressure_warmest"] > at_20
    assert batch.record(package_warmest=4, package_kind="keg")["pressure_warmest"] < at_20 - 0.5


def test_altitude_counts(batch: TypedBook) -> None:
    """ISO 2533: 1600 m have 83.528 kPa, 150 m 99.536. A gauge shows so much more, and an airlock keeps in less."""
    batch.record(**STEADY)
    low, kept = batch["pressure_warmest_in_bar"], batch["residual_co2"]
    batch.record(boil_altitude="1600 m")
    assert batch["pressure_warmest_in_bar"] - low == pytest.approx(0.99536 - 0.83528, abs=1e-4)
    water = 0.0234  # bar of its own vapour at 20 °C: IAPWS
    assert batch["residual_co2"] / kept == pytest.approx((0.83528 - water) / (0.99536 - water), rel=2e-3)
    batch.record(package_kind="keg", package_temp="5 °C")
    high = batch["package_pressure"]
    assert high - batch.record(boil_altitude="150 m")["package_pressure"] == pytest.approx(0.99536 - 0.83528, abs=1e-4)


def test_what_a_vessel_of_unknown_rating_has_to_stand(batch: TypedBook) -> None:
    batch.record(**STEADY, package_rating=None)
    assert batch["package_state"] == f"Ready, if it is made for {rounded_up(batch['pressure_warmest'])} bar"
    assert batch["look_unfinished"] == "uncertain"
    # thresholds.USUAL_VOLUMES: common practice, no source
    assert batch.record(package_target=3)["package_state"].startswith("Ready, if it is made for ")
    assert batch.record(package_target=3.05)["package_state"] == "Look: over 3 volumes"
    assert batch["look_high_target"] == "look here"
    assert batch.record(package_rating=20)["package_state"] == "Ready"  # what it is made for decides
    assert batch["look_high_target"] == "fine"


def test_a_carbonation_that_no_formula_answers_is_a_state_and_no_error(batch: TypedBook) -> None:
    batch.record(**read((8, 1.0115), (10, 1.0115)), package_target=4.7, package_rating=20)
    assert batch["package_state"] == "Ready"
    batch.record(package_target=5)  # and a quarter of a volume to come
    assert batch["package_state"] == "Look: over 5 volumes"
    assert batch["pressure_warmest"] == ""


def test_a_beer_that_holds_more_already(batch: TypedBook) -> None:
    residual = batch["residual_co2"]
    assert batch.record(**STEADY, package_target=residual + 0.01)["package_state"] == "Ready"
    assert batch.record(package_target=residual - 0.01)["package_state"] == "Look: it holds more already"
    assert batch["priming_sugar"] == 0


def test_thresholds_are_written_once() -> None:
    """Notes, sentences and formulas take them from one file: a number changed there changes everywhere."""
    sheets = Path(thresholds.__file__).parent.rglob("*.py")
    code = {path.name: path.read_text(encoding="utf-8") for path in sheets if path.name != "thresholds.py"}
    for name, text in code.items():
        for number in ("co2_to_come>0", "volumes>3", "target_in_vol>3", "0.0003", "1.001*"):
            assert number not in text, name


# -- an empty workbook -----------------------------------------------------------------------------------------------


def test_an_empty_workbook_claims_nothing() -> None:
    book = TypedBook.made(Plan.empty())
    for name in (
        "yeast_cells", "expected_final", "gravity_now", "attenuation_now", "alcohol_now", "alcohol_expected", "energy",
        "co2_to_come", "co2_in_all", "pressure_warmest", "priming_sugar", "bottle_sugar", "package_pressure",
        "alcohol_packaged", "acid_dose", "acid_times", "acid_strength", "acid_ph", "film_minutes", "dried_acid",
        "dried_factor", "residue", "chlorine_dose", "chlorine_strength",
    ):  # fmt: skip
        assert book[name] == "", name
    assert book["package_state"] == "Look: take a reading first"
    assert (book["acid_state"], book["chlorine_state"]) == ("Not in use", "Not in use")


def test_readings_of_an_unknown_wort_are_no_verdict() -> None:
    book = TypedBook.made(Plan.empty())
    book.record(**read((8, 1.011), (20, 1.011)))
    assert book["package_state"] == "Look: the wort's gravity is missing"
    assert book.record(fermenter_gravity=1.05)["package_state"].startswith("Ready, if it is made for ")


def test_rows_to_be_read_start_with_the_days_of_a_fermentation() -> None:
    book = TypedBook.made(Plan.empty())
    days = [book[f"reading_{n}_day"] for n in range(1, 15)]
    assert days == sorted(set(days))
    assert (days[0], days[-1]) == (0, 28)


# -- a beer's story --------------------------------------------------------------------------------------------------


def test_from_a_falling_gravity_to_bottles_in_a_hot_summer(tmp_path: Path) -> None:
    """Readings of 1.014, 1.010 and 1.006 where 1.0113 was expected: it falls on, until it doesn't; then bottles, for a
    place at 1,600 m where it gets hot."""
    given = plain(
        malts=[{"mass": "4.6 kg", "yield": "79 %"}],
        yeast={"attenuation": "76.6 %"},
        package={"target": "2.4 vol", "bottle": "500 mL", "warmest": "20 °C"},
        fermented={"fermenter_gravity": "1.050", "package_volume": "18 L"},
        readings=[{"day": "4 d", "gravity": "1.014"}],
    )
    given["boil"]["altitude"] = "1600 m"
    book = Book.made(tmp_path / "b.xlsx", Plan.of(given, measured=True))
    assert book["expected_final"] == pytest.approx(1.0113, abs=0.0001)
    assert book["package_state"] == "Look: read again in 2 days"
    assert book["co2_to_come"] == pytest.approx(2.7 * POINT, rel=0.03)
    for day, gravity in ((6, 1.010), (8, 1.006)):
        book.record(**{f"reading_{day // 2 - 1}_day": day, f"reading_{day // 2 - 1}_gravity": gravity})
        assert book["package_state"] == "Look: still falling"
        assert book["co2_to_come"] == ""
        assert book["look_unfinished"] == "look here"
    assert book["package_why"] == "From 1.0100 on day 6 to 1.0060 on day 8."
    book.record(reading_4_day=10, reading_4_gravity=1.006)
    assert book["package_state"] == "Look: read again in 5 days"  # lower than expected: a week
    book.record(reading_5_day=15, reading_5_gravity=1.006)
    assert book["package_state"] == f"Ready, if it is made for {rounded_up(book['pressure_warmest'])} bar"
    book.record(package_rating="2.6 bar")
    assert book["package_state"] == "Ready"
    book.record(package_warmest="38 °C")
    assert book["package_state"] == "Look: more than it is made for"
    assert book["package_why"].endswith(" at 38 °C and 1600 m; it is made for 2.6 bar.")
    book.record(package_rating="4.5 bar")
    assert book["package_state"] == "Ready"
    assert not recalculate(book.path).kept


# -- cleaning --------------------------------------------------------------------------------------------------------

ACID = {
    "acid_name": "A", "acid_label_dose": "1 fl oz", "acid_label_water": "4 gal", "acid_volume": "5 gal",
    "acid_share": "30 %", "acid_density": "1.18 kg/L", "acid_label_most": "", "acid_poured": "", "alkalinity": "0 mg/L",
}  # fmt: skip
DOSE = 29.5735295625 * 5 / 4  # mL: a US fluid ounce, by definition, in each 4 gallons


@pytest.fixture
def cleaning() -> TypedBook:
    return TypedBook.made(Plan.of(demo.LANTERN_PALE | {"cleaning": ACID}))


def test_dose_strength_and_ph_of_an_acid_sanitizer(cleaning: TypedBook) -> None:
    assert cleaning["acid_dose_in_mL"] == pytest.approx(DOSE, rel=1e-12)
    rate = 1000 / 512  # mL/L: a gallon is 128 fl oz
    strength = rate * 1.18 * 0.3 * 1000 / (1 + rate / 1000)  # mg in a litre of water and the dose
    assert cleaning["acid_strength"] == pytest.approx(strength, rel=1e-9)
    assert cleaning["acid_ph"] == pytest.approx(2.38, abs=0.02)  # PHREEQC: 2.488 at 490 mg/L, 2.270 at 980
    assert cleaning["acid_state"] == "Nothing poured yet"
    # none of it is claimed of what isn't stated
    assert (cleaning["chlorine_state"], cleaning["chlorine_dose"]) == ("Not in use", "")


def test_chlorine_of_a_bleach(make: Make) -> None:
    book = make(cleaning={"chlorine_volume": "10 L", "chlorine_label_dose": "1 mL", "chlorine_label_water": "1 L",
                          "chlorine_share": "6 %"})  # fmt: skip
    # available chlorine: NaOCl times 70.906/74.442
    assert book["chlorine_strength"] == pytest.approx(10 * 1.08 * 0.06 * 1000 / 10 * 70.906 / 74.442, rel=1e-9)


@pytest.mark.parametrize(
    ("poured", "most", "said"),
    [
        # thresholds.DOSE_NEAR: a tenth less is near, more is less than the label wants
        (0.89, None, "Look: off the label's dose"),
        (0.91, None, "As the label says"),
        (1.0, None, "As the label says"),
        # thresholds.ANY_EXCESS: over the dose, where the label names no more
        (1.003, None, "Look: too strong, rinse as it says"),
        (2, None, "Look: too strong, rinse as it says"),
        (1.09, 1.2, "As the label says"),
        (1.11, 1.2, "Look: off the label's dose"),
        (1.198, 1.2, "Look: off the label's dose"),
        (1.203, 1.2, "Look: too strong, rinse as it says"),
    ],
)
def test_the_dose_against_the_label(cleaning: TypedBook, poured: float, most: float | None, said: str) -> None:
    cleaning.record(cleaning_acid_poured=f"{poured * DOSE} mL", cleaning_acid_label_most=most and f"{most} fl oz")
    assert cleaning["acid_state"] == said
    assert cleaning["acid_times"] == pytest.approx(poured)
    assert (cleaning["look_acid_dose"] == "look here") == (abs(poured - 1) > 0.1)
    assert (cleaning["look_acid_strength"] == "look here") == ("too strong" in said)


def test_without_share_and_density_the_dose_is_judged_all_the_same(cleaning: TypedBook) -> None:
    cleaning.record(cleaning_acid_share=None, cleaning_acid_density=None, cleaning_acid_poured=f"{2 * DOSE} mL")
    assert cleaning["acid_dose_in_mL"] == pytest.approx(DOSE)
    assert cleaning["acid_times"] == pytest.approx(2)
    assert cleaning["acid_state"] == "Look: too strong, rinse as it says"
    for name in ("acid_strength", "acid_ph", "dried_acid", "dried_factor", "residue", "nonvolatile"):
        assert cleaning[name] == "", name


@pytest.mark.parametrize(
    ("missing", "said"),
    [
        ("acid_label_dose", "Look: the label's dose is missing"),
        ("acid_label_water", "Look: the label's dose is missing"),
        ("acid_volume", "Look: how much water?"),
    ],
)
def test_what_is_not_stated_is_not_computed(cleaning: TypedBook, missing: str, said: str) -> None:
    cleaning.record(**{f"cleaning_{missing}": None, "cleaning_acid_poured": "30 mL"})
    assert cleaning["acid_state"] == said
    for name in ("acid_dose", "acid_times", "acid_strength", "acid_ph", "dried_factor", "residue"):
        assert cleaning[name] == "", name
    assert cleaning["look_acid_dose"] == cleaning["look_acid_strength"] == "not used"


def test_what_drying_does(cleaning: TypedBook) -> None:
    cleaning.record(cleaning_humidity=0.321, cleaning_film="50 µm", cleaning_area="1 m²", cleaning_air_temp="25 °C")
    # 75 % acid keeps air at 0.321 of the vapour pressure of water: a maker's table for phosphoric acid, 20 °C
    assert cleaning["dried_acid"] == pytest.approx(0.75, abs=0.01)
    assert cleaning["dried_factor"] == pytest.approx(0.75 / (cleaning["acid_strength"] / 1e6), rel=0.015)
    assert cleaning["residue"] == pytest.approx(50e-6 * 1000 * cleaning["acid_strength"])  # 50 mL on a square metre
    drier = cleaning["film_minutes"]
    assert cleaning.record(cleaning_humidity=0.6)["film_minutes"] > drier


def test_the_chart_of_drying_follows_from_what_cannot_evaporate(cleaning: TypedBook) -> None:
    cleaning.record(cleaning_acid_solids=0.4)
    rate = 1000 / 512
    stays = 0.4 * rate / (1000 + rate)  # volume in volume
    assert cleaning["nonvolatile"] == pytest.approx(stays, rel=1e-9)
    cleaning.record(cleaning_acid_solids=None)
    assert cleaning["nonvolatile"] == pytest.approx(stays / 0.4 * 0.3, rel=1e-9)  # the acid's share instead
    acid, dried = cleaning["acid_strength"] / 1e6, cleaning["dried_acid"]
    water = cleaning["water_that_stays"] * (1 - acid)  # of a gram of solution; beside the acid it is dried again
    assert acid / (acid + water) == pytest.approx(dried, rel=2e-3)


def test_plastics_have_their_cautions(make: Make) -> None:
    parts = [
        {"name": "Tap", "plastic": "POM", "chemistry": "acid anionic", "state": "dried"},
        {"name": "Lid", "plastic": "polypropylene", "chemistry": "alcohol"},
        {"name": "Seal", "plastic": "polyketone", "chemistry": "chlorine", "state": "contact"},
    ]
    book = make(parts=parts)
    assert book["part_1_caution"].startswith("Strong caution: acid anionic sanitizer dried on acetal (POM)")
    assert book["part_2_caution"] == ""  # not all of it is stated
    assert book["part_3_caution"].startswith("Not known: chlorine on polyketone is not listed: ask the maker")
    book.record(part_2_state="contact")
    assert book["part_2_caution"].startswith("No harm known: alcohol on polypropylene")


# -- another program -------------------------------------------------------------------------------------------------


def test_libreoffice_without_the_functions_shows_what_is_stored(tmp_path: Path, bare_office: Office) -> None:
    """A measured batch, whose blank cells such a program works out anew."""
    given = demo.LANTERN_PALE | demo.LANTERN_PALE_MEASURED
    path = Book.made(tmp_path / "batch.xlsx", Plan.of(given, measured=True)).path
    with bare_office.document(path) as document:
        blocks = {}
        for name in ("Cleaning", "Brew day", "Fermentation", "Package"):
            rows, columns = document.used(name)
            blocks[name] = document.values(name, f"A1:{chr(64 + columns)}{rows}")
    cells = [(name, address, value) for name, address, value in stored_values(path) if name in blocks]
    assert len(cells) > 300
    for name, address, value in cells:
        box = parse_range(address)
        shown = blocks[name][box.top - 1][box.left - 1]
        assert same_value(shown, value), f"{name}!{address}: {shown!r}, stored {value!r}"
