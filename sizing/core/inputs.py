"""What a question to the engine is made of: plain frozen facts in SI units.

``None`` means "not known": the engine answers ``not enough data`` where it needs the value and never
fills it in silently. The range beside each field is a physical bound, wider than what a survey form asks
about; every class is checked once, by :mod:`sizing.files.validate`, before anything is computed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated

from sizing.core.limits import SMALLEST, OneOf, Range
from sizing.core.limits import InputOutOfRange as InputOutOfRange


def _upto(high: float, unit: str = "") -> Range:
    return Range(0.0, high, unit, smallest=SMALLEST)


def _above(high: float, unit: str = "") -> Range:
    return Range(0.0, high, unit, is_above=True, smallest=SMALLEST)


Temp = Annotated[float, Range(-90.0, 100.0, "°C")]
Share = Annotated[float, _upto(1.0)]
Mass = Annotated[float, _upto(25_000.0, "kg")]
Hours = Annotated[float, _upto(24.0, "h")]
ChargeVolts = Annotated[float, Range(5.0, 100.0, "V")]
#: Volts a charger adds per degree below 25 °C over the whole bank, of either sign; 0: off, None: not known.
Compensation = Annotated[float, Range(-500.0, 500.0, "mV/°C")]


class InputNeeded(InputOutOfRange):
    """A value was left blank that the question cannot be answered without."""


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
    RELAY = "relay"  # joins start and house battery, nothing between them limits the current


class Confidence(StrEnum):
    """How a length or fact was got; a guess adds 25 % to a length and marks every result that rests on it."""

    MEASURED = "measured"
    SCALED = "scaled"
    GUESS = "guess"


class CableStandard(StrEnum):
    """How the number printed on a cable turns into copper."""

    AWG = "awg"
    SAE = "sae"
    METRIC = "metric"


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
    power_w: Annotated[float, _upto(100_000.0, "W")]
    duty_fraction: Share
    hours_per_day: Hours
    quantity: Annotated[float, _upto(1000.0)] = 1
    surge_factor: Annotated[float, Range(1.0, 50.0)] = 1.0
    is_critical: bool = False


@dataclass(frozen=True, slots=True)
class TravelLeg:
    """A place and the months spent there.

    ``psh_h`` (peak sun hours on the flat, kWh/m²·day), when given, is the shop's own figure and wins over
    the climate grid; ``clearness_kt`` asks for formula F8 instead of the grid.
    """

    name: str
    latitude_deg: Annotated[float, Range(-90.0, 90.0, "°")]
    longitude_deg: Annotated[float, Range(-180.0, 180.0, "°")] | None
    months: tuple[Annotated[int, Range(1, 12)], ...]
    shade_habit: ShadeHabit = ShadeHabit.OPEN
    altitude_m: Annotated[float, Range(-500.0, 9000.0, "m")] | None = None
    psh_h: Annotated[float, _upto(15.0, "kWh/m²·day")] | None = None
    clearness_kt: Share | None = None
    tilt_deg: Annotated[float, _upto(90.0, "°")] = 0.0  # panels tilted to the equator while parked here
    tilt_uptake_fraction: Share = 0.6  # share of days somebody climbs up and does it


@dataclass(frozen=True, slots=True)
class SingleDiode:
    """Parameters of the single-diode model at 1000 W/m² and 25 °C, in the words of pvlib's CEC model."""

    alpha_sc_a_per_c: Annotated[float, Range(-0.2, 0.2, "A/°C")]
    a_ref_v: Annotated[float, Range(0.01, 50.0, "V")]
    i_l_ref_a: Annotated[float, Range(0.001, 100.0, "A")]
    i_o_ref_a: Annotated[float, Range(1e-30, 0.1, "A")]
    r_s_ohm: Annotated[float, Range(0.0, 1000.0, "Ω")]
    r_sh_ref_ohm: Annotated[float, Range(0.1, 1e12, "Ω")]
    adjust_percent: Annotated[float, Range(-100.0, 100.0, "%")] = 0.0
    eg_ref_ev: Annotated[float, Range(0.5, 3.0, "eV")] = 1.121
    d_eg_dt_per_c: Annotated[float, Range(-0.001, 0.001, "1/°C")] = -0.0002677


