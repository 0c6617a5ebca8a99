"""The electric pages of the sheet: schedule as built, strings and controllers, readings, settings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import sizing
from checklists.plan.roles import Role, printed_on
from checklists.record.circuits import circuit_rows
from checklists.record.read import Work
from checklists.record.wording import mark_text
from checklists.rules.install import Install
from checklists.rules.judging import Mark
from checklists.rules.readings import alike_checks, check_of_string, sun_of
from checklists.sheet.words import PLANNED, is_done, let_stand, recorded_rows, verdict_of

#: Steps that say what was measured with.
INSTRUMENTS: Final = frozenset({Role.DEAD_PROOF, Role.TOOLS, Role.INSTRUMENTS})
#: Fields of a torqued joint; the PV side takes one value for both poles.
_TORQUES: Final = ("plus_nm", "minus_nm", "torque_nm")


def schedule(work: Work) -> list[dict[str, Any]]:
    """Return the circuit schedule: as built where something was recorded, with what differs; else planned."""
    return [
        {
            "id": each["row"].id,
            "from_to": each["row"].from_to,
            "run_len_m": each["row"].run_len_m,
            "size": each["row"].size_words or each["row"].size,
            "fuse_a": each["row"].fuse_a,
            "place": each["row"].fuse_place,
            "max_a": each["row"].design_a,
            "drop_v": each["row"].drop_v,
            "drop_fraction": each["row"].drop_fraction,
            "measured_v": each["measured_v"],
            "state": "As built" if each["reported"] else PLANNED,
            "differs": each["differs"],
            "verdict": str(each["row"].verdict),
            "note": each["row"].note,
        }
        for each in circuit_rows(work)
    ]


def strings(work: Work) -> dict[str, Any]:
    """Return cold and hot numbers of each controller with their limits."""
    system, result = work.system, work.result
    is_recorded = is_done(work.install, Role.STRINGS_BUILT)
    known = [value for value in (system.tmin_travel_c, system.tmin_storage_c) if value is not None]
    return {
        "tmin_c": min(known, default=None),
        "tmin_travel_c": system.tmin_travel_c,
        "tmin_storage_c": system.tmin_storage_c,
        "controllers": [
            {
                "id": found.id,
                "name": next((c.name for c in system.controllers if c.id == found.id), ""),
                "state": "As built" if is_recorded else PLANNED,
                "ns": found.ns,
                "np": found.np,
                "pmp_w": found.pmp_w,
                "voc_cold_v": found.voc_cold_v,
                "vmp_hot_v": found.vmp_hot_v,
                "isc_a": found.isc_a,
                "output_peak_a": found.output_peak_a,
                "clip_fraction": found.clip_fraction,
                "methods": [{"name": name, "value": volts} for name, volts in found.voc_cold_by_method],
                "checks": [
                    check_row(check) for check in result.checks if check.subject == f"controller:{found.id}"
                ],
            }
            for found in result.controllers
        ],
    }


def check_row(check: sizing.Check) -> dict[str, Any]:
    """Return a check as a row of the sheet."""
    return {
        "rule": check.rule,
        "title": check.title,
        "value": check.value,
        "limit": check.limit,
        "unit": check.unit,
        "verdict": str(check.verdict),
        "sentence": check.sentence,
        "source": check.source,
    }


def readings(work: Work) -> dict[str, Any]:
    """Return instruments, sun, and each string's readings against what they should be."""
    install, sun, units = work.install, sun_of(work.install), work.checklist.job.shop.units
    return {
        "instruments": recorded_rows(install, INSTRUMENTS, units),
        "g_wm2": install.value(Role.SUN, "g_wm2"),
        "t_cell_c": install.value(Role.SUN, "t_cell_c"),
        "is_rough": bool(sun and sun.is_rough),
        "strings": [_string_row(work, step) for step in install.of_role(Role.STRING_TESTS) if step.subject],
        "alike": [
            check_row(check) | {"what": "Voc" if check.key.endswith("_voc") else "Isc"}
            for check in alike_checks(install, work.system)
        ],
        "tests": recorded_rows(install, printed_on("tests", install.template), units),
        "torque": list(_torque(install, units)),
    }


def _torque(install: Install, units: str) -> Iterator[dict[str, Any]]:
    """Yield the torque log, a row a joint: band, what was set on either side, witness mark."""
    for step in install.in_scope:
        if step.role not in {Role.TORQUE, Role.TORQUE_PV} or not step.subject:
            continue
        mark, state = install.mark(step), install.state(step)
        set_to = [found for found in mark.fields if found.spec.name in _TORQUES]
        plus, both = set_to[0], state["torque_nm"].value
        verdicts = [verdict_of(found.mark) for found in set_to]
        verdicts += [verdict_of(found.mark) for found in mark.fields if found.spec.name == "marked"]
        yield {
            "title": step.title.partition(": ")[2] or step.title,
            "low": plus.low,
            "high": plus.high,
            "maker_nm": state["maker_nm"].value,
            "plus_nm": state["plus_nm"].value if both is None else both,
            "minus_nm": state["minus_nm"].value if both is None else both,
            "is_marked": bool(state["marked"].value or install.value(step.role, "marked")),
            "verdict": next((v for v in ("block", "not_enough_data", "caution") if v in verdicts), "pass"),
            "notes": [
                mark_text(found, units) for found in mark.fields if found.mark in {Mark.FAIL, Mark.CONFLICT}
            ]
            + [words for found in mark.fields for words in let_stand(install, step, found).values()],
        }


def _string_row(work: Work, step: Any) -> dict[str, Any]:
    current = work.install.step(Role.STRING_ISC, step.subject) or step
    return {
        "title": f"String {step.subject_name}",
        "voc": _reading(check_of_string(work.install, step, "voc_v", work.system)),
        "isc": _reading(check_of_string(work.install, current, "isc_a", work.system)),
    }


def _reading(check: sizing.Check | None) -> dict[str, Any] | None:
    if check is None:
        return None
    terms = {term.symbol: term.value for term in check.terms}
    return check_row(check) | {"low": terms.get("low"), "high": terms.get("high")}


def settings(work: Work) -> list[dict[str, Any]]:
    """Return the settings of each charger as read back from its screen."""
    install = work.install
    rows = []
    for step in install.of_role(Role.CHARGER_SETTINGS):
        mark, state = install.mark(step), install.state(step)
        rows.append(
            {
                "title": step.title.partition(": ")[2] or step.title,
                "profile": mark["profile"].spec.choice_label(mark["profile"].value or "–"),
                "absorb_v": state["absorb_v"].value,
                "float_v": state["float_v"].value,
                "equalise": mark["equalise"].spec.choice_label(mark["equalise"].value or "–"),
                "low_t_stop_c": state["low_t_stop_c"].value,
                "by": ", ".join(state.by_names),
                "is_planned": not state.standing,
                "photos": [str(name) for name in state["photo"].photos],
            }
        )
    return rows


def findings(work: Work) -> list[dict[str, Any]]:
    """Return every check of the system as built that is not a pass, with what it was about."""
    return [
        check_row(check) | {"lead": "" if check.title in check.sentence else check.title}
        for check in work.result.checks
        if check.verdict is not sizing.Verdict.PASS
    ]


def charge_sum(work: Work) -> dict[str, Any] | None:
    """Return the judgment on everything that can charge at once."""
    found = next((check for check in work.result.checks if check.key == "bank/charge_sum"), None)
    return None if found is None else check_row(found)
