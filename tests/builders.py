"""Makers of small, valid values for tests: each gives a whole value, changed by keyword.

Every maker starts from one story: a garden near New York in the spring of 2013,
a Japanese maple whose buds break about 12 April. Name only what a test is about::

    tree = a_tree(name="Old Trident", vigour="weak", records=[a_record("repotted", "2011-03-20")])
    case = a_case(tree=tree, place=a_place(minimum_held=2), nights=[a_night("2013-03-28", -3)])

Values read from files are validated as a file would be; a wrong one raises.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from statistics import NormalDist
from typing import Any

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.agenda.situation import Sight, Situation
from mebuki.domain.advice import (
    Advice,
    CareKind,
    Case,
    Certainty,
    Days,
    Moments,
    Reason,
    Severity,
    Urgency,
)
from mebuki.domain.exposure import HardDay, Refuge
from mebuki.domain.figure import Figure
from mebuki.domain.garden import Garden, Subscriber, slug
from mebuki.domain.outlook import (
    LEVELS,
    GrowthClock,
    Milestone,
    Night,
    RootNight,
    StageOutlook,
    TreeOutlook,
    WaterDay,
)
from mebuki.domain.pest import PestCue
from mebuki.domain.practice import CautionText, Practice, Rulebook, Substrate
from mebuki.domain.site import Place, Site
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Pot, Record, Tree
from mebuki.domain.warmth import DegreeDays, HoursAhead
from mebuki.domain.weather import Freshness

ON = date(2013, 3, 27)
"""The day of the story."""

AT = datetime(2013, 3, 27, 11, tzinfo=UTC)
"""The moment of the story: 07:00 in New York."""

BREAK = date(2013, 4, 12)
"""The median day of bud break in the story."""

STAGE_OFFSETS: dict[Milestone, int] = {
    Milestone.SWELL: -30,
    Milestone.MODERATE_SWELL: -21,
    Milestone.FIRST_OPEN: -7,
    Milestone.BREAK: 0,
    Milestone.UNFOLDED: 8,
    Milestone.GROWN: 28,
}
"""Days from bud break to each milestone in the story."""

PRACTICE: dict[str, float] = {
    "repot.frost_free_weeks": 8, "repot.root_frost_limit": 0, "repot.feed_pause_weeks": 6,
    "repot.shelter_weeks": 4, "repot.start_minimum": -1, "repot.warm_night_minimum": 15,
    "repot.after_flowering_days": 14, "repot.window_weeks": 3,
    "repot.autumn_weeks_before_frost": 6, "repot.start_days": 10,
    "recovery.gap_months": 6, "recovery.weak_months": 6, "recovery.second_flush_months": 12,
    "wire.first_check_share": 0.6, "wire.fast_recheck_days": 10, "wire.slow_recheck_days": 30,
    "wire.bite_gap": 0.3, "wire.ring_width_weak": 0.3, "wire.ring_width_normal": 1.5,
    "wire.ring_width_strong": 3, "wire.factor_fast": 0.7, "wire.factor_medium": 1,
    "wire.factor_slow": 1.4,
    "frost.threshold_prized": 0.05, "frost.threshold_good": 0.15,
    "frost.threshold_ordinary": 0.30, "frost.clear_share": 0.5, "frost.prepare_factor": 2,
    "frost.notice_cautious": 0.05, "frost.notice_balanced": 0.15, "frost.notice_few": 0.30,
    "water.trigger_share": 0.7, "water.empties_low": 0.05, "water.empties_high": 4,
    "water.twice_above": 3,
    "winter.cold_hours": 2, "winter.limit_margin": 3, "agenda.cancelled_kept_days": 7,
    "repot.warm_window_weeks": 8, "winter.long_hours": 12,
    "winter.tender_lead_weeks": 6, "winter.out_days": 21,
    "repot.strong_factor": 0.75, "repot.mature_age_years": 30, "repot.tie_points": 2,
    "repot.tie_wire_mm": 2, "repot.rain_guard_mm": 25, "repot.rain_guard_weeks": 2,
    "pot.mesh_mm": 2.5, "substrate.conifer_part_share": 0.33,
    "substrate.deciduous_akadama_share": 0.6, "substrate.azalea_kanuma_share": 1,
    "substrate.succulent_mineral_share": 0.85,
    "recovery.collected_months": 12, "recovery.light_foliage_share": 0.15,
    "wire.branch_share": 0.33, "wire.length_factor": 1.6, "wire.copper_holding_factor": 1.35,
    "wire.bend_minimum": 2, "wire.frost_guard_weeks": 4, "wire.bend_frost_limit": 0,
    "wire.bend_after_repotting_weeks": 6,
    "water.winter_check_days": 7, "water.hard_frost": -4, "water.before_frost_hours": 24,
    "water.absence_days": 14,
    "winter.chill_weeks": 6, "winter.chill_below": 4.4, "winter.warm_place": 10,
    "winter.drying_hours": 3, "heat.root_act": 38, "heat.root_urgent": 42, "heat.dry_air_kpa": 3,
    "heat.root_watch": 35, "wind.gust_limit": 15, "wind.gust_estimated": 20,
    "prune.winter_weeks": 20, "prune.late_winter_weeks": 6, "prune.candle_weeks": 4,
    "prune.harden_days": 21, "prune.flush_weeks": 6, "prune.run_weeks": 6,
    "prune.recut_weeks": 8, "prune.window_weeks": 4, "prune.late_weeks": 8,
    "deadwood.live_vein_share": 0.5, "deadwood.widen_share_per_year": 0.1,
    "deadwood.dry_hours": 24, "deadwood.air_minimum": 15, "deadwood.heal_weeks": 8,
    "deadwood.after_repotting_weeks": 6,
    "feed.stop_weeks_before_frost": 4, "feed.heat_limit": 33, "feed.decandled_pause_weeks": 6,
    "feed.after_growth_days": 90,
    "scout.ahead_days": 14, "scout.look_days": 21, "scout.point_days": 10,
    "observe.bud_spread_days": 10, "observe.bud_lead_days": 7, "observe.minimum_low": -6,
    "observe.minimum_high": 4, "observe.minimum_pause_days": 10,
    "observe.water_spread_share": 0.2, "observe.weigh_pause_days": 120,
    "lift.warn_mass": 10, "lift.two_people_mass": 23,
    "wire.coil_angle_degrees": 50, "wire.dormancy_days": 90,
    "growth.start_deciduous_days": 14, "growth.span_deciduous_days": 65,
    "growth.start_evergreen_days": 0, "growth.span_evergreen_days": 110,
    "growth.start_conifer_days": -20, "growth.span_conifer_days": 130,
    "repot.early_years": 0.4, "repot.bloom_weeks": 6, "repot.growth_weeks": 1,
    "water.passes": 2, "water.dry_depth_mm": 10, "water.forecast_rain_share": 0.5,
    "water.rain_minimum_mm": 2, "water.capture_factor": 1,
    "water.interception_mm_per_leaf_area": 0.2, "water.crop_deciduous": 0.9,
    "water.crop_evergreen_broadleaf": 0.8, "water.crop_conifer": 0.7,
    "water.crop_leafless": 0.15, "water.crop_evergreen_winter": 0.4,
    "water.leaf_ramp_days": 30, "water.soil_under_canopy": 0.3, "water.soil_bare": 0.8,
    "water.roots_one_year": 0.85, "water.roots_bound": 0.7, "water.class_low": 0.6,
    "water.class_medium": 0.8, "water.class_high": 1,
    "winter.store_temperature": 1.4, "winter.store_months": 5, "winter.tropical_minimum": 18.3,
    "winter.class_tender_minimum": 5, "winter.class_a_limit": -5,
    "winter.class_a_limit_young": -3, "winter.class_b_limit": -7,
    "winter.class_b_limit_young": -4, "winter.class_c_limit": -12,
    "winter.class_c_limit_young": -7, "winter.class_margin": 2, "winter.extra_margin": 3,
    "winter.early_winter_weeks": 6, "winter.repotted_months": 12,
    "winter.unhardened_limit": -2, "winter.hardening_hours": 600,
    "winter.softening_degree_days": 100, "winter.warm_taxon": 5, "winter.cold_days": 120,
    "frost.radiation_wind": 2, "frost.radiation_cloud": 0.4, "frost.critical_swelling": -7,
    "frost.critical_green_tip": -4, "frost.critical_unfolding": -2.5,
    "frost.critical_soft_leaf": -2, "frost.hardened_days": 42, "frost.prepare_days_ahead": 3,
    "heat.root_act_hours": 2, "heat.dry_air_kpa_fresh": 2.2, "heat.dry_air_hours": 4,
    "heat.dry_air_wind": 4, "prune.leaf_fall_weeks": 1, "feed.heat_days": 3, "feed.last_days": 14,
    "substrate.particle_mm": 4, "pot.latent_heat_share": 0.5, "pot.wall_correction": 0.5,
    "weather.fresh_hours": 6, "weather.blind_hours": 24, "agenda.noise_days": 3,
}  # fmt: skip
"""Practice figures of the story; the shipped file must have the same keys."""

CAUTIONS = (
    "sharp-tools", "lifting", "frozen-pots", "wire-cutting", "toxic-taxon", "heaters",
    "electricity-outdoors", "night-work", "pesticides-and-preservatives",
)  # fmt: skip
"""The caution ids that care rules may name."""


def a_day(text: str | date) -> date:
    """Return a day from ``YYYY-MM-DD``, or the day itself."""
    return text if isinstance(text, date) else date.fromisoformat(text)


def a_moment(day: str | date, hour: int = 12) -> datetime:
    """Return a full hour (UTC) of a day."""
    return datetime.combine(a_day(day), time(hour), UTC)


def a_figure(value: float, source: str = "practice", **changes: Any) -> Figure:
    """Return a figure with its source."""
    return Figure.model_validate({"value": value, "source": source} | changes)


def _figure(value: float) -> dict[str, object]:
    return {"value": value, "source": "practice"}


def _phrase(value: str) -> dict[str, object]:
    return {"value": value, "source": "practice"}


def a_site(**changes: Any) -> Site:
    """Return a site near New York; ``latitude`` and ``time_zone`` move it."""
    start = {
        "name": "Test garden", "latitude": 40.6, "longitude": -73.8, "elevation": 4,
        "time_zone": "America/New_York",
    }  # fmt: skip
    return Site.model_validate(start | changes)


def a_southern_site() -> Site:
    """Return a site near Melbourne."""
    return a_site(latitude=-37.8, longitude=145.0, time_zone="Australia/Melbourne")


def a_place(id: str = "bench", **changes: Any) -> Place:  # noqa: A002 - the word of the file
    """Return an open bench in full sun; ``minimum_held=2`` makes it frost-free."""
    start: dict[str, object] = {"id": id, "name": id.replace("-", " ").capitalize()}
    return Place.model_validate({**start, "kind": "bench"} | changes)


def a_frost_free_place(id: str = "shed", **changes: Any) -> Place:  # noqa: A002 - as above
    """Return a shed that is kept above 2 °C."""
    return a_place(id, **({"kind": "shed", "minimum_held": 2, "lag_hours": 12} | changes))


def a_pot(**changes: Any) -> Pot:
    """Return a flat oval pot of about 3.3 L."""
    start = {"shape": "oval", "length_cm": 30, "width_cm": 22, "height_cm": 7}
    return Pot.model_validate(start | changes)


def a_record(kind: str, on: str | date, **changes: Any) -> Record:
    """Return a record of something done or seen."""
    return Record.model_validate({"kind": kind, "on": a_day(on)} | changes)


def a_tree(name: str = "Maple", **changes: Any) -> Tree:
    """Return a Japanese maple in training on the bench, without records."""
    start = {
        "id": slug(name), "name": name, "taxon": "acer-palmatum", "place": "bench",
        "pot": a_pot(), "canopy_cm": 45,
    }  # fmt: skip
    return Tree.model_validate(start | changes)


def a_taxon(id: str = "acer-palmatum", **changes: Any) -> Taxon:  # noqa: A002 - as above
    """Return a Japanese maple; sections are merged key by key.

    ``a_taxon(repotting={"cue": "warm-nights"})`` changes the cue alone.
    """
    start: dict[str, Any] = {
        "id": id,
        "scientific_name": id.replace("-", " ").capitalize(),
        "common_name": "Japanese maple",
        "group": "deciduous-broadleaf",
        "phenology": {
            "bud_break": {"cwtt": _figure(250), "sd_ln": _figure(0.15)},
            "chill_class": _phrase("low"),
            "base_temperature": _figure(5),
        },
        "repotting": {
            "cue": "bud-swell", "years_young": _figure(2), "years_mature": _figure(4),
            "root_share_max": _figure(0.33),
        },
        "wiring": {
            "first_check_weeks": _figure(4), "recheck_weeks": _figure(2),
            "months_min": _figure(2), "months_max": _figure(5),
            "metal": _phrase("aluminium"), "thickening": "fast",
        },
        "hardiness": {
            "root_alert": _figure(-4), "root_kill": _figure(-10),
            "new_growth_damage": _figure(-1), "shelter": _phrase("cold frame"),
        },
        "upkeep": {
            "water_class": "high", "water_source": "practice", "sun": _phrase("half shade"),
        },
    }  # fmt: skip
    for key, value in changes.items():
        merged = isinstance(value, dict) and isinstance(start.get(key), dict)
        start[key] = {**start[key], **value} if merged else value
    return Taxon.model_validate(start)


def a_tropical_taxon() -> Taxon:
    """Return a small-leaved fig, which wants 12 °C and warm nights for repotting."""
    return a_taxon(
        "ficus-microcarpa",
        common_name="small-leaved fig",
        group="tropical",
        repotting={"cue": "warm-nights"},
        hardiness={"keep_above": _figure(12), "shelter": _phrase("indoors")},
    )


def a_subscriber(**changes: Any) -> Subscriber:
    """Return somebody who is told."""
    start = {"name": "Keeper", "email": "keeper@example.org"}
    return Subscriber.model_validate(start | changes)


def a_garden(
    trees: Iterable[Tree] | None = None, places: Iterable[Place] | None = None, **changes: Any
) -> Garden:
    """Return a garden with an open bench, a frost-free shed and one maple."""
    start = {
        "id": "home", "name": "Home", "site": a_site(),
        "places": tuple(places) if places is not None else (a_place(), a_frost_free_place()),
        "trees": tuple(trees) if trees is not None else (a_tree(),),
        "subscribers": (a_subscriber(),),
    }  # fmt: skip
    return Garden.model_validate(start | changes)


def a_pest(id: str = "maple-mite", **changes: Any) -> PestCue:  # noqa: A002 - as above
    """Return a mite of maples that is looked for from 100 to 200 °C d."""
    start = {
        "id": id, "name": id.replace("-", " "), "hosts": ("acer",),
        "look": "at the underside of leaves for mites", "begins": _figure(100),
        "ends": _figure(200), "region": "Somewhere",
    }  # fmt: skip
    return PestCue.model_validate(start | changes)


def some_degree_days(
    daily: float = 5, begins: str | date = date(2013, 3, 1), spread: float = 0.2, **changes: Any
) -> DegreeDays:
    """Return degree days of 200 days that grow by as much every day, and a fifth less or more."""
    rows = [
        tuple(daily * factor * (day + 1) for day in range(200))
        for factor in (1 - spread, 1, 1 + spread)
    ]
    start = DegreeDays(2013, 10.0, a_day(begins), *rows)
    return replace(start, **changes)


def some_hours(
    begins: datetime, days: int = 8, air: float = 20, rain: dict[int, float] | None = None
) -> HoursAhead:
    """Return steady air and no rain but in the hours named, counted from the first."""
    wet = rain or {}
    hours = range(24 * days)
    return HoursAhead(begins, (air,) * len(hours), tuple(wet.get(hour, 0.0) for hour in hours))


def a_rulebook(**practice: float) -> Rulebook:
    """Return a rulebook of `PRACTICE`, one substrate and short cautions.

    A figure is changed by its key with two underscores for the dot:
    ``a_rulebook(repot__frost_free_weeks=4)``.
    """
    figures = PRACTICE | {key.replace("__", "."): value for key, value in practice.items()}
    return Rulebook(
        practice=Practice(figures={key: a_figure(value) for key, value in figures.items()}),
        substrates={
            "mixed-mineral": Substrate(
                id="mixed-mineral", name="mixed mineral", easily_available_water=a_figure(0.12),
                capacity=a_figure(0.35), wet_density=a_figure(1.25),
            )
        },
        cautions={
            key: CautionText(id=key, text=f"Mind {key}.", authority="an authority")
            for key in CAUTIONS
        },
    )  # fmt: skip


def a_distribution(median: str | date | None, sd: float = 4) -> tuple[date | None, ...]:
    """Return days for each of `LEVELS` of a normal distribution; none if there is no median."""
    if median is None:
        return tuple(None for _ in LEVELS)
    spread = NormalDist(0, sd) if sd > 0 else None
    shifts = [round(spread.inv_cdf(level / 100)) if spread else 0 for level in LEVELS]
    return tuple(a_day(median) + timedelta(days=shift) for shift in shifts)


def a_stage(
    milestone: Milestone, median: str | date | None, sd: float = 4, season: int = 2013
) -> StageOutlook:
    """Return when a milestone comes, around a median day."""
    return StageOutlook(milestone, season, a_distribution(median, sd))


def some_stages(
    bud_break: str | date = BREAK, season: int = 2013, sd: float = 4
) -> tuple[StageOutlook, ...]:
    """Return every milestone of `STAGE_OFFSETS` around a day of bud break."""
    start = a_day(bud_break)
    return tuple(
        a_stage(milestone, start + timedelta(days=offset), sd, season)
        for milestone, offset in STAGE_OFFSETS.items()
    )


def a_night(
    evening: str | date, air_minimum: float, on: date = ON, spread: float = 1.5, **changes: Any
) -> Night:
    """Return a night from 20 to 12 h UTC, its leaves 1 °C below the air."""
    day = a_day(evening)
    night = Night(
        evening=day, begins=a_moment(day, 20), ends=a_moment(day + timedelta(days=1), 12),
        air_minimum=air_minimum, leaf_minimum=air_minimum - 1, spread=spread,
        minimum_at=a_moment(day + timedelta(days=1), 9), frost_type="radiation",
        lead_days=(day - on).days,
    )  # fmt: skip
    return replace(night, **changes)


def a_root_night(
    evening: str | date, wall_minimum: float, on: date = ON, limit: float = -4, **changes: Any
) -> RootNight:
    """Return a night of a root ball whose middle stays 1 °C above its wall."""
    day = a_day(evening)
    night = RootNight(
        evening=day, mean_minimum=wall_minimum + 1, wall_minimum=wall_minimum, spread=1.0,
        frozen_share=0.0, limit=limit, hours_below=0, lead_days=(day - on).days,
        limit_source="practice",
    )  # fmt: skip
    return replace(night, **changes)


def a_water_day(day: str | date, share_evening: float, **changes: Any) -> WaterDay:
    """Return a day on which a pot goes from full to a share left at 21 h."""
    water = WaterDay(
        day=a_day(day), reference_evaporation=4.0, use=0.3, spread=0.05, share_morning=1.0,
        share_evening=share_evening, dry_at=None, empties=1.0, frozen=False,
    )  # fmt: skip
    return replace(water, **changes)


def a_hard_day(day: str | date, on: date = ON, **changes: Any) -> HardDay:
    """Return a mild, calm day; name what makes it hard."""
    mild = HardDay(
        day=a_day(day), wall_warmest=25, heat=0, hours_hot=0, deficit=1.0, scorches=False,
        gust_least=5, gust_most=7, drying_hours=0, lead_days=(a_day(day) - on).days,
    )  # fmt: skip
    return replace(mild, **changes)


def a_refuge(place: str = "Shed", lowest: float | None = 3, **changes: Any) -> Refuge:
    """Return a closed place that keeps frost out in the coming nights."""
    return replace(Refuge(place, lowest, frost_chance=0.01), **changes)


def a_growth_clock(
    ten: str | date = date(2013, 4, 26), ninety: str | date = date(2013, 6, 30)
) -> GrowthClock:
    """Return a growth clock: from two weeks after bud break, for 65 days."""
    return GrowthClock(a_day(ten), a_day(ninety), "bud break + 14 d, 65 d")


def an_outlook(tree: str = "maple", on: str | date = ON, **changes: Any) -> TreeOutlook:
    """Return the outlook of one tree: spring of 2013, no nights and no water yet."""
    outlook = TreeOutlook(
        tree=tree, on=a_day(on), season=2013, stages=some_stages(), nights=(), roots=(),
        water=(), growth=((2013, a_growth_clock()),),
        spring_frost=a_distribution("2013-04-08", 8),
        autumn_frost=a_distribution("2013-11-08", 8),
        shoot_acclimation=0.3, root_acclimation=0.3, available_water=0.4,
        freshness=Freshness.FRESH,
    )  # fmt: skip
    return replace(outlook, **changes)


def a_case(
    tree: Tree | None = None,
    place: Place | None = None,
    *,
    taxon: Taxon | None = None,
    site: Site | None = None,
    rulebook: Rulebook | None = None,
    on: str | date = ON,
    at: datetime | None = None,
    shelter_available: bool = True,
    shelters: Iterable[Refuge] = (),
    doubts: Iterable[str] = (),
    **outlook: Any,
) -> Case:
    """Return the case of one tree; further keywords change its outlook (``nights=[...]``).

    The leads of nights and root nights are reckoned from the day of the case.
    """
    kept = tree or a_tree()
    day = a_day(on)
    parts = {
        key: tuple(value) if isinstance(value, list) else value for key, value in outlook.items()
    }
    for key in {"nights", "roots"} & parts.keys():
        parts[key] = tuple(
            replace(night, lead_days=(night.evening - day).days) for night in parts[key]
        )
    return Case(
        tree=kept, taxon=taxon or a_taxon(), place=place or a_place(), site=site or a_site(),
        outlook=an_outlook(kept.id, day, **parts), rulebook=rulebook or a_rulebook(), on=day,
        at=at or a_moment(day, 11), shelter_available=shelter_available,
        shelters=tuple(shelters), doubts=tuple(doubts),
    )  # fmt: skip


def an_advice(tree: str = "maple", **changes: Any) -> Advice:
    """Return a repotting advice for one tree."""
    advice = Advice(
        kind=CareKind.REPOT, action="repot-window", tree=tree, cycle="2013",
        span=Days(date(2013, 3, 22), date(2013, 4, 4), date(2013, 3, 29)),
        fact="repot when buds swell", deed="Repot while the buds swell.",
        urgency=Urgency.EXPECTED, severity=Severity.MODERATE, certainty=Certainty.LIKELY,
        rule="repot R20", reasons=(Reason("last repotted", "never", "records"),),
        probability=0.6,
    )  # fmt: skip
    return replace(advice, **changes)


def a_frost_advice(tree: str = "maple", evening: str | date = ON, **changes: Any) -> Advice:
    """Return a frost advice for one tree and one night."""
    night = a_night(evening, -2)
    advice = an_advice(
        tree, kind=CareKind.FROST, action="frost-night", cycle=night.evening.isoformat(),
        span=Moments(night.begins, night.ends), fact="fresh roots, −2 °C expected",
        deed="Bring into a frost-free place before dark.", urgency=Urgency.IMMEDIATE,
        severity=Severity.SEVERE, rule="frost R26", probability=0.6, threshold=0.15,
    )  # fmt: skip
    return replace(advice, **changes)


def an_entry(key: str = "home/repot/repot-window/maple/2013", **changes: Any) -> Entry:
    """Return a calendar entry as first published at `AT`."""
    entry = Entry(
        key=key, kind=CareKind.REPOT, status=EntryStatus.TENTATIVE,
        title="Repot Maple when buds swell (likely 29 Mar)", body="What and why.",
        span=Days(date(2013, 3, 22), date(2013, 4, 4), date(2013, 3, 29)), trees=("maple",),
        place="bench", urgency=Urgency.EXPECTED, alarm=False, created=AT, changed=AT,
    )  # fmt: skip
    return replace(entry, **changes)


def a_sight(**changes: Any) -> Sight:
    """Return fresh weather with a forecast of sixteen days."""
    start: dict[str, Any] = {
        "at": AT, "freshness": Freshness.FRESH, "measured_until": AT,
        "forecast_until": AT + timedelta(days=16),
    }  # fmt: skip
    return Sight(**(start | changes))


def a_situation(
    garden: Garden | None = None, advice: tuple[Advice, ...] = (), **changes: Any
) -> Situation:
    """Return the situation of a garden on the day of the story, with mild nights."""
    kept = garden or a_garden()
    nights = (a_night(ON, -2), a_night(ON + timedelta(days=1), 4))
    start: dict[str, Any] = {
        "garden": kept, "advice": advice, "sight": a_sight(), "rulebook": a_rulebook(),
        "on": ON, "at": AT,
        "outlooks": by_tree([an_outlook(tree.id, nights=nights) for tree in kept.trees]),
    }  # fmt: skip
    return Situation(**(start | changes))


def by_tree(outlooks: Sequence[TreeOutlook]) -> dict[str, TreeOutlook]:
    """Return outlooks by tree id."""
    return {outlook.tree: outlook for outlook in outlooks}
