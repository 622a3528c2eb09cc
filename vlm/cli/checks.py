"""Values of options that several commands share, refused where they can't be, and their folds."""

from typing import Any

import click
from click.core import ParameterSource

from vlm.errors import InputRefused
from vlm.study.asked import GREATEST_GUST, LEAST_GUST

# Beyond any flight; warnings are reported long before.
LEAST_AIR, GREATEST_AIR = 1e-6, 1e4
GREATEST_RATE = 100.0


def airspeed_is_given(thrust: float | str | None) -> bool:
    """Whether ``--airspeed`` stands in the command, as a slipstream needs it.

    Raises
    ------
    InputRefused : a thrust without it
    """
    source = click.get_current_context().get_parameter_source("airspeed")
    given = source == ParameterSource.COMMANDLINE
    if thrust is not None and not given:
        raise InputRefused("--airspeed is missing; --thrust needs it, as a slipstream hangs on it")
    return given


def chosen_folds(
    craft: Any,
    fold: float | None,
    fold_left: float | None,
    fold_right: float | None,
    configuration: str | None,
) -> Any:
    """Fold angles from the options; flat if none is given.

    Raises
    ------
    InputRefused : options that exclude each other, or an unknown configuration
    """
    from vlm.description.folds import FoldAngles
    from vlm.errors import nearest_name

    sides = fold_left is not None or fold_right is not None
    if sum((fold is not None, sides, configuration is not None)) > 1:
        raise InputRefused("give one of --fold, --fold-left with --fold-right, and --configuration")
    if configuration is not None:
        if configuration in craft.configurations:
            return craft.configurations[configuration].folds
        near = nearest_name(configuration, craft.configurations)
        known = ", ".join(craft.configurations) or "none"
        hint = f"; did you mean {near}?" if near else f"; the file names {known}"
        raise InputRefused(f"--configuration {configuration} is not in {craft.source_name}{hint}")
    if sides:
        return FoldAngles(fold_left or 0.0, fold_right or 0.0)
    return FoldAngles.symmetric(fold or 0.0)


def standing_air(altitude: float, density: float | None) -> Any:
    """Air of the standard atmosphere, or of a density of its own.

    Raises
    ------
    InputRefused : the altitude or the density is outside what is allowed
    """
    from dataclasses import replace

    from vlm.air import sea_level_air, standard_air

    if density is None:
        return standard_air(altitude)
    if not 0.05 <= density <= 5.0:
        raise InputRefused(f"--density = {density:g}; 0.05 to 5 kg/m^3 is allowed")
    if altitude == 0.0:
        return sea_level_air(density)
    return replace(standard_air(altitude), density_kg_m3=density)


def level_air(craft: Any, airspeed: float | None, density: float) -> Any:
    """Air of a study in level flight, at an airspeed of the file's range where none is given.

    Raises
    ------
    InputRefused : as :func:`checked_air`
    """
    from vlm.description.schedule import default_airspeed
    from vlm.flight.motion.roll_authority import Air

    chosen = default_airspeed(craft.schedule) if airspeed is None else airspeed
    checked_air(chosen, density)
    return Air(chosen, density)


def checked_air(airspeed: float, density: float) -> None:
    """Refuse air that is no air.

    Raises
    ------
    InputRefused : not finite, not positive, or so far from any air that numbers overflow
    """
    for name, value in (("--airspeed", airspeed), ("--density", density)):
        if not 0.0 < value < float("inf"):
            raise InputRefused(f"{name} = {value:g}; it must be positive")
        if not LEAST_AIR <= value <= GREATEST_AIR:
            raise InputRefused(
                f"{name} = {value:g}; it must lie between {LEAST_AIR:g} and {GREATEST_AIR:g}"
            )


def checked_gust(speed: float | None) -> float | None:
    """The speed of an upward gust; None for none [m/s].

    Raises
    ------
    InputRefused : it is not positive, or beyond any that is meant
    """
    if speed is None or LEAST_GUST <= speed <= GREATEST_GUST:
        return speed
    raise InputRefused(
        f"--gust-speed = {speed:g}; it must lie between {LEAST_GUST:g} and {GREATEST_GUST:g} m/s"
    )


def checked_rates(**values: float) -> None:
    """Refuse reduced rates that are not finite, or so high that numbers overflow.

    Raises
    ------
    InputRefused : names the option
    """
    for name, value in values.items():
        option = f"--{name.replace('_', '-')}"
        if not abs(value) < float("inf"):
            raise InputRefused(f"{option} = {value:g}; it must be a number")
        if abs(value) > GREATEST_RATE:
            raise InputRefused(
                f"{option} = {value:g}; a rate between -{GREATEST_RATE:g} and {GREATEST_RATE:g}"
                " is allowed"
            )


def checked_angle(name: str, value: float, limit: float) -> None:
    """Refuse an angle beyond ``limit`` degrees either way.

    Raises
    ------
    InputRefused : names the option and the limit
    """
    if not abs(value) <= limit:
        raise InputRefused(
            f"--{name} = {value:g}; an angle between -{limit:g} and {limit:g} degrees is allowed"
        )
