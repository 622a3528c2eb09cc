"""Steady segments as observations of the power curve: one segment, one observation."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.log.bins import BinnedPower, segment_noise
from vlm.log.prediction import Prediction
from vlm.log.samples import Samples


@dataclass(frozen=True)
class Observations:
    """Mean airspeed and power of segments of all configurations, in order of time.

    Attributes
    ----------
    configuration : name of each, shape (segments)
    airspeed_m_s, power_W : shape (segments)
    noise_W2 : variance of the mean power at the mean airspeed, from what was seen of both within
        the segment, its correlation counted, shape (segments)
    number : number in the log's list of segments, shape (segments)
    run : segments that follow each other without a break share a number, shape (segments)
    """

    configuration: NDArray[Any]
    airspeed_m_s: Floats
    power_W: Floats
    noise_W2: Floats
    number: NDArray[np.int64]
    run: NDArray[np.int64]

    def __len__(self) -> int:
        return int(self.power_W.size)

    def chosen(self, rows: NDArray[np.bool_]) -> "Observations":
        """Only some of the segments."""
        return Observations(
            self.configuration[rows],
            self.airspeed_m_s[rows],
            self.power_W[rows],
            self.noise_W2[rows],
            self.number[rows],
            self.run[rows],
        )

    def predicted_W(
        self,
        prediction: Prediction,
        values: Mapping[str, float] | None = None,
        airspeed_offset_m_s: float = 0.0,
    ) -> Floats:
        """Predicted power of each segment, shape (segments) [W].

        Parameters
        ----------
        prediction : the model
        values : its unknowns by name; what is left out is nominal
        airspeed_offset_m_s : taken from every airspeed
        """
        power = np.empty(len(self))
        for name in np.unique(self.configuration):
            rows = self.configuration == name
            speed = self.airspeed_m_s[rows] - airspeed_offset_m_s
            power[rows] = prediction.power_W(speed, str(name), values)
        return power


def observations(
    samples: Mapping[str, Samples],
    binned: Mapping[str, BinnedPower],
    runs: NDArray[np.int64],
) -> Observations:
    """The segments of all configurations as observations.

    Parameters
    ----------
    samples, binned : steady cells and bins, by configuration
    runs : number of the unbroken run each of the log's segments belongs to
    """
    columns: list[tuple[NDArray[Any], Floats, Floats, Floats, NDArray[np.int64]]] = []
    for name, cells in samples.items():
        airspeed, power, count = cells.segment_means()
        memory = binned[name].correlation_time_s / cells.cell_s
        noise = segment_noise(cells, binned[name].curve, memory)
        names = np.full(count.size, name)
        columns.append((names, airspeed, power, noise, cells.segment_number))
    names, airspeed, power, noise, number = (
        np.concatenate([column[i] for column in columns]) for i in range(5)
    )
    order = np.argsort(number)
    return Observations(
        names[order], airspeed[order], power[order], noise[order], number[order],
        runs[number[order]],
    )  # fmt: skip
