"""What a question to the engine is made of: plain frozen facts in SI units.

``None`` means "not known": the engine answers ``not enough data`` where it needs the value and never
fills it in silently. Every class is checked once, by :mod:`sizing.files.validate`, before anything is
computed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class InputOutOfRange(ValueError):
    """A question that cannot be asked: names the field (a JSON path), the limit, the unit and the value."""

    def __init__(self, path: str, message: str) -> None:
        super().__init__(f"{path}: {message}")
        self.path = path
        self.message = message


class RuleSet(StrEnum):
    """The ampacity rules a job is judged by; printed on every paper."""

    MARINE_105C = "marine_105c"
    CODE_75C = "code_75c"
    CODE_90C = "code_90c"
    METRIC = "metric"


class Chemistry(StrEnum):
    """Battery chemistries of the charging table."""

    LFP = "lfp"
    AGM = "agm"
    GEL = "gel"
    FLOODED = "flooded"


class Bus(StrEnum):
    """Where a load is fed from."""

    DC = "dc"
    AC = "ac"


class ShadeHabit(StrEnum):
    """How the customer likes to park."""

    OPEN = "open"
    MIXED = "mixed"
    WOODS = "woods"


class ControllerKind(StrEnum):
    """Charge controller principle."""

    MPPT = "mppt"
    PWM = "pwm"


class SourceKind(StrEnum):
    """Things that charge the house bank besides the sun."""

    DC_DC = "dc_dc"
    CONVERTER = "converter"  # 120 V to battery charger, also a plain shore charger
    INVERTER_CHARGER = "inverter_charger"
    GENERATOR = "generator"
    PORTABLE_PV = "portable_pv"
    TOW_CHARGE_WIRE = "tow_charge_wire"


class Confidence(StrEnum):
    """How a length or fact was got; a guess adds 25 % to a length and marks every result that rests on it."""

    MEASURED = "measured"
    SCALED = "scaled"
    GUESS = "guess"


class CircuitKind(StrEnum):
    """Circuits of the schedule; the value is the id that prints."""

    STRINGS_TO_COMBINER = "C1"
    HOME_RUN = "C2"
    CONTROLLER_TO_BUS = "C3"
    BATTERY_TO_MAIN_FUSE = "C4"
    BATTERY_LINKS = "C5"
    BUS_TO_INVERTER = "C6"
    SHUNT_TO_BATTERY = "C7"
    START_BATTERY_TO_DC_DC = "C8"
    DC_DC_TO_BUS = "C9"
    CHARGER_TO_BUS = "C10"
    BUS_TO_DC_PANEL = "C11"
    SLIDES_AND_JACKS = "C12"
    INVERTER_AC_OUT = "C13"
    SHORE_AC_IN = "C14"
    SENSE_AND_MONITOR = "C15"
    PORTABLE_INLET = "C16"
    BATTERY_HEATER = "C17"


@dataclass(frozen=True, slots=True)
class LoadRow:
    """One appliance: running power [W], duty 0-1, hours per day 0-24, count, surge as a multiple of power."""

    name: str
    bus: Bus
    power_w: float
    duty_fraction: float
    hours_per_day: float
    quantity: float = 1
    surge_factor: float = 1.0
    is_critical: bool = False


@dataclass(frozen=True, slots=True)
class TravelLeg:
    """A place and the months spent there.

    ``psh_h`` (peak sun hours on the flat, kWh/m²·day), when given, is the shop's own figure and wins over
    the climate grid; ``clearness_kt`` asks for formula F8 instead of the grid.
    """

    name: str
    latitude_deg: float
    longitude_deg: float | None
    months: tuple[int, ...]
    shade_habit: ShadeHabit = ShadeHabit.OPEN
    altitude_m: float | None = None
    psh_h: float | None = None
    clearness_kt: float | None = None
    tilt_deg: float = 0.0  # panels tilted to the equator while parked here
    tilt_uptake_fraction: float = 0.6  # share of days somebody climbs up and does it


@dataclass(frozen=True, slots=True)
class SingleDiode:
    """Parameters of the single-diode model at 1000 W/m² and 25 °C, in the words of pvlib's CEC model."""

    alpha_sc_a_per_c: float
    a_ref_v: float
    i_l_ref_a: float
    i_o_ref_a: float
    r_s_ohm: float
    r_sh_ref_ohm: float
    adjust_percent: float = 0.0
    eg_ref_ev: float = 1.121
    d_eg_dt_per_c: float = -0.0002677


