"""The circuit schedule: each row chosen, judged and written as it prints, C1 to C17."""

from __future__ import annotations

from sizing.array.strings import wired_strings
from sizing.cable.circuit_kinds import JointTorque, joint_torque
from sizing.cable.currents import BRIGHT_SKY_FACTOR
from sizing.cable.overcurrent import distance_limit
from sizing.circuits.circuit_case import Case, case
from sizing.circuits.circuit_checks import NO_PROTECTION, circuit_checks
from sizing.circuits.circuit_choice import drop_limit
from sizing.circuits.circuit_place import place_checks, proposal_words
from sizing.circuits.device_proposal import NO_PROPOSAL, DeviceProposal, device_proposal
from sizing.circuits.fault_current import LEAD_KINDS, BankLeads, bank_leads
from sizing.circuits.surroundings import Surroundings
from sizing.core.checks import Check, Provenance, Term, Verdict, worst
from sizing.core.customary import show_both
from sizing.core.guesses import resting_on
from sizing.core.inputs import CircuitInput, CircuitKind, Confidence, PlugInput, SystemInput
from sizing.core.judge import limit_check, missing_check, show, show_percent
from sizing.core.results import CircuitRow, ControllerResult, Figure

PV_DROP_FRACTION = 0.03  # panels to controller, all legs together, common practice [-]
PV_KINDS = (CircuitKind.STRINGS_TO_COMBINER, CircuitKind.HOME_RUN)  # the legs from panels to controller


def judge_circuits(
    system: SystemInput, controllers: tuple[ControllerResult, ...]
) -> tuple[tuple[CircuitRow, ...], tuple[Check, ...], tuple[Figure, ...]]:
    """Return the circuit schedule, every judgment on it, and the numbers worth opening.

    Parameters
    ----------
    system : SystemInput
        The whole design, already validated. [-]
    controllers : tuple of ControllerResult
        What each controller sees; the cold voltage rates the array's devices. [V]

    Returns
    -------
    rows, checks, figures
        Rows in the order of ``system.circuits``; checks with keys ``circuit:<id>/…``, ``plugs:<id>`` and
        ``controller:<id>/pv_drop``; figures ``circuit:<id>/current``. [A], [V], [-]

    Raises
    ------
    InputOutOfRange
        If a circuit names a size that no table has.

    References
    ----------
    .. [1] The rule set of the system, see :mod:`sizing.cable.rulesets`; 33 CFR 183.455; NFPA 70 (2017) 690.8.
    """
    around = Surroundings(system, controllers)
    rows: list[CircuitRow] = []
    checks: list[Check] = []
    figures: list[Figure] = []
    cases = [case(around, circuit) for circuit in system.circuits]
    leads = bank_leads(around, cases)
    for found in cases:
        row, its_checks = _judged(found, leads)
        rows.append(row)
        checks += its_checks
        figures += _figures(found)
    checks += shared_checks(system, tuple(rows))
    return tuple(rows), tuple(checks), tuple(figures)


def judge_circuit(
    system: SystemInput,
    circuit: CircuitInput,
    controllers: tuple[ControllerResult, ...],
    *,
    proposes: bool = True,
) -> tuple[CircuitRow, tuple[Check, ...]]:
    """Return one circuit's row and every judgment on it, as :func:`judge_circuits` would.

    Parameters
    ----------
    system : SystemInput
        The whole design, already validated; its own row of this name is not looked at. [-]
    circuit : CircuitInput
        The circuit as it is or might be built. [m], [A]
    controllers : tuple of ControllerResult
        What each controller sees, from :func:`controller_results`. [V]
    proposes : bool, optional
        Whether the row of a failing device is to name one that passes, which takes longer. [-]

    Returns
    -------
    row, checks
        The row as it prints, and its checks with keys ``circuit:<id>/…``. [A], [V], [-]

    Raises
    ------
    InputOutOfRange
        If the circuit names a size that no table has.

    References
    ----------
    .. [1] As :func:`judge_circuits`.
    """
    around = Surroundings(system, controllers)
    found, others = case(around, circuit), [each for each in system.circuits if each.id != circuit.id]
    leads = bank_leads(around, [found, *(case(around, each) for each in others if each.kind in LEAD_KINDS)])
    return _judged(found, leads, proposes=proposes)


