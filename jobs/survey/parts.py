"""The inside of the field sheet: power, weight, loads, travel, people; and the order of its pages."""

from __future__ import annotations

from typing import Final

from jobs.survey.facts import Fact, Group, Part
from jobs.survey.roof_parts import ROOF, ROOF_THINGS, WIRE
from jobs.survey.rows import EQUIPMENT, LOADS, STOPS

POWER: Final = Part(
    slug="equipment",
    title="Equipment",
    lead="What makes, stores and uses power now, and where a new battery bank can go.",
    groups=(
        Group(
            "System and battery place",
            (
                Fact("v_nominal_v", "System voltage", need="S", guess="system.voltage"),
                Fact(
                    "battery_is_inside",
                    "Battery is inside the living space",
                    need="S",
                    guess="bank.place",
                ),
                Fact("battery_place", "Battery place"),
                Fact(
                    "battery_tmin_c",
                    "Coldest the battery gets",
                    "°C",
                    (-60, 60),
                    (-45, 50),
                    "S",
                    guess="bank.tmin",
                    help="Measured. Inside an unheated vehicle it gets nearly as cold as its storage.",
                ),
                Fact(
                    "battery_is_kept_warm",
                    "Vehicle is kept warm in storage",
                    help="Above freezing all winter. Not known counts as no.",
                ),
                Fact("battery_is_heated", "Battery place is heated"),
                Fact("battery_is_vented", "Battery place is vented to the outside"),
                Fact("box_length_m", "Room for the bank, length", "m", (0, 5), (0.15, 2), "Q"),
                Fact("box_width_m", "Room, width", "m", (0, 5), (0.1, 1.5), "Q"),
                Fact("box_height_m", "Room, height", "m", (0, 5), (0.1, 1), "Q"),
            ),
        ),
        Group(
            "Read at the survey",
            (
                Fact("battery_rest_v", "Battery voltage at rest", "V", (0, 100), (8, 58)),
                Fact("parasitic_a", "Draw with everything off", "A", (0, 500), (0, 10)),
                Fact("tow_plug_v", "Volts at the tow plug", "V", (0, 100), (8, 30)),
                Fact("shore_polarity", "Shore polarity"),
                Fact("gfci_trip", "GFCI trip test"),
            ),
        ),
    ),
    rows=(EQUIPMENT,),
)

