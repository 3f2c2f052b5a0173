"""Other people's workbooks: nothing untouched changes, and what is written is right by an independent engine.

`python -m tests.corpus` prints the counts of the whole corpus, and each value that is wrong.
"""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

import pytest

from tests import corpus

GROUPS = 6  # so that two workers share the work evenly
#: recorded numbers that led to something, in all groups; fewer, and the harness has stopped looking
AT_LEAST = 450 // GROUPS // 2
#: values that came out right in each group; with all of them left nothing would be wrong either
RIGHT = 600 // GROUPS // 2


@pytest.mark.parametrize("group", range(GROUPS))
def test_never_a_wrong_value(group: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = corpus.files()
    missing = None if files else f"no workbooks in {corpus.FOLDER}"
    if importlib.util.find_spec("ironcalc") is None:
        missing = "ironcalc isn't installed"
    if missing:
        if os.environ.get("BREWFUNCS_REQUIRE_HOSTS"):
            pytest.fail(missing)
        pytest.skip(missing)
    total = corpus.Counts()
    for path in files[group::GROUPS]:
        total.add(corpus.look(path, tmp_path), path.name)
    with capsys.disabled():
        print(f"\n{total}")
    assert not total.altered
    assert not total.wrong
    assert total.recorded >= AT_LEAST
    assert not total.unsaid
    assert len(total.rewritten) * 50 <= total.spliced  # an odd one may be written anew
    assert total.spliced >= total.recorded
    assert total.right > RIGHT
