"""Gardens in the database: nothing is lost, and nothing that was written is forgotten."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from mebuki.bootstrap import demo_inputs
from mebuki.clock import FixedClock
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.site import Place
from mebuki.domain.tree import Pot, Record, Tree
from mebuki.errors import InputError
from mebuki.rulebook.tree_table import COLUMNS
from mebuki.storage.database import Database
from mebuki.storage.gardens import GardenStore
from mebuki.storage.keeper_tables import gardens, places, pots, records, subscribers, trees
from mebuki.storage.migrate import open_database
from mebuki.storage.record_rows import history
from tests.builders import (
    AT,
    a_frost_free_place,
    a_garden,
    a_place,
    a_pot,
    a_record,
    a_subscriber,
    a_tree,
)

LATER = FixedClock(AT + timedelta(days=1))


@pytest.fixture
def store(database: Database) -> GardenStore:
    """Return the gardens of an empty database."""
    return GardenStore(database, FixedClock(AT))


def _tree(garden: Garden, records: list[Record]) -> Garden:
    tree = garden.trees[0].model_copy(update={"records": tuple(records)})
    return garden.model_copy(update={"trees": (tree, *garden.trees[1:])})


def test_the_example_garden_comes_back_as_it_was(store: GardenStore) -> None:
    """Every field of every place, tree, pot, record and subscriber."""
    garden = demo_inputs().garden
    assert len(garden.trees) > 25
    store.save(garden)
    assert store.load(garden.id) == garden
    store.save(garden)
    assert store.load(garden.id) == garden
    assert store.ids() == (garden.id,)


@pytest.mark.parametrize(
    ("value", "table", "elsewhere"),
    [
        (Garden, gardens, {"site", "places", "trees", "subscribers"}),
        (Place, places, set()),
        (Tree, trees, {"place", "pot", "records"}),
        (Pot, pots, set()),
        (Record, records, {"on"}),
        (Subscriber, subscribers, set()),
    ],
)
def test_every_field_of_a_garden_has_a_column(
    value: type[BaseModel], table: sa.Table, elsewhere: set[str]
) -> None:
    """A field that is added to the domain needs a migration, and a column in the tree table."""
    assert set(value.model_fields) - elsewhere <= set(table.c.keys())
    if value in (Tree, Record):
        assert set(value.model_fields) - {"pot", "records"} <= set(COLUMNS)
    if value is Pot:
        assert {f"pot_{name}" for name in value.model_fields} <= set(COLUMNS)


def test_gardens_do_not_touch_one_another(store: GardenStore) -> None:
    """The same tree and place ids in two gardens are two trees and places."""
    home, away = a_garden(), a_garden([], id="away", name="Away")
    store.save(home)
    store.save(away)
    assert (store.load("home"), store.load("away")) == (home, away)
    assert store.ids() == ("away", "home")


def test_a_garden_that_is_not_there_is_said(store: GardenStore) -> None:
    """With its id."""
    with pytest.raises(InputError, match="nowhere: there is no such garden"):
        store.load("nowhere")


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """Return one database for all examples of a law; each takes a garden of its own."""
    database = open_database(tmp_path_factory.mktemp("shared") / "mebuki.db")
    yield database
    database.close()


TEXT = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), min_size=1, max_size=20
)
RECORDS = st.lists(
    st.builds(
        Record,
        on=st.dates(date(1990, 1, 1), date(2030, 1, 1)),
        kind=st.sampled_from(["repotted", "wired", "note"]),
        note=TEXT | st.just(""),
        amount=st.none() | st.floats(-1e6, 1e6),
        place=st.none() | st.just("bench"),
    ),
    max_size=7,
)


@st.composite
def _gardens(draw: st.DrawFn) -> Garden:
    names = draw(st.lists(TEXT, max_size=4, unique=True))
    ids = draw(st.permutations(["a", "b", "c", "d"]))
    made: list[Tree] = []
    for name, id_ in zip(names, ids, strict=False):
        tree = a_tree(
            name, id=id_, note=draw(TEXT), place=draw(st.sampled_from(["bench", "shed"])),
            canopy_cm=draw(st.floats(0.1, 500)), records=draw(RECORDS),
            born=draw(st.none() | st.integers(1000, 1989)),
        )  # fmt: skip
        made.append(tree)
    places = [a_place(name=draw(TEXT)), a_frost_free_place()]
    people = draw(st.lists(st.integers(0, 23), max_size=3))
    return a_garden(
        made, draw(st.permutations(places)), name=draw(TEXT),
        subscribers=tuple(a_subscriber(digest_hour=hour) for hour in people),
    )  # fmt: skip


@given(st.lists(_gardens(), min_size=1, max_size=4))
def test_whatever_is_saved_over_whatever_comes_back(
    shared: Database, versions: list[Garden]
) -> None:
    """Trees come, go, return, swap names and records; the garden is the newest one."""
    store = GardenStore(shared, FixedClock(AT))
    home = f"garden-{len(store.ids())}"
    written: set[tuple[str, Record]] = set()
    for version in versions:
        garden = version.model_copy(update={"id": home})
        store.save(garden)
        assert store.load(home) == garden
        written |= {(tree.id, record) for tree in garden.trees for record in tree.records}
    kept = {
        (tree, line.record)
        for tree in {tree for tree, _ in written}
        for line in history(shared, home, tree)
    }
    assert written <= kept


def test_a_fitted_time_constant_is_kept_with_its_pot(store: GardenStore) -> None:
    """A probe told 2.35 h; taken away again, the pot is the plain one of before."""
    fitted = a_tree(pot=a_pot(time_constant_hours=2.35))
    store.save(a_garden([fitted]))
    assert store.load("home").trees[0].pot.time_constant_hours == 2.35
    store.save(a_garden([a_tree()]))
    assert store.load("home").trees[0].pot == a_pot()


def test_two_trees_may_swap_names(store: GardenStore) -> None:
    """Names are unique among the trees that are there, at every moment of the change."""
    one, two = a_tree("One", id="a"), a_tree("Two", id="b")
    store.save(a_garden([one, two]))
    swapped = a_garden([a_tree("Two", id="a"), a_tree("One", id="b")])
    store.save(swapped)
    assert store.load("home") == swapped


def test_a_corrected_record_points_at_the_one_it_corrects(
    database: Database, store: GardenStore
) -> None:
    """Both stay; only the newer one stands."""
    wrong, right = a_record("repotted", "2011-03-20"), a_record("repotted", "2012-03-20")
    fed = a_record("fed", "2012-05-01")
    store.save(a_garden([a_tree("Maple", records=[wrong, fed])]))
    GardenStore(database, LATER).save(a_garden([a_tree("Maple", records=[right, fed])]))
    (tree,) = store.load("home").trees
    lines = history(database, "home", tree.id)
    assert tree.records == (right, fed)
    assert [line.record for line in lines] == [wrong, fed, right]
    assert lines[2].corrects == lines[0].number
    assert lines[2].recorded_at - lines[0].recorded_at == timedelta(days=1)
    assert not any(line.withdrawn for line in lines)


def test_a_record_taken_back_stays_in_the_history(database: Database, store: GardenStore) -> None:
    """Marked as withdrawn by a further row."""
    first, second = a_record("repotted", "2011-03-20"), a_record("fed", "2012-05-01")
    garden = a_garden([a_tree("Maple", records=[first, second])])
    store.save(garden)
    store.save(_tree(garden, [second]))
    assert store.load("home").trees[0].records == (second,)
    lines = history(database, "home", garden.trees[0].id)
    assert [(line.record, line.withdrawn) for line in lines] == [
        (first, False), (second, False), (first, True),
    ]  # fmt: skip
    store.save(garden)
    assert store.load("home") == garden


def test_a_record_written_in_between_moves_the_others_without_changing_them(
    database: Database, store: GardenStore
) -> None:
    """One row is added, none is corrected."""
    first, last = a_record("repotted", "2011-03-20"), a_record("fed", "2012-05-01")
    garden = a_garden([a_tree("Maple", records=[first, last])])
    store.save(garden)
    between = a_record("pruned", "2011-07-01")
    store.save(_tree(garden, [first, between, last]))
    assert store.load("home").trees[0].records == (first, between, last)
    lines = history(database, "home", garden.trees[0].id)
    assert [line.corrects for line in lines] == [None, None, None]


def test_a_tree_that_left_keeps_its_history(database: Database, store: GardenStore) -> None:
    """It is in the garden no more, its rows are; when it returns, so does what was recorded."""
    garden = a_garden([a_tree("Maple", records=[a_record("repotted", "2011-03-20")])])
    store.save(garden)
    GardenStore(database, LATER).save(a_garden([]))
    assert store.load("home").trees == ()
    with database.read() as connection:
        assert connection.scalar(sa.select(trees.c.gone_at)) == LATER.now()
    assert len(history(database, "home", garden.trees[0].id)) == 1
    store.save(garden)
    assert store.load("home") == garden
    assert len(history(database, "home", garden.trees[0].id)) == 1


def test_a_pot_that_was_changed_is_remembered(database: Database, store: GardenStore) -> None:
    """Each pot of a tree has a row with the moment since which it is used."""
    small = {"shape": "round", "length_cm": 20, "height_cm": 8}
    store.save(a_garden([a_tree("Maple", pot=small)]))
    store.save(a_garden([a_tree("Maple", pot=small)]))
    large = a_garden([a_tree("Maple", pot=small | {"length_cm": 30})])
    GardenStore(database, LATER).save(large)
    assert store.load("home") == large
    with database.read() as connection:
        rows = connection.execute(sa.select(pots).order_by(pots.c.number)).all()
    assert [(row.length_cm, row.since) for row in rows] == [(20, AT), (30, LATER.now())]


def test_a_text_that_no_database_can_hold_is_refused_whole(store: GardenStore) -> None:
    """Nothing of the garden is changed."""
    garden = a_garden()
    store.save(garden)
    with pytest.raises(InputError, match="no database can keep"):
        store.save(a_garden([a_tree("Maple", note="a\x00b")], name="Other"))
    assert store.load("home") == garden