_AXLE = (50.0, 9000.0)
WEIGHT: Final = Part(
    slug="weight",
    title="Weight",
    lead="From the plate, the cargo label and a scale ticket. People, water and things all come out of OCCC.",
    groups=(
        Group(
            "Plate and label",
            (
                Fact("year", "Model year", "", (1900, 2100), (1965, 2100), "Q", on="vehicle", is_whole=True),
                Fact("gvwr_kg", "GVWR", "kg", (50, 60000), (300, 25000), "Q", on="vehicle"),
                Fact(
                    "gawr_front_kg",
                    "GAWR front",
                    "kg",
                    (0, 30000),
                    _AXLE,
                    on="vehicle",
                    help="On a trailer with two axles: the first.",
                ),
                Fact("gawr_rear_kg", "GAWR rear", "kg", (0, 30000), _AXLE, on="vehicle"),
                Fact("gawr_tag_kg", "GAWR third (tag) axle", "kg", (0, 30000), _AXLE, on="vehicle"),
                Fact("hitch", "Kind of hitch", on="vehicle"),
                Fact(
                    "hitch_limit_kg",
                    "Hitch, pin or coupling limit",
                    "kg",
                    (0, 10000),
                    (25, 3000),
                    on="vehicle",
                    help="The lowest rating on any plate, vehicle or trailer.",
                ),
                Fact("uvw_kg", "UVW", "kg", (0, 60000), (100, 25000), on="vehicle"),
                Fact(
                    "cargo_label_kg",
                    "Cargo label",
                    "kg",
                    (0, 25000),
                    (0, 9000),
                    "Q",
                    guess="weight.label",
                    on="vehicle",
                ),
                Fact("cargo_label_type", "What the label says", on="vehicle"),
                Fact("cargo_label_date", "Label date", help="Since June 2, 2008 water counts as cargo."),
            ),
        ),
        Group(
            "Scale ticket",
            (
                Fact("scale_ticket_date", "Ticket date", on="vehicle"),
                Fact(
                    "scale_is_loaded",
                    "Weighed with people, water and things aboard",
                    on="vehicle",
                    help="As it travels; only then axles can be judged.",
                ),
                Fact(
                    "scale_front_kg",
                    "Front axle, hitch or pin",
                    "kg",
                    (0, 30000),
                    _AXLE,
                    "Q",
                    guess="weight.scale",
                    on="vehicle",
                ),
                Fact(
                    "scale_rear_kg",
                    "Rear or trailer axles",
                    "kg",
                    (0, 60000),
                    _AXLE,
                    "Q",
                    guess="weight.scale",
                    on="vehicle",
                ),
                Fact("scale_tag_kg", "Tag axle", "kg", (0, 30000), _AXLE),
            ),
        ),
        Group(
            "Axles and what sits where",
            (
                Fact(
                    "wheelbase_m",
                    "Wheelbase, or hitch to axle",
                    "m",
                    (0.3, 15),
                    (1.5, 9),
                    "Q",
                    when="heavy_bank",
                    guess="weight.wheelbase",
                    on="vehicle",
                ),
                Fact(
                    "rear_overhang_m",
                    "Rear axle to rear edge of roof",
                    "m",
                    (0, 12),
                    (0.3, 5),
                    "Q",
                    when="heavy_bank",
                    guess="weight.wheelbase",
                    on="vehicle",
                    help="From the drive axle; on a trailer from the middle of its axles.",
                ),
                Fact(
                    "tag_spacing_m",
                    "Drive axle to tag axle",
                    "m",
                    (0.3, 5),
                    (1, 1.8),
                    guess="weight.wheelbase",
                    on="vehicle",
                ),
                Fact(
                    "bank_x_m",
                    "Bank",
                    "m",
                    (-5, 30),
                    (0, 14),
                    "Q",
                    when="heavy_bank",
                    guess="weight.places",
                    help="Its middle, behind the front axle, the hitch ball or the pin.",
                ),
                Fact(
                    "equipment_x_m",
                    "Inverter, chargers, controllers",
                    "m",
                    (-5, 30),
                    (0, 14),
                    "Q",
                    when="heavy_bank",
                    guess="weight.places",
                    help="Their middle, measured the same way.",
                ),
                Fact(
                    "gear_x_m",
                    "Wire, mounts and gear",
                    "m",
                    (-5, 30),
                    (0, 14),
                    guess="weight.places",
                    help="Their middle, measured the same way; mostly below the panels.",
                ),
            ),
        ),
        Group(
            "Tanks, people and things",
            (
                Fact("fresh_water_l", "Fresh tank", "L", (0, 5000), (0, 760), "Q", on="vehicle"),
                Fact(
                    "fresh_water_carried_l",
                    "Fresh water carried",
                    "L",
                    (0, 5000),
                    (0, 760),
                    guess="weight.water",
                    help="Blank: a full tank.",
                ),
                Fact("grey_water_l", "Gray tank", "L", (0, 5000), (0, 760), "Q"),
                Fact("black_water_l", "Black tank", "L", (0, 5000), (0, 760), "Q"),
                Fact("lp_gas_kg", "LP gas", "kg", (0, 500), (0, 60), "Q"),
                Fact("people_count", "People", "", (0, 60), (0, 12), is_whole=True),
                Fact(
                    "people_on_board_kg",
                    "People riding in it",
                    "kg",
                    (0, 6000),
                    (0, 1000),
                    guess="weight.people",
                    help="Blank: ‹68 kg|150 lb› each; none in a trailer or camper.",
                ),
                Fact(
                    "customer_cargo_kg",
                    "Personal belongings",
                    "kg",
                    (0, 25000),
                    (0, 3000),
                    guess="weight.cargo",
                ),
            ),
        ),
    ),
)

LOAD_AUDIT: Final = Part(slug="loads", title="Loads", rows=(LOADS,))

