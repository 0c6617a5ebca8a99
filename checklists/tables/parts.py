"""Lists the parts of one job that are tabulated, with their switches and lines, and how each is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import sizing
from checklists.tables.axes import Axis, Line, band_starts, bands, pair, switch
from checklists.tables.learn import Answers, Group, Point, meets
from jobs.engine.as_built import LESS_LEADS, AsBuiltKeyUnknown, Built, as_planned, planned_leads

#: Counts that are covered: so few feet at least, so many feet and batteries more than planned. Beyond
#: these the office is asked.
LEAST_FEET: Final = 2
MORE_FEET: Final = 16
MORE_BATTERIES: Final = 6
_BANDS_TO: Final = 60
#: A string plan that uses no number of panels anybody puts on a roof. [-]
_ODD: Final = (7919, 7907)
_PV: Final = (sizing.CircuitKind.STRINGS_TO_COMBINER, sizing.CircuitKind.HOME_RUN)
_ROW_NUMBERS: Final = ("drop_v", "drop_fraction", "run_len_m")


@dataclass(frozen=True, slots=True)
class Reported:
    """What may be reported under one name: choices, or the ends of a number."""

    choices: tuple[Any, ...] = ()
    low: float = 0.0
    high: float = 0.0
    is_whole: bool = False


type _Asked = tuple[sizing.SystemInput, tuple[sizing.ControllerResult, ...]]


@dataclass
class Job:
    """The plan of one job and the names under which values as built may come."""

    planned: sizing.SystemInput
    names: Mapping[str, Reported]
    fitted: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    plan_counts: tuple[int | None, int | None] = (None, None)
    _systems: dict[tuple[tuple[str, Any], ...], _Asked] = field(default_factory=dict)

    def built(self, values: Mapping[str, Any]) -> sizing.SystemInput:
        """Return the system as built."""
        return Built(values, self.fitted).applied_to(self.planned)

    def at(self, values: Mapping[str, Any]) -> _Asked:
        """Return the system and what its controllers see, worked out once for the same values."""
        key = tuple(sorted(values.items()))
        if key not in self._systems:
            system = self.built(values)
            self._systems[key] = system, sizing.controller_results(system)
        return self._systems[key]

    def refusal(self, values: Mapping[str, Any]) -> str:
        """Return why these values cannot be worked out together; empty when they can."""
        try:
            problem = sizing.problem_with(self.built(values))
        except AsBuiltKeyUnknown as refused:
            return str(refused)
        return f"This design cannot be sized yet. {problem}" if problem else ""


@dataclass
class SystemPart:
    """One group of checks with its switches and lines."""

    name: str
    group: Group
    names: tuple[str, ...]
    #: By check: names it is tabulated for as planned only, each with its planned value. Reported otherwise,
    #: the office is asked.
    held: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def reports(self, point: Point) -> dict[str, Any]:
        """Return what is reported at a point."""
        return _reports(self.group.axes, self.group.lines, point)


def parts_of(job: Job) -> Iterator[SystemPart]:
    """Yield the parts of a job."""
    plan, bank = list(plan_axes(job)), list(_quantity(job))
    leads = list(_leads(job))
    for circuit in job.planned.circuits:
        yield _circuit_part(job, circuit, [*plan, *bank, *(leads if circuit.kind not in _PV else ())])
    yield from _array_parts(job, plan)
    yield _part(job, "bank", [*bank, *_simple(job, "bank.is_inside", _inside(job)), *plan], [])
    yield _part(job, "roof", list(_roof(job)), [])
    yield _part(job, "weight", bank, _lines(job, ("weight.label_kg",)))


def checked(axis: Axis, job: Job) -> Axis:
    """Return the switch with the options the engine refuses named, each with its reason."""
    refused = {
        option: why
        for option, reports in zip(axis.options, axis.reports, strict=True)
        if reports and (why := job.refusal(reports))
    }
    return replace(axis, refused=refused)


# -- switches ---------------------------------------------------------------------------------------------


def plan_axes(job: Job) -> Iterator[Axis]:
    """Yield the switch over string plans: every way to wire all panels of the first controller alike."""
    names = ("strings.ns", "strings.np")
    if not set(names) <= job.names.keys() or not job.planned.controllers:
        return
    label = job.planned.controllers[0].id
    wired = sum(len(one.panel_ids) for one in job.planned.strings if one.controller_id == label)
    ways = [(ns, wired // ns) for ns in range(1, wired + 1) if wired % ns == 0]
    ways = [way for way in ways if way != job.plan_counts]
    reports: list[Mapping[str, Any]] = [{}, *(dict(zip(names, way, strict=True)) for way in ways)]
    parts = tuple({"name": name, "as": "value", "plan": "null"} for name in names)
    odd = job.refusal({names[0]: _ODD[0], names[1]: _ODD[1]})
    odd = odd.replace(str(_ODD[0]), "{0}").replace(str(_ODD[1]), "{1}")
    options = ("null|null", *(f"{ns}|{np}" for ns, np in ways))
    yield checked(Axis(parts, options, tuple(reports), otherwise=odd), job)


def _quantity(job: Job) -> Iterator[Axis]:
    bank = job.planned.bank
    if bank is not None and "bank.quantity" in job.names:
        most = max(2 * bank.quantity, bank.quantity + MORE_BATTERIES)
        yield checked(switch("bank.quantity", range(most + 1), bank.quantity), job)


def _leads(job: Job) -> Iterator[Axis]:
    """Yield the switch over the leads in a short circuit's way: as planned, or one of them less."""
    leads = planned_leads(as_planned(job.planned, job.fitted))
    planned = {name: plan for name, plan in leads.items() if name in job.names}
    if planned:
        part = {"name": LESS_LEADS, "as": "leads", "planned": planned}
        yield Axis((part,), ("planned", "less"), ({}, {LESS_LEADS: True}))


