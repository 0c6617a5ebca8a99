"""Lays out the stored year of shade for the page of a design."""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from django.utils.safestring import SafeString, mark_safe

from jobs.engine.scene import shade_question, sun_basis
from jobs.engine.years import engine_version, same_strings, shape_words
from jobs.models import Design, ShadeRun, TravelStop
from jobs.roof.read import roof_state
from jobs.shade.chart import compass, polar_svg
from jobs.shop.refusals import Refusal

#: Runs looked at for a page; more than are ever kept.
_RECENT: Final = 12
#: A run that says nothing for so long has lost its worker; the longest single sum takes a minute or two.
STALLED: Final = timedelta(minutes=10)
_STALLED_WORDS: Final = "The work stopped partway. Please start it again."
#: Wirings shown at once; the others open.
_SHOWN: Final = 6
#: Two wirings or parking directions closer than this count as equal: the engine is not surer. [-]
EQUAL_FRACTION: Final = 0.003


@dataclass(frozen=True, slots=True)
class Row:
    """One line with a bar: a panel, a roof object. ``bar`` is its length in percent of the longest."""

    name: str
    kwh: float
    fraction: float | None
    bar: float
    note: str = ""
    light_fraction: float | None = None
    worth_kwh: float | None = None


@dataclass(frozen=True, slots=True)
class Heading:
    """One parking direction."""

    degrees: float
    point: str
    kwh: float
    loss_fraction: float


@dataclass(frozen=True, slots=True)
class Month:
    """One month: mean of all directions, best direction (none where all are equal) and what it gains."""

    name: str
    kwh: float
    point: str
    gain_fraction: float


@dataclass(frozen=True, slots=True)
class Way:
    """One wiring of a controller's panels."""

    shape: str
    strings: str
    kwh: float
    behind_kwh: float
    verdict: str
    why: str
    is_designed: bool
    is_equal: bool  # to the best, within what the engine can tell


@dataclass(frozen=True, slots=True)
class Ranking:
    """Every wiring of one controller, best first."""

    label: str
    problem: str
    first: tuple[Way, ...]
    others: tuple[Way, ...]
    tried: int
    possible: int
    is_complete: bool
    gap_fraction: float
    words: tuple[str, ...]
    refused: tuple[Mapping[str, str], ...]


@dataclass(frozen=True, slots=True)
class Checked:
    """The answer of the slow path beside the quick one."""

    mean_kwh: float
    off_fraction: float
    worst_off_fraction: float
    at: Any


@dataclass(frozen=True, slots=True)
class Year:
    """One stored year, ready to print."""

    run: ShadeRun
    place: str
    shade_habit: str
    mean_kwh: float
    unshaded_kwh: float
    loss_fraction: float
    best: Heading
    worst: Heading
    chart: SafeString
    headings: tuple[Heading, ...]
    months: tuple[Month, ...]
    panels: tuple[Row, ...]
    obstacles: tuple[Row, ...]
    findings: tuple[str, ...]
    folk: tuple[str, ...]  # rules of thumb, tried on this roof
    rankings: tuple[Ranking, ...]
    guesses: tuple[str, ...]
    weather: Mapping[str, str]
    band: Mapping[str, Any] | None  # over years of weather, where the shop has them
    is_wired: bool
    controllers: tuple[tuple[str, float], ...]
    is_even: bool  # the parking direction makes no difference over the year


@dataclass(frozen=True, slots=True)
class ShadePage:
    """What the page of a design says about shade, whatever state it is in."""

    year: Year | None
    open_run: ShadeRun | None
    failed: ShadeRun | None
    checked: Checked | None
    failed_check: ShadeRun | None
    is_current: bool
    reason: str  # why it cannot be asked now
    stops: tuple[TravelStop, ...]
    chosen: str  # key of the place asked for last

    @property
    def may_ask(self) -> bool:
        """Return whether there is something to ask and nobody is asking."""
        return not self.reason and self.open_run is None


def shade_page(design: Design, at: datetime) -> ShadePage:
    """Return the state of a design's year of shade; one query beside what the page has read."""
    runs = list(design.shade_runs.all()[:_RECENT])
    for run in runs:
        _mark_stalled(run, at)
    years = [run for run in runs if run.kind == ShadeRun.Kind.YEAR]
    checks = [run for run in runs if run.kind == ShadeRun.Kind.CHECK]
    done = _newest(years, ShadeRun.State.DONE)
    last = years[0] if years else None
    asked, reason = _question(design, last)
    check = checks[0] if checks else None
    return ShadePage(
        year=None if done is None else _year(design, done),
        open_run=next((run for run in runs if run.is_open), None),
        failed=_if_failed(last),
        checked=_checked(check, done),
        failed_check=_if_failed(check),
        is_current=done is not None and done.inputs["question"] == asked and _is_of_this_engine(done),
        reason=reason,
        stops=tuple(stop for stop in design.job.survey.stops.all() if stop.longitude_deg is not None),
        chosen=_chosen(asked),
    )