TRAVEL: Final = Part(
    slug="travel",
    title="Travel",
    lead="Where, when and how cold. The coldest sunrise, in storage too, sets how many panels can go in"
    " series.",
    groups=(
        Group(
            "Way of traveling",
            (
                Fact("profile", "Way of traveling"),
                Fact("autonomy_days", "Days without charging", "d", (0, 30), (0, 5), guess="bank.autonomy"),
                Fact("design_month", "Month to plan for", help="Blank: the worst month of the places below."),
                Fact(
                    "k_sys",
                    "Left after all losses",
                    "%",
                    (0.01, 1),
                    (0.6, 0.9),
                    is_share=True,
                    help="80% cool winter, 75% in general, 70% to be careful.",
                ),
            ),
        ),
        Group(
            "Coldest and hottest air",
            (
                Fact(
                    "tmin_travel_c",
                    "Coldest while traveling",
                    "°C",
                    (-70, 40),
                    (-50, 15),
                    "S",
                    guess="site.tmin_travel",
                ),
                Fact(
                    "tmin_storage_c",
                    "Coldest in storage",
                    "°C",
                    (-70, 40),
                    (-50, 15),
                    "S",
                    guess="site.tmin_storage",
                    help="Panels make voltage in storage too.",
                ),
                Fact("tmax_c", "Hottest air", "°C", (0, 65), (20, 55), "S", guess="site.tmax"),
            ),
        ),
    ),
    rows=(STOPS,),
)

SITE: Final = Part(
    slug="site",
    title="People and place",
    lead="Who lives with the vehicle, what may be done to it, and where the work happens.",
    groups=(
        Group(
            "Household and permission",
            (
                Fact(
                    "is_household_asked",
                    "Asked about pets, children, living in it and medical needs",
                    need="Q",
                    is_wide=True,
                ),
                Fact("is_lived_in", "Someone lives in it", on="vehicle"),
                Fact("household", "Pets and children", is_wide=True),
                Fact("medical_need", "Medical equipment that must not stop", is_wide=True),
                Fact("roof_warranty_until", "Roof or vehicle warranty until", on="vehicle"),
                Fact(
                    "permission",
                    "Permission letter from the maker",
                    need="Q",
                    help="Drilling may void a roof warranty: ask first.",
                ),
            ),
        ),
        Group(
            "Work place",
            (
                Fact(
                    "site_slope_fraction", "Slope of the ground", "%", (0, 1), (0, 0.10), "I", is_share=True
                ),
                Fact("site_power_a", "Power there", "A", (0, 400), (0, 50), "I"),
                Fact("site_is_sheltered", "Sheltered from rain", need="I"),
                Fact(
                    "site_wires",
                    "Wires overhead",
                    need="I",
                    is_wide=True,
                    help="Which, how high; “none” when none. Keep ‹3 m|10'› away.",
                ),
                Fact(
                    "site_rules", "Campground or site rules", need="I", is_wide=True, help="“none” when none."
                ),
                Fact("work_from_time", "Noise allowed from", need="I"),
                Fact("work_to_time", "Noise allowed to", need="I"),
            ),
        ),
        Group(
            "This survey",
            (
                Fact("surveyed_by_name", "Surveyed by"),
                Fact("surveyed_on_date", "On"),
                Fact("photos_taken", "Photos taken", need="Q", is_wide=True),
                Fact("notes", "Notes", is_wide=True),
            ),
        ),
    ),
)

PARTS: Final = {
    part.slug: part for part in (ROOF, ROOF_THINGS, WIRE, POWER, WEIGHT, LOAD_AUDIT, TRAVEL, SITE)
}

#: Photos every survey needs.
PHOTOS: Final = (
    ("sides", "Four sides"),
    ("roof", "Roof, front to rear, overlapping"),
    ("obstacles", "Each thing on the roof"),
    ("soft_spots", "Each soft spot"),
    ("rafters", "How the rafters were found"),
    ("battery_bay", "Battery bay"),
    ("dc_panel", "DC panel, open"),
    ("converter", "Converter plate"),
    ("gear_space", "Cabinet for the new gear"),
    ("ceiling", "Ceiling stains"),
    ("vin", "VIN"),
    ("weight_label", "Weight label"),
    ("tyre_placard", "Tire placard"),
    ("odometer", "Odometer"),
)
