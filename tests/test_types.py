"""What a type checker says of calls from Python: numbers, quantities, lists and arrays pass, and nothing else does."""

import re

import pytest
from mypy import api

FINE = """
import brewfuncs

class Array:
    def __array__(self) -> object: ...

one: float = brewfuncs.hop_bitterness("1 oz", "5.5 %", 60, 20.0, 1.05)
some: float = brewfuncs.boil_temp()
whole: float = brewfuncs.wort_mash_gravity([4.0, "1 lb"], (0.78, 0.7), 0.75, 24)
same: float = brewfuncs.hop_swap_mass(30, 60, 30, new_gravity=None, method="kinetic")
many = brewfuncs.hop_bitterness([20, 30], 0.055, Array(), 20.0).mean()
told: str = brewfuncs.sani_plastic("PET", "alcohol", "dried")
why: str = brewfuncs.brew_reason("BOIL_OFF", 4.5, -10)
"""
REFUSED = [
    "brewfuncs.hop_bitterness(object(), 0.055, 60, 20)",
    "brewfuncs.hop_bitterness(28, 0.055, 60, 20, object())",
    "brewfuncs.beer_abv({}, 1.01)",
    "brewfuncs.beer_abv(1.05)",
    "brewfuncs.boil_off(None, 3)",
    "brewfuncs.boil_off([1.0, object()], 3)",
    "brewfuncs.boil_off(1j, 3)",
    "brewfuncs.wort_color(object(), [2.5], 21)",
    "brewfuncs.hop_utilization(60, method=5)",
    "brewfuncs.water_salt(1, 'Ca', 5, 20)",
    "text: str = brewfuncs.boil_off(1.0, 3)",
    "brewfuncs.hop_bitternes(28, 0.055, 60, 20)",
]


@pytest.fixture(scope="module")
def complaints(tmp_path_factory: pytest.TempPathFactory) -> list[int]:
    """The lines that mypy complains about, FINE first and one line for each call after it."""
    folder = tmp_path_factory.mktemp("typed")
    path = folder / "calls.py"
    path.write_text(FINE + "\n".join(REFUSED) + "\n", encoding="utf-8")
    said, trouble, _ = api.run(["--strict", "--config-file=", f"--cache-dir={folder / 'cache'}", str(path)])
    assert not trouble, trouble
    return [int(n) for n in re.findall(r"calls\.py:(\d+): error", said)]


def test_what_passes(complaints: list[int]) -> None:
    assert not [n for n in complaints if n <= FINE.count("\n")]


@pytest.mark.parametrize("n", range(len(REFUSED)), ids=REFUSED)
def test_what_is_refused(n: int, complaints: list[int]) -> None:
    assert FINE.count("\n") + n + 1 in complaints
