"""Migrations: from the first tables to the last with data in place, whole or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.operations import Operations
from alembic.script import ScriptDirectory

from mebuki.errors import FaultError, InputError
from mebuki.storage import migrate
from mebuki.storage.column_types import Moment
from mebuki.storage.database import Database, switch
from mebuki.storage.migrate import HEAD, MIGRATIONS, open_database, upgrade, version
from mebuki.storage.schema import metadata

ROWS: tuple[tuple[str, str], ...] = (
    ("gardens", "('home', 'Home', {true}, 'Near', 40.5, -73.0, 4, 'America/New_York', {at})"),
    ("places", "('home', 'bench', 0, 'Bench', 'bench', 1, 1, 1, 1, 0, NULL, 0, {false}, 0)"),
    ("trees", "('home', 'maple', 0, 'Maple', 'acer-palmatum', '', 'bench', 'mixed-mineral', 45,"
     " 'normal', 'good', 'training', 1990, '')"),
    ("trees", "('home', 'pine', 1, 'Pine', 'pinus-mugo', '', 'bench', 'mixed-mineral', 25,"
     " 'normal', 'good', 'training', NULL, 'by the wall')"),
    ("pots", "('home', 'maple', 1, 'oval', 30, 22, 7, 'unglazed', {at})"),
    ("pots", "('home', 'pine', 1, 'round', 20, 20, 8, 'unglazed', {at})"),
    ("records", "(1, 'home', 'maple', 0, '2011-03-19', 'repotted', '', NULL, NULL, {at}, NULL,"
     " {false})"),
    ("records", "(2, 'home', 'maple', 0, '2011-03-20', 'repotted', '', NULL, NULL, {at}, 1,"
     " {false})"),
    ("subscribers", "('home', 0, 'Ada', 'ada@example.org', 'few', 7, 'metric', 'en')"),
    ("agendas", "('home', {at})"),
    ("entries", "('home', 'u1', 0, 3, 'd1')"),
    ("entry_revisions", "('home', 'u1', 3, 'd1', {at}, 'repot', 'TENTATIVE', '{{}}')"),
    ("notices", "('home', 'frost:act', 0, {at}, NULL)"),
    ("outbox", "(1, 'k', 'ada@example.org', '<m@x>', 'Frost', {bytes}, {at}, {at}, 0, NULL, NULL,"
     " NULL, '')"),
    ("feeds", "('home', '', '\"e\"', {bytes}, {at})"),
    ("feed_addresses", "('hash', 'home', '', 'ada', {at}, NULL)"),
    ("rounds", "('plan', 'home', {at}, {at}, 1, {at}, 'done')"),
)  # fmt: skip
"""A row or more of every table of the first version, in the order its keys allow."""


@pytest.fixture
def first(address: str) -> Iterator[Database]:
    """Return a database of the first version with a row in every table."""
    database = Database(address)
    upgrade(database, "0001")
    own = (
        {"true": "1", "false": "0", "bytes": "x'00ff'"}
        if database.sqlite
        else {"true": "true", "false": "false", "bytes": "'\\x00ff'::bytea"}
    )
    with database.write() as connection:
        for table, values in ROWS:
            filled = values.format(**own, at="'2013-03-27T11:00:00.000000Z'")
            connection.exec_driver_sql(f"INSERT INTO {table} VALUES {filled}")  # noqa: S608 - rows of this test
    yield database
    database.close()


def _rows(database: Database) -> Mapping[str, list[Any]]:
    with database.read() as connection:
        inspector = sa.inspect(connection)
        names = {table for table, _ in ROWS}
        return {
            name: sorted(
                (
                    dict(row._mapping)
                    for row in connection.execute(
                        sa.select(sa.text("*")).select_from(sa.table(name))
                    )
                ),
                key=lambda row: str(list(row.values())[:3]),
            )
            for name in sorted(names & set(inspector.get_table_names()))
        }


def _shape(database: Database) -> dict[str, Any]:
    """Return every table as the database itself tells it."""
    with database.read() as connection:
        inspector = sa.inspect(connection)
        return {
            name: {
                "columns": [
                    (column["name"], str(column["type"]), column["nullable"])
                    for column in inspector.get_columns(name)
                ],
                "key": inspector.get_pk_constraint(name)["constrained_columns"],
                "unique": sorted(str(each) for each in inspector.get_unique_constraints(name)),
                "checks": sorted(str(each) for each in inspector.get_check_constraints(name)),
                "references": sorted(str(each) for each in inspector.get_foreign_keys(name)),
                "indexes": sorted(
                    str(
                        (
                            each["name"],
                            each["column_names"],
                            each["unique"],
                            *map(str, each.get("dialect_options", {}).values()),
                        )
                    )
                    for each in inspector.get_indexes(name)
                ),
            }
            for name in inspector.get_table_names()
            if name != "alembic_version"
        }


def test_a_new_database_has_the_tables_the_program_works_with(
    address: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """The migrations together make exactly the tables of the schema."""
    migrated = open_database(address)
    assert version(migrated) == HEAD
    if migrated.sqlite:
        other = Database(tmp_path / "made-at-once.db")
        with other.write() as connection:
            metadata.create_all(connection)
        shape = _shape(other)
        other.close()
    else:
        shape = _at_once(migrated)
    assert _shape(migrated) == shape
    migrated.close()


def _at_once(migrated: Database) -> dict[str, Any]:
    """Make the tables at once in a schema of its own; return them as told from there."""
    with migrated.write() as connection:
        connection.exec_driver_sql("CREATE SCHEMA at_once")
        connection.exec_driver_sql("SET LOCAL search_path TO at_once")
        metadata.create_all(connection, checkfirst=False)
    url = migrated.url.update_query_dict({"options": "-csearch_path=at_once"})
    other = Database(url.render_as_string(hide_password=False))
    shape = _shape(other)
    other.close()
    return shape


def test_the_head_is_the_newest_migration() -> None:
    """There is one line of migrations, and the program knows its end."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    assert ScriptDirectory.from_config(config).get_heads() == [HEAD]


