"""The system around a circuit: whom it serves, and at which voltages the bank works."""

from __future__ import annotations

from dataclasses import dataclass

from sizing.array.strings import DEFAULT_ABSORB_V, WiredString, wired_strings
from sizing.cable.currents import high_battery_v
from sizing.core.checks import Provenance, Term
from sizing.core.inputs import (
    ChargeSourceInput,
    CircuitInput,
    ControllerInput,
    SourceKind,
    SystemInput,
)
from sizing.core.results import ControllerResult


@dataclass(frozen=True, slots=True)
class Basis:
    """What a circuit must carry and how that was got. ``None`` is not known; ``missing`` says what."""

    continuous_a: float | None  # the conductor after its factors must carry this
    design_a: float | None  # the device, and the conductor before factors, at least this
    drop_a: float | None  # current the drop is worked at
    circuit_v: float | None  # voltage the drop is a fraction of
    max_v: float | None  # highest voltage the device must stand
    formula: str = ""
    substituted: str = ""
    terms: tuple[Term, ...] = ()
    source: str = ""
    provenance: Provenance = Provenance.COMPUTED
    missing: str = ""
    arrives_from_v: float | None = None  # DC-DC input: running voltage at the far end
    lockout_v: float | None = None


@dataclass(frozen=True, slots=True)
class Surroundings:
    """The system a circuit belongs to, with its controllers as already worked."""

    system: SystemInput
    controllers: tuple[ControllerResult, ...] = ()

    def controller(self, circuit: CircuitInput) -> ControllerInput | None:
        """Return the controller a circuit serves; with one controller it needs no naming."""
        name = circuit.serves.removeprefix("controller:")
        if circuit.serves.startswith("string:"):
            wanted = circuit.serves.removeprefix("string:")
            name = next((s.controller_id for s in self.system.strings if s.id == wanted), "")
        if ":" not in circuit.serves and len(self.system.controllers) == 1:
            return self.system.controllers[0]
        return next((each for each in self.system.controllers if each.id == name), None)

    def strings(self, circuit: CircuitInput) -> tuple[WiredString, ...]:
        """Return all strings of the controller a circuit serves."""
        found = self.controller(circuit)
        return wired_strings(self.system, found) if found else ()

    def served_strings(self, circuit: CircuitInput) -> tuple[WiredString, ...]:
        """Return the strings a circuit serves: the one named, else all of its controller."""
        wanted = circuit.serves.removeprefix("string:") if circuit.serves.startswith("string:") else ""
        return tuple(s for s in self.strings(circuit) if not wanted or s.string.id == wanted)

    def voc_cold_v(self, circuit: CircuitInput) -> float | None:
        """Return the coldest open-circuit voltage of the circuit's controller [V]."""
        found = self.controller(circuit)
        return next((r.voc_cold_v for r in self.controllers if found and r.id == found.id), None)

    def source(self, circuit: CircuitInput, *kinds: SourceKind) -> ChargeSourceInput | None:
        """Return the charge source a circuit serves; with one of its kind it needs no naming."""
        fitting = [each for each in self.system.sources if each.kind in kinds]
        if ":" not in circuit.serves:
            return fitting[0] if len(fitting) == 1 else None
        return next((each for each in fitting if each.id == circuit.serves.removeprefix("source:")), None)

    @property
    def full_charge_v(self) -> float:
        """Return the highest voltage the bank reaches [V]: its own highest, or a profile set above it."""
        profiles = [c.absorb_v for c in self.system.controllers] + [s.absorb_v for s in self.system.sources]
        return max((self.highest_v, *(volts for volts in profiles if volts is not None)))

    @property
    def highest_v(self) -> float:
        """Return the battery's own highest voltage [V], whatever a charger is set to."""
        bank = self.system.bank
        if bank is None:
            return self.usual_absorb_v
        equalises = any(source.equalise_on for source in self.system.sources)
        stated_v = (bank.maker_absorb_high_v or 0.0) * max(1, bank.in_series)
        return max(stated_v, high_battery_v(bank.chemistry, self.system.v_nominal_v, equalises=equalises))

    @property
    def usual_absorb_v(self) -> float:
        """Return the absorption voltage by chemistry [V]; 14.4 V per 12 V where no bank is named."""
        bank = self.system.bank
        per_12_v = 14.4 if bank is None else DEFAULT_ABSORB_V[bank.chemistry]
        return per_12_v * self.system.v_nominal_v / 12.0

    def charging_v(self, own_v: float | None) -> float:
        """Return the voltage a charger works at [V]: its own profile, else the usual one."""
        return self.usual_absorb_v if own_v is None else own_v
