"""The rows of the field sheet: soft spots, things on the roof, wire legs, equipment, loads, places."""

from __future__ import annotations

from typing import Final

import sizing
from jobs.survey.facts import Fact, RowSheet

#: Circuits of the schedule, in the words of a wire's two ends.
CIRCUITS: Final = tuple(
    (kind.value, f"{kind} {sizing.circuit_facts(kind).on_field_sheet}") for kind in sizing.CircuitKind
)
DIFFICULTIES: Final = ((1, "1 open"), (2, "2 fair"), (3, "3 hidden"), (4, "4 hard"))

_X = Fact(
    "x_m",
    "From rear",
    "m",
    (0, 30),
    (0, 14),
    help="Of the corner nearest the rear right, going forward.",
)
_Y = Fact("y_m", "From right", "m", (0, 5), (0, 2.6), help="Of the same corner, going across to the left.")

SOFT_SPOTS: Final = RowSheet(
    prefix="soft_spots",
    title="Soft or wet spots",
    noun="spot",
    lead="Press the whole roof by hand and check it with a moisture meter. Wood at 20% and more is wet.",
    facts=(
        _X,
        _Y,
        Fact("length_m", "Length", "m", (0, 15), (0.02, 5)),
        Fact("width_m", "Width", "m", (0, 5), (0.02, 2.6)),
        Fact("moisture_fraction", "Moisture meter", "%", (0, 1), (0.05, 0.60), is_share=True),
        Fact("note", "Note", is_wide=True),
    ),
)

OBSTACLES: Final = RowSheet(
    prefix="obstacles",
    title="Things on the roof",
    noun="thing",
    lead=(
        "Everything that stands up, opens or must be reached. Measure from the rear right corner of the "
        "flat roof, looking forward. A size left blank takes the usual one for its kind, marked as a guess."
    ),
    guess="obstacles",
    none_kind="obstacle",
    none_label="I looked: there is nothing on this roof",
    details=(
        "label",
        "is_round",
        "height_open_m",
        "swing",
        "keep_out_m",
        "will_be_removed",
        "is_guess",
    ),
    facts=(
        Fact("kind", "What it is"),
        _X,
        _Y,
        Fact("length_m", "Length", "m", (0.005, 30), (0.02, 14), help="Along the vehicle."),
        Fact("width_m", "Width", "m", (0.005, 5), (0.02, 2.6), help="Across the vehicle."),
        Fact("height_m", "Height", "m", (0, 3), (0, 0.7), help="Above the roof, closed."),
        Fact("label", "Own name"),
        Fact("is_round", "Round"),
        Fact("height_open_m", "Height open", "m", (0, 3), (0, 1.5), help="Lid, arm or dish fully up."),
        Fact("swing", "Opens"),
        Fact("keep_out_m", "Keep clear all around", "m", (0, 5), (0, 1.5)),
        Fact("will_be_removed", "Removed in this job"),
        Fact("is_guess", "Size is a guess"),
    ),
)

WIRE_LEGS: Final = RowSheet(
    prefix="wire_legs",
    title="Wire legs",
    noun="leg",
    lead=(
        "One way along the real path, never straight across. Pull a string or fish tape through, measure it, "
        "and add ‹0.5 m|20 in› at each end of the run. Legs of one circuit add up. "
        "A guessed leg counts 25% longer until it is measured."
    ),
    details=("bundle_count", "is_near_heat", "has_conduit", "note"),
    facts=(
        Fact("circuit", "Circuit"),
        Fact("place", "Where"),
        Fact("length_m", "One way", "m_run", (0.01, 100), (0.1, 20)),
        Fact("confidence", "How measured"),
        Fact("difficulty", "Difficulty"),
        Fact(
            "bundle_count",
            "Wires bundled together",
            "",
            (1, 100),
            (1, 24),
            is_whole=True,
            help="That carry current, these two included.",
        ),
        Fact(
            "is_near_heat",
            "Near heat",
            help="Within ‹150 mm|6 in› of a furnace, exhaust or hot pipe.",
        ),
        Fact("has_conduit", "Conduit or duct is there"),
        Fact("note", "Note", is_wide=True, help="Grommets, metal edges, wires already there."),
    ),
)

