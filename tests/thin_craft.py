"""A craft with thin sections, for tests whose matter is not what sections change: those take strip
by strip most of the time of a study. And one that names fewer configurations: moves between them
take half of a study of hinges."""

from pathlib import Path

from vlm.description import load_biplane
from vlm.description.models import Biplane
from vlm.description.sections import Section


def thin(name: str) -> Biplane:
    """A shipped craft whose sections neither drag nor stall."""
    craft = load_biplane(name)
    section = Section(form="thin", cd_least=0.0, cd_rise=0.0)
    return craft.model_copy(update={"sections": dict.fromkeys(craft.sections, section)})


def thin_file(name: str, folder: Path) -> str:
    """The same as a file in a folder."""
    path = folder / f"thin_{name}.toml"
    path.write_text(thin(name).to_toml(), encoding="utf-8")
    return str(path)


def naming(craft: Biplane, *names: str) -> Biplane:
    """A craft with these of its configurations alone."""
    kept = {name: craft.configurations[name] for name in names}
    return craft.model_copy(update={"configurations": kept, "log": None})