@dataclass(frozen=True, slots=True)
class PanelSpec:
    """A panel's data sheet: volts, amps, watts at 1000 W/m² and 25 °C cell; coefficients as fractions."""

    name: str
    pmp_w: Annotated[float, _above(2000.0, "W")]
    vmp_v: Annotated[float, _above(1000.0, "V")]
    imp_a: Annotated[float, _above(100.0, "A")]
    voc_v: Annotated[float, _above(1000.0, "V")]
    isc_a: Annotated[float, _above(100.0, "A")]
    length_m: Annotated[float, _above(5.0, "m")]
    width_m: Annotated[float, _above(5.0, "m")]
    thickness_m: Annotated[float, _upto(0.5, "m")]
    mass_kg: Annotated[float, _upto(200.0, "kg")]
    beta_voc_fraction_per_c: Annotated[float, Range(-0.02, 0.02, "1/°C")] | None
    gamma_pmp_fraction_per_c: Annotated[float, Range(-0.02, 0.02, "1/°C")] | None
    alpha_isc_fraction_per_c: Annotated[float, Range(-0.02, 0.02, "1/°C")] = 0.0005
    max_series_fuse_a: Annotated[float, _above(200.0, "A")] | None = None
    cells_in_series: Annotated[int, Range(1, 400)] | None = None
    bypass_diodes: Annotated[int, _upto(50)] | None = None
    is_half_cut: bool = False
    is_flexible: bool = False
    connector: str = ""
    single_diode: SingleDiode | None = None


@dataclass(frozen=True, slots=True)
class PlacedPanel:
    """A panel on the roof: corner nearest the rear right [m]; ``turned`` lays its length across."""

    id: str
    panel: PanelSpec
    x_m: Annotated[float, Range(-2.0, 30.0, "m")]
    y_m: Annotated[float, Range(-2.0, 10.0, "m")]
    turned: bool = False
    feet: Annotated[int, _upto(40)] = 4
    fasteners_per_foot: Annotated[int, _upto(40)] = 4
    string_id: str | None = None
    zone: str = ""  # panels shaded by the same things at the same hours share a zone
    gap_m: Annotated[float, _upto(1.0, "m")] = 0.05  # roof skin to the underside: the wind gets under it
    is_used: bool = False  # was on a roof before
    age_years: Annotated[float, _upto(60.0, "years")] | None = None
    #: Short-circuit current as measured, and the light on the panel meanwhile.
    measured_isc_a: Annotated[float, _upto(100.0, "A")] | None = None
    measured_at_w_m2: Annotated[float, _above(1600.0, "W/m²")] | None = None


@dataclass(frozen=True, slots=True)
class StringInput:
    """Panels wired in series, in order, on one controller."""

    id: str
    controller_id: str
    panel_ids: tuple[str, ...]
    fuse_a: Annotated[float, _above(1000.0, "A")] | None = None
    fuse_voltage_rating_v: Annotated[float, _above(2000.0, "V")] | None = None


@dataclass(frozen=True, slots=True)
class ControllerInput:
    """A charge controller. Volts and amps are the maker's limits."""

    id: str
    name: str
    kind: ControllerKind
    pv_voltage_limit_v: Annotated[float, _above(2000.0, "V")]
    rated_output_a: Annotated[float, _above(1000.0, "A")]
    pv_isc_limit_a: Annotated[float, _above(1000.0, "A")] | None = None
    start_margin_v: Annotated[float, _upto(50.0, "V")] = 5.0
    run_margin_v: Annotated[float, _upto(50.0, "V")] = 1.0
    efficiency_fraction: Annotated[float, _above(1.0)] = 0.96
    absorb_v: ChargeVolts | None = None
    low_t_stop_c: Temp | None = None  # as its data sheet states; None: it does not stop by itself
    temp_comp_mv_per_c: Compensation | None = None
    mass_kg: Mass = 0.0
    #: Array power above which the maker refuses warranty.
    pv_power_limit_w: Annotated[float, _above(100_000.0, "W")] | None = None


