"""The stored nouns of the jobs app; one file a noun."""

from jobs.models.customer import Customer
from jobs.models.design import (
    Design,
    DesignBank,
    DesignCircuit,
    DesignController,
    DesignInverter,
    DesignPanel,
    DesignSource,
    DesignString,
    SizingRun,
)
from jobs.models.job import Job, JobMove
from jobs.models.lay import LayRun
from jobs.models.ledger import Invoice, LedgerCount, Payment
from jobs.models.mail import OutboxMail
from jobs.models.noted import NotedCheck
from jobs.models.offer import CustomerMessage, Offer
from jobs.models.part import (
    BatterySheet,
    CableSheet,
    ChargerSheet,
    ControllerSheet,
    InverterSheet,
    PanelSheet,
    Part,
    ProtectionSheet,
)
from jobs.models.price_book import KitItem, Package, PriceChange, ScopeText, Supplier, TaskHours, TaxRate
from jobs.models.quote import (
    ChangeOrder,
    ChangeOrderLine,
    GuestLink,
    LineKind,
    LostReason,
    PhaseChoice,
    Quote,
    QuoteLine,
    ScopeItem,
)
from jobs.models.roof_photo import RoofPhoto
from jobs.models.schedule import Bay, Booking, CalendarLink, HeldDay
from jobs.models.scope import ShopOwned, ShopQuerySet
from jobs.models.shade import ShadeRun
from jobs.models.shop import LogEntry, Membership, RuleSetChoice, Shop, ShopLogo
from jobs.models.survey import ConfidenceChoice, Survey
from jobs.models.survey_rows import ExistingItem, LoadItem, Obstacle, SoftSpot, TravelStop, WireLeg
from jobs.models.table_run import TableRun
from jobs.models.vehicle import Vehicle

__all__ = [
    "BatterySheet",
    "Bay",
    "Booking",
    "CableSheet",
    "CalendarLink",
    "ChangeOrder",
    "ChangeOrderLine",
    "ChargerSheet",
    "ConfidenceChoice",
    "ControllerSheet",
    "Customer",
    "CustomerMessage",
    "Design",
    "DesignBank",
    "DesignCircuit",
    "DesignController",
    "DesignInverter",
    "DesignPanel",
    "DesignSource",
    "DesignString",
    "ExistingItem",
    "GuestLink",
    "HeldDay",
    "InverterSheet",
    "Invoice",
    "Job",
    "JobMove",
    "KitItem",
    "LayRun",
    "LedgerCount",
    "LineKind",
    "LoadItem",
    "LogEntry",
    "LostReason",
    "Membership",
    "NotedCheck",
    "Obstacle",
    "Offer",
    "OutboxMail",
    "Package",
    "PanelSheet",
    "Part",
    "Payment",
    "PhaseChoice",
    "PriceChange",
    "ProtectionSheet",
    "Quote",
    "QuoteLine",
    "RoofPhoto",
    "RuleSetChoice",
    "ScopeItem",
    "ScopeText",
    "ShadeRun",
    "Shop",
    "ShopLogo",
    "ShopOwned",
    "ShopQuerySet",
    "SizingRun",
    "SoftSpot",
    "Supplier",
    "Survey",
    "TableRun",
    "TaskHours",
    "TaxRate",
    "TravelStop",
    "Vehicle",
    "WireLeg",
]