@dataclass(frozen=True, slots=True)
class PanelSpec:
    """A panel's data sheet: volts, amps, watts at 1000 W/m² and 25 °C cell; coefficients as fractions."""

    name: str
    pmp_w: float
    vmp_v: float
    imp_a: float
    voc_v: float
    isc_a: float
    length_m: float
    width_m: float
    thickness_m: float
    mass_kg: float
    beta_voc_fraction_per_c: float | None
    gamma_pmp_fraction_per_c: float | None
    alpha_isc_fraction_per_c: float = 0.0005
    max_series_fuse_a: float | None = None
    cells_in_series: int | None = None
    bypass_diodes: int | None = None
    is_half_cut: bool = False
    is_flexible: bool = False
    connector: str = ""
    single_diode: SingleDiode | None = None


@dataclass(frozen=True, slots=True)
class PlacedPanel:
    """A panel on the roof: corner nearest the rear right [m]; ``turned`` lays its length across."""

    id: str
    panel: PanelSpec
    x_m: float
    y_m: float
    turned: bool = False
    feet: int = 4
    fasteners_per_foot: int = 4
    string_id: str | None = None
    zone: str = ""  # panels shaded by the same things at the same hours share a zone


@dataclass(frozen=True, slots=True)
class StringInput:
    """Panels wired in series, in order, on one controller."""

    id: str
    controller_id: str
    panel_ids: tuple[str, ...]
    fuse_a: float | None = None
    fuse_voltage_rating_v: float | None = None


@dataclass(frozen=True, slots=True)
class ControllerInput:
    """A charge controller. Volts and amps are the maker's limits."""

    id: str
    name: str
    kind: ControllerKind
    pv_voltage_limit_v: float
    rated_output_a: float
    pv_isc_limit_a: float | None = None
    start_margin_v: float = 5.0
    run_margin_v: float = 1.0
    efficiency_fraction: float = 0.96
    absorb_v: float | None = None
    low_t_stop_c: float | None = None
    mass_kg: float = 0.0
    pv_power_limit_w: float | None = None  # array power above which the maker refuses warranty


@dataclass(frozen=True, slots=True)
class BankInput:
    """The house bank: ``quantity`` equal batteries of ``unit_capacity_ah`` at ``unit_nominal_v``."""

    chemistry: Chemistry
    unit_nominal_v: float
    unit_capacity_ah: float
    quantity: int
    in_series: int = 1
    max_charge_a: float | None = None  # per battery
    max_discharge_a: float | None = None  # per battery, continuous
    unit_mass_kg: float = 0.0
    tmin_c: float | None = None  # coldest temperature of the cells in use
    is_heated: bool = False
    heater_w: float = 0.0
    is_inside: bool = True
    short_circuit_a: float | None = None  # prospective, whole bank, maker's figure
    depth_of_discharge_fraction: float | None = None  # None: by chemistry
    peukert_k: float | None = None
    rated_hours_h: float = 20.0
    max_peak_discharge_a: float | None = None  # per battery, seconds
    maker_absorb_low_v: float | None = None  # maker's charge range for one battery
    maker_absorb_high_v: float | None = None


@dataclass(frozen=True, slots=True)
class InverterInput:
    """An inverter on the DC bus."""

    name: str
    power_w: float
    idle_w: float = 25.0
    hours_on_per_day: float = 24.0
    efficiency_fraction: float = 0.88
    surge_w: float | None = None
    max_fuse_a: float | None = None
    mass_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class ChargeSourceInput:
    """A charger besides solar. ``can_run_with`` empty means: with every other source at once."""

    id: str
    kind: SourceKind
    name: str
    output_a: float
    absorb_v: float | None = None
    float_v: float | None = None
    equalise_on: bool = False
    low_t_stop_c: float | None = None
    limited_to_a: float | None = None  # an output limit set on the unit
    excluded_with: tuple[str, ...] = ()  # ids (or "solar") it is interlocked against
    input_v: float | None = None  # DC-DC: running voltage at its source end
    lockout_v: float | None = None  # DC-DC: input voltage at which it stops
    alternator_rating_a: float | None = None
    driving_hours_per_day: float = 0.0
    shore_hours_per_day: float = 0.0
    mass_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class OcpdInput:
    """A fuse or breaker as chosen or fitted."""

    rating_a: float
    family: str = ""
    voltage_rating_v: float | None = None
    interrupting_a: float | None = None
    distance_to_source_m: float | None = None
    is_sheathed: bool = False
    at_both_ends: bool = False