def _inside(job: Job) -> Any:
    return job.planned.bank.is_inside if job.planned.bank else None


def _simple(job: Job, name: str, plan: Any) -> Iterator[Axis]:
    if name in job.names:
        found = job.names[name]
        options = found.choices or tuple(range(int(found.low), int(found.high) + 1))
        yield checked(switch(name, options, plan), job)


def _roof(job: Job) -> Iterator[Axis]:
    roof, panels = job.planned.roof, job.planned.panels
    if not panels:
        return
    feet = sum(panel.feet for panel in panels)
    if "roof.feet" in job.names:
        most = min(feet + MORE_FEET, int(job.names["roof.feet"].high))
        yield checked(switch("roof.feet", range(LEAST_FEET, most + 1), feet), job)
    per_foot = {panel.fasteners_per_foot for panel in panels}
    yield from _simple(job, "roof.fasteners_per_foot", per_foot.pop() if len(per_foot) == 1 else None)
    if roof is None:
        return
    if "roof.feet_on_rafter" in job.names:
        yield _rafter(roof.feet_on_rafter, feet)
    yield from _simple(job, "roof.material", roof.material)
    yield from _simple(job, "roof.screw", roof.screw)


def _rafter(plan: int | None, feet: int) -> Axis:
    """Return the switch over how many feet found a rafter: none, some, all, not known."""
    part = {
        "name": "roof.feet_on_rafter", "as": "rafter", "plan": plan, "feet": "roof.feet", "feet_plan": feet,
    }  # fmt: skip
    home = "null" if plan is None else ">=" if plan >= feet else "0" if plan == 0 else "<"
    marks = {"0": 0, "<": 1, ">=": 4000}
    options = [home, *(mark for mark in marks if mark != home)]
    reports = ({"roof.feet_on_rafter": marks[one]} if one in marks else {} for one in options)
    return Axis((part,), tuple(options), tuple(reports))


def _circuit_axes(job: Job, circuit: sizing.CircuitInput) -> Iterator[Axis]:
    laid = Built({}, job.fitted).circuit(circuit)
    prefix = f"circuit:{circuit.id}."
    sizes = job.names.get(f"{prefix}size", Reported()).choices
    standards = job.names.get(f"{prefix}cable_standard", Reported()).choices
    if sizes or standards:
        home = (laid.size, laid.cable_standard)
        both = [(size, one) for one in standards or (home[1],) for size in sizes or (home[0],)]
        yield _wire(job, (f"{prefix}size", f"{prefix}cable_standard"), home, both)
    if f"{prefix}bundle_count" in job.names:
        yield bands(f"{prefix}bundle_count", _bundle_starts(job, laid), laid.bundle_count)
    yield from _simple(job, f"{prefix}has_no_protection", laid.has_no_ocpd)
    sheathed = laid.ocpd.is_sheathed if laid.ocpd else False
    yield from _simple(job, f"{prefix}is_sheathed", sheathed)


