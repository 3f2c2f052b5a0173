"""The science, one module a subject. Importing it fills the catalogue."""

from . import water, wort  # noqa: F401
