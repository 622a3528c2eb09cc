"""How large a body, which the numbers of a setting leave out, may turn what is called stable."""

from vlm.flight.craft.body_turning import volume_in_pitch, volume_in_yaw
from vlm.flight.craft.rotor_slopes import Slopes, with_rotors
from vlm.study.point.point import BodyVolumes, PointReport
from vlm.verdicts import known_sign


def body_volumes(report: PointReport, rotors: Slopes | None) -> BodyVolumes:
    """Least volumes that may turn static margin and Cn_beta, the rotors counted too.

    None for a sign that is not known to be stable, with rotors and without.

    Parameters
    ----------
    rotors : of :func:`vlm.study.point.rotors_across.idle_rotors`
    """
    widths, body = report.half_widths, report.derivatives["body"]
    reference = report.loads.reference
    if not widths or rotors is None:
        return BodyVolumes()
    counted = with_rotors(body, rotors)
    alone = {"static_margin": report.static_margin, "Cn_beta": body["Cn_beta"]}
    volumes: dict[str, float | None] = dict.fromkeys(alone)
    for name, value in alone.items():
        width, (both, wide) = widths.get(name, float("nan")), counted[name]
        if known_sign(value, width) == 1:
            volumes[name] = (
                volume_in_yaw(both, width + wide, reference)
                if name == "Cn_beta"
                else volume_in_pitch(both, width + wide, body["CL_alpha"], reference)
            )
    return BodyVolumes(volumes["static_margin"], volumes["Cn_beta"])
