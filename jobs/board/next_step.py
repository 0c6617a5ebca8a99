"""What comes next on a job, in words, for the person who looks at it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from jobs.models import Design, Job, Membership, Quote

S = Job.State


@dataclass(frozen=True)
class NextStep:
    """What to do now: where, and the words on the button; no ``url_name`` when it is not theirs to do."""

    title: str
    sentence: str
    url_name: str = ""
    target_pk: int | None = None
    button: str = ""
    suggested_state: str = ""


_FIXED: Final[dict[str, tuple[str, str, str, str]]] = {
    S.QUOTED: (
        "Waiting for the customer",
        "The quote has been sent. Its page shows whether it was opened, and can make a new link.",
        "jobs:quote_list",
        "Look at the quote",
    ),
    S.READY: (
        "Start the work",
        "Parts are here and the bay is booked. The first steps are photos and labels of what is there now.",
        "checklists:checklist_detail",
        "Open the checklist",
    ),
    S.IN_WORK: (
        "Work through the checklist",
        "Each hold you pass opens the next phase.",
        "checklists:checklist_detail",
        "Open the checklist",
    ),
    S.PAUSED: (
        "The job is paused",
        "Say in the log why it is waiting, and move it back to work when it goes on.",
        "checklists:checklist_detail",
        "Open the checklist",
    ),
    S.COMMISSIONING: (
        "Commission and sign off",
        "Measure the strings against what they should give, then settings, walkthrough with the customer"
        " and signatures.",
        "checklists:checklist_detail",
        "Open the checklist",
    ),
    S.CURE_WAIT: (
        "Sealant is curing",
        "When the cure clock is done and the holds are passed, both sides sign.",
        "checklists:sign_off",
        "Go to sign-off",
    ),
    S.RELEASED: (
        "Hand over and invoice",
        "The job sheet is the customer's record; the papers tab keeps it.",
        "jobs:job_papers",
        "Open the papers",
    ),
}
_BY_HAND: Final[dict[str, tuple[str, str, str]]] = {
    S.DEPOSIT_PAID: ("Order the parts", "The quote's part lines are the order list.", S.PARTS_ORDERED),
    S.PARTS_ORDERED: ("Wait for parts, book the bay", "Ready means parts checked in and a day set.", S.READY),
    S.INVOICED: ("Waiting for payment", "Mark it paid when the money is in.", S.PAID),
    S.PAID: ("Move it into care", "Moving it into care keeps the seal inspections in view.", S.IN_CARE),
}


def next_step(job: Job, membership: Membership, *, design: Design | None, quote: Quote | None) -> NextStep:
    """Return what comes next; ``design`` and ``quote`` are the newest of each."""
    if job.state in _FIXED:
        title, sentence, url_name, button = _FIXED[job.state]
        is_theirs = not url_name.startswith("jobs:quote") or membership.may_design
        return NextStep(title, sentence, url_name if is_theirs else "", job.pk, button if is_theirs else "")
    if job.state == S.ACCEPTED:
        return _deposit(job, membership)
    if job.state in _BY_HAND:
        title, sentence, state = _BY_HAND[job.state]
        return NextStep(title, sentence, suggested_state=state)
    if job.state in {S.ENQUIRY, S.SURVEY_BOOKED, S.SURVEYED, S.DESIGNING}:
        return _before_quote(job, membership, design, quote)
    if job.state == S.IN_CARE:
        return NextStep(
            "In care", "Seals are inspected at least twice a year; the care page of the job sheet says how."
        )
    return NextStep("This job has ended", "Its record is kept; a new visit is a new job on the same vehicle.")


def _deposit(job: Job, membership: Membership) -> NextStep:
    """Return what follows a yes: money for those who take it, the open checklist for the others."""
    if membership.sees_prices:
        return NextStep(
            "Take the deposit",
            "The customer said yes. Parts are ordered once the deposit is in.",
            "jobs:job_money",
            job.pk,
            "Enter the money",
        )
    return NextStep(
        "Accepted",
        "The office takes the deposit and orders the parts; the checklist is already open to read.",
        "checklists:checklist_detail",
        job.pk,
        "Open the checklist",
    )


def _before_quote(job: Job, membership: Membership, design: Design | None, quote: Quote | None) -> NextStep:
    """Return the next step on the way to an offer."""
    if job.state in {S.ENQUIRY, S.SURVEY_BOOKED} and design is None:
        return NextStep(
            "Survey the vehicle",
            "Roof, obstacles, wire routes, equipment, weight, loads, travel. Guesses are fine as long as"
            " they are marked.",
            "jobs:survey_detail",
            job.pk,
            "Open the survey",
        )
    if not membership.may_design:
        return NextStep(
            "The office is designing", "The owner or an estimator makes the design and the quote."
        )
    if design is None:
        return NextStep(
            "Make a design",
            "Start from one of the three plans and fit it to the roof.",
            "jobs:design_list",
            job.pk,
            "Open designs",
        )
    if quote is not None and quote.is_draft:
        return NextStep(
            "Send the quote",
            "Check the lines and the scope, then send the link.",
            "jobs:quote_detail",
            quote.pk,
            "Open the quote",
        )
    return NextStep(
        "Check the design, then quote it",
        "Clear what blocks the job and read the cautions. Anything missing prints as “not enough data”.",
        "jobs:design_detail",
        design.pk,
        "Open the design",
    )