@dataclass(frozen=True, slots=True)
class BankInput:
    """The house bank: ``quantity`` equal batteries of ``unit_capacity_ah`` at ``unit_nominal_v``."""

    chemistry: Chemistry
    unit_nominal_v: Annotated[float, Range(1.0, 100.0, "V")]
    unit_capacity_ah: Annotated[float, _above(10_000.0, "Ah")]
    quantity: Annotated[int, Range(1, 200)]
    in_series: Annotated[int, Range(1, 50)] = 1
    max_charge_a: Annotated[float, _above(5000.0, "A")] | None = None  # per battery
    max_discharge_a: Annotated[float, _above(5000.0, "A")] | None = None  # per battery, continuous
    unit_mass_kg: Mass = 0.0
    tmin_c: Temp | None = None  # coldest the cells get, in use and in storage, as measured
    is_heated: bool = False
    heater_w: Annotated[float, _upto(5000.0, "W")] = 0.0  # of the whole bank
    is_inside: bool = True
    short_circuit_a: Annotated[float, _above(1e6, "A")] | None = None  # prospective, whole bank, by its maker
    depth_of_discharge_fraction: Annotated[float, _above(1.0)] | None = None  # None: by chemistry
    peukert_k: Annotated[float, Range(1.0, 2.0)] | None = None
    rated_hours_h: Annotated[float, _above(200.0, "h")] = 20.0
    max_peak_discharge_a: Annotated[float, _above(20_000.0, "A")] | None = None  # per battery, seconds
    #: The maker's charge range for one battery.
    maker_absorb_low_v: Annotated[float, Range(1.0, 100.0, "V")] | None = None
    maker_absorb_high_v: Annotated[float, Range(1.0, 100.0, "V")] | None = None
    is_kept_warm: bool | None = None  # in storage; not asked counts as stored unheated
    internal_resistance_ohm: Annotated[float, _above(1.0, "Ω")] | None = None  # per battery, by its maker
    cca_a: Annotated[float, _above(5000.0, "A")] | None = None  # cold cranking amps, per battery


@dataclass(frozen=True, slots=True)
class InverterInput:
    """An inverter on the DC bus."""

    name: str
    power_w: Annotated[float, _above(50_000.0, "W")]
    idle_w: Annotated[float, _upto(1000.0, "W")] = 25.0
    hours_on_per_day: Hours = 24.0
    efficiency_fraction: Annotated[float, Range(0.1, 1.0)] = 0.88
    surge_w: Annotated[float, _above(200_000.0, "W")] | None = None
    max_fuse_a: Annotated[float, _above(5000.0, "A")] | None = None
    mass_kg: Mass = 0.0


@dataclass(frozen=True, slots=True)
class ChargeSourceInput:
    """A charger besides solar; it runs with every other source at once but those in ``excluded_with``.

    ``through`` names the source it feeds: a generator on an inverter-charger charges through it and counts
    once. Sources of one ``alternator_id`` load the same alternator; blank is the vehicle's own.
    """

    id: str
    kind: SourceKind
    name: str
    output_a: Annotated[float, _above(2000.0, "A")]
    absorb_v: ChargeVolts | None = None
    float_v: ChargeVolts | None = None
    equalise_on: bool = False
    low_t_stop_c: Temp | None = (
        None  # as its data sheet or the survey states; None: it does not stop by itself
    )
    temp_comp_mv_per_c: Compensation | None = None
    limited_to_a: Annotated[float, _upto(2000.0, "A")] | None = None  # an output limit set on the unit
    excluded_with: tuple[str, ...] = ()  # ids (or "solar") it is interlocked or switched against
    through: str = ""  # id of the source it feeds
    input_v: ChargeVolts | None = None  # DC-DC: running voltage at its source end
    lockout_v: ChargeVolts | None = None  # DC-DC: input voltage at which it stops
    alternator_rating_a: Annotated[float, _above(2000.0, "A")] | None = None
    alternator_id: str = ""
    alternator_idle_a: Annotated[float, _above(2000.0, "A")] | None = (
        None  # what it gives idling hot, measured
    )
    alternator_load_a: Annotated[float, _upto(2000.0, "A")] | None = None  # what the vehicle itself draws
    driving_hours_per_day: Hours = 0.0
    shore_hours_per_day: Hours = 0.0
    mass_kg: Mass = 0.0


