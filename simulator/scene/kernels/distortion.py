"""From places of a distorted picture to those of a pinhole, in the kernels.

The division model: with r_d the radius in the picture and r_u that of a pinhole,

    r_u = r_d / (1 + b r_d^2)

so that the distortion r_d / r_u - 1 = b r_d^2 grows with the square of the radius (Fitzgibbon,
"Simultaneous linear estimation of multiple view geometry and lens distortion", CVPR 2001; from
memory). b is negative for barrel distortion.
"""

from __future__ import annotations

from simulator.kernels import helper


@helper
def undistort(x, y, view):  # type: ignore[no-untyped-def]
    """Pinhole place (x, y) of a place in the picture, and the area of pinhole picture per area.

    Light of a solid angle that is pressed onto less of the sensor is brighter there: the
    illuminance of a rectilinear lens times (1 - b r_d^2) / (1 + b r_d^2)^3.
    """
    b = view.distortion
    if b == 0.0:
        return x, y, 1.0
    qx, qy = x - view.centre[0], y - view.centre[1]
    share = b * (qx * qx + qy * qy)
    s = 1.0 / (1.0 + share)
    return view.centre[0] + qx * s, view.centre[1] + qy * s, (1.0 - share) * s * s * s
