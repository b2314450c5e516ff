"""Many root-balls as rows of one array: each with air and gaps of its own."""

from __future__ import annotations

import numpy as np

from mebuki.season.root_ball import RootBalls, Surroundings
from mebuki.season.root_temperature import stepped


def test_a_gap_at_one_place_hides_its_own_pots_only() -> None:
    """Two pots with air of their own: an unknown hour of one leaves the other known."""
    air = np.full((2, 30), 3.0)
    air[1, 10:15] = np.nan
    quiet = np.zeros((2, 30))
    pots = RootBalls(*(np.full(2, v) for v in (0.005, 0.2, 0.0, 0.0, 0.0)))
    found = stepped(Surroundings(air, air, quiet + 12, quiet, quiet), pots)
    assert np.isfinite(found.mean[0]).all()
    assert np.isnan(found.mean[1, 10:27]).all()
    assert np.isfinite(found.mean[1, 27:]).all()


def test_pots_stepped_together_are_as_pots_stepped_alone() -> None:
    """Members and places as rows of one array change no pot's temperature."""
    generator = np.random.default_rng(11)
    air = generator.normal(-1, 4, (3, 80)).cumsum(axis=1) / 5
    quiet = np.zeros((3, 80))
    pots = RootBalls(
        volume=np.array([0.001, 0.005, 0.02]),
        surface=np.array([0.06, 0.2, 0.5]),
        ground=np.array([0.0, 0.05, 0.1]),
        insulation=np.array([0.0, 0.3, 0.0]),
        absorbed=np.full(3, 0.7),
    )
    around = Surroundings(air, quiet + 3, quiet + 12, quiet + 20, quiet + 10)
    together = stepped(around, pots)
    for pot in range(3):
        alone = stepped(
            Surroundings(air[pot], quiet[0] + 3, quiet[0] + 12, quiet[0] + 20, quiet[0] + 10),
            RootBalls(*(getattr(pots, name)[[pot]] for name in
                        ("volume", "surface", "ground", "insulation", "absorbed"))),
        )  # fmt: skip
        np.testing.assert_allclose(together.mean[pot], alone.mean[0], atol=1e-12)
        np.testing.assert_allclose(together.wall[pot], alone.wall[0], atol=1e-12)
