"""trapline: lay out, set, lift and compare a line of baited traps."""

__version__ = "0.1.0"
