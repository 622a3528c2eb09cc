"""The blades' section tried on propellers that were not used to choose it.

Source: as tests/power/test_measured_rotors.py. The numbers of the section are chosen again, by
least squares, on three of the four propellers, and the fourth is worked out with them. What comes
out stands on docs/validation.md.
"""

from dataclasses import astuple
from pathlib import Path

import measured_rotors
import numpy as np
import pytest
from measured_rotors import research_propellers
from scipy.optimize import least_squares

from vlm.power.blade_section import BladeSection

SIZES = np.abs(astuple(BladeSection())) + 0.02
EVERY = 3
"""Of the rows of a propeller that choose, so many are passed over."""


def errors(
    tested: measured_rotors.Tested, section: BladeSection, folder: Path, *, turned: bool
) -> np.ndarray:
    """Relative errors of thrust and power at the measured speed, shape (rows, 2)."""
    rows, polar = tested.loaded, section.polar()
    blades = measured_rotors.element_blades(tested, folder, turned=turned, polar=polar)
    thrust, power = measured_rotors.by_elements(rows, blades, rows.ratio, rows.turns)
    return np.column_stack([thrust / rows.thrust - 1.0, power / rows.power - 1.0])


def chosen_on(propellers: list[measured_rotors.Tested], folder: Path) -> BladeSection:
    """The section that meets some propellers best, from a start a tenth off in every number."""
    few = [thinned(tested) for tested in propellers]

    def left(change: np.ndarray) -> np.ndarray:
        section = BladeSection(*(np.array(astuple(BladeSection())) + change * SIZES))
        return np.concatenate(
            [errors(one, section, folder, turned=True).ravel() / len(one.ratio) ** 0.5
             for one in few]
        )  # fmt: skip

    start = 0.1 * np.resize([1.0, -1.0], len(SIZES))
    found = least_squares(left, start, loss="soft_l1", f_scale=0.01, max_nfev=12, bounds=(-0.8, 2))
    return BladeSection(*(np.array(astuple(BladeSection())) + found.x * SIZES))


def thinned(tested: measured_rotors.Tested) -> measured_rotors.Tested:
    """Some rows of a propeller, its last ones kept for the advance ratio without thrust."""
    ratio_there = tested.no_thrust
    kept = np.zeros(len(tested.ratio), dtype=bool)
    kept[::EVERY] = True
    kept |= tested.ratio > 0.85 * ratio_there
    return measured_rotors.Tested(
        tested.name, tested.stations, tested.diameter, tested.turns[kept], tested.ratio[kept],
        tested.thrust[kept], tested.power[kept],
    )  # fmt: skip


@pytest.mark.slow
def test_a_propeller_left_out_is_met_about_as_well(tmp_path: Path) -> None:
    found = {}
    for tested in research_propellers():
        others = [one for one in research_propellers() if one is not tested]
        section = chosen_on(others, tmp_path)
        sizes = np.abs(errors(tested, section, tmp_path, turned=True))
        found[tested.name] = sizes
        print(tested.name, np.median(sizes, axis=0).round(3), sizes.max(axis=0).round(3),
              np.round(astuple(section), 4).tolist())  # fmt: skip
    every = np.concatenate(list(found.values()))
    print("all", np.median(every, axis=0).round(4), np.quantile(every, 0.9, axis=0).round(3),
          every.max(axis=0).round(3), int(np.sum(np.any(every > 0.15, axis=1))))  # fmt: skip
    thrust, power = np.median(every, axis=0)
    assert thrust < 0.06
    assert power < 0.08