def _wire(job: Job, names: tuple[str, str], home: tuple[Any, Any], both: Sequence[tuple[Any, Any]]) -> Axis:
    """Return the switch over sizes, with those no table has marked as refused."""
    axis = pair(names, home, both)
    refused = {}
    for option, reports in zip(axis.options, axis.reports, strict=True):
        if not reports:
            continue
        try:
            sizing.conductor(*(str(reports[name]) for name in names))
        except sizing.InputOutOfRange:
            refused[option] = job.refusal(reports)
    return replace(axis, refused=refused)


def _bundle_starts(job: Job, circuit: sizing.CircuitInput) -> list[int]:
    """Return where the number of wires in a bundle begins to count for more."""
    system, results = job.at({})
    counts, answers = range(1, _BANDS_TO + 1), []
    sized = circuit if circuit.size else replace(circuit, size="6")
    for count in counts:
        row, checks = sizing.judge_circuit(
            system, replace(sized, bundle_count=count), results, proposes=False
        )
        answers.append(
            (row.ampacity_a, *(check.limit for check in checks if check.key.endswith("/ocpd_cable")))
        )
    return band_starts(counts, answers)


def _lines(job: Job, names: Sequence[str]) -> list[Line]:
    return [Line(name, job.names[name].low, job.names[name].high) for name in names if name in job.names]


# -- parts ------------------------------------------------------------------------------------------------


def _reports(axes: Sequence[Axis], lines: Sequence[Line], point: Point) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for axis, option in zip(axes, point.switches, strict=True):
        values |= axis.reports[option]
    for line, x in zip(lines, point.lines, strict=True):
        name = _name_on(line, axes, point)
        if x is not None and name:
            values[name] = x
    return values


def _name_on(line: Line, axes: Sequence[Axis], point: Point) -> str:
    """Return the name under which a line is reported at a point; empty when it is not reported there."""
    if line.legs:
        return ""
    if not line.chains:
        return line.name
    place = next((n for n, axis in enumerate(axes) if axis.is_plan), None)
    chain = line.chains[0 if place is None else point.switches[place]]
    return chain[0] if chain else ""


def _part(job: Job, name: str, axes: Sequence[Axis], lines: Sequence[Line]) -> SystemPart:
    def ask(point: Point) -> tuple[Answers, tuple[float | None, ...]]:
        system = job.built(_reports(axes, lines, point))
        return {check.key: check for check in sizing.part_checks(system, name)}, point.lines

    return SystemPart(name, Group(axes, lines, ask), _names(axes, lines))


def _names(axes: Sequence[Axis], lines: Sequence[Line]) -> tuple[str, ...]:
    return tuple(dict.fromkeys([*(n for axis in axes for n in axis.names), *(line.name for line in lines)]))


def _circuit_part(job: Job, circuit: sizing.CircuitInput, shared: Sequence[Axis]) -> SystemPart:
    prefix = f"circuit:{circuit.id}."
    switched = _main_switch(job, circuit)
    shared = [*shared, *_mains(job, circuit), *switched]
    axes = [*shared, *_circuit_axes(job, circuit)]
    ends = ("run_len_m", "fuse_a", "fuse_interrupting_a", "fuse_distance_m")
    lines = [*_lines(job, [f"{prefix}{end}" for end in ends]), *_string_fuse(job, circuit, shared)]
    fuses = {name for line in lines for chain in line.chains for name in chain}
    common = {*fuses, *(name for axis in shared for name in axis.names)}

    def ask(point: Point) -> tuple[Answers, tuple[float | None, ...]]:
        values = _reports(axes, lines, point)
        system, results = job.at({name: value for name, value in values.items() if name in common})
        built = Built(values, job.fitted).circuit(circuit)
        row, checks = sizing.judge_circuit(system, built, results, proposes=False)
        found = {check.key: check for check in checks}
        if circuit.kind in _PV:
            found |= {f"circuit:{circuit.id}#{name}": _as_check(row, name) for name in _ROW_NUMBERS}
        return found, point.lines

    return SystemPart(
        f"circuit:{circuit.id}",
        Group(axes, lines, ask),
        (*_names(axes, lines), *sorted(fuses)),
        {f"circuit:{circuit.id}/interrupting": _held(job, circuit, switched)},
    )


