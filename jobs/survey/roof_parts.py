"""The roof side of the field sheet: roof, things on it, ways of the wire."""

from __future__ import annotations

from typing import Final

from jobs.survey.facts import Fact, Group, Part
from jobs.survey.rows import OBSTACLES, SOFT_SPOTS, WIRE_LEGS

ROOF: Final = Part(
    slug="roof",
    title="Roof",
    lead="Tape the flat part only: caps, edge radius and gutters do not carry panels.",
    groups=(
        Group(
            "Size",
            (
                Fact("roof_length_m", "Roof length", "m", (0.5, 30), (1.5, 14), "S", guess="roof.length"),
                Fact(
                    "roof_width_m",
                    "Flat width",
                    "m",
                    (0.3, 5),
                    (0.8, 2.6),
                    "S",
                    guess="roof.width",
                    help="Up to where the edge begins to bend.",
                ),
                Fact("edge_radius_mm", "Edge radius", "mm", (0, 1000), (0, 300), "S", guess="roof.edge"),
                Fact(
                    "crown_mm",
                    "Crown",
                    "mm",
                    (0, 1000),
                    (0, 300),
                    "S",
                    guess="roof.crown",
                    help="How much higher the middle is.",
                ),
                Fact("slope_front_deg", "Front slope", "°", (0, 90), (0, 20), "S", guess="roof.slope"),
                Fact(
                    "overall_height_m",
                    "Height now",
                    "m",
                    (0.5, 6),
                    (1.5, 4.3),
                    "S",
                    guess="roof.height",
                    on="vehicle",
                    help="Ground to the highest thing on the roof.",
                ),
                Fact(
                    "height_limit_m",
                    "Warn above",
                    "m",
                    (0.5, 6),
                    (1.5, 4.3),
                    on="vehicle",
                    help="‹3.9 m leaves a hand below the usual 4 m"
                    "|13' 3\" leaves a hand below the usual 13' 6\"›.",
                ),
            ),
        ),
        Group(
            "Skin and structure",
            (
                Fact(
                    "material",
                    "Roof material",
                    need="Q",
                    guess="roof.material",
                    help="Test it: after a re-roof the sticker may be wrong. While it is unknown, all"
                    " sealing work stays locked.",
                ),
                Fact("roof_age_years", "Roof age, years", "", (0, 120), (0, 50), "Q", guess="roof.age"),
                Fact("is_coated", "Coated over"),
                Fact("has_backing", "Factory backing plates marked"),
                Fact(
                    "deck_thickness_mm",
                    "Deck thickness",
                    "mm",
                    (0, 100),
                    (0, 25),
                    "Q",
                    guess="roof.deck",
                    help="Look at a vent's cut edge.",
                ),
                Fact(
                    "rafter_spacing_mm",
                    "Rafter spacing",
                    "mm",
                    (50, 3000),
                    (200, 1200),
                    "Q",
                    guess="roof.rafters",
                    help="Stud magnet on the screws; photograph the marks.",
                ),
                Fact("rafter_kind", "Rafter material", need="Q", guess="roof.rafters"),
                Fact(
                    "rafter_first_mm",
                    "First rafter",
                    "mm",
                    (0, 5000),
                    (0, 1200),
                    help="From the rear edge.",
                ),
                Fact("roof_depth_mm", "Skin to ceiling", "mm", (0, 1000), (40, 150)),
                Fact("prior_repairs", "Earlier repairs", is_wide=True),
                Fact(
                    "wires_in_roof",
                    "Wires or ducts in the roof",
                    is_wide=True,
                    help="Not known: drill with a stop collar at ‹20 mm|3/4 in›.",
                ),
            ),
        ),
        Group(
            "Wind and fastening",
            (
                Fact(
                    "is_front_open",
                    "Front panels face open wind",
                    need="Q",
                    guess="roof.front",
                    help="No deflector, cap or air conditioner ahead of them breaks it.",
                ),
                Fact(
                    "foot_screw",
                    "Screw of the feet",
                    guess="roof.screw",
                    help="#14 and 1/4 in are usual. Never rivets alone.",
                ),
                Fact(
                    "screws_per_rafter_foot",
                    "Screws of each foot that bite the rafter",
                    "",
                    (0, 20),
                    (1, 6),
                    is_whole=True,
                ),
            ),
        ),
        Group(
            "Standing room and clearances",
            (
                Fact("is_walkable", "May be walked on"),
                Fact(
                    "max_person_kg",
                    "Largest person on it",
                    "kg",
                    (0, 1000),
                    (0, 300),
                    "I",
                    guess="roof.max_person",
                ),
                Fact("walkway_width_mm", "Walkway width", "mm", (0, 2600), (300, 1000)),
                Fact("edge_clearance_mm", "Free at the sides", "mm", (0, 2600), (0, 500)),
                Fact("front_clearance_mm", "Free at the front", "mm", (0, 5000), (0, 1500)),
            ),
        ),
        Group(
            "Wet wood",
            (
                Fact(
                    "is_moisture_checked",
                    "Whole roof pressed by hand and checked with a moisture meter",
                    need="Q",
                    help="Tick when done, also when nothing was found.",
                ),
            ),
        ),
    ),
    rows=(SOFT_SPOTS,),
)

ROOF_THINGS: Final = Part(slug="obstacles", title="On the roof", rows=(OBSTACLES,))

WIRE: Final = Part(
    slug="wire",
    title="Wire routes",
    lead="Where the cable goes through the roof, and the route each circuit takes inside.",
    groups=(
        Group(
            "Entry gland",
            (
                Fact("gland_kind", "Entry type"),
                Fact("gland_x_m", "Gland from rear edge", "m", (0, 30), (0, 14), "S", guess="gland"),
                Fact("gland_y_m", "Gland from right edge", "m", (0, 5), (0, 2.6), "S", guess="gland"),
                Fact(
                    "gland_cavity_mm",
                    "Clear depth below the gland",
                    "mm",
                    (0, 2000),
                    (0, 500),
                    "S",
                    guess="gland.cavity",
                ),
                Fact("gland_screws", "Screws of the box", "", (0, 100), (0, 24), is_whole=True),
                Fact("cable_holes", "Cable holes", "", (0, 50), (1, 8), is_whole=True),
                Fact("cable_od_mm", "Cable outside diameter", "mm", (0, 100), (3, 25)),
                Fact("gland_low_mm", "Gland seals from", "mm", (0, 100), (2, 25)),
                Fact(
                    "gland_high_mm",
                    "Gland seals up to",
                    "mm",
                    (0, 100),
                    (2, 40),
                    help="Glands seal on round cable, one each.",
                ),
            ),
        ),
    ),
    rows=(WIRE_LEGS,),
)