def _mark_stalled(run: ShadeRun, at: datetime) -> None:
    """Show a run that lost its worker as failed; the record itself is mended by whoever asks again."""
    if run.state == ShadeRun.State.RUNNING and at - run.touched_at > STALLED:
        run.state, run.error = ShadeRun.State.FAILED, _STALLED_WORDS


def _if_failed(run: ShadeRun | None) -> ShadeRun | None:
    return run if run is not None and run.state == ShadeRun.State.FAILED else None


def _newest(runs: Iterable[ShadeRun], state: str) -> ShadeRun | None:
    return next((run for run in runs if run.state == state), None)


def _is_of_this_engine(run: ShadeRun) -> bool:
    return run.engine_version == engine_version()


def _question(design: Design, last: ShadeRun | None) -> tuple[Mapping[str, Any] | None, str]:
    """Return what would be asked now, or why it cannot be."""
    try:
        return shade_question(roof_state(design), sun_basis(design), last.stop_key if last else None), ""
    except Refusal as refusal:
        return None, str(refusal)


def _chosen(asked: Mapping[str, Any] | None) -> str:
    return asked["place"]["key"] if asked else ""


def _year(design: Design, run: ShadeRun) -> Year:
    year, question = run.result["year"], run.inputs["question"]
    main = next(one for one in year["wirings"] if one["name"] == year["main_wiring"])
    headings = _headings(year["headings_deg"], main)
    labels = list(question["strings"])
    shares = tuple(zip(labels, main["controller_kwh"], strict=True)) if len(labels) > 1 else ()
    spread_kwh = max(main["kwh_by_heading"]) - min(main["kwh_by_heading"])
    is_even = spread_kwh < EQUAL_FRACTION * main["unshaded_kwh"]
    return Year(
        run=run,
        place=question["place"]["name"],
        shade_habit=TravelStop.Shade(question["place"]["shade_habit"]).label.lower(),
        mean_kwh=main["mean_kwh"],
        unshaded_kwh=main["unshaded_kwh"],
        loss_fraction=main["mean_loss_fraction"],
        best=max(headings, key=lambda one: one.kwh),
        worst=min(headings, key=lambda one: one.kwh),
        chart=mark_safe(  # noqa: S308 - drawn by us from numbers
            polar_svg(
                year["headings_deg"],
                main["kwh_by_heading"],
                main["unshaded_kwh"],
                prefix=f"polar-{run.pk}",
                is_even=is_even,
            )
        ),
        headings=headings,
        months=_months(main),
        panels=_panels(year["panels"]),
        obstacles=_obstacles(year["obstructions"]),
        findings=tuple(finding["sentence"] for finding in year["findings"]),
        folk=tuple(run.result.get("folk", ())),
        rankings=tuple(_ranking(one) for one in run.result["rankings"]),
        guesses=tuple(question["guesses"]),
        weather=run.inputs["weather"],
        band=run.result.get("band"),
        is_wired=bool(question["scene"]["wirings"]),
        controllers=shares,
        is_even=is_even,
    )


def _headings(degrees: Iterable[float], main: Mapping[str, Any]) -> tuple[Heading, ...]:
    bare = main["unshaded_kwh"]
    return tuple(
        Heading(turn, compass(turn), kwh, 1.0 - kwh / bare if bare > 0 else 0.0)
        for turn, kwh in zip(degrees, main["kwh_by_heading"], strict=True)
    )


def _months(main: Mapping[str, Any]) -> tuple[Month, ...]:
    columns = (main["monthly_kwh"], main["best_heading_by_month_deg"], main["gain_by_parking_fraction"])
    return tuple(
        Month(calendar.month_name[number], kwh, compass(turn) if gain >= EQUAL_FRACTION else "", gain)
        for number, (kwh, turn, gain) in enumerate(zip(*columns, strict=True), start=1)
    )


def _panels(rows: Iterable[Mapping[str, Any]]) -> tuple[Row, ...]:
    """Return what each panel loses against a bare roof, in its string."""
    kept = []
    for row in rows:
        is_wired = row["delivered_kwh"] is not None
        got = row["delivered_kwh"] if is_wired else row["own_kwh"]
        lost = row["delivered_loss_fraction"] if is_wired else row["own_loss_fraction"]
        lost = max(0.0, lost or 0.0)
        kept.append((row, got * lost / (1.0 - lost) if lost < 1 else 0.0, lost, is_wired))
    longest = max((lost for _, lost, _, _ in kept), default=0.0)
    return tuple(
        Row(
            name=f"Panel {row['panel_id']}",
            kwh=lost_kwh,
            fraction=share,
            bar=_bar(lost_kwh, longest),
            note="" if is_wired else "not wired: as if alone",
            light_fraction=row["light_loss_fraction"],
            worth_kwh=row["marginal_kwh"],
        )
        for row, lost_kwh, share, is_wired in kept
    )


