"""The cautions that go with every result: written once, shown by reports and by the docs."""

CAUTIONS: tuple[str, ...] = (
    "Every result is an estimate, not a flight clearance. It rests on the assumptions and limits "
    "stated beside it: thin lifting surfaces, a straight wake, no compressibility; viscosity, "
    "rotors and stall only as far as the geometry file describes them.",
    "Check a new number against something you know: a hand estimate, a wind-tunnel or a flight "
    "measurement of a craft like yours. A number without its error estimate is worth little.",
    "Expand the envelope step by step. Try each fold setting on the ground, then at a safe height "
    "and a moderate speed; move the tips in small steps, and be ready to fly home in any of them.",
    "A self-locking worm gear is not a brake certificate: wear, grease and vibration unlock it. "
    "Plan for a tip that jams, and for one that swings free.",
    "A craft that the results call stable, or that they say can be held by its rotors, still needs "
    "control laws tested on the bench and in flight.",
    "Spinning rotors cut, and they start without warning: take them off, or stand clear, whenever "
    "the battery is connected.",
    "Lithium batteries burn when damaged, overcharged or discharged too far. The energy that a "
    "result calls usable is what the geometry file says it is; land with a reserve.",
    "Local rules decide where and how you may fly, and qualified people decide whether a craft is "
    "fit to.",
)

SHORT_CAUTION = (
    "An estimate, not a flight clearance: expand the envelope step by step; spinning rotors and "
    "batteries injure; local rules and qualified people decide."
)


def cautions_markdown() -> str:
    """The cautions as a list in Markdown."""
    return "\n".join(f"- {caution}" for caution in CAUTIONS) + "\n"
