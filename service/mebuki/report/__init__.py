"""The report of one round as a single self-contained page."""
