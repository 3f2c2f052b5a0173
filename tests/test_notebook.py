"""The notebook runs from top to bottom in an empty folder, and says what it says elsewhere in the docs."""

import json
import re
from pathlib import Path

import pytest

from tests import needs

NOTEBOOK = Path(__file__).resolve().parent.parent / "docs" / "notebooks" / "shorter-boil.ipynb"


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What its cells print."""
    for needed in ("ipykernel", "matplotlib", "pint"):
        needs.library(needed)
    nbformat = needs.library("nbformat")
    NotebookClient = needs.library("nbclient").NotebookClient

    folder = tmp_path_factory.mktemp("notebook")
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("IPYTHONDIR", str(folder / "ipython"))  # nobody's own settings
        patch.setenv("PYTHONPATH", str(NOTEBOOK.parents[2]))
        patch.setenv("MPLBACKEND", "module://matplotlib_inline.backend_inline")
        patch.setenv("PYTHONWARNINGS", "error::DeprecationWarning:__main__")
        done = NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(folder)}}).execute()
    assert not any(folder.glob("*.xlsx"))
    outputs = [output for cell in done.cells for output in cell.get("outputs", [])]
    assert sum("image/png" in output.get("data", {}) for output in outputs) == 3  # its plots
    assert not [o for o in outputs if o.get("name") == "stderr"]
    return "".join(output.text for output in outputs if output.get("name") == "stdout")


def test_it_is_checked_in_without_outputs() -> None:
    cells = json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    assert code
    assert not [cell for cell in code if cell["outputs"] or cell["execution_count"]]


def test_water_follows_from_the_balance(printed: str) -> None:
    # 21 L of 1.048 and 6.75 or 2.25 L of water: volumes add up to a few hundredths of a litre
    assert "90 min: 27.7 l" in printed
    assert "30 min: 23.2 l" in printed
    # 4.5 L of water at 0.9982 kg/L and 2257 kJ/kg (IAPWS, at 100 °C) are 2.82 kWh
    assert "2.8 kWh less" in printed


def test_models_part(printed: str) -> None:
    factors = dict(re.findall(r"^(\w[\w ]+?) +[\d.]+ g .* ([\d.]+) times$", printed, re.MULTILINE))
    # Tinseth's utilizations at 30 and 60 min stand 1 : 1.30 at equal gravity; Rager's table has 15.3 and 30.0 %
    assert float(factors["tinseth"]) == pytest.approx(1.32, abs=0.02)
    assert float(factors["rager table"]) == pytest.approx(30.0 / 15.3, abs=0.005)
    assert len(factors) == 4


def test_what_dms_needs_hangs_on_its_volatility(printed: str) -> None:
    needed = {int(v): float(m) for v, m in re.findall(r"volatility (\d+): (\d+) minutes", printed)}
    assert needed[75] <= needed[65] < 30 < needed[18]