EQUIPMENT: Final = RowSheet(
    prefix="existing_items",
    title="Equipment found",
    noun="item",
    lead="One row each, from the plate on the unit. Look twice for a second converter.",
    guess="sources",
    details=(
        "axle_x_m",
        "chemistry",
        "capacity_ah",
        "date_code",
        "place",
        "profiles",
        "low_t_stop_c",
        "temp_comp_mv_per_c",
        "equalises",
        "age_years",
        "measured_isc_a",
        "measured_at_w_m2",
        "is_smart",
        "idle_hot_a",
        "access",
        "plug_kind",
        "wire_size",
        "run_len_m",
        "fuse_a",
        "fuel",
        "has_auto_start",
        "has_surge_guard",
        "spare_ways",
        "has_gfci",
        "connectors",
        "note",
    ),
    facts=(
        Fact("kind", "What it is"),
        Fact("name", "Make, model, plate"),
        Fact("quantity", "How many", "", (1, 100), (1, 16), is_whole=True),
        Fact("rating_a", "Rated amps", "A", (0, 10000), (5, 400)),
        Fact("rating_w", "Rated watts", "W", (0, 100000), (5, 12000)),
        Fact("voltage_v", "Volts", "V", (0, 1000), (2, 260), help="Of one unit, as on its plate."),
        Fact("mass_kg", "Weight", "kg", (0, 5000), (0.1, 500), help="All of them together."),
        Fact("fate", "Plan"),
        Fact(
            "axle_x_m",
            "Behind front axle or hitch",
            "m",
            (-5, 30),
            (0, 14),
            help="Its middle, if it is removed.",
        ),
        Fact("chemistry", "Chemistry"),
        Fact("capacity_ah", "Amp-hours of one", "Ah", (0, 10000), (5, 1000), help="At the 20 hour rate."),
        Fact("date_code", "Date code or age"),
        Fact("place", "Place"),
        Fact("profiles", "Charge profiles", help="Which it offers, which one is set."),
        Fact(
            "low_t_stop_c",
            "Stops charging below",
            "°C",
            (-60, 60),
            (-20, 15),
            help="Blank: it does not stop by itself.",
        ),
        Fact(
            "temp_comp_mv_per_c",
            "Temperature compensation",
            "mV/°C",
            (-500, 500),
            (-150, 0),
            help="For the whole bank, like -24 at 12 V; 0 is off. Off for lithium.",
        ),
        Fact("equalises", "Equalizes or pulses", help="Must be off for lithium."),
        Fact("age_years", "Age of a panel, years", "", (0, 60), (0, 30)),
        Fact(
            "measured_isc_a",
            "Panel: short-circuit amps",
            "A",
            (0, 100),
            (0.5, 25),
            help="One row per panel that was measured.",
        ),
        Fact(
            "measured_at_w_m2",
            "Panel: sunlight at that reading",
            "W/m²",
            (1, 1600),
            (400, 1200),
            help="On the panel itself; below 400 W/m² a reading says too little.",
        ),
        Fact("is_smart", "Smart alternator", help="Usual from model year 2015."),
        Fact("idle_hot_a", "Amps idling hot", "A", (0, 2000), (5, 400)),
        Fact("access", "Access, 1 easy to 4 hard", "", (1, 4), is_whole=True),
        Fact("plug_kind", "Plug or cord"),
        Fact("wire_size", "Wire size", help="AWG or mm², as printed on the wire."),
        Fact("run_len_m", "Its wire, one way", "m_run", (0, 100), (0.1, 20)),
        Fact("fuse_a", "Fuse", "A", (0, 5000), (0.5, 600)),
        Fact("fuel", "Fuel"),
        Fact("has_auto_start", "Automatic start"),
        Fact("has_surge_guard", "Surge protection fitted"),
        Fact("spare_ways", "Spare circuits", "", (0, 100), (0, 24), is_whole=True),
        Fact("has_gfci", "Has a GFCI"),
        Fact("connectors", "Connectors, both ends", is_wide=True, help="Type and maker of each connector."),
        Fact("note", "Note", is_wide=True),
    ),
)

LOADS: Final = RowSheet(
    prefix="loads",
    title="Appliances",
    noun="appliance",
    lead="Start from the usual rows and change watts, hours and count with the customer.",
    guess="loads",
    facts=(
        Fact("name", "Appliance"),
        Fact("bus", "Fed by"),
        Fact("power_w", "Watts", "W", (0, 50000), (0.5, 5000)),
        Fact(
            "duty_fraction",
            "Duty",
            "%",
            (0, 1),
            is_share=True,
            help="Share of the hours it really runs: a fridge about 45%.",
        ),
        Fact("hours_per_day", "Hours a day", "h", (0, 24)),
        Fact("quantity", "Count", "", (0, 1000), (0.1, 20)),
        Fact("surge_factor", "Surge ×", "", (1, 50), (1, 10), help="Times its running watts."),
        Fact("is_critical", "Must not stop", help="Medical or safety: needs a plan for when power ends."),
    ),
)

STOPS: Final = RowSheet(
    prefix="stops",
    title="Places and months",
    noun="place",
    lead=(
        "Where the vehicle stands, in which months, and under what sky. Name a town of the list "
        "(“Yuma, AZ”) or give latitude and longitude."
    ),
    guess="legs",
    details=(
        "latitude_deg",
        "longitude_deg",
        "altitude_m",
        "nights",
        "psh_h",
        "tilt_deg",
        "tilt_uptake_fraction",
    ),
    facts=(
        Fact("place", "Place", is_wide=True),
        Fact("months", "Months there", is_wide=True),
        Fact("shade_habit", "Parks under"),
        Fact("latitude_deg", "Latitude", "°", (-90, 90), (-60, 72), help="North is positive."),
        Fact(
            "longitude_deg",
            "Longitude",
            "°",
            (-180, 180),
            help="Minus for west, as everywhere in the Americas.",
        ),
        Fact("nights", "Nights off the grid a year", "", (0, 366), is_whole=True),
        Fact(
            "psh_h",
            "Your own peak sun hours",
            "h",
            (0, 14),
            (0.5, 9),
            help="kWh/m² a day on the flat. Blank: from the climate grid.",
        ),
        Fact(
            "altitude_m", "Altitude", "m", (-450, 5500), (0, 3000), help="Blank: taken from the climate grid."
        ),
        Fact(
            "tilt_deg",
            "Panels tilted there by",
            "°",
            (0, 80),
            (0, 60),
            help="To the noon sun while parked. Blank: left flat.",
        ),
        Fact(
            "tilt_uptake_fraction",
            "On how many of the days",
            "%",
            (0, 1),
            is_share=True,
            help="Only days when somebody really climbs up. Blank: 60%.",
        ),
    ),
)
