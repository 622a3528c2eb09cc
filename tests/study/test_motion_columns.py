"""The columns of a motion's history hold what their names say: every number is another one."""

from dataclasses import fields
from types import SimpleNamespace

import numpy as np

from vlm.flight.simulation.bodies import SIDES
from vlm.flight.simulation.history import History
from vlm.study.motion.columns import columns_of

INSTANTS = 3


def numbered() -> SimpleNamespace:
    """A history whose arrays are all unlike, angles given in radians."""
    made, last = SimpleNamespace(), 0.0

    def values(*shape: int) -> np.ndarray:
        nonlocal last
        found = last + 1.0 + np.arange(float(np.prod(shape))).reshape(shape)
        last = float(found.max())
        return found

    by_side = {"folds", "fold_rates", "targets", "worm_torques", "servo_torques", "currents"}
    for one in fields(History):
        if one.name in by_side:
            setattr(made, one.name, {side: values(INSTANTS) for side in SIDES})
        elif one.name == "hinges":
            made.hinges = {"upper_left": values(INSTANTS)}
        elif one.name in ("rates", "thrusts", "asked"):
            setattr(made, one.name, values(INSTANTS, 4 if one.name == "rates" else 2))
        else:
            setattr(made, one.name, values(INSTANTS))
    return made


def test_every_column_holds_what_its_name_says() -> None:
    """A fourth rate, that of a tip, stands in no column."""
    history = numbered()
    plant = SimpleNamespace(rotors=SimpleNamespace(names=("upper", "lower")))
    found = columns_of(plant, history)  # type: ignore[arg-type]
    for name, at in (("roll", 0), ("pitch", 1), ("yaw", 2)):
        np.testing.assert_allclose(
            found[f"{name}_rate_deg_s"], np.degrees(history.rates[:, at]), rtol=1e-12
        )
    for name, values in (
        ("bank", history.bank), ("pitch", history.pitch), ("heading", history.heading),
        ("alpha", history.alpha), ("beta", history.beta), ("stall_margin", history.stall_margin),
    ):  # fmt: skip
        np.testing.assert_allclose(found[f"{name}_deg"], np.degrees(values), rtol=1e-12)
    for side in SIDES:
        np.testing.assert_allclose(
            found[f"commanded_{side}_deg"], np.degrees(history.targets[side]), rtol=1e-12
        )
        assert found[f"servo_torque_{side}_N_m"] is history.servo_torques[side]
        assert found[f"worm_torque_{side}_N_m"] is history.worm_torques[side]
    assert found["north_m"] is history.north
    assert found["height_m"] is history.height
    assert found["hinge_upper_left_N_m"] is history.hinges["upper_left"]
    held = {name: values for name, values in found.items() if name.startswith("thrust")}
    assert len(held) == 2
    for at, values in enumerate(held.values()):
        np.testing.assert_array_equal(values, history.thrusts[:, at])
