"""How jobs are read for the board, the search, the hub and its papers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from django.contrib.auth.models import User
from django.db.models import Case, CharField, Count, F, Prefetch, Q, QuerySet, Value, When, Window
from django.db.models.functions import Coalesce, Replace, RowNumber, Upper
from django.shortcuts import get_object_or_404

from jobs.models import (
    ChangeOrder,
    Customer,
    Design,
    DesignController,
    DesignPanel,
    DesignSource,
    Job,
    Quote,
    Shop,
    Vehicle,
)

S = Job.State
LANE_LIMIT: Final = 12  # slips shown in one lane of the board
FOUND_LIMIT: Final = 20  # rows of one kind shown by the search


@dataclass(frozen=True)
class Lane:
    """One stretch of the road that jobs travel."""

    key: str
    label: str
    states: tuple[str, ...]
    jobs: tuple[Job, ...] = ()
    count: int = 0

    @property
    def hidden_count(self) -> int:
        """Return how many jobs of the lane are not shown."""
        return self.count - len(self.jobs)


LANES: Final = (
    Lane("asking", "Inquiry", (S.ENQUIRY, S.SURVEY_BOOKED)),
    Lane("design", "Survey and design", (S.SURVEYED, S.DESIGNING)),
    Lane("quoted", "Quoted", (S.QUOTED,)),
    Lane("won", "Accepted", (S.ACCEPTED, S.DEPOSIT_PAID, S.PARTS_ORDERED, S.READY)),
    Lane("work", "In work", (S.IN_WORK, S.PAUSED, S.COMMISSIONING, S.CURE_WAIT)),
    Lane("done", "Released", (S.RELEASED, S.INVOICED, S.PAID)),
    Lane("care", "In care", (S.IN_CARE,)),
    Lane("ended", "Closed", (S.DECLINED, S.EXPIRED, S.CANCELLED, S.REFUSED)),
)
_LAST_TOUCHED: Final = Coalesce("moved_at", "created_at")  # a new inquiry has not moved yet
_ON_BOARD: Final = LANES[:6]
_OFF_BOARD: Final = LANES[6:]


def job_for_page(user: User, pk: int) -> Job:
    """Return one job with vehicle, customer and shop; another shop's job is not found."""
    return get_object_or_404(Job.objects.visible_to(user).select_related("shop", "vehicle__customer"), pk=pk)


def lane_of(key: str) -> Lane | None:
    """Return the lane of this name."""
    return next((lane for lane in LANES if lane.key == key), None)


def board_lanes(shop: Shop) -> tuple[list[Lane], list[Lane]]:
    """Return the lanes of the board with their newest jobs, and the lanes off the board with counts only."""
    counts = dict(Job.objects.of_shop(shop).order_by().values_list("state").annotate(count=Count("pk")))
    lane_name = Case(
        *[When(state__in=lane.states, then=Value(lane.key)) for lane in _ON_BOARD],
        default=Value(""),
        output_field=CharField(),
    )
    place = Window(RowNumber(), partition_by=[F("lane")], order_by=[_LAST_TOUCHED.desc(), F("pk").desc()])
    # Any: the checker does not know columns that a query makes up.
    on_road: Any = Job.objects.of_shop(shop).annotate(lane=lane_name).exclude(lane="")
    placed = on_road.annotate(place=place)
    jobs = list(_with_names(placed.filter(place__lte=LANE_LIMIT).order_by("place")))
    on_board = [
        _filled(lane, [job for job in jobs if getattr(job, "lane", "") == lane.key], counts)
        for lane in _ON_BOARD
    ]
    return on_board, [_filled(lane, [], counts) for lane in _OFF_BOARD]


def _filled(lane: Lane, jobs: list[Job], counts: dict[str, int]) -> Lane:
    """Return the lane with its jobs and how many there are in all."""
    return Lane(
        lane.key, lane.label, lane.states, tuple(jobs), sum(counts.get(state, 0) for state in lane.states)
    )


def jobs_of_lane(shop: Shop, lane: Lane) -> QuerySet[Job]:
    """Return all jobs of a lane, last moved first."""
    rows = Job.objects.of_shop(shop).filter(state__in=lane.states)
    return _with_names(rows).order_by(_LAST_TOUCHED.desc(), "-pk")


