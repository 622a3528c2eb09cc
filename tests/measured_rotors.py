"""Wind-tunnel tests of research propellers, and what the models of a rotor say of them.

R. W. Deters, G. K. Ananda, M. S. Selig, Reynolds Number Effects on the Performance of Small-Scale
Propellers, AIAA 2014-2151, and the authors' open propeller database; see the heads of the files.
"""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from vlm.air import standard_air
from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.power.element_rotor import blades_of
from vlm.power.elements import Blades, rotor_coefficients
from vlm.power.momentum import disc_flow
from vlm.power.rotor import disc_area, rotor_model
from vlm.sections.polar import Polar

DATA = Path(__file__).parent / "published" / "data"
LEAST_THRUST = 0.03
"""Thrust coefficient below which a relative error says nothing."""
PLAIN = {"name": "a", "position_m": (0.0, 0.0, 0.0), "spin": "right"}
AIR = standard_air()


def _rows(name: str) -> list[dict[str, str]]:
    text = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in text if not line.startswith("#")))


@dataclass(frozen=True)
class Tested:
    """One propeller: its blade, and the rows of its tests.

    Attributes
    ----------
    stations : shape (stations, 3), r/R, chord/R, angle [deg]
    diameter : [m]
    turns : shape (rows,), a second [1/s]
    ratio, thrust, power : shape (rows,), J, C_T, C_P
    """

    name: str
    stations: Floats
    diameter: float
    turns: Floats
    ratio: Floats
    thrust: Floats
    power: Floats

    @property
    def no_thrust(self) -> float:
        """Advance ratio without thrust, at the highest speed of rotation whose row comes near."""
        found = []
        for turns in np.unique(self.turns):
            own = np.flatnonzero(self.turns == turns)
            if len(own) < 2:
                continue
            before, last = own[np.argsort(self.ratio[own])][-2:]
            if self.thrust[last] < 0.1 * LEAST_THRUST:
                rise = self.ratio[last] - self.ratio[before]
                fall = self.thrust[before] - self.thrust[last]
                found.append(float(self.ratio[last] + self.thrust[last] * rise / fall))
        return found[-1]

    @property
    def loaded(self) -> "Tested":
        """The rows with thrust enough."""
        kept = self.thrust > LEAST_THRUST
        return Tested(
            self.name, self.stations, self.diameter,
            self.turns[kept], self.ratio[kept], self.thrust[kept], self.power[kept],
        )  # fmt: skip


@cache
def research_propellers() -> tuple[Tested, ...]:
    """All propellers of the files whose blades were measured."""
    blades: dict[str, list[list[float]]] = {}
    for row in _rows("deters-2014-rotor-blades.csv"):
        values = [float(row[key]) for key in ("r_R", "chord_R", "beta_deg")]
        blades.setdefault(row["rotor"], []).append(values)
    found = []
    for name, stations in blades.items():
        rows = [r for r in _rows("deters-2014-rotor-tests.csv") if r["rotor"] == name]
        columns = np.array(
            [[float(r[k]) for k in ("diameter_m", "rpm", "J", "CT", "CP")] for r in rows]
        ).T
        found.append(
            Tested(name, np.array(stations), float(columns[0][0]), columns[1] / 60.0, *columns[2:])
        )
    return tuple(found)


def element_blades(
    tested: Tested, folder: Path, *, turned: bool = True, polar: Polar | None = None
) -> Blades:
    """Blades of a tested propeller; turned to its measured advance ratio without thrust."""
    lines = [",".join(f"{value:g}" for value in row) for row in tested.stations]
    (folder / f"{tested.name}.csv").write_text("\n".join(["r_R,chord_R,beta_deg", *lines]))
    more = {"no_thrust_advance_ratio": tested.no_thrust} if turned else {}
    rotor = Rotor(
        **PLAIN, radius_m=0.5 * tested.diameter, form="elements",
        blade_table=f"{tested.name}.csv", **more,
    )  # type: ignore[arg-type]  # fmt: skip
    return blades_of(rotor, folder, polar)


def by_elements(
    tested: Tested, blades: Blades, ratio: Floats, turns: Floats
) -> tuple[Floats, Floats]:
    """C_T and C_P at advance ratios and speeds of rotation [1/s]."""
    tip = np.pi * turns * tested.diameter
    reynolds = tip * 0.5 * tested.diameter / AIR.kinematic_viscosity_m2_s
    found = rotor_coefficients(blades, ratio / np.pi, 0.0 * ratio, reynolds)
    # T / (rho n^2 D^4) and 2 pi n Q / (rho n^3 D^5) from coefficients on tip speed and radius.
    return found.thrust * np.pi**2 / 4.0, found.torque * np.pi**3 / 4.0


def blades_form(tested: Tested) -> Rotor:
    """The propeller as "blades": solidity and pitch of its geometry, the rest left out."""
    radius, chord, angle = tested.stations.T
    fine = np.linspace(radius[0], 1.0, 400)
    solidity = 2.0 / np.pi * float(np.trapezoid(np.interp(fine, radius, chord), fine))
    angle_there = np.radians(np.interp(0.75, radius, angle))
    pitch = 2.0 * np.pi * 0.75 * 0.5 * tested.diameter * float(np.tan(angle_there))
    return Rotor(
        **PLAIN, radius_m=0.5 * tested.diameter, form="blades", solidity=solidity, pitch_m=pitch
    )  # type: ignore[arg-type]


def blades_form_power(tested: Tested) -> tuple[Floats, Floats]:
    """C_P over the measured one at the measured thrust and wind, and the same of the speed."""
    return at_measured_thrust(tested, blades_form(tested))


def at_measured_thrust(
    tested: Tested, rotor: Rotor, folder: Path | None = None
) -> tuple[Floats, Floats]:
    """Power over the measured one at the measured thrust and wind, and the same of the speed."""
    density = AIR.density_kg_m3
    thrust = tested.thrust * density * tested.turns**2 * tested.diameter**4
    power = tested.power * density * tested.turns**3 * tested.diameter**5
    wind = tested.ratio * tested.turns * tested.diameter
    state = rotor_model(rotor, folder).state(
        disc_flow(thrust, wind, 0.0, density, disc_area(rotor)), density
    )
    return state.power / power, state.speed / (2.0 * np.pi * tested.turns)
