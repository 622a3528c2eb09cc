"""Reading a mission from a file of its own."""

from pathlib import Path

from pydantic import ValidationError

from vlm.description.files import cut_path, read_text, shipped_folders
from vlm.description.loading import parsed_toml
from vlm.description.mission import MissionFile
from vlm.description.refusals import refusal_text
from vlm.errors import InputRefused, nearest_name

FOLDER = "missions"


def load_mission(path_or_name: str | Path) -> MissionFile:
    """Read a mission file.

    Parameters
    ----------
    path_or_name : path of a TOML file, or the name of one in geometries/missions/

    Raises
    ------
    InputRefused : there is no such file, it is not valid TOML, or it does not describe a mission
    """
    path = _found(Path(path_or_name))
    name = cut_path(path)
    data = parsed_toml(read_text(path), name)
    legs = data.get("mission")
    if isinstance(legs, list):
        data["mission"] = tuple(legs)
    try:
        return MissionFile.model_validate(data, strict=True)
    except ValidationError as error:
        raise InputRefused(refusal_text(error, name)) from None


def _found(path: Path) -> Path:
    if path.is_file():
        return path
    folders = [folder / FOLDER for folder in shipped_folders()]
    if path.name == str(path):
        for folder in folders:
            shipped = folder / f"{path.name.removesuffix('.toml')}.toml"
            if shipped.is_file():
                return shipped
    known = sorted({entry.stem for folder in folders for entry in folder.glob("*.toml")})
    near = nearest_name(path.stem, known)
    hint = f"did you mean {near}?" if near else f"shipped: {', '.join(known) or 'none'}"
    raise InputRefused(f"{cut_path(path)}: there is no such mission file; {hint}")
