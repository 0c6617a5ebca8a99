"""Invented panels, batteries and whole designs that several tests ask the engine about."""

from __future__ import annotations

from dataclasses import replace

from sizing import (
    BankInput,
    Bus,
    ChargeSourceInput,
    Chemistry,
    CircuitInput,
    CircuitKind,
    ControllerInput,
    ControllerKind,
    InverterInput,
    LoadRow,
    OcpdInput,
    PanelSpec,
    PlacedPanel,
    RoofInput,
    RuleSet,
    SourceKind,
    StringInput,
    SystemInput,
    TravelLeg,
    WeightInput,
)


def panel(
    name: str,
    pmp_w: float,
    size_m: tuple[float, float, float],
    mass_kg: float,
    volts: tuple[float, float],
    amps: tuple[float, float],
    percent: tuple[float, float],
    fuse_a: float,
    cells: int,
) -> PanelSpec:
    """Return a panel from its data sheet line: Vmp, Voc; Imp, Isc; β and γ in percent per °C."""
    return PanelSpec(
        name=name,
        pmp_w=pmp_w,
        vmp_v=volts[0],
        voc_v=volts[1],
        imp_a=amps[0],
        isc_a=amps[1],
        length_m=size_m[0],
        width_m=size_m[1],
        thickness_m=size_m[2],
        mass_kg=mass_kg,
        beta_voc_fraction_per_c=percent[0] / 100,
        gamma_pmp_fraction_per_c=percent[1] / 100,
        max_series_fuse_a=fuse_a,
        cells_in_series=cells,
    )


P100 = panel("P100", 100, (1.05, 0.54, 0.035), 6.5, (18.6, 22.3), (5.38, 5.80), (-0.29, -0.37), 15, 36)
P200 = panel("P200", 200, (1.49, 0.67, 0.035), 11.5, (20.4, 24.3), (9.80, 10.2), (-0.28, -0.36), 20, 36)
P370 = panel("P370", 370, (1.755, 1.04, 0.035), 19.5, (34.3, 41.0), (10.79, 11.3), (-0.27, -0.35), 20, 60)
P400 = panel("P400", 400, (1.722, 1.134, 0.03), 21.5, (31.0, 37.1), (12.90, 13.8), (-0.26, -0.34), 25, 54)


def loads() -> tuple[LoadRow, ...]:
    """Return what an invented couple uses from spring to fall, given as energy per day."""
    daily_wh = {
        "compressor fridge": (Bus.DC, 650),
        "phantom": (Bus.DC, 360),
        "LED lights": (Bus.DC, 125),
        "water pump": (Bus.DC, 30),
        "roof fan": (Bus.DC, 240),
        "router": (Bus.DC, 290),
        "phones": (Bus.DC, 80),
        "laptop": (Bus.AC, 360),
        "TV": (Bus.AC, 180),
        "coffee maker": (Bus.AC, 180),
        "microwave": (Bus.AC, 260),
    }
    return tuple(LoadRow(name, bus, wh, 1.0, 1.0) for name, (bus, wh) in daily_wh.items())


def placed(kind: PanelSpec, count: int, *, feet: int = 4) -> tuple[PlacedPanel, ...]:
    """Return so many panels in a row on the roof, named p1, p2 …"""
    return tuple(
        PlacedPanel(f"p{i + 1}", kind, 0.6 + i * (kind.length_m + 0.05), 0.3, feet=feet) for i in range(count)
    )


def wired(count: int, ns: int, *, controller_id: str = "A") -> tuple[StringInput, ...]:
    """Return p1 … p<count> in strings of ``ns`` on one controller."""
    names = [f"p{i + 1}" for i in range(count)]
    return tuple(
        StringInput(f"S{i // ns + 1}", controller_id, tuple(names[i : i + ns])) for i in range(0, count, ns)
    )


def controller(limit_v: float = 100, rated_a: float = 50, **more: object) -> ControllerInput:
    """Return an invented MPPT controller."""
    base = ControllerInput("A", f"controller {rated_a:g} A", ControllerKind.MPPT, limit_v, rated_a, 70.0)
    return replace(base, **{"absorb_v": 14.2, "low_t_stop_c": 5.0, **more})  # type: ignore[arg-type]


def lfp_bank(quantity: int, **more: object) -> BankInput:
    """Return an invented bank of 12.8 V 100 Ah lithium batteries."""
    base = BankInput(
        Chemistry.LFP,
        12.8,
        100.0,
        quantity,
        max_charge_a=50.0,
        max_discharge_a=100.0,
        unit_mass_kg=12.7,
        max_peak_discharge_a=200.0,
        maker_absorb_low_v=14.2,
        maker_absorb_high_v=14.6,
    )
    return replace(base, **more)  # type: ignore[arg-type]


def golden() -> SystemInput:
    """Return the reference design: four P200 as 2S2P, 300 Ah of lithium inside, 2 kW inverter, trailer."""
    main_fuse = OcpdInput(250.0, "class T", 125.0, 20_000.0, 0.15)
    return SystemInput(
        rule_set=RuleSet.MARINE_105C,
        v_nominal_v=12.0,
        tmin_travel_c=-5.0,
        tmin_storage_c=-30.0,
        autonomy_days=1.5,
        loads=loads(),
        legs=(TravelLeg("summer north", 45.0, -90.0, (6,), psh_h=6.4),),
        design_month=6,
        panels=placed(P200, 4),
        strings=wired(4, 2),
        controllers=(controller(),),
        bank=lfp_bank(3),
        inverter=InverterInput("inverter 2 kW", 2000.0, 25.0, 8.0, mass_kg=9.0),
        sources=(
            ChargeSourceInput(
                "converter", SourceKind.CONVERTER, "new converter", 45.0, absorb_v=14.4, low_t_stop_c=5.0
            ),
        ),
        circuits=(
            CircuitInput(
                "C2",
                CircuitKind.HOME_RUN,
                7.2,
                serves="controller:A",
                size="10",
                ocpd=OcpdInput(35.0, "gPV", 600.0, 20_000.0),
                on_roof_in_sun=True,
            ),
            CircuitInput("C3", CircuitKind.CONTROLLER_TO_BUS, 1.2, serves="controller:A"),
            CircuitInput(
                "C4", CircuitKind.BATTERY_TO_MAIN_FUSE, 0.15, serves="bank", size="2/0", ocpd=main_fuse
            ),
            CircuitInput(
                "C6", CircuitKind.BUS_TO_INVERTER, 1.2, serves="inverter", size="2/0", ocpd=main_fuse
            ),
            CircuitInput("C10", CircuitKind.CHARGER_TO_BUS, 2.0, serves="source:converter"),
            CircuitInput("C11", CircuitKind.BUS_TO_DC_PANEL, 2.0, serves="load", current_a=40.0),
        ),
        roof=RoofInput(8.0, 2.3, "tpo", overall_height_m=3.5),
        weight=WeightInput(
            label_kg=600.0,
            customer_cargo_kg=160.0,
            fresh_water_kg=150.0,
            added=(("mounts", 9.0), ("cable and gear", 14.0)),
            removed=(("two flooded batteries", 59.0),),
        ),
    )
