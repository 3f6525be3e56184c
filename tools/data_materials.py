"""Anchors of the reflectance tables: (wavelength [nm], reflectance), joined by PCHIP.

`make_data.py` turns them into CSV files; `data_things.py` holds fabrics, paints and other made
things, `data_signs.py` what is solved for (sign colours) or taken from tables (chart patches).
"""

from __future__ import annotations

from typing import NamedTuple

ECO = (
    "450, 550, 650, 850 and 940 nm: mean of a subset of the ECOSTRESS spectral library"
    " (public, NASA/JPL)"
)
REST = "; the other anchors are assumed, to continue the curve smoothly"
MEASURED = "measured at five wavelengths, assumed between and beyond them"

Anchors = tuple[tuple[float, float], ...]


class Anchored(NamedTuple):
    """One reflectance table before it is interpolated.

    `gloss` is the refractive index and the roughness alpha of a clear coat (assumed unless the
    origin says otherwise), None for a surface without one.
    """

    title: str
    status: str
    origin: str
    anchors: Anchors
    sheeting: str | None = None
    gloss: tuple[float, float] | None = None
    transmittance: float | None = None


def flat(value: float) -> Anchors:
    return ((380, value), (1100, value))


SATIN = (1.5, 0.3)
"""Gloss of a satin paint, assumed."""

LEAF_EDGE = "; the red edge between 680 and 750 nm is typical of green leaves (assumed)"

