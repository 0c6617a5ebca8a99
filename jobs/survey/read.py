"""How a survey is read: with its rows, how complete it is, and which of its facts are guesses."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from django.contrib.auth.models import User
from django.db.models import Count
from django.shortcuts import get_object_or_404
from django.urls import reverse

from jobs.models import (
    ConfidenceChoice,
    DesignSource,
    ExistingItem,
    Job,
    Shop,
    Survey,
    TravelStop,
)
from jobs.survey import PARTS, STAGES
from jobs.survey.needs import Need, needs_of

ROWS: Final = ("obstacles", "wire_legs", "loads", "stops", "existing_items", "soft_spots")
KNOWN_PLACES = 60
S = Job.State
#: The paper is issued or the job has ended: what was surveyed stays as it is.
CLOSED: Final = frozenset({S.RELEASED, S.INVOICED, S.PAID, S.IN_CARE, S.CANCELLED, S.REFUSED})
#: A quote was accepted: the accepted design stands, the survey may still be completed.
ACCEPTED: Final = frozenset(
    {
        S.ACCEPTED,
        S.DEPOSIT_PAID,
        S.PARTS_ORDERED,
        S.READY,
        S.IN_WORK,
        S.PAUSED,
        S.COMMISSIONING,
        S.CURE_WAIT,
    }
)


@dataclass(frozen=True)
class Missing:
    """A fact that is asked for: its name and where it is filled in."""

    label: str
    part: str  # title of the page
    url: str


@dataclass(frozen=True)
class StageCompleteness:
    """How much of what a stage needs is known."""

    stage: str  # S, Q or I
    title: str
    required: int
    filled: int
    missing: tuple[Missing, ...]
    guessed: tuple[Missing, ...]

    @property
    def fraction(self) -> float:
        """Return filled over required, 0 to 1."""
        return self.filled / self.required if self.required else 1.0

    @property
    def is_complete(self) -> bool:
        """Return whether nothing is missing; guesses may remain."""
        return not self.missing


@dataclass(frozen=True)
class PartState:
    """One page of the survey in the list of pages."""

    slug: str
    title: str
    url: str
    missing_count: int


def survey_for_page(user: User, job_pk: int) -> Survey:
    """Return a job's survey with its rows, vehicle and customer; another shop's is not found."""
    surveys = Survey.objects.visible_to(user).select_related("job__shop", "job__vehicle__customer")
    return get_object_or_404(surveys.prefetch_related(*ROWS), job_id=job_pk)


def completeness(survey: Survey) -> list[StageCompleteness]:
    """Return what is known and what is missing before a string plan, a quote and install day."""
    vehicle = survey.job.vehicle
    needs = needs_of(survey, vehicle, has_dc_dc=_plans_dc_dc(survey))
    guessed = guesses(survey)
    return [
        _stage(stage, [need for need in needs if need.stage == stage], survey, guessed) for stage in STAGES
    ]


def _stage(stage: str, needs: list[Need], survey: Survey, guessed: frozenset[str]) -> StageCompleteness:
    missing = tuple(_where(need, survey) for need in needs if not need.is_filled)
    resting = tuple(
        _where(need, survey) for need in needs if need.is_filled and need.guess and need.guess in guessed
    )
    return StageCompleteness(
        stage=stage,
        title=STAGES[stage],
        required=len(needs),
        filled=len(needs) - len(missing),
        missing=missing,
        guessed=resting,
    )


def _where(need: Need, survey: Survey) -> Missing:
    url = reverse("jobs:survey_edit", args=[survey.job_id, need.part])
    return Missing(label=need.label, part=PARTS[need.part].title, url=f"{url}#{need.anchor}")


def part_states(survey: Survey, stages: list[StageCompleteness]) -> list[PartState]:
    """Return the pages in order, each with how many facts it still asks for."""
    missing = [gap.part for stage in stages for gap in stage.missing]
    return [
        PartState(
            slug=part.slug,
            title=part.title,
            url=reverse("jobs:survey_edit", args=[survey.job_id, part.slug]),
            missing_count=missing.count(part.title),
        )
        for part in PARTS.values()
    ]


def guesses(survey: Survey) -> frozenset[str]:
    """Return the guessed facts, in the words of the sizing face: ``roof.deck``, ``circuit:C2.run_len`` …"""
    legs = {
        f"circuit:{leg.circuit}.run_len"
        for leg in survey.wire_legs.all()
        if leg.confidence == ConfidenceChoice.GUESS
    }
    things = {"obstacles"} if any(thing.is_guess for thing in survey.obstacles.all()) else set()
    return frozenset(survey.guessed_fields) | legs | things


def in_order(name: str) -> str:
    """Return what to sort names by so that C5 comes before C10."""
    return re.sub(r"\d+", lambda found: found[0].zfill(4), name)


def guess_label(name: str) -> str:
    """Return a guessed fact in trade words, for the mark on a result."""
    if name.startswith("circuit:"):
        return f"length of {name.removeprefix('circuit:').partition('.')[0]}"
    for part in PARTS.values():
        for fact in part.facts:
            if fact.guess == name:
                return fact.label.lower() if not fact.label[:2].isupper() else fact.label
        for sheet in part.rows:
            if sheet.guess == name:
                return sheet.title.lower()
    return name.replace(".", " ").replace("_", " ")


def is_closed(survey: Survey) -> bool:
    """Return whether the survey can no longer be changed."""
    return survey.job.state in CLOSED


def is_accepted(survey: Survey) -> bool:
    """Return whether a quote was accepted, so that a change here does not change what was sold."""
    return survey.job.state in ACCEPTED


def known_places(shop: Shop) -> dict[str, tuple[float, float | None]]:
    """Return the places this shop has used, most used first, with latitude and longitude."""
    rows = (
        TravelStop.objects.of_shop(shop)
        .order_by()
        .values_list("place", "latitude_deg", "longitude_deg")
        .annotate(times=Count("pk"))
        .order_by("-times", "place")[:KNOWN_PLACES]
    )
    return {place: (latitude, longitude) for place, latitude, longitude, _times in rows}


def _plans_dc_dc(survey: Survey) -> bool:
    """Return whether the job has, or plans, something that charges from the engine: a DC-DC unit, a relay."""
    on_engine = {ExistingItem.Kind.DC_DC, ExistingItem.Kind.ISOLATOR}
    found = any(
        item.kind in on_engine and item.fate == ExistingItem.Fate.KEEP for item in survey.existing_items.all()
    )
    planned = DesignSource.objects.filter(
        design__job=survey.job_id, part__charger_sheet__kind__in=["dc_dc", "relay"]
    )
    return found or planned.exists()
