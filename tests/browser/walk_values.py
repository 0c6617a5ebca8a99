"""Knows what is typed on the walk: one invented couple, their trailer, and the system designed for it.

Lengths, weights and temperatures are typed as people write them, in either system of units.
"""

from __future__ import annotations

from typing import Any, Final

CUSTOMER: Final = {
    "customer-name": "Nell and Gus Pardee",
    "customer-phone": "+1 303 555 0171",
    "customer-email": "pardee@mail.example",
}
PLATE, VIN = "TRL-2709", "1JT27XA14K0003456"
VEHICLE: Final = {
    "vehicle-kind": "travel_trailer",
    "vehicle-year": "2019",
    "vehicle-make_text": "Junipergate 27 trailer",
    "vehicle-vin": VIN.lower(),
    "vehicle-plate": PLATE.lower(),
    "vehicle-length_m": "27'",
}
JOB: Final = {
    "job-title": "Solar and lithium for long summers",
    "job-asked_for": "Two of us, May to September off the grid. Fridge, lights, internet. No generator.",
    "job-work_place": "Shop bay",
}

ROOF: Final[dict[str, Any]] = {
    "roof_length_m": "25' 11\"",
    "roof_width_m": "7' 2 5/8\"",
    "edge_radius_mm": "60 mm",
    "crown_mm": "1 3/4",
    "slope_front_deg": "0",
    "overall_height_m": "11'",
    "material": "tpo",
    "roof_age_years": "7",
    "deck_thickness_mm": "9.5 mm",
    "guess_deck_thickness_mm": False,
    "rafter_spacing_mm": "16 in",
    "guess_rafter_spacing_mm": False,
    "rafter_kind": "wood",
    "is_front_open": "false",
    "rafter_first_mm": "5 1/2 in",
    "roof_depth_mm": "3 in",
    "max_person_kg": "250 lb",
    "guess_max_person_kg": False,
    "is_walkable": True,
    "is_moisture_checked": True,
}
_THING = (
    "kind", "label", "x_m", "y_m", "length_m", "width_m", "height_m", "height_open_m", "swing", "keep_out_m",
)  # fmt: skip
THINGS: Final = [
    dict(zip(_THING, row, strict=True))
    for row in (
        ("air_conditioner", "Roof cooler", "12'", "28 3/4\"", "42 1/8\"", "29 1/8\"", "13\"", "", "", "6\""),
        ("vent", "Bath vent", "29 1/2\"", "34 1/4\"", "18 1/8", "18 1/8\"", "4\"", "13 3/4\"", "rear", "4\""),
        ("vent", "Front vent", "22' 9 5/8\"", "0,87 m", "0,46 m", "0,46 m", "4\"", "0,35 m", "front", "4\""),
        ("fridge_vent", "Fridge vent", "21 5/8\"", "6' 7/8\"", "22\"", "8\"", "6\"", "", "", "6\""),
        ("plumbing_stack", "Stack", "1.5 m", "1.7 m", "12 cm", "12 cm", "4\"", "", "", "2\""),
        ("antenna", "TV antenna", "7.0 m", "8\"", "12\"", "20\"", "8\"", "8\"", "", "2\""),
        ("ladder", "Ladder", "0", "8\"", "6\"", "20\"", "5\"", "", "", "0"),
    )
]  # fmt: skip
GLAND: Final = {
    "gland_kind": "gland_box",
    "gland_x_m": "3.5 m",
    "gland_y_m": "1.1 m",
    "gland_cavity_mm": "60 mm",
    "gland_screws": "8",
    "cable_holes": "1",
}
LEGS: Final = [
    {"circuit": circuit, "place": place, "length_m": length, "confidence": "measured"}
    for circuit, place, length in (
        ("C1", "roof", "2.4 m"),
        ("C2", "drop", "2.2 m"),
        ("C2", "cabinet", "1.5 m"),
        ("C2", "floor", "3.5 m"),
        ("C3", "cabinet", "1.2 m"),
        ("C4", "cabinet", "0.15 m"),
        ("C5", "cabinet", "0.4 m"),
        ("C6", "cabinet", "1.2 m"),
        ("C7", "cabinet", "0.3 m"),
        ("C10", "floor", "2.2 m"),
        ("C11", "floor", "2.5 m"),
    )
]
POWER: Final[dict[str, Any]] = {
    "v_nominal_v": "12",
    "guess_v_nominal_v": False,
    "battery_is_inside": True,
    "guess_battery_is_inside": False,
    "battery_place": "Pass-through, front left",
    "battery_tmin_c": "41 °F",
    "box_length_m": "35 1/2 in",
    "box_width_m": "19 3/4 in",
    "box_height_m": "13 3/4 in",
    "battery_rest_v": "12.5",
    "parasitic_a": "1.2",
    "tow_plug_v": "13.1",
    "shore_polarity": "good",
    "gfci_trip": "good",
    "guess_existing_items": False,
    "absent_kinds": ["generator"],
}
EQUIPMENT: Final[list[dict[str, Any]]] = [
    {
        "kind": "battery", "name": "Flooded 12 V pair", "quantity": "2", "voltage_v": "12",
        "mass_kg": "59 kg", "fate": "remove", "axle_x_m": "0.5 m", "chemistry": "flooded",
        "capacity_ah": "100",
    },
    {
        "kind": "converter", "name": "Old 45 A converter", "rating_a": "45", "fate": "replace",
        "equalises": True,
    },
    {"kind": "shore", "name": "30 A cord", "rating_a": "30"},
    {"kind": "dc_panel", "name": "DC panel", "rating_a": "30", "spare_ways": "2"},
    {"kind": "ac_panel", "name": "AC panel", "spare_ways": "1", "has_gfci": True},
    {
        "kind": "tow_wire", "name": "Tow charge wire", "fate": "disable", "wire_size": "12 AWG",
        "run_len_m": "11 m", "fuse_a": "30",
    },
]  # fmt: skip
WEIGHT: Final = {
    "gvwr_kg": "3450 kg",
    "uvw_kg": "2720 kg",
    "cargo_label_kg": "1301 lb",
    "cargo_label_type": "occc",
    "scale_ticket_date": "2026-10-30",
    "scale_front_kg": "849 lb",
    "scale_rear_kg": "2640 kg",
    "scale_is_loaded": "true",
    "gawr_front_kg": "1588 kg",
    "gawr_rear_kg": "1588 kg",
    "hitch_limit_kg": "454 kg",
    "rear_overhang_m": "3.6 m",
    "bank_x_m": "1.5 m",
    "equipment_x_m": "1.8 m",
    "gear_x_m": "4.5 m",
    "wheelbase_m": "17' 3/4\"",
    "fresh_water_l": "45 gal",
    "fresh_water_carried_l": "170 L",
    "grey_water_l": "40 gal",
    "black_water_l": "29 gal",
    "lp_gas_kg": "40 lb",
    "people_count": "2",
    "people_on_board_kg": "0",
    "customer_cargo_kg": "160 kg",
}
# The usual rows of this vehicle are taken; these are the numbers changed or added with the customer. The
# seasonal couple: 1 775 Wh a day on DC and 980 Wh on AC.
_LOAD = ("name", "bus", "power_w", "duty_fraction", "hours_per_day", "surge_factor")
LOADS: Final = [
    dict(zip(_LOAD, row, strict=True))
    for row in (
        ("Compressor fridge", "dc", "60", "45", "24", "3"),
        ("Phantom loads: detectors, boards, clocks", "dc", "15", "100", "24", "1"),
        ("LED lights", "dc", "25", "100", "5", "1"),
        ("Water pump", "dc", "75", "100", "0.4", "3"),
        ("Roof vent fan", "dc", "30", "100", "8", "2"),
        ("Cellular router", "dc", "12", "100", "24", "1"),
        ("Phones, tablets, camera", "dc", "40", "100", "2", "1"),
        ("Laptop", "ac", "60", "100", "6", "1"),
        ("TV", "ac", "60", "100", "3", "2"),
        ("Coffee maker", "ac", "900", "100", "0.2", "1"),
        ("Microwave", "ac", "1300", "100", "0.2", "1.3"),
    )
]
TRAVEL: Final[dict[str, Any]] = {
    "profile": "seasonal",
    "autonomy_days": "1.5",
    "design_month": "6",
    "k_sys": "75",
    "tmin_travel_c": "23 °F",
    "tmin_storage_c": "-30 °C",
    "tmax_c": "104 °F",
    "guess_tmax_c": False,
    "guess_stops": False,
}
STOP: Final[dict[str, Any]] = {
    "place": "Hollow Pine camp, 45° N",
    "months": [5, 6, 7, 8, 9],
    "shade_habit": "open",
    "latitude_deg": "45.0",
    "longitude_deg": "-110.5",
    "nights": "100",
    "psh_h": "6.4",
}
SITE: Final[dict[str, Any]] = {
    "is_household_asked": True,
    "household": "One cat.",
    "permission": "not_needed",
    "site_slope_fraction": "1",
    "site_power_a": "15",
    "site_is_sheltered": "true",
    "site_wires": "none",
    "site_rules": "none",
    "work_from_time": "08:00",
    "work_to_time": "18:00",
    "surveyed_by_name": "Alice Test",
    "surveyed_on_date": "2026-11-03",
}

P200, CONTROLLER = "Rigid panel P200, 200 W", "Tracking controller, 50 A"
BATTERY, INVERTER = "LFP battery 12.8 V 100 Ah", "Sine inverter 2000 W, 12 V"
CHARGER = "Lithium converter 45 A"
PANELS: Final = [("6' 4 3/4\"", '7"'), ("16' 1 3/4\"", '7"'), ("1.95 m", "1.36 m"), ("4.92 m", "1.36 m")]
#: What the owner decides about a circuit; the engine proposes the rest.
CIRCUITS: Final = {
    "C2": {
        "size": "10 AWG", "fuse_a": "35", "fuse_family": "PV breaker", "fuse_voltage_v": "150",
        "fuse_interrupting_a": "3000", "bundle_count": "3",
    },
    "C4": {
        "size": "2/0", "fuse_a": "250", "fuse_family": "class T", "fuse_voltage_v": "125",
        "fuse_interrupting_a": "20000", "fuse_distance_m": "6 in",
    },
    "C6": {
        "size": "2/0", "fuse_a": "250", "fuse_family": "class T", "fuse_voltage_v": "125",
        "fuse_interrupting_a": "20000", "fuse_distance_m": "6 in",
    },
}  # fmt: skip
