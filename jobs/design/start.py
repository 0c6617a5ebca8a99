"""A past design of the shop begun anew on another vehicle: what is taken along, and what does not fit."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.design.copy import copy_parts
from jobs.design.misfits import layout_words, parts_words, vehicle_words
from jobs.design.revision import Change, DesignRefused, design_change, design_create, propose_circuits
from jobs.engine.stored import design_in_full
from jobs.models import ConfidenceChoice, Design, DesignBank, DesignInverter, Job
from jobs.parts.circuits import surveyed_run
from jobs.shop.log import log
from jobs.shop.rights import require

#: What was found out about the other roof, and holds for no other.
_OF_THE_ROOF = ("fastener_tested_n", "feet_on_rafter")
#: What was read on the other vehicle's alternator.
_OF_THE_ENGINE = ("alternator_rating_a", "alternator_idle_a", "alternator_load_a")
_SAME_M = 0.01


@in_english
@transaction.atomic
def design_begin_like(*, job: Job, like: Design, actor: User, at: datetime) -> Design:
    """Open the next revision of a job with the parts of another job's design, and size it.

    What does not fit this vehicle is kept with the revision as sentences until somebody says they saw it.
    """
    require(actor, job.shop, "may_design")
    if like.job.shop_id != job.shop_id:
        raise DesignRefused("This design is not one of the shop's.")
    if like.job_id == job.pk:
        raise DesignRefused("This is a revision of the same job: copy it instead.")
    design = design_create(job=job, actor=actor, at=at)
    design_change(design, Change(actor, at), "design filled", lambda locked: _fill(locked, like))
    return Design.objects.select_related("job__shop").get(pk=design.pk)


@in_english
@transaction.atomic
def misfits_seen(*, design: Design, actor: User, at: datetime) -> None:
    """Take what did not fit off the page of a revision: somebody has seen it, and the log keeps it."""
    locked = Design.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=design.pk)
    require(actor, locked.job.shop, "may_design")
    if not locked.misfits:
        return
    detail = f"{locked}. {' '.join(locked.misfits)}"
    locked.misfits = []
    locked.save(update_fields=["misfits"])
    log(shop=locked.job.shop, job=locked.job, actor=actor, verb="misfits seen", detail=detail, at=at)


def _fill(design: Design, like: Design) -> str:
    """Copy the parts, take out what was the other vehicle's own, and write down what does not fit."""
    like = design_in_full(like.pk)
    rule_set, own = design.rule_set, list(design.sources.values_list("pk", flat=True))
    design.circuits.all().delete()
    copy_parts(like, design)
    said = [*vehicle_words(like, design), *parts_words(like)]
    said += _roof_is_another(design, like, rule_set)
    said += _kept_stays_behind(design, own)
    design.begun_from = like
    design.save()
    propose_circuits(design)
    said += _lengths_are_guesses(design)
    design.misfits = [*layout_words(design_in_full(design.pk)), *dict.fromkeys(said)]
    design.save(update_fields=["misfits"])
    return f"after {like} of job {like.job.number}"


def _roof_is_another(design: Design, like: Design, rule_set: str) -> Iterable[str]:
    """Forget what was found out or drawn on the other roof."""
    if any(getattr(design, name) is not None for name in _OF_THE_ROOF):
        yield (
            "The tested pull-out and the feet on a rafter were the other roof's and are left blank:"
            " test and measure here."
        )
    for name in _OF_THE_ROOF:
        setattr(design, name, None)
    if design.rule_set != rule_set:
        yield "The other design was judged by other rules; here the shop's rules of today count."
    design.rule_set = rule_set
    drawn = design.controllers.filter(combiner_x_m__isnull=False)
    if drawn.exists() and not _is_same_roof(like.job.survey, design.job.survey):
        drawn.update(combiner_x_m=None, combiner_y_m=None, home_bends_m=[])
        design.strings.update(lead_bends_m=[])
        yield "The wires drawn on the other roof are left out: draw them on this one."


def _is_same_roof(one: Any, other: Any) -> bool:
    """Return whether two surveyed roofs have the same size and their gland in the same place."""
    names = ("roof_length_m", "roof_width_m", "gland_x_m", "gland_y_m")
    pairs = [(getattr(one, name), getattr(other, name)) for name in names]
    return all(a is not None and b is not None and abs(a - b) <= _SAME_M for a, b in pairs)


def _kept_stays_behind(design: Design, own: list[int]) -> Iterable[str]:
    """Take out what the other vehicle had kept, with its circuits; what is kept here came with the survey."""
    for source in design.sources.exclude(pk__in=own).select_related("existing", "part"):
        if source.existing_id is not None:
            yield (
                f"{source} was kept on the other vehicle and is left out here."
                " What this vehicle keeps comes from its survey."
            )
            design.circuits.filter(serves=f"source:{source.pk}").delete()
            source.delete()
        elif any(getattr(source, name) is not None for name in _OF_THE_ENGINE):
            for name in _OF_THE_ENGINE:
                setattr(source, name, None)
            source.save()
            yield f"The alternator amps at {source} were the other vehicle's: enter this one's."
    for panel in design.panels.filter(existing__isnull=False):
        panel.existing = None
        panel.save()
        yield f"Panel {panel.number} was a used one of the other vehicle; here it counts as new."
    bank = DesignBank.objects.filter(design=design, is_new=False).first()
    inverter = DesignInverter.objects.filter(design=design, is_new=False).first()
    for row, words in ((bank, "batteries"), (inverter, "inverter")):
        if row is not None:
            row.is_new = True
            row.save()
            yield f"The other vehicle kept its {words}; here the same counts as new."


def _lengths_are_guesses(design: Design) -> Iterable[str]:
    """Take wire lengths from this survey where it has them; the other vehicle's count as guesses."""
    full = design_in_full(design.pk)
    legs, copied = list(full.job.survey.wire_legs.all()), []
    for circuit in full.circuits.all():
        here = [leg for leg in legs if leg.circuit == circuit.kind]
        if here:
            run, sure = surveyed_run(circuit.kind, here, full.job.vehicle.kind)
            circuit.run_len_m, circuit.confidence = run, sure
        else:
            circuit.confidence = ConfidenceChoice.GUESS
            copied.append(circuit.label)
        circuit.save()
    if copied:
        yield (
            f"Wire lengths of {', '.join(copied)} come from the other vehicle or from usual ways:"
            " they count as guesses until measured here."
        )