MATERIALS: dict[str, Anchored] = {
    "asphalt": Anchored(
        "Asphalt road, dry", MEASURED, ECO + REST,
        ((380, .044), (450, .054), (550, .072), (650, .088), (850, .110), (940, .117),
         (1100, .124)),
    ),
    "concrete": Anchored(
        "Concrete, dry", MEASURED, ECO + REST,
        ((380, .20), (450, .263), (550, .331), (650, .360), (850, .364), (940, .356), (1100, .355)),
    ),
    "grass": Anchored(
        "Green grass", MEASURED, ECO + LEAF_EDGE + REST,
        ((380, .030), (450, .041), (500, .048), (550, .110), (600, .068), (650, .053), (680, .045),
         (700, .11), (720, .26), (750, .44), (800, .485), (850, .497), (940, .507), (1100, .505)),
    ),
    "leaves": Anchored(
        "Green leaves of deciduous trees", MEASURED, ECO + LEAF_EDGE + REST,
        ((380, .048), (450, .059), (500, .062), (550, .109), (600, .066), (650, .051), (680, .046),
         (700, .115), (720, .28), (750, .48), (800, .538), (850, .549), (940, .548), (1100, .540)),
    ),
    "snow": Anchored(
        "Snow, fine and fresh", MEASURED, ECO + REST,
        ((380, .992), (450, .992), (550, .990), (650, .978), (850, .938), (940, .901), (1100, .78)),
    ),
    "steel-galvanised": Anchored(
        "Galvanised steel, weathered (diffuse part)", "assumed",
        "zinc that has dulled to grey reflects .3 to .5 of the light, about evenly (solar"
        " reflectance of aged galvanised sheet in roofing tables; from memory); the weak dip of"
        " zinc near 1000 nm is from memory. The sample of that name in the subset of the ECOSTRESS"
        " spectral library (.02 to .08) is rusty and dark, and is not used",
        ((380, .33), (450, .37), (550, .385), (650, .39), (850, .395), (940, .38), (1010, .37),
         (1100, .40)),
    ),
    "skin-mean": Anchored(
        "Human skin, mean of 100 people",
        "measured at five wavelengths (850 nm: .603 +- .033), assumed between and beyond them",
        "450, 550, 650, 850 and 940 nm: mean of the NIST data set on 100 people, J. Res. NIST 122"
        " (2017) 026; people reach from .07-.36 at 450 nm to .49-.66 at 850 nm; the dip near 980 nm"
        " is the water band, its depth assumed" + REST,
        ((380, .17), (420, .21), (450, .252), (500, .305), (550, .316), (580, .345), (600, .450),
         (650, .557), (700, .590), (760, .603), (850, .603), (900, .580), (940, .532), (980, .505),
         (1060, .545), (1100, .53)),
    ),
    "grey-18": Anchored(
        "Grey, 18 percent", "assumed, ideal grey", "defined as .18 at each wavelength", flat(.18)
    ),
    "white-90": Anchored(
        "White, 90 percent", "assumed, ideal white", "defined as .90 at each wavelength", flat(.90)
    ),
    "black-4": Anchored(
        "Black, 4 percent", "assumed, ideal black", "defined as .04 at each wavelength", flat(.04)
    ),
    "paint-white": Anchored(
        "White paint", "assumed",
        "titanium-dioxide white: absorbs below 410 nm, .75-.85 in the near infrared (from memory)",
        ((380, .15), (400, .45), (420, .74), (450, .80), (550, .83), (650, .83), (850, .80),
         (940, .78), (1100, .74)),
        gloss=SATIN,
    ),
    "paint-black": Anchored(
        "Black paint", "assumed",
        "carbon black: .04-.06 in the near infrared (from memory); other blacks can be pale there",
        ((380, .045), (550, .045), (850, .050), (1100, .055)),
        gloss=SATIN,
    ),
    "paint-grey": Anchored(
        "Mid-grey paint", "assumed", "white and carbon black mixed; level chosen by us",
        ((380, .12), (420, .23), (550, .25), (850, .24), (1100, .23)),
        gloss=SATIN,
    ),
    "paint-red": Anchored(
        "Red paint", "assumed",
        "organic red pigment: edge near 595 nm, transparent beyond, so white ground shows (from"
        " memory of published paint spectra)",
        ((380, .050), (450, .040), (550, .045), (580, .090), (600, .27), (630, .46), (660, .52),
         (750, .58), (850, .62), (940, .62), (1100, .60)),
        gloss=SATIN,
    ),
    "paint-blue": Anchored(
        "Blue paint", "assumed",
        "phthalocyanine blue: band at 450-480 nm, absorbs 560-720 nm, pale in the near infrared"
        " (from memory of published paint spectra)",
        ((380, .10), (420, .18), (460, .24), (500, .17), (550, .070), (600, .045), (680, .040),
         (720, .060), (780, .25), (850, .42), (940, .50), (1100, .52)),
        gloss=SATIN,
    ),
    "paint-silver": Anchored(
        "Silver metallic paint (diffuse part)", "assumed",
        "aluminium flakes are nearly neutral; level chosen by us for a view off the mirror angle",
        ((380, .30), (450, .35), (550, .36), (850, .36), (1100, .37)),
        gloss=SATIN,
    ),
    "plate-white": Anchored(
        "White retroreflective plate, diffuse part", "assumed",
        "white beaded sheeting returns about .40 by day outside the retroreflected cone (from"
        " memory; daytime luminance factor of white sheeting is at least .27 to .35)",
        ((380, .12), (400, .25), (420, .37), (450, .39), (550, .41), (650, .41), (850, .40),
         (940, .39), (1100, .38)),
        "plate-white",
    ),
    "plate-yellow": Anchored(
        "Yellow retroreflective plate, diffuse part", "assumed",
        "white sheeting under a yellow layer: edge near 515 nm, as white beyond 600 nm (from"
        " memory)",
        ((380, .040), (450, .050), (490, .090), (520, .25), (560, .35), (600, .385), (650, .40),
         (850, .40), (940, .39), (1100, .38)),
        "plate-yellow",
    ),
    "plate-black-ink": Anchored(
        "Black characters of a number plate", "assumed",
        "carbon-black ink, which stays dark in the near infrared; a dye-based ink would turn pale"
        " there and the plate would fade under infrared light",
        ((380, .035), (550, .035), (850, .045), (1100, .050)),
    ),
    "glass-dark": Anchored(
        "Windscreen seen from outside", "assumed",
        "dark interior behind glass that absorbs; sky mirrored by the glass is not in this number",
        ((380, .045), (550, .050), (850, .050), (1100, .045)),
        gloss=(1.52, 0.01),
    ),
    "plastic-black": Anchored(
        "Black plastic", "assumed", "carbon-filled plastic, as carbon-black paint",
        ((380, .045), (550, .045), (850, .050), (1100, .055)),
        gloss=(1.5, 0.25),
    ),
    "rubber": Anchored(
        "Tyre rubber", "assumed", "carbon-filled rubber, dusty; level chosen by us",
        ((380, .035), (550, .040), (850, .050), (1100, .055)),
        gloss=(1.5, 0.45),
    ),
    "chrome-dull": Anchored(
        "Dull chrome trim (diffuse part)", "assumed",
        "chromium mirrors .55-.65 over the whole range (from memory); taken as fully scattered",
        ((380, .50), (550, .55), (850, .57), (1100, .58)),
    ),
    "brick": Anchored(
        "Red brick wall", "assumed",
        "iron oxide: edge near 580 nm, weak band near 870 nm (from memory of published spectra)",
        ((380, .060), (450, .080), (550, .14), (600, .23), (650, .29), (750, .36), (850, .37),
         (900, .38), (940, .39), (1100, .42)),
    ),
    "lamp-glass": Anchored(
        "Headlamp that is off, clear cover over a reflector", "assumed",
        "level chosen by us: a bright reflector that mostly mirrors elsewhere",
        ((380, .12), (550, .15), (850, .15), (1100, .15)),
        gloss=(1.5, 0.02),
    ),
    "cotton-white": Anchored(
        "Undyed white cotton", "assumed", ".7-.85 in the near infrared (from memory)",
        ((380, .40), (420, .65), (450, .72), (550, .78), (650, .80), (850, .80), (940, .78),
         (1100, .76)),
    ),
    "cotton-dyed-dark": Anchored(
        "Dark dyed cotton", "assumed",
        "dyes end near 700 nm: .4-.7 in the near infrared (from memory), so dark clothes turn pale"
        " under infrared light",
        ((380, .040), (550, .040), (650, .045), (690, .070), (720, .18), (760, .38), (800, .49),
         (850, .55), (940, .58), (1100, .60)),
    ),
}  # fmt: skip
