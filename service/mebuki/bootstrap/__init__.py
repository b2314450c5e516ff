"""Builds the running parts from settings; tests call it with parts of their own."""

from mebuki.bootstrap.folder import (
    Done,
    Inputs,
    demo_inputs,
    exits,
    plan_day,
    read_inputs,
    run_round,
    weather_source,
)

__all__ = [
    "Done",
    "Inputs",
    "demo_inputs",
    "exits",
    "plan_day",
    "read_inputs",
    "run_round",
    "weather_source",
]