def test_every_row_of_the_first_version_is_there_in_the_last(first: Database) -> None:
    """All tables, all columns, all rows; new columns are empty."""
    before = _rows(first)
    assert len(before) == len({table for table, _ in ROWS})
    upgrade(first)
    after = _rows(first)
    for name, rows in before.items():
        assert len(after[name]) == len(rows), name
        for old, new in zip(rows, after[name], strict=True):
            assert {key: new[key] for key in old} == old, name
            assert {value for key, value in new.items() if key not in old} <= {None}, name
    assert version(first) == HEAD


def test_a_table_made_anew_keeps_its_children_and_stays_strict(first: Database) -> None:
    """The trap: with foreign keys on, the pots and records of all trees would be gone."""
    upgrade(first)
    with first.read() as connection:
        counts = [
            connection.exec_driver_sql(query).scalar()
            for query in ("SELECT count(*) FROM pots", "SELECT count(*) FROM records")
        ]
        assert counts == [2, 2]
        if first.sqlite:
            sql = connection.exec_driver_sql(
                "SELECT sql FROM sqlite_schema WHERE name = 'trees'"
            ).scalar_one()
            assert sql.rstrip().endswith("STRICT")
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall() == []


def test_with_foreign_keys_on_the_children_would_be_gone(tmp_path: Path) -> None:
    """The trap itself, shown, so that nobody takes the switch away."""
    database = Database(tmp_path / "mebuki.db")
    upgrade(database, "0001")
    with database.write() as connection:
        for table, values in ROWS[:6]:
            filled = values.format(true="1", false="0", bytes="x''", at="'2013'")
            connection.exec_driver_sql(f"INSERT INTO {table} VALUES {filled}")  # noqa: S608 - rows of this test

    def add_a_column(foreign_keys: str) -> int:
        with database.alone() as connection:
            switch(connection, f"foreign_keys = {foreign_keys}")
            with connection.begin() as both:
                operations = Operations(MigrationContext.configure(connection))
                with operations.batch_alter_table("trees", recreate="always") as trees:
                    trees.add_column(sa.Column("gone_at", Moment(), nullable=True))
                left = connection.exec_driver_sql("SELECT count(*) FROM pots").scalar_one()
                both.rollback()
        return int(left)

    assert (add_a_column("OFF"), add_a_column("ON")) == (2, 0)


def test_a_migration_that_fails_leaves_everything_as_it_was(
    first: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tables and rows of the whole run are taken back together."""
    shape, rows = _shape(first), _rows(first)

    def fails(_connection: sa.Connection) -> None:
        msg = "it would leave rows pointing at nothing"
        raise FaultError(msg)

    monkeypatch.setattr(migrate, "_nothing_dangles", fails)
    with pytest.raises(FaultError, match="pointing at nothing"):
        upgrade(first)
    assert version(first) == "0001"
    assert (_shape(first), _rows(first)) == (shape, rows)
    monkeypatch.undo()
    upgrade(first)
    assert version(first) == HEAD


def test_a_row_that_points_at_nothing_stops_a_migration(tmp_path: Path) -> None:
    """A file that another program left inconsistent is not carried on silently."""
    database = Database(tmp_path / "mebuki.db")
    upgrade(database, "0001")
    with sqlite3.connect(tmp_path / "mebuki.db") as connection:
        connection.execute("INSERT INTO pots VALUES ('none','x',1,'oval',3,2,1,'wood','2013')")
    connection.close()
    with pytest.raises(FaultError, match="1 rows pointing at nothing"):
        upgrade(database)
    assert version(database) == "0001"


def test_a_file_is_set_aside_before_it_is_changed(tmp_path: Path) -> None:
    """The copy is whole and of the old version; a new or current file needs none."""
    file = tmp_path / "mebuki.db"
    upgrade(Database(file), "0001")
    open_database(file).close()
    open_database(file).close()
    aside = tmp_path / f"mebuki.db.before-{HEAD}"
    assert [path.name for path in tmp_path.glob("*before*")] == [aside.name]
    assert version(Database(aside)) == "0001"


def test_a_database_of_a_newer_mebuki_is_left_alone(database: Database) -> None:
    """It says so, and what to do."""
    with database.write() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(InputError, match="newer Mebuki"):
        upgrade(database)


def test_opening_a_database_twice_changes_nothing(address: str) -> None:
    """The second opening finds it up to date, without loading the migrations."""
    open_database(address).close()
    again = open_database(address)
    assert version(again) == HEAD
    again.close()
