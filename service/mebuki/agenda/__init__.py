"""Advice of many trees becomes entries that people read, with a stable identity."""