@dataclass(frozen=True, slots=True)
class OcpdInput:
    """A fuse or breaker as chosen or fitted."""

    rating_a: Annotated[float, _above(5000.0, "A")]
    family: str = ""
    voltage_rating_v: Annotated[float, _above(5000.0, "V")] | None = None
    interrupting_a: Annotated[float, _above(1e6, "A")] | None = None
    distance_to_source_m: Annotated[float, _upto(50.0, "m")] | None = None
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
    run_len_m: Annotated[float, _above(100.0, "m")] | None
    serves: str = ""
    size: str | None = None
    ocpd: OcpdInput | None = None
    has_no_ocpd: bool = False
    current_a: Annotated[float, _upto(5000.0, "A")] | None = None
    bundle_count: Annotated[int, Range(1, 200)] = 2
    ambient_c: Annotated[float, Range(-60.0, 150.0, "°C")] = 30.0
    in_engine_space: bool = False
    on_roof_in_sun: bool = False
    roof_clearance_m: Annotated[float, _upto(5.0, "m")] | None = None
    in_raceway: bool = True
    insulation_c: Annotated[int, Range(60, 250, "°C")] = 105
    terminal_c: Annotated[int, Range(60, 105, "°C")] = 75
    cable_standard: Annotated[str, OneOf(tuple(each.value for each in CableStandard))] = "awg"
    is_critical: bool = True
    confidence: Confidence = Confidence.MEASURED
    conductor_temp_c: Annotated[float, Range(-60.0, 250.0, "°C")] = 20.0
    parallel_conductors: Annotated[int, Range(1, 12)] = 1


@dataclass(frozen=True, slots=True)
class PlugInput:
    """Branch plugs or a lead that carries the joined current of the strings of a controller."""

    controller_id: str
    rating_a: Annotated[float, _above(500.0, "A")] = 30.0


@dataclass(frozen=True, slots=True)
class RoofInput:
    """The roof as surveyed; meters. ``rafter_spacing_m`` and ``deck_thickness_m`` feed the screw sums."""

    length_m: Annotated[float, _above(30.0, "m")]
    width_m: Annotated[float, _above(5.0, "m")]
    material: str = "unknown"
    deck_thickness_m: Annotated[float, _upto(0.1, "m")] | None = 0.0095
    rafter_spacing_m: Annotated[float, _above(5.0, "m")] | None = 0.406
    #: Of all feet, how many are screwed into a rafter.
    feet_on_rafter: Annotated[int, _upto(4000)] | None = None
    gland_screws: Annotated[int, _upto(200)] = 8
    cable_holes: Annotated[int, _upto(200)] = 1
    overall_height_m: Annotated[float, _above(8.0, "m")] | None = None
    height_limit_m: Annotated[float, _above(8.0, "m")] = 4.05
    is_bonded_only: bool = False
    bond_area_m2: Annotated[float, _upto(100.0, "m²")] | None = None
    screw: str = "#14"
    screws_per_rafter_foot: Annotated[int, _upto(40)] = 2
    #: The maker's tested pull-out of one fastener; a quarter is used.
    fastener_tested_n: Annotated[float, _above(100_000.0, "N")] | None = None
    #: Nothing deflects the wind ahead of the front-most panel; None: nobody looked.
    is_front_open: bool | None = False
    array_top_m: Annotated[float, _upto(2.0, "m")] = 0.08  # panel top over the roof skin
    rafter_kind: str = "wood"  # a rafter of metal needs a tested value
    #: Roof skin over ground; None: the array is put on top of everything.
    skin_height_m: Annotated[float, _above(8.0, "m")] | None = None