def shared_checks(system: SystemInput, rows: tuple[CircuitRow, ...]) -> tuple[Check, ...]:
    """Return the judgments on what several circuits share: branch plugs, drop of both array legs."""
    return (*_plug_checks(Surroundings(system)), *_pv_drop_checks(system, rows))


def _judged(found: Case, leads: BankLeads, *, proposes: bool = True) -> tuple[CircuitRow, tuple[Check, ...]]:
    checks = (*circuit_checks(found), *place_checks(found, leads))
    better = device_proposal(found, checks, leads) if proposes else NO_PROPOSAL
    return _row(found, checks, leads, better), checks


# -- the row as it prints -------------------------------------------------------------------------------


def _row(found: Case, checks: tuple[Check, ...], leads: BankLeads, better: DeviceProposal) -> CircuitRow:
    circuit, choice, needs = found.circuit, found.choice, found.basis
    cable, device, lost = choice.cable, choice.ocpd, choice.drop
    torque = None if cable is None else joint_torque(found.kind.joint, cable)
    return CircuitRow(
        id=circuit.id,
        label=f"{circuit.kind.value} {found.kind.from_to}",
        from_to=found.kind.from_to,
        run_len_m=circuit.run_len_m,
        size=None if cable is None else cable.label,
        is_proposed_size=choice.is_proposed_size,
        area_mm2=None if cable is None else cable.area_mm2,
        fuse_a=None if device is None else device.rating_a,
        is_proposed_fuse=choice.is_proposed_fuse,
        fuse_place=_place(found),
        continuous_a=needs.continuous_a,
        design_a=needs.design_a,
        ampacity_a=None if choice.ampacity is None else choice.ampacity.usable_a,
        drop_v=None if lost is None else lost.drop_v,
        drop_fraction=None if lost is None else lost.drop_fraction,
        drop_limit_fraction=drop_limit(circuit)[0],
        disconnect=found.kind.disconnect,
        torque_nm=None if torque is None else torque.torque_nm,
        label_text=_label(found),
        verdict=worst(checks),
        note=_note(found, leads),
        cable_standard="" if cable is None else cable.standard.value,
        size_words="" if cable is None else cable.words,
        torque_words=_torque_words(torque),
        given_len_m=found.given_len_m,
        proposed_family=better.family,
        proposed_fuse_a=better.rating_a,
        proposed_note=better.note,
    )


def _torque_words(torque: JointTorque | None) -> str:
    return "" if torque is None else f"{torque.words} ({torque.source}; the maker's number wins)"


def _place(found: Case) -> str:
    """Where the device goes, with the distance it may have from what feeds it."""
    if found.choice.ocpd is None:
        needless = "no fuse chosen" if found.choice.is_open else "none needed"
        return NO_PROTECTION if found.choice.is_unprotected else needless
    place = found.kind.fuse_place
    if not found.kind.is_battery_fed:
        return place
    is_post, rule_set = found.kind.starts_at_post, found.around.system.rule_set
    bare = distance_limit(rule_set, is_sheathed=False, is_battery_post=is_post).value
    sheathed = distance_limit(rule_set, is_sheathed=True, is_battery_post=is_post).value
    inches = show_both(sheathed * 1000, "mm")
    return f"{place}, within {show_both(bare * 1000, 'mm')} (sheathed {inches})"


def _note(found: Case, leads: BankLeads) -> str:
    """What the row must say beside its numbers."""
    parts = []
    if found.choice.is_unprotected:
        parts.append(NO_PROTECTION)
    elif found.choice.ocpd is None and found.choice.need.reason:
        parts.append(found.choice.need.reason)
    if found.basis.missing:
        parts.append(f"not known: {found.basis.missing}")
    if found.circuit.confidence is Confidence.GUESS:
        parts.append("length is a guess")  # given and counted length stand in the row's own column
    if proposal := proposal_words(found, leads):
        parts.append(proposal)
    return "; ".join(parts)


