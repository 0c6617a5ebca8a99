"""Asks the shade engine about a design, step by step, and shapes its answers for storing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from django.conf import settings

import sizing
from jobs.engine.scene import AS_DESIGNED, Question, scene_json, shade_question, weather_words
from jobs.engine.state import DesignState
from jobs.engine.system import system_input
from jobs.shop.refusals import Refusal

#: Told how far the work is (0 to 1) and what is being done; may raise to stop it.
Progress = Callable[[float, str], None]
#: Grows when the stored answer changes its shape: older answers are then worked out anew.
STORED_VERSION: Final = 2
#: Ranked wirings stored for each controller.
MOST_RANKED: Final = 20
#: Fewer years of weather make no band; ours.
LEAST_YEARS: Final = 5
#: Share of the whole work that the year takes; the rest goes to the wirings.
YEAR_SHARE: Final = 0.5


def string_rules(design: DesignState, question: Question) -> dict[str, Any]:
    """Return by controller which string lengths the sizing rules let stand, and why others may not.

    Only equal strings are looked at. A controller whose design cannot be sized has no rules: its ``problem``
    says why.
    """
    try:
        system = system_input(design.roof, design.system)
        return {
            label: rules_of(system, label, controller["strings"])
            for label, controller in _by_label(question).items()
        }
    except (Refusal, sizing.InputOutOfRange) as problem:
        return {
            label: {"allowed": [], "refused": [], "problem": str(problem)} for label in question["strings"]
        }


def _by_label(question: Question) -> dict[str, dict[str, Any]]:
    wirings = question["scene"]["wirings"]
    controllers = wirings[AS_DESIGNED]["controllers"] if wirings else []
    return dict(zip(question["strings"], controllers, strict=True))


def rules_of(system: sizing.SystemInput, label: str, strings: list[list[str]]) -> dict[str, Any]:
    """Return which lengths of equal strings of a controller's panels may stand, and why others may not."""
    panel_ids = sorted((one for string in strings for one in string), key=int)
    allowed, refused = [], []
    for length in (n for n in range(1, len(panel_ids) + 1) if len(panel_ids) % n == 0):
        checks = _judged(system, label, panel_ids, length)
        shape = shape_words(length, len(panel_ids) // length)
        verdict = sizing.worst(checks)
        why = ", ".join(dict.fromkeys(check.title for check in checks if check.verdict is verdict))
        if verdict is sizing.Verdict.BLOCK:
            refused.append({"shape": shape, "why": why})
        else:
            words = "" if verdict is sizing.Verdict.PASS else why
            allowed.append({"length": length, "shape": shape, "verdict": str(verdict), "why": words})
    return {"allowed": allowed, "refused": refused, "problem": ""}


def shape_words(series: int, parallel: int) -> str:
    """Return the trade's short form: 2S2P."""
    return f"{series}S{parallel}P"


def _judged(
    system: sizing.SystemInput, label: str, panel_ids: list[str], length: int
) -> tuple[sizing.Check, ...]:
    """Return the sizing checks on one controller when its panels stand in strings of this length."""
    others = tuple(one for one in system.strings if one.controller_id != label)
    mine = tuple(
        sizing.StringInput(
            id=f"{label}{start}", controller_id=label, panel_ids=tuple(panel_ids[start : start + length])
        )
        for start in range(0, len(panel_ids), length)
    )
    about = {f"controller:{label}", *(f"string:{one.id}" for one in mine)}
    checks = sizing.plan_for(system, (*others, *mine)).checks
    return tuple(check for check in checks if check.subject in about)


def engine_version() -> str:
    """Return the version of the shade engine and of what is stored of its answers."""
    return f"{sizing.SHADE_ENGINE_VERSION}.{STORED_VERSION}"


def year_inputs(design: DesignState, stop_key: object) -> dict[str, Any]:
    """Return everything a year is worked out from, to be stored beside the answer."""
    question = shade_question(design.roof, design.sun, stop_key)
    inputs = {
        "question": question,
        "scene": scene_json(question),
        "rules": string_rules(design, question),
        "weather": weather_words(question),
    }
    years = weather_years(question)
    return {**inputs, "years": years} if years else inputs


def weather_years(question: Question) -> list[dict[str, str]]:
    """Return the years of weather the shop has for a place; none where they are too few for a band."""
    if not settings.WEATHER_YEARS:
        return []
    where = question["scene"]["location"]
    found = sizing.years_near(settings.WEATHER_YEARS, where["lat"], where["lon"])
    return [{"path": one.path, "format": one.format} for one in found] if len(found) >= LEAST_YEARS else []


def year_answer(inputs: Mapping[str, Any], tell: Progress) -> dict[str, Any]:
    """Return the stored answer: the year of the design, and the ranked wirings of each controller."""
    question, rules = inputs["question"], inputs["rules"]
    tell(0.02, "Reading the roof and its climate")
    scene = sizing.scene_from_json(inputs["scene"])
    tell(0.05, "Every direction of the sun, every panel, every roof object")
    year = sizing.shade_year(scene).to_json()
    year["findings"] = [_renumbered(finding, question) for finding in year["findings"]]
    labels = list(question["strings"])
    rankings = []
    for place, label in enumerate(labels):
        start = YEAR_SHARE + (1 - YEAR_SHARE) * place / len(labels)
        tell(start, f"Wirings of controller {label}")
        rankings.append(_ranking(scene, question, label, rules[label], tell, start, len(labels)))
    answer = {"year": year, "rankings": rankings, "folk": _folk(scene)}
    return {**answer, "band": _band(scene, inputs["years"], tell)} if inputs.get("years") else answer


def _folk(scene: sizing.SceneInput) -> list[str]:
    """Return rules of thumb answered with this roof; only a wiring can be held against them."""
    return [found.sentence for found in sizing.folk_answers(scene)] if scene.wirings else []


def _band(scene: sizing.SceneInput, years: list[dict[str, str]], tell: Progress) -> dict[str, Any]:
    """Return the band of the design's energy over years of weather."""
    heat = scene.weather.heat
    files = [sizing.WeatherFile(path=year["path"], format=year["format"], heat=heat) for year in years]
    return sizing.year_band(scene, files, progress=lambda _: tell(0.99, "Years of weather")).to_json()


def check_answer(inputs: Mapping[str, Any], tell: Progress) -> dict[str, Any]:
    """Return the slow answer: every hour of the year for every heading, nothing put on a grid."""
    tell(0.05, "Every hour of the year, every parking direction")
    return {"check": sizing.shade_check(sizing.scene_from_json(inputs["scene"])).to_json()}


def _renumbered(finding: dict[str, Any], question: Question) -> dict[str, Any]:
    """Return a finding with the string's number in the design; the engine counts them in order."""
    if finding["kind"] != "two_sided_string":
        return finding
    numbers = [number for strings in question["strings"].values() for number in strings]
    place = _wired(question).index(list(finding["panel_ids"]))
    rest = finding["sentence"].removeprefix(f"String {place + 1} ")
    return {**finding, "sentence": f"String {numbers[place]} {rest}"}


def _wired(question: Question) -> list[list[str]]:
    """Return the panels of every string as designed, in the order the engine counts them."""
    return [string for one in _by_label(question).values() for string in one["strings"]]


def _ranking(
    scene: sizing.SceneInput,
    question: Question,
    label: str,
    rules: Mapping[str, Any],
    tell: Progress,
    start: float,
    n_labels: int,
) -> dict[str, Any]:
    """Return every wiring of one controller's panels within its rules, best first."""
    found = {"controller": label, **rules}
    if not rules["problem"] and not rules["allowed"]:
        found["problem"] = "No equal strings of these panels pass the sizing rules on this controller."
    if found["problem"]:
        return found
    alone = _alone(scene, question, label)
    panels = len(alone.panels)
    allowed = [rule["length"] for rule in rules["allowed"]]
    limits = sizing.StringLimits(
        series_min=min(allowed), series_max=max(allowed), strings_max=panels // min(allowed)
    )

    def step(share: float, _words: str) -> bool:
        tell(start + share * (1 - YEAR_SHARE) / n_labels, f"Wirings of controller {label}")
        return True

    ranking = sizing.rank_wirings(alone, limits=limits, top=MOST_RANKED, progress=step).to_json()
    here = sizing.shade_year(alone, detail=False).wirings[0].mean_kwh
    return {**found, **ranking, "designed_kwh": here, "designed": _strings(alone)}


def _alone(scene: sizing.SceneInput, question: Question, label: str) -> sizing.SceneInput:
    """Return the roof with one controller and its panels only: flat panels do not shade one another."""
    place = list(question["strings"]).index(label)
    wiring = scene.wirings[0]
    controller = wiring.controllers[place]
    mine = {one for string in controller.strings for one in string}
    return replace(
        scene,
        panels=tuple(panel for panel in scene.panels if panel.id in mine),
        wirings=(replace(wiring, controllers=(controller,)),),
    )


def _strings(scene: sizing.SceneInput) -> list[list[str]]:
    return [list(string) for string in scene.wirings[0].controllers[0].strings]


def same_strings(one: Iterable[Iterable[str]], other: Iterable[Iterable[str]]) -> bool:
    """Return whether two wirings put the same panels together, in whatever order."""
    return {frozenset(string) for string in one} == {frozenset(string) for string in other}