def _held(job: Job, circuit: sizing.CircuitInput, switched: Sequence[Axis]) -> dict[str, Any]:
    """Return what a device leans on as no table can: main devices that no switch stands for."""
    found: dict[str, Any] = {}
    for each in () if switched else _mains_beside(job, circuit):
        found |= {f"circuit:{each.id}.{end}": value for end, value in _main_device(circuit, each).items()}
    return {name: value for name, value in found.items() if name in job.names}


def _mains_beside(job: Job, circuit: sizing.CircuitInput) -> list[sizing.CircuitInput]:
    """Return the circuits with a main device that this one may lean on; a battery's link leans on none."""
    if circuit.kind is sizing.CircuitKind.BATTERY_LINKS:
        return []
    return [
        Built({}, job.fitted).circuit(each)
        for each in job.planned.circuits
        if each.id != circuit.id and each.kind is sizing.CircuitKind.BATTERY_TO_MAIN_FUSE
    ]


def _main_device(circuit: sizing.CircuitInput, laid: sizing.CircuitInput) -> dict[str, Any]:
    """Return what is held of a main device; whether there is one is a switch of the inverter's circuit."""
    device = laid.ocpd
    found: dict[str, Any] = {"fuse_interrupting_a": None if device is None else device.interrupting_a}
    if circuit.kind is not sizing.CircuitKind.BUS_TO_INVERTER:
        found["has_no_protection"] = laid.has_no_ocpd
    return found | ({"fuse_a": None} if device is None else {})


def _main_switch(job: Job, circuit: sizing.CircuitInput) -> list[Axis]:
    """Return the switch over whether the one main device breaks what the bank can give, and opens first."""
    mains = _mains_beside(job, circuit)
    if len(mains) != 1 or mains[0].ocpd is None or circuit.kind in _PV:
        return []
    name = f"circuit:{mains[0].id}.fuse_interrupting_a"
    if name not in job.names:
        return []
    system, results = job.at({})
    _, checks = sizing.judge_circuit(system, mains[0], results, proposes=False)
    key = f"circuit:{mains[0].id}/interrupting"
    is_met = any(check.key == key and meets(check.value, check.limit) for check in checks)
    ends = {"opens": job.names[name].high, "fails": max(job.names[name].low, 1.0)}
    home, other = ("opens", "fails") if is_met else ("fails", "opens")
    part = {"name": name, "as": "meets", "key": key}
    return [Axis((part,), (home, other), ({name: ends[home]}, {name: ends[other]}))]


def _mains(job: Job, circuit: sizing.CircuitInput) -> Iterator[Axis]:
    """Yield the switches of main circuits: without their device the inverter's becomes the main one."""
    if circuit.kind is not sizing.CircuitKind.BUS_TO_INVERTER:
        return
    for main in job.planned.circuits:
        if main.kind is sizing.CircuitKind.BATTERY_TO_MAIN_FUSE:
            yield from _simple(job, f"circuit:{main.id}.has_no_protection", main.has_no_ocpd)


def _string_fuse(job: Job, circuit: sizing.CircuitInput, shared: Sequence[Axis]) -> list[Line]:
    """Return the line of the string fuse that stands in for a circuit's own device."""
    if circuit.kind is not sizing.CircuitKind.STRINGS_TO_COMBINER:
        return []
    plan = next((axis for axis in shared if axis.is_plan), None)
    chains = []
    for option, reports in zip(*((plan.options, plan.reports) if plan else (("",), ({},))), strict=True):
        refused = plan is not None and option in plan.refused
        chains.append(() if refused else tuple(_chain(job, circuit, job.built(reports))))
    known = [job.names[name] for chain in chains for name in chain]
    if not known:
        return []
    return [Line(f"circuit:{circuit.id}#string_fuse", known[0].low, known[0].high, chains=tuple(chains))]


def _chain(job: Job, circuit: sizing.CircuitInput, system: sizing.SystemInput) -> Iterator[str]:
    """Yield the names of string fuses, in the order in which the first one fitted counts."""
    wanted, is_only = circuit.serves, len(system.controllers) == 1
    for string in system.strings:
        mine = wanted in {f"string:{string.id}", f"controller:{string.controller_id}"}
        if not mine and not (is_only and ":" not in wanted):
            continue
        if f"string:{string.id}.fuse_a" in job.names:
            yield f"string:{string.id}.fuse_a"
        if string.fuse_a is not None:
            return