def _with_names(jobs: QuerySet[Job]) -> QuerySet[Job]:
    """Return the jobs with the people and vehicle a slip prints."""
    return jobs.select_related("vehicle__customer").prefetch_related("assigned_to")


@dataclass(frozen=True)
class Found:
    """What a search turned up."""

    query: str
    vehicles: tuple[Vehicle, ...]
    customers: tuple[Customer, ...]
    jobs: tuple[Job, ...]

    @property
    def is_nothing(self) -> bool:
        """Return whether nothing was found."""
        return not (self.vehicles or self.customers or self.jobs)


def _squeezed(field: str) -> Any:
    """Return a column without blanks and hyphens, in capitals, as plates and VINs are compared."""
    return Replace(Replace(Upper(field), Value(" "), Value("")), Value("-"), Value(""))


def jobs_search(shop: Shop, query: str) -> Found:
    """Return vehicles by plate, VIN or name, customers by name, phone, e-mail, jobs by number or title."""
    text = query.strip()[:80]
    if len(text) < 2:
        return Found(text, (), (), ())
    tight = "".join(text.upper().split()).replace("-", "")
    digits = "".join(letter for letter in text if letter.isdigit())
    vehicles = (
        Vehicle.objects.of_shop(shop)
        .annotate(tight_plate=_squeezed("plate"), tight_vin=_squeezed("vin"), jobs_count=Count("jobs"))
        .filter(
            Q(tight_plate__contains=tight)
            | Q(tight_vin__contains=tight)
            | Q(customer__name__icontains=text)
            | Q(make_text__icontains=text)
        )
        .select_related("customer")
    )
    who = Q(name__icontains=text) | Q(email__icontains=text)
    if len(digits) >= 4:
        who |= Q(tight_phone__contains=digits)
    customers = Customer.objects.of_shop(shop).annotate(tight_phone=_phone_digits()).filter(who)
    found = Q(number__icontains=text) | Q(title__icontains=text) | Q(vehicle__customer__name__icontains=text)
    found |= Q(vehicle__in=vehicles.values("pk"))
    jobs = Job.objects.of_shop(shop).filter(found).select_related("vehicle__customer")
    return Found(
        text,
        tuple(vehicles[:FOUND_LIMIT]),
        tuple(customers[:FOUND_LIMIT]),
        tuple(jobs[:FOUND_LIMIT]),
    )


def _phone_digits() -> Any:
    """Return the phone column without the signs people put between digits."""
    column: Any = F("phone")
    for sign in " -().+":
        column = Replace(column, Value(sign), Value(""))
    return column


def vehicle_history(vehicle: Vehicle) -> QuerySet[Job]:
    """Return the vehicle's jobs, newest first, with the accepted design's equipment and the issued sheets."""
    equipment = (
        Design.objects.filter(quotes__state=Quote.State.ACCEPTED)
        .select_related("bank__part", "inverter__part")
        .prefetch_related(
            Prefetch("panels", DesignPanel.objects.select_related("part").order_by("part", "number"))
        )
        .prefetch_related(Prefetch("controllers", DesignController.objects.select_related("part")))
        .prefetch_related(Prefetch("sources", DesignSource.objects.select_related("part")))
        .distinct()
    )
    return (
        Job.objects.filter(vehicle=vehicle)
        .select_related("checklist")
        .prefetch_related(Prefetch("designs", equipment, to_attr="built_designs"), "checklist__sheets")
    )


@dataclass(frozen=True)
class Papers:
    """Every paper of a job."""

    quotes: tuple[Quote, ...]
    change_orders: tuple[ChangeOrder, ...]
    sheets: tuple[Any, ...]


def job_papers(job: Job) -> Papers:
    """Return the quotes, change orders and job sheets of a job."""
    checklist = Job.objects.filter(pk=job.pk).select_related("checklist").get()
    record = getattr(checklist, "checklist", None)
    return Papers(
        tuple(job.quotes.select_related("design")),
        tuple(job.change_orders.order_by("number")),
        tuple(record.sheets.all()) if record else (),
    )
