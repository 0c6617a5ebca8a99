"""Stored records of an install; one module a noun."""

from checklists.models.checklist import Checklist, SumsTable
from checklists.models.deviation import Deviation, HoldOverride
from checklists.models.device import Device, DevicePin, HeldBatch
from checklists.models.event import StepEvent, is_apart
from checklists.models.kept import KeptEvents
from checklists.models.photo import Photo, Upload
from checklists.models.plan_change import PlanChange
from checklists.models.sheet import JobSheet, SignOff
from checklists.models.shop_text import ShopText
from checklists.models.step import RecordKind, Step

__all__ = [
    "Checklist",
    "Deviation",
    "Device",
    "DevicePin",
    "HeldBatch",
    "HoldOverride",
    "JobSheet",
    "KeptEvents",
    "Photo",
    "PlanChange",
    "RecordKind",
    "ShopText",
    "SignOff",
    "Step",
    "StepEvent",
    "SumsTable",
    "Upload",
    "is_apart",
]