@dataclass(frozen=True, slots=True)
class CircuitInput:
    """One row of the circuit schedule. ``size`` or ``ocpd`` of ``None`` asks the engine to propose one.

    ``serves`` names what the circuit belongs to: ``controller:<id>``, ``string:<id>``, ``source:<id>``,
    ``inverter``, ``bank`` or ``load``. ``current_a`` is the continuous current where the engine cannot
    know it (DC panel, slides). ``bundle_count`` counts current-carrying conductors lying together.
    ``has_no_ocpd`` states that the installer found or fitted none: prints NO PROTECTION and blocks.
    """

    id: str
    kind: CircuitKind
    run_len_m: float | None
    serves: str = ""
    size: str | None = None
    ocpd: OcpdInput | None = None
    has_no_ocpd: bool = False
    current_a: float | None = None
    bundle_count: int = 2
    ambient_c: float = 30.0
    in_engine_space: bool = False
    on_roof_in_sun: bool = False
    roof_clearance_m: float | None = None
    in_raceway: bool = True
    insulation_c: int = 105
    terminal_c: int = 75
    cable_standard: str = "awg"  # "awg", "sae" or "metric"
    is_critical: bool = True
    confidence: Confidence = Confidence.MEASURED
    conductor_temp_c: float = 20.0
    parallel_conductors: int = 1


@dataclass(frozen=True, slots=True)
class PlugInput:
    """Branch plugs or a lead that carries the joined current of the strings of a controller."""

    controller_id: str
    rating_a: float = 30.0


@dataclass(frozen=True, slots=True)
class RoofInput:
    """The roof as surveyed; metres. ``rafter_spacing_m`` and ``deck_thickness_m`` feed the screw sums."""

    length_m: float
    width_m: float
    material: str = "unknown"
    deck_thickness_m: float | None = 0.0095
    rafter_spacing_m: float | None = 0.406
    feet_on_rafter: int | None = None  # of all feet, how many are screwed into a rafter
    gland_screws: int = 8
    cable_holes: int = 1
    overall_height_m: float | None = None
    height_limit_m: float = 4.05
    is_bonded_only: bool = False
    bond_area_m2: float | None = None
    screw: str = "#14"
    screws_per_rafter_foot: int = 2
    fastener_tested_n: float | None = None  # maker's tested pull-out of one fastener; a quarter is used
    is_front_open: bool = False  # nothing deflects the wind ahead of the front-most panel
    array_top_m: float = 0.08  # panel top over the roof skin
    rafter_kind: str = "wood"  # a rafter of metal needs a tested value
    skin_height_m: float | None = None  # roof skin over ground; None: the array is put on top of everything


@dataclass(frozen=True, slots=True)
class WeightInput:
    """The weight ledger. ``label_type`` "occc": water and people still to be taken off; "ccc": already taken.

    ``added`` lists what the design itself does not describe (mounts, cable, boxes): the masses of panels,
    bank, inverter, controllers and sources are added by the engine. ``removed`` lists what comes off.
    """

    label_kg: float | None = None
    label_type: str = "occc"
    fresh_water_kg: float = 0.0
    people_kg: float = 0.0
    customer_cargo_kg: float = 0.0
    added: tuple[tuple[str, float], ...] = ()
    removed: tuple[tuple[str, float], ...] = ()
    mass_points: tuple[tuple[str, float, float], ...] = ()  # name, kg, metres behind front axle or hitch ball
    wheelbase_m: float | None = None  # front axle (hitch ball) to rear axle
    front_kg: float | None = None  # scale ticket: front axle, or hitch
    rear_kg: float | None = None  # scale ticket: rear axle, or all axles of a trailer
    front_limit_kg: float | None = None
    rear_limit_kg: float | None = None
    hitch: str = ""  # "tongue" or "pin" for a trailer


@dataclass(frozen=True, slots=True)
class SystemInput:
    """Everything the sizing face is asked about one design of one vehicle."""

    rule_set: RuleSet
    v_nominal_v: float
    tmin_travel_c: float | None
    tmin_storage_c: float | None
    tmax_c: float = 42.0
    autonomy_days: float = 1.0
    k_sys: float = 0.75
    loads: tuple[LoadRow, ...] = ()
    legs: tuple[TravelLeg, ...] = ()
    design_month: int | None = None
    panels: tuple[PlacedPanel, ...] = ()
    strings: tuple[StringInput, ...] = ()
    controllers: tuple[ControllerInput, ...] = ()
    bank: BankInput | None = None
    inverter: InverterInput | None = None
    sources: tuple[ChargeSourceInput, ...] = ()
    circuits: tuple[CircuitInput, ...] = ()
    plugs: tuple[PlugInput, ...] = ()
    roof: RoofInput | None = None
    weight: WeightInput | None = None
    glued_panels: bool = False
    design_speed_mps: float = 46.94
    guesses: frozenset[str] = field(default_factory=frozenset)
