"""Anchors of ground, plants, people; the same form as in `data_materials.py`."""

from __future__ import annotations

import numpy as np
from data_materials import ECO, LEAF_EDGE, MATERIALS, MEASURED, REST, Anchored, Anchors

WATER_INDEX = 1.33

WET = (
    "the dry table under a film of water: r_wet = (1 - R) r / (n^2 (1 - r) + r) with n 1.33 and"
    " R .02 (Angstrom 1925 as given by Lekner & Dorf, Applied Optics 27 (1988) 1278, from memory);"
    " absorption of the water itself left out; roughness of the film assumed"
)


def wet(anchors: Anchors) -> Anchors:
    """Diffuse reflectance of a rough surface under a film of water."""
    n2 = WATER_INDEX**2
    return tuple((x, round(0.98 * r / (n2 * (1.0 - r) + r), 5)) for x, r in anchors)


SKIN_NM = (450.0, 550.0, 650.0, 850.0, 940.0)
SKIN = {
    "skin-very-light": ("very light", (0.350, 0.410, 0.650, 0.650, 0.570)),
    "skin-light": ("light", (0.300, 0.360, 0.610, 0.630, 0.550)),
    "skin-medium": ("medium", (0.200, 0.260, 0.500, 0.590, 0.525)),
    "skin-dark": ("dark", (0.110, 0.155, 0.350, 0.540, 0.500)),
    "skin-very-dark": ("very dark", (0.075, 0.115, 0.270, 0.500, 0.475)),
}
"""Levels at `SKIN_NM`, inside the least and greatest of 100 people."""


def skin(levels: tuple[float, ...]) -> Anchors:
    """The mean skin, scaled to these levels at `SKIN_NM`; the scale is linear between."""
    mean = dict(MATERIALS["skin-mean"].anchors)
    scale = [level / mean[x] for x, level in zip(SKIN_NM, levels, strict=True)]
    return tuple((x, round(r * float(np.interp(x, SKIN_NM, scale)), 4)) for x, r in mean.items())


def _skins() -> dict[str, Anchored]:
    return {
        name: Anchored(
            f"Human skin, {word}",
            "assumed, inside the measured range of 100 people at five wavelengths",
            "levels at 450, 550, 650, 850 and 940 nm chosen inside the least and greatest of the"
            " NIST data set on 100 people, J. Res. NIST 122 (2017) 026; the curve between is that"
            " of skin-mean, scaled; roughness of the sheen assumed",
            skin(levels),
            gloss=(1.4, 0.4),
        )
        for name, (word, levels) in SKIN.items()
    }


