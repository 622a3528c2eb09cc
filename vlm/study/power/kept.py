"""The document of a power study, worked out once."""

from typing import cast

from vlm.description.models import Biplane
from vlm.progress import Progress, silent
from vlm.study.kept_answers import kept_answer
from vlm.study.power.results import PowerDocument, power_document
from vlm.study.power.sensitivity import power_sensitivity
from vlm.study.power.study import PowerPlan, power_study


def power_answer(
    craft: Biplane, plan: PowerPlan, progress: Progress = silent, *, sensitivity: bool = False
) -> PowerDocument:
    """The document of :func:`vlm.study.power.study.power_study`, with its errors.

    Parameters
    ----------
    sensitivity : whether it tells what the intervals are made of
    """

    def worked_out() -> dict[str, object]:
        study = power_study(craft, plan, progress)
        return dict(power_document(study, power_sensitivity(study) if sensitivity else None))

    asked = ("power", plan, sensitivity)
    return cast(PowerDocument, kept_answer(dict, [craft], asked, worked_out))
