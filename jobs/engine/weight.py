"""What a vehicle and its survey say of weight, as the sizing face asks it: label, ratings, scale, places."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import sizing
from jobs.models import Design, ExistingItem, RuleSetChoice, Survey, Vehicle

#: A person as seat and label rules count one (150 lb, FMVSS 110 S4.3.2 label figure). [kg]
PERSON_KG: Final = 68.0
_GONE: Final = frozenset({ExistingItem.Fate.REMOVE, ExistingItem.Fate.REPLACE})
GEAR: Final = "wire, mounts and gear"


def weight_input(design: Design, survey: Survey, vehicle: Vehicle) -> sizing.WeightInput:
    """Return the weight ledger of a design; what nobody wrote down stays unknown."""
    water_l = survey.fresh_water_carried_l
    if water_l is None:
        water_l = vehicle.fresh_water_l or 0.0
    is_off = _water_is_taken_off(survey, vehicle)
    axle_limit_kg, front_limit_kg = _limits_kg(vehicle)
    return sizing.WeightInput(
        label_kg=vehicle.cargo_label_kg,
        label_type="occc" if is_off is False else "ccc",
        is_label_undated=is_off is None,
        fresh_water_kg=water_l,
        people_kg=people_kg(survey, vehicle),
        customer_cargo_kg=survey.customer_cargo_kg or 0.0,
        lp_gas_kg=survey.lp_gas_kg,
        waste_tanks_kg=(survey.grey_water_l or 0.0) + (survey.black_water_l or 0.0),
        added=((GEAR, design.gear_mass_kg),) if design.gear_mass_kg else (),
        removed=tuple((str(item), item.mass_kg or 0.0) for item in _removed(survey)),
        mass_points=tuple(_points(design, survey)),
        gvwr_kg=vehicle.gvwr_kg,
        uvw_kg=vehicle.uvw_kg,
        front_limit_kg=front_limit_kg,
        rear_limit_kg=axle_limit_kg,
        tag_limit_kg=vehicle.gawr_tag_kg,
        front_kg=vehicle.scale_front_kg,
        rear_kg=vehicle.scale_rear_kg,
        tag_kg=survey.scale_tag_kg,
        is_weighed_loaded=vehicle.scale_is_loaded,
        hitch=hitch_of(vehicle, design.rule_set),
        wheelbase_m=vehicle.wheelbase_m,
        tag_spacing_m=vehicle.tag_spacing_m,
        rear_edge_x_m=_rear_edge_x_m(vehicle),
        bank_x_m=survey.bank_x_m,
        equipment_x_m=survey.equipment_x_m,
    )


def people_kg(survey: Survey, vehicle: Vehicle) -> float:
    """Return the mass of the people who ride in this vehicle [kg]; none where it is towed or carried."""
    if survey.people_on_board_kg is not None:
        return survey.people_on_board_kg
    if vehicle.is_towed or vehicle.kind == Vehicle.Kind.TRUCK_CAMPER:
        return 0.0
    return survey.people_count * PERSON_KG


def hitch_of(vehicle: Vehicle, rule_set: str) -> str:
    """Return what a trailer hangs on: as written down, else by its kind and the rules of the job."""
    if not vehicle.is_towed:
        return ""
    if vehicle.hitch:
        return str(vehicle.hitch)
    if vehicle.kind == Vehicle.Kind.FIFTH_WHEEL:
        return str(Vehicle.Hitch.PIN)
    is_european = rule_set == RuleSetChoice.METRIC
    return str(Vehicle.Hitch.CARAVAN if is_european else Vehicle.Hitch.TONGUE)


def _water_is_taken_off(survey: Survey, vehicle: Vehicle) -> bool | None:
    return sizing.water_is_taken_off(
        wording=vehicle.cargo_label_type,
        dated=survey.cargo_label_date,
        model_year=vehicle.year,
        is_towed=vehicle.is_towed,
    )


def _limits_kg(vehicle: Vehicle) -> tuple[float | None, float | None]:
    """Return the rating of the rear axle and of the front one; of a trailer of all axles and of the hitch."""
    if not vehicle.is_towed:
        return vehicle.gawr_rear_kg, vehicle.gawr_front_kg
    axles = [kg for kg in (vehicle.gawr_front_kg, vehicle.gawr_rear_kg) if kg is not None]
    return (sum(axles) if axles else None), vehicle.hitch_limit_kg


def _rear_edge_x_m(vehicle: Vehicle) -> float | None:
    if vehicle.wheelbase_m is None or vehicle.rear_overhang_m is None:
        return None
    return vehicle.wheelbase_m + vehicle.rear_overhang_m


def _removed(survey: Survey) -> Iterable[ExistingItem]:
    return (item for item in survey.existing_items.all() if item.fate in _GONE and item.mass_kg)


def _points(design: Design, survey: Survey) -> Iterator[tuple[str, float, float]]:
    """Yield what is listed by hand and has a place: gear, and what comes off as a negative mass."""
    if design.gear_mass_kg and survey.gear_x_m is not None:
        yield GEAR, design.gear_mass_kg, survey.gear_x_m
    for item in _removed(survey):
        if item.axle_x_m is not None:
            yield str(item), -(item.mass_kg or 0.0), item.axle_x_m
