"""Two offset hubs a pier, in line with its beam, that outlast the auger."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.base.axes import facing_axes
from staking.ground.elevations import Ground
from staking.layout.frame import Fit
from staking.marks.stakeout import Hub

Floats = NDArray[np.float64]


def offset_hubs(
    fit: Fit, *, ground: Ground, offset_hub_m: float, hole_diameter_m: float | None = None
) -> tuple[tuple[tuple[Hub, Hub], ...], tuple[str, ...]]:
    """Return each pier's hubs, left then right, and a warning for every hub that stands in a hole.

    Parameters
    ----------
    fit : Fit
        The array.
    ground : Ground
        Gives elevation and uncertainty at the hubs.
    offset_hub_m : float
        Level distance from the pier's centre to each hub.
    hole_diameter_m : float, optional
        Without it nothing is said of holes.
    """
    e = facing_axes(fit.plane.azimuth_rad)[0][:2]
    m = len(fit.piers.names)
    step = np.array([-offset_hub_m, offset_hub_m])
    places = fit.piers.en_m[:, None, :] + step[None, :, None] * e
    elevations = ground.at(places.reshape(-1, 2))
    z, sd = elevations.z_m.reshape(m, 2), elevations.sd_m.reshape(m, 2)
    hubs = tuple(
        (
            _hub(f"{name} left", places[i, 0], z[i, 0], sd[i, 0], fit.lengths.top_m[i]),
            _hub(f"{name} right", places[i, 1], z[i, 1], sd[i, 1], fit.lengths.top_m[i]),
        )
        for i, name in enumerate(fit.piers.names)
    )
    warnings = () if hole_diameter_m is None else _in_holes(fit, hubs, radius_m=hole_diameter_m / 2.0)
    return hubs, warnings


def _hub(name: str, en_m: Floats, z_m: float, sd_m: float, top_m: float) -> Hub:
    return Hub(
        name=name,
        en_m=(float(en_m[0]), float(en_m[1])),
        ground_m=float(z_m),
        sd_ground_m=float(sd_m),
        up_to_top_m=float(top_m - z_m),
    )


def _in_holes(fit: Fit, hubs: tuple[tuple[Hub, Hub], ...], *, radius_m: float) -> tuple[str, ...]:
    warnings = []
    for pair in hubs:
        for hub in pair:
            apart = np.hypot(*(fit.piers.en_m - np.array(hub.en_m)).T)
            warnings += [
                f"Offset hub {hub.name} is in the hole of {fit.piers.names[i]}: change [stakes] offset_hub"
                for i in np.flatnonzero(apart <= radius_m)
            ]
    return tuple(warnings)
