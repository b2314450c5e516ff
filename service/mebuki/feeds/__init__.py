"""Entries become iCalendar bytes."""