def _as_check(row: sizing.CircuitRow, name: str) -> sizing.Check:
    """Return a number of a row in the form tables are learned from."""
    return sizing.Check(
        rule="row", key=f"circuit:{row.id}#{name}", subject=f"circuit:{row.id}", title=name,
        verdict=sizing.Verdict.PASS, value=getattr(row, name), limit=None, unit="", margin=None,
        sentence="", source="", provenance=sizing.Provenance.COMPUTED,
    )  # fmt: skip


def _array_parts(job: Job, plan: Sequence[Axis]) -> Iterator[SystemPart]:
    """Yield the array: what depends on plan and string fuses, then what depends on the drop of its legs."""
    fuses = _lines(job, [f"string:{string.id}.fuse_a" for string in job.planned.strings])

    def ask(point: Point) -> tuple[Answers, tuple[float | None, ...]]:
        system = job.built(_reports(plan, fuses, point))
        checks = sizing.part_checks(system, "array")
        return {check.key: check for check in checks if not check.key.endswith(_BY_LEGS)}, point.lines

    yield SystemPart("array", Group(plan, fuses, ask), _names(plan, fuses))
    for controller in job.planned.controllers:
        legs = _legs(job, controller.id)
        if legs:
            for end, quantity in zip(_BY_LEGS, _ROW_NUMBERS, strict=True):
                yield _legs_part(job, plan, f"controller:{controller.id}{end}", legs, quantity)


_BY_LEGS: Final = ("/hot_run", "/pv_drop", "/pwm_run")


def _legs(job: Job, controller: str) -> tuple[tuple[str, ...], ...]:
    """Return the circuits between the panels and a controller, leg by leg."""
    by_string = {f"string:{string.id}": string.controller_id for string in job.planned.strings}
    is_only = len(job.planned.controllers) == 1
    mine = [
        circuit
        for circuit in job.planned.circuits
        if circuit.kind in _PV
        and (
            circuit.serves == f"controller:{controller}"
            or by_string.get(circuit.serves) == controller
            or (is_only and ":" not in circuit.serves)
        )
    ]
    legs = (tuple(circuit.id for circuit in mine if circuit.kind is kind) for kind in _PV)
    return tuple(leg for leg in legs if leg)


def _legs_part(
    job: Job, plan: Sequence[Axis], key: str, legs: tuple[tuple[str, ...], ...], quantity: str
) -> SystemPart:
    """Return the part for one check that follows a drop (or length) added up over the legs of an array."""
    line = Line(key, 0.05, 60.0, legs, quantity)
    ids = {name for leg in legs for name in leg}

    def ask(point: Point) -> tuple[Answers, tuple[float | None, ...]]:
        system, results = job.at(_reports(plan, [line], point))
        built = as_planned(system, job.fitted).circuits
        circuits = tuple(
            replace(one, run_len_m=point.lines[0], confidence=sizing.Confidence.MEASURED)
            if one.id in ids
            else one
            for one in built
        )
        laid = replace(system, circuits=circuits)
        rows = {
            one.id: getattr(sizing.judge_circuit(laid, one, results, proposes=False)[0], quantity)
            for one in circuits
            if one.id in ids
        }
        found = {check.key: check for check in sizing.part_checks(laid, "array") if check.key == key}
        return found, (added(legs, quantity, rows),)

    names = [f"circuit:{name}.{end}" for name in sorted(ids) for end in ("run_len_m", "size")]
    return SystemPart(key, Group(plan, [line], ask), (*_names(plan, []), *names))


def added(legs: Sequence[Sequence[str]], quantity: str, rows: Mapping[str, float | None]) -> float | None:
    """Return the drop of an array: its worst circuit of each leg, added; lengths are all added.

    A drop as a share is only known when it is known of every leg.
    """
    known = [[x for x in (rows.get(name) for name in leg) if x is not None] for leg in legs]
    if quantity == "run_len_m":
        return sum(x for leg in known for x in leg) if any(known) else None
    if not any(known) or (quantity == "drop_fraction" and (len(known) < len(_PV) or not all(known))):
        return None
    return sum(max(leg) for leg in known if leg)
