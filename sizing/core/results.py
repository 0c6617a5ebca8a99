"""What the engine answers: plain frozen facts that turn into JSON and back without loss."""

from __future__ import annotations

from dataclasses import dataclass

from sizing.core.checks import Check, Provenance, Term, Verdict, worst

ENGINE_VERSION = "4"


@dataclass(frozen=True, slots=True)
class Figure:
    """A number worth opening: what it is, how it was got and from which source. No judgment."""

    key: str
    title: str
    value: float | None
    unit: str
    formula: str
    substituted: str
    source: str
    terms: tuple[Term, ...] = ()
    guesses: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EnergyResult:
    """Daily use [Wh]: by bus, inverter idle and total at the battery."""

    e_dc_wh: float
    e_ac_wh: float
    e_idle_wh: float
    e_day_wh: float


@dataclass(frozen=True, slots=True)
class BankResult:
    """The bank asked for and the bank chosen."""

    required_wh: float | None  # nominal energy F4 asks for
    required_ah: float | None
    usable_wh: float | None
    autonomy_days: float | None
    capacity_ah: float | None
    mass_kg: float | None


@dataclass(frozen=True, slots=True)
class MonthHarvest:
    """One month on one leg: peak sun hours [kWh/m²·d], harvest and balance [Wh/d], poor and fine day [Wh]."""

    leg: str
    month: int
    psh_h: float | None
    harvest_wh: float | None
    balance_wh: float | None
    poor_day_wh: float | None
    fine_day_wh: float | None
    source: str
    clipped_wh: float = 0.0  # what the controllers did not let through; taken off the harvest
    heater_wh: float = 0.0  # what the bank's heater takes; taken off the balance


@dataclass(frozen=True, slots=True)
class ControllerResult:
    """What one controller sees: strings, volts cold and hot, amps, clipping."""

    id: str
    ns: int | None
    np: int
    pmp_w: float
    voc_cold_v: float | None
    voc_stc_v: float
    vmp_hot_v: float | None
    voc_hot_v: float | None
    ns_min: int | None
    ns_max: int | None
    imp_a: float
    isc_a: float
    back_feed_a: float
    needs_string_fuse: bool | None
    string_fuse_a: float | None
    output_peak_a: float | None
    clip_fraction: float | None
    array_device_a: float | None
    voc_cold_by_method: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class CircuitRow:
    """A row of the circuit schedule as judged; ``is_proposed_*`` say which entries the engine chose."""

    id: str
    label: str
    from_to: str
    run_len_m: float | None  # as judged: a guess a quarter longer than given
    size: str | None
    is_proposed_size: bool
    area_mm2: float | None
    fuse_a: float | None
    is_proposed_fuse: bool
    fuse_place: str
    continuous_a: float | None
    design_a: float | None  # what the device and conductor must at least carry
    ampacity_a: float | None  # after all factors
    drop_v: float | None
    drop_fraction: float | None
    drop_limit_fraction: float | None
    disconnect: str
    torque_nm: float | None
    label_text: str
    verdict: Verdict
    note: str = ""
    cable_standard: str = ""  # "awg", "sae", "metric": what ``size`` counts in
    size_words: str = ""  # the size with its unit, as it prints
    torque_words: str = ""  # torque or range with its source
    #: Where the device does not pass: the family and rating that do, and what to say of them. Where the
    #: amps are the engine's own proposal: the family alone.
    proposed_family: str = ""
    proposed_fuse_a: float | None = None
    proposed_note: str = ""
    given_len_m: float | None = None  # the path as somebody gave it; None in answers of engines before 4


@dataclass(frozen=True, slots=True)
class PenetrationResult:
    """Holes to make and seal."""

    feet: int
    foot_fasteners: int
    gland_screws: int
    penetrations: int
    cable_holes: int


@dataclass(frozen=True, slots=True)
class WeightResult:
    """The weight ledger summed [kg]."""

    added_kg: float
    removed_kg: float
    net_added_kg: float
    cargo_left_kg: float | None
    left_fraction: float | None


@dataclass(frozen=True, slots=True)
class ProfileRow:
    """What one charger is to be set to. Volts for the whole bank; ``None`` means off or not to be set."""

    key: str  # the charger, as in the checks: controller:A, source:converter
    name: str
    chemistry: str
    absorb_v: float  # to set
    absorb_low_v: float
    absorb_high_v: float
    float_low_v: float | None
    float_high_v: float | None
    equalise: str  # "never", "only if its maker asks", or the range in volts
    temp_comp_mv_per_c: float | None  # for the whole bank; None: off
    low_t_stop_c: float | None
    max_a: float
    sentence: str
    source: str
    provenance: Provenance
    is_settable: bool = True  # false for a bare charge wire


@dataclass(frozen=True, slots=True)
class SystemResult:
    """The answer to one :class:`sizing.core.inputs.SystemInput`."""

    engine_version: str
    rule_set: str
    rule_set_title: str
    energy: EnergyResult
    bank: BankResult
    harvest: tuple[MonthHarvest, ...]
    controllers: tuple[ControllerResult, ...]
    circuits: tuple[CircuitRow, ...]
    penetrations: PenetrationResult
    weight: WeightResult
    figures: tuple[Figure, ...]
    checks: tuple[Check, ...]
    table_editions: tuple[str, ...] = ()
    profiles: tuple[ProfileRow, ...] = ()  # what each charger is to be set to

    @property
    def verdict(self) -> Verdict:
        """Return the worst verdict of all checks."""
        return worst(self.checks)

    def check(self, key: str) -> Check:
        """Return the check with this key; raise ``KeyError`` when there is none."""
        for found in self.checks:
            if found.key == key:
                return found
        raise KeyError(key)
