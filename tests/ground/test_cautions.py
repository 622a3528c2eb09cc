"""The cautions stand once in the code; the README repeats them word for word."""

from pathlib import Path

from vlm.cautions import CAUTIONS, SHORT_CAUTION, cautions_markdown

PROJECT = Path(__file__).parents[2]


def test_the_readme_holds_every_caution_word_for_word() -> None:
    readme = " ".join((PROJECT / "README.md").read_text(encoding="utf-8").split())
    for caution in CAUTIONS:
        assert caution in readme


def test_the_usual_cautions_are_all_there() -> None:
    """What every report has to say, by its key words."""
    text = cautions_markdown()
    for words in ("not a flight clearance", "step by step", "rotors", "batteries", "Local rules"):
        assert words in text
    for words in ("not a flight clearance", "step by step", "rotors", "batteries", "local rules"):
        assert words in SHORT_CAUTION
