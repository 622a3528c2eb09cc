"""The document of a mission study, worked out once."""

from collections.abc import Sequence
from pathlib import Path
from typing import cast

from vlm.description.mission import Leg
from vlm.description.models import Biplane
from vlm.progress import Progress
from vlm.study.kept_answers import TrimTable, kept_answer
from vlm.study.mission.answer import MissionDocument, mission_document
from vlm.study.mission.sensitivity import mission_sensitivity
from vlm.study.mission.study import mission_study


def mission_answer(
    craft: Biplane, legs: Sequence[Leg], table: TrimTable, *, title: str = "",
    report: Progress | None = None, keep: Path | None = None, sensitivity: bool = False,
) -> MissionDocument:  # fmt: skip
    """The document of :func:`vlm.study.mission.study.mission_study`, with its errors.

    With a folder to keep curves in, the mission is flown, so that they stand there.

    Parameters
    ----------
    title : of the mission
    sensitivity : whether it tells what the intervals are made of
    """

    def worked_out() -> dict[str, object]:
        study = mission_study(
            craft, legs, title=title, folds=table.folds, air=table.air, grid=table.grid,
            report=report, keep=keep,
        )  # fmt: skip
        return dict(mission_document(study, mission_sensitivity(study) if sensitivity else None))

    if keep is not None:
        return cast(MissionDocument, worked_out())
    asked = ("mission", list(legs), title, table, sensitivity)
    return cast(MissionDocument, kept_answer(dict, [craft], asked, worked_out))
