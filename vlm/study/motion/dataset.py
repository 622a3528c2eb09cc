"""The histories of a motion as a labelled dataset."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

import vlm
from vlm.cautions import SHORT_CAUTION
from vlm.plain import as_document
from vlm.quantities import SUFFIX_UNITS, unit_of
from vlm.study.motion.results import MotionStudy
from vlm.study.sweep.dataset import save_dataset

if TYPE_CHECKING:
    import xarray as xr

WORDS = {
    "bank_deg": "bank, starboard down",
    "pitch_deg": "pitch attitude, nose up",
    "heading_deg": "change of heading, to starboard",
    "alpha_deg": "angle of attack",
    "beta_deg": "sideslip, wind from starboard",
    "airspeed_m_s": "airspeed",
    "north_m": "way of the centre of gravity ahead of the start",
    "east_m": "way of the centre of gravity to starboard of the start",
    "height_m": "height of the centre of gravity above the start",
    "load_factor": "load factor along the body's -z axis",
    "stall_margin_deg": "angle left to stall in the strip nearest to it",
    "stalled_share": "share of the wings' area past stall",
}
LEADS = (("fold_rate_", "folding speed"), ("fold_", "fold"),
         ("commanded_", "fold that is commanded"),
         ("worm_torque_", "torque that keeps the worm turning, one servo, of"),
         ("servo_torque_", "torque of one servo of"), ("current_", "current of the servos of"),
         ("hinge_", "moment of gear and stop on the tip, positive raising,"),
         ("thrust_", "thrust of rotor"), ("roll_rate", "roll rate, body axes"),
         ("pitch_rate", "pitch rate, body axes"), ("yaw_rate", "yaw rate, body axes"))  # fmt: skip


def motion_dataset(study: MotionStudy) -> "xr.Dataset":
    """Histories over ``time_s``, with the answer among the attributes."""
    import xarray as xr

    data = {
        name: ("time_s", values, {"long_name": words_of(name), "units": unit_of(name) or "1"})
        for name, values in study.history.items()
        if name != "time_s"
    }
    time = ("time_s", study.history["time_s"], {"long_name": "time", "units": "s"})
    document = study.document()
    attributes = {
        "title": study.title,
        "scenario": study.scenario,
        "source": f"foldspan {vlm.__version__}",
        "caution": SHORT_CAUTION,
        "airspeed_m_s": study.state["airspeed_m_s"],
        "density_kg_m3": study.state["density_kg_m3"],
        "assumptions": "; ".join(study.assumptions),
    }
    attributes |= {
        name: json.dumps(as_document(document[name]))
        for name in ("state", "modelling", "start", "sides", "peaks", "limits")
    }
    return xr.Dataset(data, {"time_s": time}, attributes)


def words_of(name: str) -> str:
    """What a history is."""
    if name in WORDS:
        return WORDS[name]
    for lead, words in LEADS:
        if name.startswith(lead):
            rest = name.removeprefix(lead)
            for ending in SUFFIX_UNITS:
                rest = rest.removesuffix(f"_{ending}")
            return f"{words} {rest.replace('_', ' ')}".strip()
    return name


def save_motion(study: MotionStudy, path: Path) -> None:
    """Write the dataset.

    Raises
    ------
    InputRefused : the ending or the folder is wrong
    """
    save_dataset(motion_dataset(study), path)
