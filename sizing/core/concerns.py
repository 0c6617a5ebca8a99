"""What each kind of check is about: who gets hurt, who can decide, what several share, what to do about it.

One table by the last word of a check's key (``circuit:C2/ampacity`` is ``ampacity``), so that a new check is
one line here. A check that fills ``danger``, ``audience``, ``cause`` or ``action`` itself wins over the line.
Who gets hurt is common practice in the trade, no source; the worse of two readings is taken.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from sizing.core.checks import UNPROVEN_LIMIT, Audience, Check, Danger

_PEOPLE, _EQUIPMENT, _MONEY = Danger.PEOPLE, Danger.EQUIPMENT, Danger.MONEY
_CUSTOMER = Audience.CUSTOMER


class Seek(StrEnum):
    """How a missing fact is found."""

    MEASURE = "measure"  # on the vehicle
    ASK = "ask"  # the customer
    LOOK_UP = "look_up"  # data sheet, marking, the maker
    DECIDE = "decide"  # at the desk, in the design

    @property
    def label(self) -> str:
        """Return it as the beginning of a sentence."""
        return _SEEK_WORDS[self][0]

    @property
    def infinitive(self) -> str:
        """Return what is to be done with a fact: ``to measure``."""
        return _SEEK_WORDS[self][1]


_SEEK_WORDS: Final = {
    Seek.MEASURE: ("Measure on the vehicle", "to measure"),
    Seek.ASK: ("Ask the customer", "to ask for"),
    Seek.LOOK_UP: ("Look up on the data sheet or the marking", "to look up"),
    Seek.DECIDE: ("Enter in the design", "to enter"),
}


@dataclass(frozen=True, slots=True)
class Concern:
    """What a check is about.

    ``together`` names several checks of one cause (``{n}`` is their number; blank: by their titles),
    ``cause`` is the id they share;
    ``seek`` says how a fact that such a check lacks is found.
    """

    danger: Danger
    together: str
    action: str
    cause: str = ""
    audience: Audience = Audience.DESK
    seek: Seek = Seek.LOOK_UP


#: A check nobody listed: shown as dangerous and to the desk, so that it can hide nowhere.
UNLISTED: Final = Concern(_PEOPLE, "", "Look at it.")

_OF_CIRCUITS: Final = {
    "ampacity": Concern(
        _PEOPLE, "Ampacity of {n} circuits", "Take a larger cable or a cooler way.", seek=Seek.DECIDE
    ),
    "terminals": Concern(
        _PEOPLE,
        "Terminals of {n} circuits",
        "Take a larger cable or terminals rated for more heat.",
        seek=Seek.DECIDE,
    ),
    "feeds": Concern(  # one line with what an office finds missing besides
        _PEOPLE, "", "Add these circuits to the schedule.", cause="complete", seek=Seek.DECIDE
    ),
    "smallest": Concern(_EQUIPMENT, "Cable too thin in {n} circuits", "Take a cable of a permitted size."),
    "parallel": Concern(_PEOPLE, "Parallel cables in {n} circuits", "Take one larger cable instead."),
    "run_len": Concern(
        _EQUIPMENT,
        "Length of {n} circuits",
        "Pull a string through and measure.",
        cause="lengths",
        seek=Seek.MEASURE,
    ),
    "drop": Concern(
        _MONEY, "Voltage drop of {n} circuits", "Take a larger cable or a shorter way.", seek=Seek.MEASURE
    ),
    "pv_drop": Concern(
        _MONEY,
        "Drop of both legs of the array at {n} controllers",
        "Take a larger cable or a shorter way.",
        cause="drop",
        seek=Seek.MEASURE,
    ),
    "arrival": Concern(
        _EQUIPMENT,
        "Volts arriving in {n} circuits",
        "Take a larger cable or a shorter way.",
        seek=Seek.MEASURE,
    ),
    "protection": Concern(
        _PEOPLE,
        "{n} circuits without a fuse or breaker",
        "Put a fuse or breaker at the source.",
        seek=Seek.DECIDE,
    ),
    "ocpd_rating": Concern(
        _PEOPLE,
        "Ratings of {n} fuses or breakers",
        "Choose fuses or breakers with a rating that fits.",
        seek=Seek.DECIDE,
    ),
    "ocpd_cable": Concern(
        _PEOPLE,
        "{n} fuses or breakers too large for their cable",
        "Use a smaller fuse or a thicker cable.",
        seek=Seek.DECIDE,
    ),
    "ocpd_voltage": Concern(
        _PEOPLE, "Voltage rating of {n} fuses or breakers", "Choose fuses or breakers rated for this voltage."
    ),
    "ocpd_distance": Concern(
        _PEOPLE,
        "{n} fuses or breakers too far from their source",
        "Move it closer, or sheathe the cable all the way.",
        seek=Seek.MEASURE,
    ),
    "interrupting": Concern(
        _PEOPLE,
        "Interrupting rating of {n} fuses or breakers",
        "Choose fuses or breakers that can break this current.",
    ),
    "series_fuse": Concern(_PEOPLE, "Fuses of {n} strings", "Fuse no string above its panel's maximum."),
    "inverter_max_fuse": Concern(
        _PEOPLE, "Largest fuse of {n} inverters", "Keep to the largest fuse the inverter's maker allows."
    ),
    "both_ends": Concern(_PEOPLE, "{n} circuits fed from both ends", "Put a fuse at both ends."),
    "branch_plugs": Concern(
        _PEOPLE, "Branch connectors of {n} controllers", "Join the strings in a combiner."
    ),
    "measured_drop": Concern(
        _PEOPLE, "Measured drop of {n} circuits", "Find the bad joint and make it again.", seek=Seek.MEASURE
    ),
}
_OF_THE_ARRAY: Final = {
    "used": Concern(
        _MONEY,
        "{n} used panels",
        "Replace the weak panel or leave it out.",
        seek=Seek.MEASURE,
    ),
    "cold_voc": Concern(
        _EQUIPMENT,
        "Cold voltage of {n} controllers",
        "Take fewer panels in series or a controller for more volts.",
        cause="cold_voltage",
        seek=Seek.ASK,
    ),
    "cold_voc_methods": Concern(
        _EQUIPMENT,
        "Cold voltage of {n} controllers",
        "Take fewer panels in series or a controller for more volts.",
        cause="cold_voltage",
        seek=Seek.ASK,
    ),
    "hot_start": Concern(
        _MONEY, "Hot voltage of {n} controllers", "Take more panels in series.", "hot_voltage", seek=Seek.ASK
    ),
    "hot_run": Concern(
        _MONEY, "Hot voltage of {n} controllers", "Take more panels in series.", "hot_voltage", seek=Seek.ASK
    ),
    "clip": Concern(
        _MONEY,
        "Array power cut off by {n} controllers",
        "Take a larger controller, or say so in the quote.",
        audience=_CUSTOMER,  # the trade states it in the quote; a test of the quote's document holds it
    ),
    "pv_isc": Concern(
        _EQUIPMENT, "Panel current at {n} controllers", "Take fewer strings or a larger controller."
    ),
    "array_power": Concern(
        _EQUIPMENT, "Array power at {n} controllers", "Take a larger controller or fewer panels."
    ),
    "touch_voltage": Concern(
        _PEOPLE, "Touch voltage at {n} places", "Plan covers, labels and gloves, or wire for fewer volts."
    ),
    "series_mix": Concern(_MONEY, "Mixed panels in {n} strings", "Put panels of one kind in one string."),
    "parallel_mix": Concern(_MONEY, "Unequal strings on {n} controllers", "Give each kind its controller."),
    "fuse": Concern(
        _PEOPLE, "Fuses of {n} strings", "Fuse each string within its panel's maximum.", "series_fuse"
    ),
    "pwm_nominal": Concern(_EQUIPMENT, "Panel voltage on {n} PWM controllers", "Use an MPPT controller."),
    "pwm_power": Concern(_EQUIPMENT, "Panel current on {n} PWM controllers", "Use a larger controller."),
    "pwm_waste": Concern(_MONEY, "Power lost by {n} PWM controllers", "Use an MPPT controller.", "pwm"),
    "pwm_run": Concern(_MONEY, "Power lost by {n} PWM controllers", "Use an MPPT controller.", "pwm"),
    "insulation": Concern(
        _PEOPLE, "Insulation of {n} arrays", "Find the damaged cable before anything is switched on."
    ),
}
_OF_THE_BANK: Final = {
    "autonomy": Concern(
        _MONEY,
        "Days without charging",
        "Take a larger bank or agree on fewer days.",
        audience=_CUSTOMER,
        seek=Seek.ASK,
    ),
    "discharge": Concern(
        _EQUIPMENT, "Current out of the bank", "Take more batteries in parallel or a smaller inverter."
    ),
    "surge": Concern(
        _EQUIPMENT, "Surge out of the bank", "Take more batteries in parallel or a smaller inverter."
    ),
    "series": Concern(_PEOPLE, "Batteries in series", "Wire full rows that make the system's voltage."),
    "main_device": Concern(
        _PEOPLE,
        "Main fuse of the bank",
        "Add the circuit from the battery to its main fuse to the schedule.",
        seek=Seek.DECIDE,
    ),
    "step_down": Concern(_EQUIPMENT, "12 V appliances", "Plan a step-down converter for them."),
    "charge_sum": Concern(
        _PEOPLE, "All chargers together", "Limit a charger, interlock two, or use a larger bank."
    ),
    "cold_charge": Concern(
        _PEOPLE,
        "Temperature of the bank at {n} chargers",
        "Give each charger a stop for a cold bank, or state the one it has.",
        seek=Seek.MEASURE,
    ),
    "profile": Concern(
        _PEOPLE, "Charging voltage of {n} chargers", "Set the voltage the battery's maker asks for."
    ),
    "float": Concern(
        _EQUIPMENT, "Float voltage of {n} chargers", "Set the float the battery's maker asks for."
    ),
    "compensation": Concern(
        _PEOPLE,
        "Temperature compensation of {n} chargers",
        "Switch it off, or take its sensor off: it must be off for lithium.",
    ),
    "equalise": Concern(_PEOPLE, "Equalizing by {n} chargers", "Switch equalize and desulfate off."),
    "alternator": Concern(
        _PEOPLE,
        "Share of the alternator of {n} chargers",
        "Limit the charger, use a smaller one, or measure what the alternator gives idling hot.",
        seek=Seek.MEASURE,
    ),
    "precharge": Concern(
        _EQUIPMENT, "Pre-charge of {n} inverters", "Hold the resistor longer.", seek=Seek.MEASURE
    ),
}
_ENERGY: Final = Concern(
    _MONEY,
    "Sun against use",
    "Add panels, use less, or plan shore power and driving.",
    cause="energy",
    audience=_CUSTOMER,
    seek=Seek.ASK,
)
_WEIGHT: Final = Concern(
    _PEOPLE,
    "Weight in {n} places",
    "Take weight off or move it.",
    cause="weight",
    audience=_CUSTOMER,
    seek=Seek.MEASURE,
)
_FEET: Final = Concern(
    _PEOPLE,
    "Fastening in {n} places",
    "Add feet, or set them on rafters.",
    cause="fastening",
    seek=Seek.MEASURE,
)
_OF_THE_VEHICLE: Final = {
    "harvest": _ENERGY,
    "array_margin": replace(_ENERGY, audience=Audience.DESK),  # a margin the shop keeps
    "cargo_left": _WEIGHT,
    "gvwr": _WEIGHT,
    "weighed": Concern(
        _PEOPLE,
        "Weight of new parts",
        "Enter the weight of each part in the catalog.",
        cause="weight",
        seek=Seek.LOOK_UP,
    ),
    "axles": _WEIGHT,
    "axle": _WEIGHT,
    "hitch_share": _WEIGHT,
    "height": Concern(
        _PEOPLE,
        "Overall height",
        "Tell the driver and put the height on the sheet.",
        audience=_CUSTOMER,
        seek=Seek.MEASURE,
    ),
    "uplift": _FEET,
    "uplift_front": _FEET,
    "feet": _FEET,
    "bond": Concern(_PEOPLE, "Panels held by adhesive", "Add a tether to structure.", seek=Seek.MEASURE),
    "sealed": Concern(_EQUIPMENT, "Sealed holes", "Seal what is open and count again.", seek=Seek.MEASURE),
}
#: Families of keys whose last word goes on with a name: ``reading_voc``, ``axle_front``.
_FAMILIES: Final = {
    "reading": Concern(
        _EQUIPMENT,
        "Readings of {n} strings",
        "Measure again and look for a loose connector.",
        seek=Seek.MEASURE,
    ),
    "alike": Concern(
        _EQUIPMENT,
        "Unequal strings on {n} controllers",
        "Measure again, string by string.",
        seek=Seek.MEASURE,
    ),
    "axle": _WEIGHT,
}
_TABLE: Final = _OF_CIRCUITS | _OF_THE_ARRAY | _OF_THE_BANK | _OF_THE_VEHICLE


def key_word(key: str) -> str:
    """Return the last word of a check's key: ``controller:A/cold_voc`` is ``cold_voc``."""
    return key.rpartition("/")[2].partition(":")[0]


def listed_concern(key: str) -> Concern | None:
    """Return the line of the table for a check's key; ``None`` where nobody wrote one."""
    word = key_word(key)
    return _TABLE.get(word) or _FAMILIES.get(word.partition("_")[0])


def concern_of(check: Check) -> Concern:
    """Return what a check is about: what it says itself, else what the table says of its key.

    Parameters
    ----------
    check : Check
        A judgment, also one of an answer that was stored before checks said this themselves. [-]

    Returns
    -------
    Concern
        Danger, audience, cause and action; a check nobody listed counts as dangerous. [-]

    Raises
    ------
    Nothing
        Any check has one.

    References
    ----------
    .. [1] A table of our own by common practice: who gets hurt, the worse of two readings.
    """
    listed = listed_concern(check.key) or UNLISTED
    own_cause = "" if check.cause == UNPROVEN_LIMIT else check.cause
    return Concern(
        danger=check.danger or listed.danger,
        together=listed.together,
        action=check.action or listed.action,
        cause=own_cause or listed.cause or key_word(check.key),
        audience=check.audience or listed.audience,
        seek=listed.seek,
    )
