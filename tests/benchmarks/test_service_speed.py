"""How long a night of many gardens takes, how fast ``serve`` starts, how much it holds.

Promises: a thousand gardens of ten trees in under two minutes on two cores, with
cost linear in gardens; ready in under two seconds; under 150 MB at rest.
"""

from __future__ import annotations

import time
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest

from mebuki.bootstrap import demo_inputs
from mebuki.bootstrap.serving import Outside, make_bench
from mebuki.domain.garden import Garden
from mebuki.schedule.desk import due_rounds, processors, run_side_by_side
from mebuki.schedule.garden_round import Bench
from mebuki.schedule.timetable import Timetable
from mebuki.storage.database import Database
from mebuki.storage.migrate import open_database
from tests.fakes.clock import HandClock
from tests.journeys.test_serve import _served
from tests.schedule.benches import settings_for, settle
from tests.schedule.test_service import MORNING

SITES = 40
"""Different places among the gardens, half a degree apart."""


def _a_garden(number: int, demo: Garden) -> Garden:
    site = demo.site
    moved = site.model_copy(
        update={
            "latitude": site.latitude + 0.1 * (number % SITES % 8),
            "longitude": site.longitude + 0.1 * (number % SITES // 8),
        }
    )
    first = number % (len(demo.trees) - 10)
    named = {"id": f"garden-{number:04d}", "name": f"Invented garden {number}"}
    trees = demo.trees[first : first + 10]
    return demo.model_copy(update={**named, "site": moved, "trees": trees})


def _bench(folder: str) -> Bench:
    """Return a bench over the database of a folder, for a process of its own."""
    settings = settings_for(Path(folder))
    clock = HandClock(MORNING + timedelta(days=1))
    return make_bench(settings, Database(settings.database), Outside(clock, demo_inputs().weather))


def _night(folder: Path, count: int) -> float:
    folder.mkdir()
    settings, clock = settings_for(folder), HandClock(MORNING)
    database = open_database(settings.database)
    demo = demo_inputs().garden
    settle(database, (_a_garden(number, demo) for number in range(count)), clock)
    bench = _bench(str(folder))
    dues = due_rounds(bench.states, bench.rounds, Timetable(), MORNING)
    begun = time.perf_counter()
    tally = run_side_by_side(partial(_bench, str(folder)), dues, processors())
    taken = time.perf_counter() - begun
    database.close()
    assert tally == {"done": count}
    return taken


@pytest.mark.benchmark
def test_a_night_of_a_thousand_gardens(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ten thousand trees; a quarter of the gardens takes about a quarter of the time."""
    quarter, whole = _night(tmp_path / "quarter", 250), _night(tmp_path / "whole", 1000)
    with capsys.disabled():
        print(  # noqa: T201 - the figure of a benchmark
            f"\n1,000 gardens x 10 trees on SQLite, {processors()} processes: {whole:.1f} s; "
            f"250 gardens: {quarter:.1f} s; cost x{whole / quarter:.2f} for x4"
        )
    assert whole < 120
    assert whole < 6 * quarter


@pytest.mark.benchmark
def test_the_service_is_soon_ready_and_small(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Start to first answer, and memory held at rest, the best of five starts."""
    starts, held = [], []
    for _ in range(5):
        begun = time.perf_counter()
        with _served(tmp_path) as served:
            assert served.get("/health")[0] in (200, 503)
            starts.append(time.perf_counter() - begun)
            time.sleep(1)
            status = Path(f"/proc/{served.process.pid}/status").read_text()
            held.append(int(status.split("VmRSS:")[1].split()[0]) / 1024)
            served.process.terminate()
            served.process.wait()
    with capsys.disabled():
        print(f"\nready in {min(starts):.2f} s; {max(held):.0f} MB at rest")  # noqa: T201 - as above
    assert min(starts) < 2
    assert max(held) < 150
