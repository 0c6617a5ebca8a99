"""The sizing face: the engineering of a vehicle's solar system, pure and in SI units.

Ask :func:`size_system` for a whole design; the other names answer single questions. Conventions: every
number with a dimension ends in its unit, fractions are 0 to 1, a wire's length is one way, ``None`` is "not
known" and never passes, a bad design is an answer (:class:`Check`) and not an error.

Names are loaded when first used, so that importing the face costs next to nothing; pvlib, pandas, SciPy and
numba are only loaded by the functions that need them. DEVELOPERS.md lists each method with its source.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sizing.advice import Advice as Advice
    from sizing.advice import Remedy as Remedy
    from sizing.advice import air_conditioner_hours_h as air_conditioner_hours_h
    from sizing.advice import energy_advice as energy_advice
    from sizing.ampacity import Ampacity as Ampacity
    from sizing.ampacity import AmpacityStep as AmpacityStep
    from sizing.ampacity import Laying as Laying
    from sizing.ampacity import cable_ampacity as cable_ampacity
    from sizing.battery import ChemistryData as ChemistryData
    from sizing.battery import Range as Range
    from sizing.battery import chemistry_data as chemistry_data
    from sizing.battery import compensated_v as compensated_v
    from sizing.battery import peukert_hours_h as peukert_hours_h
    from sizing.charging import simultaneous_charge_a as simultaneous_charge_a
    from sizing.checks import Bounds as Bounds
    from sizing.checks import Check as Check
    from sizing.checks import Provenance as Provenance
    from sizing.checks import Term as Term
    from sizing.checks import Verdict as Verdict
    from sizing.checks import worst as worst
    from sizing.circuit_kinds import Joint as Joint
    from sizing.circuit_kinds import JointTorque as JointTorque
    from sizing.circuit_kinds import joint_torque as joint_torque
    from sizing.circuits import judge_circuit as judge_circuit
    from sizing.climate import ClimatePoint as ClimatePoint
    from sizing.climate import climate_at as climate_at
    from sizing.cold import cold_verdict as cold_verdict
    from sizing.commissioning import LEAST_IRRADIANCE_W_M2 as LEAST_IRRADIANCE_W_M2
    from sizing.commissioning import LEAST_SUN_W_M2 as LEAST_SUN_W_M2
    from sizing.commissioning import ExpectedReadings as ExpectedReadings
    from sizing.commissioning import Quantity as Quantity
    from sizing.commissioning import expected_by_diode as expected_by_diode
    from sizing.commissioning import expected_readings as expected_readings
    from sizing.commissioning import judge_measured_drop as judge_measured_drop
    from sizing.commissioning import judge_reading as judge_reading
    from sizing.commissioning import judge_strings_alike as judge_strings_alike
    from sizing.conductors import CableStandard as CableStandard
    from sizing.conductors import Conductor as Conductor
    from sizing.conductors import ResistanceBasis as ResistanceBasis
    from sizing.conductors import conductor as conductor
    from sizing.cure import WeatherSpell as WeatherSpell
    from sizing.cure import cure_rate as cure_rate
    from sizing.cure import cured_h as cured_h
    from sizing.cure import hours_until_cured_h as hours_until_cured_h
    from sizing.currents import converter_minimum_a as converter_minimum_a
    from sizing.currents import dc_dc_input_a as dc_dc_input_a
    from sizing.currents import inverter_input_a as inverter_input_a
    from sizing.daily_spread import day_share as day_share
    from sizing.deviation import Deviation as Deviation
    from sizing.deviation import DeviationKind as DeviationKind
    from sizing.deviation import abandoned_holes as abandoned_holes
    from sizing.deviation import compare_checks as compare_checks
    from sizing.deviation import seal_check as seal_check
    from sizing.diode import DiodePoint as DiodePoint
    from sizing.diode import diode_point as diode_point
    from sizing.diode import diode_voc_v as diode_voc_v
    from sizing.first_charge import LEAST_SHARE_OF_CHARGE as LEAST_SHARE_OF_CHARGE
    from sizing.first_charge import expected_charge_a as expected_charge_a
    from sizing.harvest import harvest_wh as harvest_wh
    from sizing.harvest import psh_from_clearness_h as psh_from_clearness_h
    from sizing.inputs import BankInput as BankInput
    from sizing.inputs import Bus as Bus
    from sizing.inputs import ChargeSourceInput as ChargeSourceInput
    from sizing.inputs import Chemistry as Chemistry
    from sizing.inputs import CircuitInput as CircuitInput
    from sizing.inputs import CircuitKind as CircuitKind
    from sizing.inputs import Confidence as Confidence
    from sizing.inputs import ControllerInput as ControllerInput
    from sizing.inputs import ControllerKind as ControllerKind
    from sizing.inputs import InputOutOfRange as InputOutOfRange
    from sizing.inputs import InverterInput as InverterInput
    from sizing.inputs import LoadRow as LoadRow
    from sizing.inputs import OcpdInput as OcpdInput
    from sizing.inputs import PanelSpec as PanelSpec
    from sizing.inputs import PlacedPanel as PlacedPanel
    from sizing.inputs import PlugInput as PlugInput
    from sizing.inputs import RoofInput as RoofInput
    from sizing.inputs import RuleSet as RuleSet
    from sizing.inputs import ShadeHabit as ShadeHabit
    from sizing.inputs import SingleDiode as SingleDiode
    from sizing.inputs import SourceKind as SourceKind
    from sizing.inputs import StringInput as StringInput
    from sizing.inputs import SystemInput as SystemInput
    from sizing.inputs import TravelLeg as TravelLeg
    from sizing.inputs import WeightInput as WeightInput
    from sizing.insulation import InsulationTest as InsulationTest
    from sizing.insulation import insulation_test as insulation_test
    from sizing.insulation import judge_insulation as judge_insulation
    from sizing.jsonio import input_from_dict as input_from_dict
    from sizing.jsonio import input_to_dict as input_to_dict
    from sizing.jsonio import result_from_dict as result_from_dict
    from sizing.jsonio import result_to_dict as result_to_dict
    from sizing.loads import daily_energy as daily_energy
    from sizing.loads import required_bank_wh as required_bank_wh
    from sizing.mechanical import dynamic_pressure_pa as dynamic_pressure_pa
    from sizing.mechanical import foot_utilisation as foot_utilisation
    from sizing.mechanical import screw_withdrawal_n as screw_withdrawal_n
    from sizing.mechanical import uplift_n as uplift_n
    from sizing.module_voltage import ColdVoltage as ColdVoltage
    from sizing.module_voltage import code_table_factor as code_table_factor
    from sizing.module_voltage import cold_voltages as cold_voltages
    from sizing.modules import Contradiction as Contradiction
    from sizing.modules import DiodeFit as DiodeFit
    from sizing.modules import FitFailed as FitFailed
    from sizing.modules import ModuleData as ModuleData
    from sizing.modules import find_modules as find_modules
    from sizing.modules import fit_single_diode as fit_single_diode
    from sizing.modules import module_by_name as module_by_name
    from sizing.modules import panel_from_module as panel_from_module
    from sizing.modules import sheet_contradictions as sheet_contradictions
    from sizing.next_size import NextSize as NextSize
    from sizing.next_size import next_size_up as next_size_up
    from sizing.ocpd import FaultCurrent as FaultCurrent
    from sizing.ocpd import StringFuse as StringFuse
    from sizing.ocpd import bank_fault as bank_fault
    from sizing.ocpd import device_limits_compared as device_limits_compared
    from sizing.ocpd import distance_limit as distance_limit
    from sizing.ocpd import string_fuse as string_fuse
    from sizing.ocpd import string_fuse_methods as string_fuse_methods
    from sizing.plan_types import Growth as Growth
    from sizing.plan_types import PlanAnswer as PlanAnswer
    from sizing.plan_types import RefusedString as RefusedString
    from sizing.plan_types import StringPlan as StringPlan
    from sizing.plans import plan_differences as plan_differences
    from sizing.plans import plan_for as plan_for
    from sizing.plans import string_plans as string_plans
    from sizing.plans import why_not as why_not
    from sizing.precharge import Precharge as Precharge
    from sizing.precharge import judge_precharge as judge_precharge
    from sizing.precharge import precharge_plan as precharge_plan
    from sizing.profiles import profile_rows as profile_rows
    from sizing.results import ENGINE_VERSION as ENGINE_VERSION
    from sizing.results import BankResult as BankResult
    from sizing.results import CircuitRow as CircuitRow
    from sizing.results import ControllerResult as ControllerResult
    from sizing.results import EnergyResult as EnergyResult
    from sizing.results import Figure as Figure
    from sizing.results import MonthHarvest as MonthHarvest
    from sizing.results import PenetrationResult as PenetrationResult
    from sizing.results import ProfileRow as ProfileRow
    from sizing.results import SystemResult as SystemResult
    from sizing.results import WeightResult as WeightResult
    from sizing.rewiring import WireOption as WireOption
    from sizing.rewiring import wire_options as wire_options
    from sizing.rooms import Room as Room
    from sizing.rooms import controller_results as controller_results
    from sizing.rooms import problem_with as problem_with
    from sizing.rooms import room_checks as room_checks
    from sizing.rule_comparison import CircuitComparison as CircuitComparison
    from sizing.rule_comparison import RuleSetAnswer as RuleSetAnswer
    from sizing.rule_comparison import compare_rule_sets as compare_rule_sets
    from sizing.rulesets import StringFuseMethod as StringFuseMethod
    from sizing.rulesets import rule_set_title as rule_set_title
    from sizing.schedule import bay_days as bay_days
    from sizing.shade.band import YearBand as YearBand
    from sizing.shade.band import year_band as year_band
    from sizing.shade.blame import StringBlame as StringBlame
    from sizing.shade.blame import string_blame as string_blame
    from sizing.shade.candidates import SearchStopped as SearchStopped
    from sizing.shade.cells import panel_type_from_sheet as panel_type_from_sheet
    from sizing.shade.cells import panel_type_json as panel_type_json
    from sizing.shade.check import ShadeCheck as ShadeCheck
    from sizing.shade.check import shade_check as shade_check
    from sizing.shade.clock import ShadeDay as ShadeDay
    from sizing.shade.clock import ShadeHour as ShadeHour
    from sizing.shade.clock import clock_moment as clock_moment
    from sizing.shade.clock import shade_day as shade_day
    from sizing.shade.clock import worst_hour as worst_hour
    from sizing.shade.folk import folk_answers as folk_answers
    from sizing.shade.groupings import StringLimits as StringLimits
    from sizing.shade.lay import lay_panels as lay_panels
    from sizing.shade.lay_rules import KeepOut as KeepOut
    from sizing.shade.lay_rules import LayProposal as LayProposal
    from sizing.shade.lay_rules import LayResult as LayResult
    from sizing.shade.lay_rules import LayRules as LayRules
    from sizing.shade.lay_search import LaySearch as LaySearch
    from sizing.shade.live import LiveYear as LiveYear
    from sizing.shade.live import live_year as live_year
    from sizing.shade.maps import BeamMap as BeamMap
    from sizing.shade.maps import beam_lost_map as beam_lost_map
    from sizing.shade.moment import ShadeMoment as ShadeMoment
    from sizing.shade.moment import shade_moment as shade_moment
    from sizing.shade.read_scene import scene_from_file as scene_from_file
    from sizing.shade.read_scene import scene_from_json as scene_from_json
    from sizing.shade.results import SHADE_ENGINE_VERSION as SHADE_ENGINE_VERSION
    from sizing.shade.results import ShadeResult as ShadeResult
    from sizing.shade.scene import SceneError as SceneError
    from sizing.shade.scene import SceneInput as SceneInput
    from sizing.shade.scene import WeatherFile as WeatherFile
    from sizing.shade.threads import use_threads as use_threads
    from sizing.shade.warm import warm_shade as warm_shade
    from sizing.shade.wirings import WiringRanking as WiringRanking
    from sizing.shade.wirings import rank_wirings as rank_wirings
    from sizing.shade.year import shade_year as shade_year
    from sizing.shade.year_files import years_near as years_near
    from sizing.sky import extraterrestrial_kwh_m2 as extraterrestrial_kwh_m2
    from sizing.sky import shadow_length_m as shadow_length_m
    from sizing.sky import solar_elevation_deg as solar_elevation_deg
    from sizing.sky import tilt_gain as tilt_gain
    from sizing.strings import series_maximum as series_maximum
    from sizing.strings import series_minimum as series_minimum
    from sizing.sun import SunPosition as SunPosition
    from sizing.sun import SunTimes as SunTimes
    from sizing.sun import cell_temp_noct_c as cell_temp_noct_c
    from sizing.sun import cell_temp_sapm_c as cell_temp_sapm_c
    from sizing.sun import incidence_deg as incidence_deg
    from sizing.sun import poa_isotropic_w_m2 as poa_isotropic_w_m2
    from sizing.sun import solar_position as solar_position
    from sizing.sun import sun_times as sun_times
    from sizing.system import size_system as size_system
    from sizing.weight import axle_split_kg as axle_split_kg
    from sizing.weight import cargo_left_kg as cargo_left_kg
    from sizing.wire import circular_mils_needed as circular_mils_needed
    from sizing.wire import resistance_ohm_per_m as resistance_ohm_per_m
    from sizing.wire import voltage_drop_v as voltage_drop_v

#: Public names by the module they live in.
_NAMES: dict[str, tuple[str, ...]] = {
    "advice": (
        "Advice",
        "Remedy",
        "air_conditioner_hours_h",
        "energy_advice",
    ),
    "ampacity": (
        "Ampacity",
        "AmpacityStep",
        "Laying",
        "cable_ampacity",
    ),
    "battery": (
        "ChemistryData",
        "Range",
        "chemistry_data",
        "compensated_v",
        "peukert_hours_h",
    ),
    "charging": ("simultaneous_charge_a",),
    "checks": (
        "Bounds",
        "Check",
        "Provenance",
        "Term",
        "Verdict",
        "worst",
    ),
    "circuit_kinds": (
        "Joint",
        "JointTorque",
        "joint_torque",
    ),
    "circuits": ("judge_circuit",),
    "climate": (
        "ClimatePoint",
        "climate_at",
    ),
    "cold": ("cold_verdict",),
    "commissioning": (
        "LEAST_IRRADIANCE_W_M2",
        "LEAST_SUN_W_M2",
        "ExpectedReadings",
        "Quantity",
        "expected_by_diode",
        "expected_readings",
        "judge_measured_drop",
        "judge_reading",
        "judge_strings_alike",
    ),
    "conductors": (
        "CableStandard",
        "Conductor",
        "ResistanceBasis",
        "conductor",
    ),
    "cure": (
        "WeatherSpell",
        "cure_rate",
        "cured_h",
        "hours_until_cured_h",
    ),
    "currents": (
        "converter_minimum_a",
        "dc_dc_input_a",
        "inverter_input_a",
    ),
    "daily_spread": ("day_share",),
    "deviation": (
        "Deviation",
        "DeviationKind",
        "abandoned_holes",
        "compare_checks",
        "seal_check",
    ),
    "diode": (
        "DiodePoint",
        "diode_point",
        "diode_voc_v",
    ),
    "first_charge": (
        "LEAST_SHARE_OF_CHARGE",
        "expected_charge_a",
    ),
    "harvest": (
        "harvest_wh",
        "psh_from_clearness_h",
    ),
    "inputs": (
        "BankInput",
        "Bus",
        "ChargeSourceInput",
        "Chemistry",
        "CircuitInput",
        "CircuitKind",
        "Confidence",
        "ControllerInput",
        "ControllerKind",
        "InputOutOfRange",
        "InverterInput",
        "LoadRow",
        "OcpdInput",
        "PanelSpec",
        "PlacedPanel",
        "PlugInput",
        "RoofInput",
        "RuleSet",
        "ShadeHabit",
        "SingleDiode",
        "SourceKind",
        "StringInput",
        "SystemInput",
        "TravelLeg",
        "WeightInput",
    ),
    "insulation": (
        "InsulationTest",
        "insulation_test",
        "judge_insulation",
    ),
    "jsonio": (
        "input_from_dict",
        "input_to_dict",
        "result_from_dict",
        "result_to_dict",
    ),
    "loads": (
        "daily_energy",
        "required_bank_wh",
    ),
    "mechanical": (
        "dynamic_pressure_pa",
        "foot_utilisation",
        "screw_withdrawal_n",
        "uplift_n",
    ),
    "module_voltage": (
        "ColdVoltage",
        "code_table_factor",
        "cold_voltages",
    ),
    "modules": (
        "Contradiction",
        "DiodeFit",
        "FitFailed",
        "ModuleData",
        "find_modules",
        "fit_single_diode",
        "module_by_name",
        "panel_from_module",
        "sheet_contradictions",
    ),
    "next_size": (
        "NextSize",
        "next_size_up",
    ),
    "ocpd": (
        "FaultCurrent",
        "StringFuse",
        "bank_fault",
        "device_limits_compared",
        "distance_limit",
        "string_fuse",
        "string_fuse_methods",
    ),
    "plan_types": (
        "Growth",
        "PlanAnswer",
        "RefusedString",
        "StringPlan",
    ),
    "plans": (
        "plan_differences",
        "plan_for",
        "string_plans",
        "why_not",
    ),
    "precharge": (
        "Precharge",
        "judge_precharge",
        "precharge_plan",
    ),
    "profiles": ("profile_rows",),
    "results": (
        "BankResult",
        "CircuitRow",
        "ControllerResult",
        "ENGINE_VERSION",
        "EnergyResult",
        "Figure",
        "MonthHarvest",
        "PenetrationResult",
        "ProfileRow",
        "SystemResult",
        "WeightResult",
    ),
    "rewiring": (
        "WireOption",
        "wire_options",
    ),
    "rooms": ("Room", "controller_results", "problem_with", "room_checks"),
    "rule_comparison": (
        "CircuitComparison",
        "RuleSetAnswer",
        "compare_rule_sets",
    ),
    "rulesets": (
        "StringFuseMethod",
        "rule_set_title",
    ),
    "schedule": ("bay_days",),
    "shade.band": ("YearBand", "year_band"),
    "shade.blame": ("StringBlame", "string_blame"),
    "shade.candidates": ("SearchStopped",),
    "shade.cells": ("panel_type_from_sheet", "panel_type_json"),
    "shade.check": ("ShadeCheck", "shade_check"),
    "shade.clock": ("ShadeDay", "ShadeHour", "clock_moment", "shade_day", "worst_hour"),
    "shade.folk": ("folk_answers",),
    "shade.groupings": ("StringLimits",),
    "shade.lay": ("lay_panels",),
    "shade.lay_rules": ("KeepOut", "LayProposal", "LayResult", "LayRules"),
    "shade.lay_search": ("LaySearch",),
    "shade.live": ("LiveYear", "live_year"),
    "shade.maps": ("BeamMap", "beam_lost_map"),
    "shade.moment": ("ShadeMoment", "shade_moment"),
    "shade.read_scene": ("scene_from_file", "scene_from_json"),
    "shade.results": ("SHADE_ENGINE_VERSION", "ShadeResult"),
    "shade.scene": ("SceneError", "SceneInput", "WeatherFile"),
    "shade.threads": ("use_threads",),
    "shade.warm": ("warm_shade",),
    "shade.wirings": ("WiringRanking", "rank_wirings"),
    "shade.year": ("shade_year",),
    "shade.year_files": ("years_near",),
    "sky": (
        "extraterrestrial_kwh_m2",
        "shadow_length_m",
        "solar_elevation_deg",
        "tilt_gain",
    ),
    "strings": (
        "series_maximum",
        "series_minimum",
    ),
    "sun": (
        "SunPosition",
        "SunTimes",
        "cell_temp_noct_c",
        "cell_temp_sapm_c",
        "incidence_deg",
        "poa_isotropic_w_m2",
        "solar_position",
        "sun_times",
    ),
    "system": ("size_system",),
    "weight": (
        "axle_split_kg",
        "cargo_left_kg",
    ),
    "wire": (
        "circular_mils_needed",
        "resistance_ohm_per_m",
        "voltage_drop_v",
    ),
}
_HOME = {name: module for module, names in _NAMES.items() for name in names}

__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    """Return a public name, loading its module on first use."""
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module 'sizing' has no attribute {name!r}")
    value = getattr(importlib.import_module(f"sizing.{home}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOME})