def _label(found: Case) -> str:
    """The text engraved at both ends of the cable."""
    circuit, choice = found.circuit, found.choice
    parts = [f"{circuit.id} {found.kind.from_to}"]
    if choice.cable is not None:
        many = f"{circuit.parallel_conductors} × " if circuit.parallel_conductors > 1 else ""
        parts.append(f"{many}{choice.cable.words}")
    if choice.ocpd is not None:
        parts.append(f"{show(choice.ocpd.rating_a, 'A')} {found.kind.fuse_place}")
    if circuit.kind is CircuitKind.HOME_RUN:
        volts, amps = show(found.basis.max_v, "V", 1), show(found.basis.continuous_a, "A", 1)
        parts.append(f"PV disconnect: max {volts}, max {amps}")
    if found.kind.label:
        parts.append(found.kind.label)
    return " · ".join(parts)


# -- figures --------------------------------------------------------------------------------------------


def _figures(found: Case) -> list[Figure]:
    needs = found.basis
    if needs.design_a is None:
        return []
    return [
        Figure(
            key=f"{found.subject}/current",
            title=f"{found.kind.from_to}: current to build for",
            value=needs.design_a,
            unit="A",
            formula=needs.formula,
            substituted=needs.substituted,
            source=needs.source,
            terms=needs.terms,
            guesses=found.guesses,
        )
    ]


# -- what several circuits share ------------------------------------------------------------------------


def _plug_checks(around: Surroundings) -> list[Check]:
    """Branch plugs carry the joined current of all strings of their controller."""
    return [_plug_check(around, plug) for plug in around.system.plugs]


def _plug_check(around: Surroundings, plug: PlugInput) -> Check:
    system = around.system
    key, title = f"controller:{plug.controller_id}/branch_plugs", "Branch connectors carry the joined strings"
    controller = next((each for each in system.controllers if each.id == plug.controller_id), None)
    strings = wired_strings(system, controller) if controller else ()
    subject = f"controller:{plug.controller_id}"
    if not strings:
        return missing_check(
            rule="F13", key=key, subject=subject, title=title, missing="what is plugged together"
        )
    isc_a = sum(each.isc_a for each in strings)
    joined_a = BRIGHT_SKY_FACTOR * isc_a
    return limit_check(
        rule="F13",
        key=key,
        subject=subject,
        title=title,
        value=joined_a,
        limit=plug.rating_a,
        unit="A",
        sentences={
            Verdict.BLOCK: f"{show(joined_a, 'A')} through connectors rated {show(plug.rating_a, 'A')}: "
            "combiner box required."
        },
        source="rating of the connectors; NFPA 70 (2017) 690.8(A)(1)",
        provenance=Provenance.MAKER,
        formula="1.25 × ΣIsc ≤ I_plug",
        substituted=f"1.25 × {show(isc_a, 'A')} = {show(joined_a, 'A')}",
        terms=(
            Term("ΣIsc", "short-circuit current of all strings", isc_a, "A"),
            Term("I_plug", "rating of the connectors", plug.rating_a, "A"),
        ),
        guesses=resting_on(system, ("panels", "strings")),
    )


def _pv_drop_checks(system: SystemInput, rows: tuple[CircuitRow, ...]) -> list[Check]:
    """With both legs drawn, panels to controller may lose 3 % in all."""
    around, found = Surroundings(system), []
    by_id = {row.id: row for row in rows}
    for controller in system.controllers:
        legs: dict[CircuitKind, list[float]] = {}
        for circuit in system.circuits:
            if circuit.kind not in PV_KINDS or around.controller(circuit) != controller:
                continue
            fraction = by_id[circuit.id].drop_fraction
            if fraction is not None:
                legs.setdefault(circuit.kind, []).append(fraction)
        if len(legs) == len(PV_KINDS):
            found.append(_pv_drop_check(controller.id, [max(legs[kind]) for kind in PV_KINDS]))
    return found


def _pv_drop_check(controller_id: str, fractions: list[float]) -> Check:
    total = sum(fractions)
    return limit_check(
        rule="F15",
        key=f"controller:{controller_id}/pv_drop",
        subject=f"controller:{controller_id}",
        title="Panels to controller: drop of both legs",
        value=total,
        limit=PV_DROP_FRACTION,
        at_limit=Verdict.PASS,  # "not more than 3 %" by its own words
        unit="fraction",
        beyond=Verdict.CAUTION,
        source="common practice: 3% from panels to controller",
        provenance=Provenance.COMMON_PRACTICE,
        formula="drop C1 + drop C2",
        substituted=f"{' + '.join(show_percent(each) for each in fractions)} = {show_percent(total)}",
    )
