"""Which family and rating passes where a circuit's device does not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from sizing.cable.overcurrent import Family, families
from sizing.circuits.circuit_case import Case
from sizing.circuits.circuit_checks import rating_checks
from sizing.circuits.circuit_place import device_checks, highest_v
from sizing.circuits.fault_current import BankLeads
from sizing.circuits.interrupting import asked, kilo
from sizing.core.checks import Check, Verdict
from sizing.core.inputs import OcpdInput
from sizing.core.judge import show

#: Families in the order they are tried: the one least to buy first (common practice, no source).
_ORDER: Final = ("blade", "blade_maxi", "bolt_small", "bolt_large", "post", "class_t")
_ARRAY_ORDER: Final = ("gpv",)
#: Judgments that another device can mend; its distance is mended by moving it.
_OF_DEVICE: Final = (
    "protection",
    "ocpd_rating",
    "ocpd_cable",
    "series_fuse",
    "inverter_max_fuse",
    "ocpd_voltage",
    "interrupting",
)


@dataclass(frozen=True, slots=True)
class DeviceProposal:
    """A device for a circuit whose own does not pass; ``note`` says what it is, or why there is none."""

    family: str = ""
    rating_a: float | None = None
    note: str = ""


NO_PROPOSAL: Final = DeviceProposal()


def device_mends(check: Check) -> bool:
    """Return whether another device in the same place could make a check pass.

    Parameters
    ----------
    check : Check
        A judgment on a circuit. [-]

    Returns
    -------
    bool
        By the last word of its key. [-]

    Raises
    ------
    Nothing
        Any check can be asked about.

    References
    ----------
    .. [1] The judgments a device is chosen by, in this module.
    """
    return check.key.rpartition("/")[2] in _OF_DEVICE


def device_proposal(found: Case, checks: tuple[Check, ...], leads: BankLeads) -> DeviceProposal:
    """Return the first family and rating that passes every judgment of a device, or does better than now.

    Parameters
    ----------
    found : Case
        The circuit with its device as chosen. [-]
    checks : tuple of Check
        What was judged of it. [-]
    leads : BankLeads
        Conductors between batteries and bus. [Ω]

    Returns
    -------
    DeviceProposal
        Empty where the device passes or on line voltage; where the engine proposed the amps, the family
        alone that breaks what can flow there. [A]

    Raises
    ------
    Nothing; where no family of the table will do, the note says what to look for.

    References
    ----------
    .. [1] The families and ratings of the table of devices.
    """
    now = [check for check in checks if device_mends(check)]
    is_fitted = found.choice.ocpd is not None and not found.choice.is_proposed_fuse
    if found.choice.is_proposed_fuse and found.choice.ocpd is not None:
        return DeviceProposal(family=_family_for(found, found.choice.ocpd, leads))
    if found.kind.is_ac or not (is_fitted or found.choice.is_unprotected) or _weight(now) == _NOTHING:
        return NO_PROPOSAL
    fitted = found.choice.ocpd  # judged like those to try: an unknown current is held against either
    best, left = None, _weight(now if fitted is None else _judged(found, fitted, leads))
    for device in _devices(found):
        judged = _judged(found, device, leads)
        if _weight(judged) < left:
            best, left = (device, judged), _weight(judged)
        if left == _NOTHING:
            break
    return _none_fits(found, leads) if best is None else _proposal(*best)


def _family_for(found: Case, device: OcpdInput, leads: BankLeads) -> str:
    """Return the first family made in this rating that breaks what can flow here; empty where none does."""
    ask, need_v, system_v = asked(found, leads), highest_v(found), found.around.system.v_nominal_v
    if ask is None or need_v is None:
        return ""
    for family in (each for key in _ORDER for each in families() if each.key == key):
        breaks_a = family.interrupting_a(system_v)
        is_known = family.interrupting_provenance(system_v).may_pass
        is_made = device.rating_a in family.ratings_a and family.dc_voltage_v >= need_v
        if is_made and is_known and breaks_a is not None and breaks_a >= ask.limit_a:
            return family.words
    return ""


type _Weight = tuple[tuple[int, bool], ...]
_NOTHING: Final[_Weight] = ()


def _weight(checks: list[Check]) -> _Weight:
    """Return the severities of what does not pass, worst first, beyond its limit before not looked up."""
    left = [check for check in checks if check.verdict is not Verdict.PASS]
    weights = [(check.verdict.severity, (check.margin or 0.0) < 0.0) for check in left]
    return tuple(sorted(weights, reverse=True))


def _judged(found: Case, device: OcpdInput, leads: BankLeads) -> list[Check]:
    with_it = replace(found, choice=replace(found.choice, ocpd=device, is_proposed_fuse=False))
    checks = [*rating_checks(with_it, device), *device_checks(with_it, device, leads)]
    return [check for check in checks if device_mends(check)]


def _devices(found: Case) -> Iterator[OcpdInput]:
    """Yield devices to try, in place of the one there; a rating that does is kept."""
    now = found.choice.ocpd
    by_key = {each.key: each for each in families()}
    need_v = highest_v(found)
    for key in _ARRAY_ORDER if found.kind.is_pv else _ORDER:
        family = by_key[key]
        if need_v is not None and family.dc_voltage_v < need_v:
            continue
        for rating_a in _ratings(found, family):
            place = OcpdInput(rating_a) if now is None else now
            yield replace(
                place, rating_a=rating_a, family=family.words, voltage_rating_v=None, interrupting_a=None
            )


def _ratings(found: Case, family: Family) -> Iterator[float]:
    now, fuse = found.choice.ocpd, found.choice.need.string_fuse
    if now is not None and now.rating_a in family.ratings_a:
        yield now.rating_a
    least_a = found.basis.design_a if fuse is None else fuse.min_rating_a
    fitting = None if least_a is None else family.rating_a(least_a)
    if fitting is not None and (now is None or fitting != now.rating_a):
        yield fitting


def _proposal(device: OcpdInput, judged: list[Check]) -> DeviceProposal:
    left = [check for check in judged if check.verdict is not Verdict.PASS]
    words = f"{device.family}, {show(device.rating_a, 'A')}"
    rest = "" if not left else f"; still to be answered: {left[0].title.lower()}"
    return DeviceProposal(device.family, device.rating_a, f"{words}{rest}")


def _none_fits(found: Case, leads: BankLeads) -> DeviceProposal:
    """No family does better: a thicker cable first, or a device marked for more.

    Where the bank is not known it is the bank that is to be found out, not another device.
    """
    parts, volts, ask = [], highest_v(found), asked(found, leads)
    if found.kind.is_battery_fed and ask is None:
        return NO_PROPOSAL
    if found.basis.design_a is not None:
        parts.append(show(found.basis.design_a, "A"))
    if volts is not None:
        parts.append(f"{show(volts, 'V', 1)} DC")
    if ask is not None:
        parts.append(f"interrupting {kilo(ask.limit_a)}")
    if not parts:
        return NO_PROPOSAL
    return DeviceProposal(note=f"no family of the table does better: look for one marked {', '.join(parts)}")
