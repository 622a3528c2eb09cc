"""Which commands a file can answer, and what each of the others lacks."""

from dataclasses import dataclass

from vlm.description.models import Biplane

TIPS, MASS, ROTORS, PROPULSION = "[upper.tips]", "[mass]", "[[rotors]]", "[propulsion]"
ACTUATOR, SCHEDULE, MISSION = "[actuator]", "[schedule]", "[[mission]]"
DESIGN, LOG = "[design]", "[log]"
POWER = (MASS, ROTORS, PROPULSION)

NEEDS: dict[str, tuple[str, ...]] = {
    "point": (),
    "sweep": (),
    "compare": (),
    "converge": (),
    "view": (),
    "explore": (),
    "report": (),
    "lateral": (MASS,),
    "roll": (MASS, TIPS),
    "hinge": (MASS, TIPS, ACTUATOR),
    "motion": (MASS, TIPS, ACTUATOR),
    "export": (MASS, TIPS, ACTUATOR),
    "power": POWER,
    "schedule": (*POWER, TIPS, SCHEDULE),
    "mission": (*POWER, TIPS, SCHEDULE, MISSION),
    "design": (DESIGN,),
    "log": (LOG,),
}
"""Blocks of the file that a command needs. A mission's legs, and what a design may change, may
come from the command line instead; a log is held against the prediction where power can answer."""


@dataclass(frozen=True)
class CommandAnswer:
    """A command, and the blocks it lacks; none where it can answer."""

    command: str
    lacks: tuple[str, ...]


def command_answers(craft: Biplane) -> tuple[CommandAnswer, ...]:
    """Every command that reads a craft, with what the file lacks for it."""
    present = {
        TIPS: craft.tips, MASS: craft.mass, ROTORS: craft.rotors, PROPULSION: craft.propulsion,
        ACTUATOR: craft.actuator, SCHEDULE: craft.schedule, MISSION: craft.mission,
        DESIGN: craft.design is not None and craft.design.keys, LOG: craft.log,
    }  # fmt: skip
    needs = dict(NEEDS)
    if craft.schedule is not None and craft.schedule.folding_rate_min_deg_s is not None:
        needs |= {name: (*needs[name], ACTUATOR) for name in ("schedule", "mission")}
    if craft.design is not None and craft.design.keys:
        goal = craft.design.goal
        more = () if goal == "span efficiency" else POWER
        needs["design"] = needs["mission"] if goal == "energy" else more
    return tuple(
        CommandAnswer(name, tuple(block for block in blocks if not present[block]))
        for name, blocks in needs.items()
    )