def _obstacles(rows: Iterable[Mapping[str, Any]]) -> tuple[Row, ...]:
    ordered = sorted(rows, key=lambda row: -row["cost_kwh"])
    longest = max((row["cost_kwh"] for row in ordered), default=0.0)
    return tuple(
        Row(
            name=row["name"][:1].upper() + row["name"][1:],
            kwh=row["cost_kwh"],
            fraction=row["cost_fraction"],
            bar=_bar(row["cost_kwh"], longest),
            note=", ".join(row["panel_ids"]) if row["cost_fraction"] >= 0.0005 else "",
        )
        for row in ordered
    )


def _bar(value: float, longest: float) -> float:
    """Return no bar for what prints as 0 kWh."""
    return round(100.0 * value / longest, 1) if value >= 0.5 else 0.0


def _ranking(found: Mapping[str, Any]) -> Ranking:
    ways = _ways(found) if not found["problem"] else ()
    first = ways[:_SHOWN]
    designed = next((way for way in ways[_SHOWN:] if way.is_designed), None)
    if designed is not None:
        first = (*first, designed)
    return Ranking(
        label=found["controller"],
        problem=found["problem"],
        first=first,
        others=tuple(way for way in ways[_SHOWN:] if not way.is_designed),
        tried=found.get("n_tried", 0),
        possible=found.get("n_possible", 0),
        is_complete=found.get("is_complete", True),
        gap_fraction=found.get("gap_fraction", 0.0),
        words=tuple(found.get("words", ())[1:]),  # the first only repeats the table
        refused=tuple(found["refused"]),
    )


def _ways(found: Mapping[str, Any]) -> tuple[Way, ...]:
    """Return the ranked wirings with the sizing verdict on their shape, the design's own among them."""
    rules = {rule["length"]: rule for rule in found["allowed"]}
    best = found["wirings"][0]["mean_kwh"]
    ways = []
    for one in found["wirings"]:
        rule = rules.get(len(one["strings"][0]), {"verdict": "not_enough_data", "why": ""})
        ways.append(
            Way(
                shape=shape_words(len(one["strings"][0]), len(one["strings"])),
                strings=_strings_words(one["strings"]),
                kwh=one["mean_kwh"],
                behind_kwh=one["behind_kwh"],
                verdict=rule["verdict"],
                why=rule["why"],
                is_designed=same_strings(one["strings"], found["designed"]),
                is_equal=one["behind_kwh"] < EQUAL_FRACTION * best,
            )
        )
    if not any(way.is_designed for way in ways):
        ways.append(_designed(found, best))
    return tuple(ways)


def _designed(found: Mapping[str, Any], best: float) -> Way:
    """Return the design's own wiring where the ranking does not hold it: unequal, forbidden or far behind."""
    lengths = {len(string) for string in found["designed"]}
    shape = shape_words(min(lengths), len(found["designed"])) if len(lengths) == 1 else "unequal"
    why = next((one["why"] for one in found["refused"] if one["shape"] == shape), "")
    rule = next((one for one in found["allowed"] if one["shape"] == shape), None)
    behind = best - found["designed_kwh"]
    return Way(
        shape=shape,
        strings=_strings_words(found["designed"]),
        kwh=found["designed_kwh"],
        behind_kwh=behind,
        verdict="block" if why else rule["verdict"] if rule else "",
        why=why or (rule["why"] if rule else ""),
        is_designed=True,
        is_equal=abs(behind) < EQUAL_FRACTION * best,
    )


def _strings_words(strings: Iterable[Iterable[str]]) -> str:
    return " | ".join("–".join(string) for string in strings)


def _checked(check: ShadeRun | None, year: ShadeRun | None) -> Checked | None:
    """Return the slow answer where it was asked the same as the year that is shown."""
    if check is None or year is None or check.state != ShadeRun.State.DONE:
        return None
    if check.inputs["scene"] != year.inputs["scene"]:
        return None
    found = check.result["check"]["wirings"][0]
    return Checked(
        mean_kwh=found["mean_kwh"],
        off_fraction=found["mean_off_fraction"],
        worst_off_fraction=found["worst_heading_off_fraction"],
        at=check.touched_at,
    )
