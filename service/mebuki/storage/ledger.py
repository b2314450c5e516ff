"""One transaction for all that a round leaves behind: state, letters, feed, findings.

A reader of the database, at any moment and after any crash, finds the state of
a garden with the letters that belong to it, or neither.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Final

import sqlalchemy as sa
from pydantic import TypeAdapter

from mebuki.agenda.entry import Published
from mebuki.agenda.grouping import NIGHTS, WATCHES
from mebuki.clock import Clock
from mebuki.domain.advice import Advice
from mebuki.domain.feed import FeedChoice
from mebuki.domain.outlook import TreeOutlook
from mebuki.domain.taxon import Taxon
from mebuki.errors import InputError
from mebuki.rounds.judging import calls_of
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import Letter
from mebuki.season.night_minima import night_forecasts
from mebuki.storage.agendas import save_agenda
from mebuki.storage.column_types import dumped
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import chosen_feeds, put_credits, put_feeds
from mebuki.storage.garden_states import GardenState, put_state
from mebuki.storage.outbox import put_letters
from mebuki.storage.past_forecasts import put_forecasts
from mebuki.storage.round_book import PLAN, RoundId, begin_round, finish_round
from mebuki.storage.round_tables import advice, agendas, predictions
from mebuki.storage.score_book import put_calls, put_night
from mebuki.storage.upsert import Row, inserting, put

WATCHED: Final = NIGHTS | WATCHES
"""Advice for which a garden is looked at more often; so is one that cannot see."""

CLOCK_AHEAD: Final = timedelta(minutes=10)
"""A moment kept further ahead of the clock than this was kept by a wrong clock."""


class DatabaseLedger:
    """Enters plans into a database, each whole and once."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def choices(self, garden: str) -> Mapping[str, FeedChoice]:
        """Return the feeds that readers of a garden have chosen, by variant."""
        with self._database.read() as connection:
            return chosen_feeds(connection, garden)

    def commit(
        self,
        plan: Plan,
        published: Published,
        letters: Sequence[Letter],
        feeds: Mapping[str, bytes],
    ) -> bool:
        """Keep all that a plan leads to; False, and nothing changes, if its round was done.

        Raises
        ------
        InputError
            If a later round of the garden was kept already.
        FaultError
            If the database refuses; nothing is kept then.
        """
        which = RoundId(PLAN, plan.garden.id, plan.at)
        with self._database.write() as connection:
            if begin_round(connection, which, self._clock.now()) is None:
                return False
            _goes_forward(connection, plan, self._clock.now())
            save_agenda(connection, plan.garden.id, published, plan.notices)
            put_letters(connection, letters, plan.at)
            put_feeds(connection, plan.garden.id, feeds, plan.at)
            put_credits(connection, plan.garden.id, plan.picture.credits_)
            _keep_advice(connection, plan)
            _keep_predictions(connection, plan)
            put_forecasts(connection, plan.garden.id, night_forecasts(plan.picture))
            put_night(connection, plan.garden.id, plan.on)
            put_calls(connection, plan.garden, calls_of(plan))
            put_state(connection, _state(plan))
            finish_round(connection, which, self._clock.now(), "done")
        return True


def _state(plan: Plan) -> GardenState:
    picture, sight = plan.picture, plan.situation.sight
    return GardenState(
        garden=plan.garden.id,
        at=plan.at,
        measured_until=picture.measured_until,
        forecast_until=picture.forecast_until,
        blind=sight.blind,
        watch=sight.blind or any(each.action in WATCHED for each in plan.advice),
    )


def _goes_forward(connection: sa.Connection, plan: Plan, now: datetime) -> None:
    """Refuse an older round than the one kept, unless that was kept by a clock that was ahead."""
    kept = connection.scalar(sa.select(agendas.c.at).where(agendas.c.garden == plan.garden.id))
    if kept is not None and plan.at < kept <= now + CLOCK_AHEAD:
        msg = (
            f"the round of {kept:%Y-%m-%d %H:%M} UTC was kept for {plan.garden.id} already, "
            f"later than {plan.at:%Y-%m-%d %H:%M}; rounds go forward only"
        )
        raise InputError(msg)


def _keep_advice(connection: sa.Connection, plan: Plan) -> None:
    """Keep each finding in its newest words, with the first and last round that made it."""
    rows = [
        {
            "garden": plan.garden.id,
            "tree": each.tree,
            "kind": each.kind.value,
            "action": each.action,
            "cycle": each.cycle,
            "first_at": plan.at,
            "last_at": plan.at,
            "content": _advice_shape().dump_python(each, mode="json"),
        }
        for each in plan.advice
    ]
    if rows:
        insert = inserting(connection, advice)
        newest = {"last_at": insert.excluded.last_at, "content": insert.excluded.content}
        keys = [column.name for column in advice.primary_key]
        connection.execute(insert.on_conflict_do_update(index_elements=keys, set_=newest), rows)


def _keep_predictions(connection: sa.Connection, plan: Plan) -> None:
    """Keep what was foreseen for each tree, once a day: the newest of the day stays."""
    versions = {name: parameter_version(taxon) for name, taxon in _planted(plan).items()}
    taxon_of = {tree.id: tree.taxon for tree in plan.garden.trees}
    rows: list[Row] = [
        {
            "garden": plan.garden.id,
            "tree": outlook.tree,
            "made_on": plan.on,
            "at": plan.at,
            "parameters": versions[taxon_of[outlook.tree]],
            "content": _foreseen(outlook),
        }
        for outlook in plan.outlooks.values()
        if outlook.stages
    ]
    put(connection, predictions, rows)


def _planted(plan: Plan) -> Mapping[str, Taxon]:
    return {name: plan.taxa[name] for name in {tree.taxon for tree in plan.garden.trees}}


@lru_cache(maxsize=1024)
def _version_of(phenology: str) -> str:
    return hashlib.sha256(phenology.encode()).hexdigest()[:16]


def parameter_version(taxon: Taxon) -> str:
    """Return a name for the parameters a taxon's clocks ran with: the same ones, the same name."""
    return _version_of(dumped(taxon.phenology.model_dump(mode="json")))


def _foreseen(outlook: TreeOutlook) -> list[list[object]]:
    """Return milestone, season, and the days at 10, 50 and 90 percent of each stage."""
    return [
        [
            stage.milestone.value,
            stage.season,
            *(_text(day) for day in (stage.earliest, stage.likely, stage.latest)),
        ]
        for stage in outlook.stages
    ]


def _text(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


@lru_cache(maxsize=1)
def _advice_shape() -> TypeAdapter[Advice]:
    return TypeAdapter(Advice)
