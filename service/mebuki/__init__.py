"""Mebuki: a seasonal care calendar for trees in small pots."""

__version__ = "0.1.0"
