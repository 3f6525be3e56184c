"""Sign colours solved for their coefficient of retroreflection, sheeting tables, chart patches."""

from __future__ import annotations

SIGN_WHITE = "plate-white"
"""White sheeting by day, the ground of every sign colour."""

SIGN_COLOURS = {
    # R_A of that colour over R_A of white, type III at .2/-4 degrees, ASTM D4956:2001 as quoted on
    # a public page on sign sheeting (250 white); shape of the layer's transmittance, assumed
    "yellow": (170.0 / 250.0, ((380, .06), (450, .08), (490, .22), (515, .60), (540, .88),
                               (570, .97), (600, 1.0), (1100, 1.0))),
    "orange": (100.0 / 250.0, ((380, .05), (450, .06), (530, .08), (560, .28), (580, .65),
                               (600, .90), (620, 1.0), (1100, 1.0))),
    "red": (45.0 / 250.0, ((380, .06), (450, .05), (550, .06), (580, .16), (600, .45), (620, .80),
                           (640, .95), (660, 1.0), (1100, 1.0))),
    "green": (45.0 / 250.0, ((380, .06), (450, .16), (480, .42), (505, .58), (530, .50), (570, .20),
                             (600, .09), (680, .07), (720, .15), (780, .70), (850, .95),
                             (900, 1.0), (1100, 1.0))),
    "blue": (20.0 / 250.0, ((380, .25), (430, .52), (460, .56), (490, .38), (530, .14), (560, .07),
                            (650, .05), (690, .09), (720, .30), (780, .80), (850, .97),
                            (900, 1.0), (1100, 1.0))),
    "brown": (12.0 / 250.0, ((380, .04), (450, .06), (550, .13), (600, .26), (650, .38), (700, .55),
                             (780, .80), (850, .95), (900, 1.0), (1100, 1.0))),
}  # fmt: skip
"""Colour: ratio of R_A to that of white, and anchors of transmittance before solving."""

SIGN_ORIGIN = (
    "white sheeting under a clear coloured layer: plate-white times S(lambda)^k with the shape S"
    " assumed and k solved so that the V(lambda)-weighted mean is {ratio:.3g} of white, the ratio"
    " of minimum R_A {colour} to white of type III (.2/-4 deg) in ASTM D4956:2001 as quoted on a"
    " public page on sign sheeting; the layer is clear in the near infrared, where the sign fades"
)

PRISMATIC = "minimum R_A from memory of ASTM D4956 (editions from 2007 on), not checked"

SHEETING_PRISMATIC = {
    "type-iv": (
        "White prismatic sheeting, ASTM D4956 type IV (minimum values)", PRISMATIC,
        ((0.1, 500, 240), (0.2, 360, 170), (0.5, 150, 72)),
    ),
    "type-viii": (
        "White prismatic sheeting, ASTM D4956 type VIII (minimum values)", PRISMATIC,
        ((0.1, 1000, 460), (0.2, 700, 325), (0.5, 250, 115)),
    ),
    "type-ix": (
        "White prismatic sheeting, ASTM D4956 type IX (minimum values)", PRISMATIC,
        ((0.1, 660, 370), (0.2, 380, 215), (0.5, 240, 135), (1.0, 80, 45)),
    ),
    "type-xi": (
        "White full-cube prismatic sheeting, ASTM D4956 type XI (minimum values)", PRISMATIC,
        ((0.1, 830, 325), (0.2, 580, 220), (0.5, 420, 150), (1.0, 120, 45)),
    ),
}  # fmt: skip

PATCH_ORIGIN = (
    "380 to 780 nm: measured by N. Ohta, as distributed with {colour}; beyond 780 nm assumed: "
)
PATCH_COLOURED = (
    "organic pigments are clear in the near infrared, so the white filler shows: rises from the"
    " last value towards .70 (if below) as 1 - exp(-(lambda - 780 nm)/80 nm)"
)
PATCH_NEUTRAL = "neutral patches are made with carbon black and stay level"
PATCH_LEVEL, PATCH_FOLD_NM = 0.70, 80.0
