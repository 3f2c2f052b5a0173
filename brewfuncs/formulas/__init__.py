"""The science, one module a subject. Importing it fills the catalogue."""

from . import boil, hops, reference, water, wort  # noqa: F401