NATURE: dict[str, Anchored] = {
    "asphalt-wet": Anchored(
        "Asphalt road, wet", "computed from the dry table", WET,
        wet(MATERIALS["asphalt"].anchors), gloss=(1.33, 0.12),
    ),
    "concrete-wet": Anchored(
        "Concrete, wet", "computed from the dry table", WET,
        wet(MATERIALS["concrete"].anchors), gloss=(1.33, 0.2),
    ),
    "gravel": Anchored(
        "Gravel, grey, dry", "assumed",
        "grey stone rises slowly with wavelength (from memory of published spectra of limestone and"
        " granite gravel); level chosen by us",
        ((380, .13), (450, .17), (550, .21), (650, .24), (850, .27), (940, .28), (1100, .29)),
    ),
    "soil": Anchored(
        "Soil, brown loam, dry", "assumed",
        "rises with wavelength, weak iron-oxide shoulders near 480 and 870 nm (from memory of"
        " published soil spectra)",
        ((380, .050), (450, .070), (500, .090), (550, .125), (600, .165), (650, .190), (750, .235),
         (850, .265), (940, .285), (1100, .320)),
    ),
    "sand": Anchored(
        "Sand, pale, dry", "assumed", "quartz with iron oxide (from memory of published spectra)",
        ((380, .12), (450, .20), (550, .32), (650, .42), (850, .48), (940, .50), (1100, .53)),
    ),
    "grass-dry": Anchored(
        "Dry grass", MEASURED, ECO + REST,
        ((380, .150), (450, .206), (550, .305), (650, .403), (750, .500), (850, .565), (940, .618),
         (1100, .640)),
    ),
    "conifer": Anchored(
        "Needles of conifers", MEASURED, ECO + LEAF_EDGE + REST,
        ((380, .040), (450, .049), (500, .053), (550, .105), (600, .061), (650, .046), (680, .042),
         (700, .105), (720, .260), (750, .450), (800, .505), (850, .515), (940, .504),
         (1100, .500)),
    ),
    "bark": Anchored(
        "Bark of trees", "assumed", "rises steadily into the near infrared (from memory)",
        ((380, .050), (450, .070), (550, .105), (650, .160), (750, .250), (850, .330), (940, .370),
         (1100, .420)),
    ),
    "lips": Anchored(
        "Lips of light skin", "assumed",
        "skin with more blood: darker below 600 nm, as skin beyond (level chosen by us)",
        ((380, .11), (420, .11), (450, .145), (500, .175), (550, .150), (580, .160), (600, .280),
         (650, .480), (700, .555), (760, .580), (850, .590), (900, .565), (940, .520), (980, .49),
         (1060, .53), (1100, .52)), gloss=(1.4, 0.3),
    ),
    "lips-dark": Anchored(
        "Lips of dark skin", "assumed", "as lips, darker by melanin (level chosen by us)",
        ((380, .050), (450, .070), (500, .085), (550, .085), (580, .095), (600, .140), (650, .250),
         (700, .350), (760, .440), (850, .500), (940, .470), (980, .445), (1100, .48)),
        gloss=(1.4, 0.3),
    ),
    "hair-black": Anchored(
        "Black hair", "assumed",
        "melanin absorbs less and less with wavelength: black hair turns brown to pale in the near"
        " infrared (from memory of published hair spectra)",
        ((380, .020), (450, .022), (550, .026), (650, .038), (700, .055), (750, .085), (800, .125),
         (850, .170), (940, .260), (1100, .380)), gloss=(1.55, 0.35),
    ),
    "hair-brown": Anchored(
        "Brown hair", "assumed", "as hair-black with less melanin (from memory)",
        ((380, .030), (450, .040), (550, .065), (650, .125), (700, .175), (750, .235), (800, .290),
         (850, .340), (940, .420), (1100, .500)), gloss=(1.55, 0.35),
    ),
    "hair-blond": Anchored(
        "Blond hair", "assumed", "as hair-black with little melanin (from memory)",
        ((380, .080), (450, .130), (550, .240), (650, .360), (700, .410), (750, .450), (850, .510),
         (940, .540), (1100, .570)), gloss=(1.55, 0.35),
    ),
    "hair-grey": Anchored(
        "Grey hair", "assumed", "white and dark hairs mixed (level chosen by us)",
        ((380, .18), (450, .26), (550, .31), (650, .35), (750, .40), (850, .44), (1100, .50)),
        gloss=(1.55, 0.35),
    ),
    "eye-white": Anchored(
        "White of the eye", "assumed", "pale, blood vessels below 600 nm (level chosen by us)",
        ((380, .25), (450, .48), (550, .52), (650, .64), (850, .60), (940, .50), (1100, .48)),
        gloss=(1.34, 0.05),
    ),
    "iris-brown": Anchored(
        "Brown iris", "assumed", "melanin, paler in the near infrared (from memory)",
        ((380, .030), (550, .045), (650, .080), (750, .150), (850, .220), (1100, .280)),
        gloss=(1.34, 0.05),
    ),
    "iris-blue": Anchored(
        "Blue iris", "assumed", "blue by scattering, flat beyond (level chosen by us)",
        ((380, .090), (450, .130), (550, .090), (650, .080), (850, .130), (1100, .160)),
        gloss=(1.34, 0.05),
    ),
} | _skins()  # fmt: skip
