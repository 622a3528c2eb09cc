"""The scenario of a command: one of the file's, with what the command line overrides."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from vlm.description.keys import dotted
from vlm.description.models import Biplane
from vlm.description.motion import Scenario
from vlm.description.refusals import allowed, shown, unknown_key
from vlm.description.schedule import default_airspeed
from vlm.errors import InputRefused, nearest_name
from vlm.flight.simulation.building import motion_of
from vlm.study.motion.schedule import read_breakpoints

SCHEDULE = "schedule"
"""Word for the schedule that the file's [schedule] gives."""
SCENARIO = ("motion", "scenarios", 0)
"""Where a scenario stands in a file."""
HAPPENINGS = ("to", "fold_schedule", "follows_schedule", "speed_to_m_s", "gust", "jam",
              "let_go", "lost_rotor")  # fmt: skip
"""Keys of which a scenario needs one; folds that a side is commanded, and a battery below 1, are
others."""


def scenario_of(
    craft: Biplane,
    name: str | None,
    keys: Mapping[str, Any],
    options: Mapping[str, str] | None = None,
) -> Scenario:
    """A scenario by name and keys.

    Parameters
    ----------
    name : of one of the file's; None starts from an empty one
    keys : keys that override it
    options : what the user calls a key, where keys are given another way than in the file

    Raises
    ------
    InputRefused : no such scenario, keys that do not go together, or nothing that happens
    """
    given: dict[str, Any] = {"name": name or "motion"}
    if name is not None:
        known = {one.name: one for one in motion_of(craft).scenarios}
        if name not in known:
            nearest = nearest_name(name, known)
            hint = f"did you mean {nearest}?" if nearest else _listed(list(known))
            raise InputRefused(f"{craft.source_name}: it has no scenario {name!r}; {hint}")
        given = known[name].model_dump(exclude_unset=True)
    stated = set(given)
    given |= keys
    given |= _followed(craft, given)
    try:
        scenario = Scenario(**given)
    except ValidationError as error:
        called = {k: v for k, v in (options or {}).items() if k in keys or k not in stated}
        raise InputRefused(_first(error, craft.source_name, called)) from None
    reported = scenario.to_left_deg is not None or scenario.to_right_deg is not None
    happens = reported or any(getattr(scenario, key) for key in HAPPENINGS)
    if scenario.battery == 1.0 and not happens:
        raise InputRefused(
            f"{craft.source_name}: nothing happens; command the tips (--to, --to-left, --to-right,"
            " --follow), or give --speed-to, --gust, --jam, --let-go, --voltage or --lost-rotor,"
            f" or --scenario NAME ({_listed([one.name for one in motion_of(craft).scenarios])})"
        )
    return scenario


def _followed(craft: Biplane, given: Mapping[str, Any]) -> dict[str, Any]:
    """Keys for what tips follow, where it comes as text: pairs, a table, or the word schedule."""
    text = given.get("fold_schedule")
    if not isinstance(text, str):
        return {}
    if text == SCHEDULE:
        return {"follows_schedule": True, "fold_schedule": ()}
    if text.endswith(".csv"):
        first = given.get("airspeed_m_s") or default_airspeed(craft.schedule)
        rises = (given.get("speed_to_m_s") or 0.0) > first
        pairs = read_breakpoints(Path(text), speeding=rises)
        return {"follows_schedule": False, "fold_schedule": pairs}
    return {"follows_schedule": False, "fold_schedule": schedule_of("--follow", text)}


def _listed(names: list[str]) -> str:
    return f"the file's are {', '.join(names)}" if names else "the file has none"


def schedule_of(option: str, text: str) -> list[tuple[float, float]]:
    """Pairs of SPEED:FOLD,SPEED:FOLD.

    Raises
    ------
    InputRefused : not of that form
    """
    try:
        rows = [tuple(float(part) for part in pair.split(":")) for pair in text.split(",")]
        return [(speed, fold) for speed, fold in rows]
    except ValueError:
        raise InputRefused(
            f"{option} = {text}; write SPEED:FOLD,SPEED:FOLD, such as 11:15,15:0,20:-60, or the"
            f" word {SCHEDULE}, or a FILE.csv of schedule --csv"
        ) from None


def _first(error: ValidationError, file: str, called: Mapping[str, str]) -> str:
    """The first thing that is wrong, led by what the user calls it, or by the file and its key."""
    detail = error.errors(include_url=False)[0]
    said = str(detail.get("ctx", {}).get("error", ""))
    key = ".".join(str(step) for step in detail["loc"])
    if not key:
        # Of the words of these messages only keys are named like keys; a test goes through all.
        words = re.split(r"(\w+)", said)
        return f"{file}: scenario: {''.join(called.get(word, word) for word in words)}"
    if detail["type"] == "extra_forbidden":
        in_file = unknown_key((*SCENARIO, *detail["loc"]))
        return f"{file}: {in_file.replace(dotted(SCENARIO), 'scenario', 1)}"
    said = said or allowed(detail, (*SCENARIO, *detail["loc"]))
    option = called.get(str(detail["loc"][0]))
    named = f"{file}: scenario.{key}" if option is None else option
    return f"{named} = {shown(detail['input'])}; {said}"