@dataclass(frozen=True, slots=True)
class WeightInput:
    """The weight ledger. ``label_type`` "occc": water and people still to be taken off; "ccc": already taken.

    ``added`` lists what the design itself does not describe (mounts, cable, boxes): the masses of panels,
    bank, inverter, controllers and sources are added by the engine. ``removed`` lists what comes off.
    Every place is a distance behind the front axle, of a trailer behind the hitch ball or pin. Panels, bank
    and equipment may be placed by ``rear_edge_x_m``, ``bank_x_m`` and ``equipment_x_m`` or by
    ``mass_points``, what is added and removed by ``mass_points`` alone (removed: a negative mass).
    """

    label_kg: Mass | None = None
    label_type: Annotated[str, OneOf(("occc", "ccc"))] = "occc"
    fresh_water_kg: Mass = 0.0
    people_kg: Mass = 0.0
    customer_cargo_kg: Mass = 0.0
    added: tuple[tuple[str, Mass], ...] = ()
    removed: tuple[tuple[str, Mass], ...] = ()
    #: Name, mass, distance behind the front axle or hitch ball.
    mass_points: tuple[
        tuple[
            str,
            Annotated[float, Range(-25_000.0, 25_000.0, "kg")],
            Annotated[float, Range(-25_000.0, 25_000.0, "m")],
        ],
        ...,
    ] = ()
    wheelbase_m: Annotated[float, _above(20.0, "m")] | None = None  # front axle (hitch ball) to rear axle
    front_kg: Mass | None = None  # scale ticket: front axle, or hitch
    rear_kg: Mass | None = None  # scale ticket: rear (drive) axle, or all axles of a trailer
    front_limit_kg: Mass | None = None  # of a trailer the lowest plate of hitch, pin or coupling
    rear_limit_kg: Mass | None = None
    #: Of a trailer. "caravan": European, with a noseweight.
    hitch: Annotated[str, OneOf(("", "tongue", "pin", "caravan"))] = ""
    #: A CCC label of unknown age: counted with water and people still to be taken off, the careful way.
    is_label_undated: bool = False
    gvwr_kg: Mass | None = None
    uvw_kg: Mass | None = None  # unloaded, from the label; counts where nobody weighed
    lp_gas_kg: Mass | None = None
    waste_tanks_kg: Mass = 0.0  # gray and black tank when full; taken to be empty on the road
    tag_kg: Mass | None = None  # scale ticket: third axle
    tag_limit_kg: Mass | None = None
    tag_spacing_m: Annotated[float, _above(5.0, "m")] | None = None  # drive axle to tag axle
    #: The ticket was taken with people, water and things aboard; None: nobody asked.
    is_weighed_loaded: bool | None = True
    rear_edge_x_m: Annotated[float, Range(-5.0, 30.0, "m")] | None = None  # of the roof
    bank_x_m: Annotated[float, Range(-5.0, 30.0, "m")] | None = None
    equipment_x_m: Annotated[float, Range(-5.0, 30.0, "m")] | None = None  # inverter, chargers, controllers


@dataclass(frozen=True, slots=True)
class PolicyInput:
    """Limits no standard sets for a vehicle: what the shop holds itself to, to be set by its owner."""

    #: Interrupting rating of the main device of a lithium bank, whatever its size.
    lithium_main_interrupt_a: Annotated[float, Range(1000.0, 200_000.0, "A")] = 20_000.0
    #: Share of a controller's PV voltage limit that the coldest string may reach.
    cold_volts_fraction: Annotated[float, Range(0.5, 1.0)] = 0.97
    #: Share of what a foot holds that it may be loaded to before it is a caution.
    foot_use_fraction: Annotated[float, Range(0.05, 0.8)] = 0.5
    #: Share of the cargo label that should stay free.
    cargo_left_fraction: Annotated[float, _upto(0.9)] = 0.10


@dataclass(frozen=True, slots=True)
class SystemInput:
    """Everything the sizing face is asked about one design of one vehicle."""

    rule_set: RuleSet
    v_nominal_v: Annotated[float, OneOf((12.0, 24.0, 36.0, 48.0), "V")]
    tmin_travel_c: Temp | None
    tmin_storage_c: Temp | None
    tmax_c: Temp = 42.0
    autonomy_days: Annotated[float, _upto(60.0, "days")] = 1.0
    k_sys: Annotated[float, _above(1.0)] = 0.75
    loads: tuple[LoadRow, ...] = ()
    legs: tuple[TravelLeg, ...] = ()
    design_month: Annotated[int, Range(1, 12)] | None = None
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
    alternator_idle_fraction: Annotated[float, _above(1.0)] = 0.5  # of its rating, idling hot; shop default
    design_speed_mps: Annotated[float, _upto(120.0, "m/s")] = 46.94
    #: Conductors in the way of a short circuit where something settled them beforehand: by circuit up to its
    #: device, both legs, and "link" for both legs of a battery's link. Empty: worked out from the circuits.
    settled_paths: tuple[tuple[str, Annotated[float, _upto(100.0, "Ω")]], ...] = ()
    guesses: frozenset[str] = field(default_factory=frozenset)
    policy: PolicyInput = PolicyInput()
