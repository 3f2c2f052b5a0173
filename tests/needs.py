"""What some tests need and the lean `test` extra leaves out."""

import importlib
import os
from types import ModuleType

import pytest


def library(name: str) -> ModuleType:
    """The library, or the test (a module's tests, asked at its top) is skipped; where CI runs, a missing one fails."""
    try:
        return importlib.import_module(name)
    except ImportError:
        if os.environ.get("BREWFUNCS_REQUIRE_HOSTS"):
            raise
        pytest.skip(f'{name.partition(".")[0]} is not installed: pip install ".[test-all]"', allow_module_level=True)
