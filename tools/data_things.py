"""Anchors of fabrics, paints, metals, paper and other made things, as in `data_materials.py`."""

from __future__ import annotations

from data_materials import MATERIALS, Anchored, flat

DYED = (
    "; dyes end near 700 nm, so the cloth turns pale in the near infrared (.4-.7 for dyed cotton,"
    " from memory)"
)
FLUORESCENT = (
    " (from memory); the light that the dye gives off by fluorescence is left out: by day the cloth"
    " looks duller here than in life, at night under infrared nothing is missed"
)
COAT = (1.5, 0.03)
"""Clear coat of a car, assumed."""
BODY = "; level chosen by us; clear coat: index 1.5 (usual lacquer, from memory), roughness assumed"

GREYS = (3, 4, 6, 8, 10, 14, 19, 26, 36, 48, 66, 90)
"""Steps of the grey chart in percent, a factor of about 1.36 each."""


def _as(name: str, title: str, origin: str) -> Anchored:
    """A car paint with the diffuse curve of a plain paint."""
    return Anchored(title, "assumed", origin + BODY, MATERIALS[name].anchors, gloss=COAT)


THINGS: dict[str, Anchored] = {
    f"grey-{percent:02d}": Anchored(
        f"Grey, {percent} percent", "assumed, ideal grey",
        f"defined as .{percent:02d} at each wavelength", flat(percent / 100.0),
    )
    for percent in GREYS
} | {
    "cotton-undyed": Anchored(
        "Undyed raw cotton", "assumed", ".7-.85 in the near infrared (from memory)",
        ((380, .24), (420, .40), (450, .50), (550, .64), (650, .71), (850, .78), (940, .77),
         (1100, .75)),
    ),
    "cotton-black": Anchored(
        "Cotton dyed black", "assumed", "black dye mixture" + DYED,
        ((380, .030), (550, .028), (650, .032), (690, .055), (720, .140), (760, .350), (800, .490),
         (850, .570), (940, .610), (1100, .620)),
    ),
    "cotton-navy": Anchored(
        "Cotton dyed navy blue", "assumed", "blue dye mixture" + DYED,
        ((380, .050), (450, .065), (500, .045), (550, .030), (650, .032), (690, .070), (720, .190),
         (760, .410), (800, .530), (850, .590), (940, .620), (1100, .630)),
    ),
    "cotton-red": Anchored(
        "Cotton dyed red", "assumed", "red dye, edge near 600 nm" + DYED,
        ((380, .060), (450, .045), (550, .040), (580, .080), (600, .210), (620, .380), (650, .520),
         (700, .600), (850, .680), (940, .690), (1100, .680)),
    ),
    "cotton-green": Anchored(
        "Cotton dyed green", "assumed", "green dye mixture" + DYED,
        ((380, .040), (450, .050), (500, .110), (530, .145), (560, .115), (600, .060), (650, .050),
         (690, .090), (720, .250), (760, .490), (800, .580), (850, .620), (940, .640),
         (1100, .640)),
    ),
    "cotton-blue": Anchored(
        "Cotton dyed mid blue, as a shirt", "assumed", "blue dye" + DYED,
        ((380, .14), (450, .32), (500, .25), (550, .150), (600, .110), (650, .120), (690, .240),
         (720, .420), (760, .600), (850, .700), (940, .710), (1100, .700)),
    ),
    "polyester-black": Anchored(
        "Polyester dyed black", "assumed",
        "disperse dyes end near 720 nm; pale in the near infrared (from memory)",
        ((380, .032), (550, .030), (680, .038), (720, .090), (760, .240), (800, .400), (850, .500),
         (940, .560), (1100, .600)), gloss=(1.55, 0.45),
    ),
    "fabric-carbon-black": Anchored(
        "Fabric coloured with carbon black", "assumed",
        "carbon black in the fibre, .04-.06 in the near infrared (from memory): dark under infrared"
        " light too",
        ((380, .030), (550, .032), (850, .042), (1100, .050)),
    ),
    "wool-grey": Anchored(
        "Grey wool", "assumed", "dark and pale wool mixed; dye ends near 700 nm (from memory)",
        ((380, .080), (450, .120), (550, .135), (650, .150), (700, .210), (750, .340), (800, .450),
         (850, .510), (940, .560), (1100, .580)),
    ),
    "denim-blue": Anchored(
        "Denim dyed with indigo", "assumed",
        "indigo absorbs 550-690 nm, clear beyond 720 nm (from memory)",
        ((380, .090), (450, .130), (500, .105), (550, .070), (600, .055), (650, .055), (690, .110),
         (720, .260), (760, .440), (800, .520), (850, .560), (940, .580), (1100, .580)),
    ),
    "leather-brown": Anchored(
        "Brown leather", "assumed", "tanned hide, pale in the near infrared (from memory)",
        ((380, .040), (450, .050), (550, .085), (600, .120), (650, .170), (700, .240), (750, .330),
         (850, .470), (940, .520), (1100, .560)), gloss=(1.5, 0.3),
    ),
    "leather-black": Anchored(
        "Black leather", "assumed",
        "black dye over tanned hide, paler in the near infrared unless pigmented with carbon (from"
        " memory)",
        ((380, .030), (550, .032), (650, .038), (700, .060), (750, .110), (800, .180), (850, .240),
         (940, .330), (1100, .420)), gloss=(1.5, 0.3),
    ),
    "high-visibility-yellow": Anchored(
        "High-visibility yellow fabric", "assumed", "yellow-green dye, edge near 500 nm"
        + FLUORESCENT,
        ((380, .080), (450, .120), (480, .220), (500, .520), (520, .780), (560, .820), (650, .800),
         (850, .810), (940, .800), (1100, .780)),
    ),
    "high-visibility-orange": Anchored(
        "High-visibility orange fabric", "assumed", "orange-red dye, edge near 590 nm"
        + FLUORESCENT,
        ((380, .080), (450, .090), (550, .095), (580, .240), (600, .580), (620, .760), (650, .800),
         (850, .810), (940, .800), (1100, .780)),
    ),
    "car-white": _as("paint-white", "White car paint", "titanium-dioxide white"),
    "car-black": Anchored(
        "Black car paint, carbon black", "assumed",
        "carbon black under clear coat: dark in the near infrared too (from memory)" + BODY,
        ((380, .018), (550, .018), (850, .022), (1100, .026)), gloss=COAT,
    ),
    "car-black-dyed": Anchored(
        "Black car paint that lets the near infrared through", "assumed",
        "organic black pigment over a pale ground, clear from about 720 nm: a black car that is"
        " pale under infrared light (from memory)" + BODY,
        ((380, .018), (650, .020), (700, .045), (730, .120), (770, .260), (850, .380), (940, .450),
         (1100, .500)), gloss=COAT,
    ),
    "car-silver": _as("paint-silver", "Silver car paint (diffuse part)", "aluminium flakes"),
    "car-grey": Anchored(
        "Dark grey car paint", "assumed", "white, aluminium and carbon black mixed" + BODY,
        ((380, .065), (420, .095), (550, .100), (850, .105), (1100, .110)), gloss=COAT,
    ),
    "car-red": _as("paint-red", "Red car paint", "organic red pigment"),
    "car-blue": Anchored(
        "Dark blue car paint", "assumed",
        "phthalocyanine blue with carbon black: less pale in the near infrared than blue alone"
        " (from memory)" + BODY,
        ((380, .050), (420, .095), (460, .130), (500, .080), (550, .035), (600, .025), (680, .022),
         (720, .032), (780, .090), (850, .140), (940, .160), (1100, .170)), gloss=COAT,
    ),
    "car-green": Anchored(
        "Green car paint", "assumed",
        "phthalocyanine green: peak near 510 nm, absorbs 600-740 nm, pale beyond 800 nm (from"
        " memory)" + BODY,
        ((380, .035), (450, .055), (490, .105), (515, .130), (550, .090), (600, .040), (680, .030),
         (740, .045), (800, .190), (850, .300), (940, .360), (1100, .380)), gloss=COAT,
    ),
    "car-yellow": Anchored(
        "Yellow car paint", "assumed",
        "organic yellow pigment, edge near 515 nm (from memory)" + BODY,
        ((380, .050), (450, .060), (490, .110), (510, .300), (530, .520), (560, .640), (650, .700),
         (850, .720), (1100, .690)), gloss=COAT,
    ),
    "chrome": Anchored(
        "Polished chrome", "assumed",
        "mirrors .55-.65 over the whole range (from memory), told as a coat of index 7.9, which"
        " mirrors .60 head on; little is scattered",
        flat(.05), gloss=(7.9, 0.05),
    ),
    "aluminium": Anchored(
        "Brushed aluminium", "assumed",
        "mirrors about .90 with a weak dip near 820 nm (from memory); half of it taken as scattered"
        " and half as a rough mirror, told as a coat of index 5.1, which mirrors .45 head on",
        ((380, .45), (550, .46), (750, .44), (820, .43), (940, .46), (1100, .47)),
        gloss=(5.1, 0.25),
    ),
    "glass-vehicle": Anchored(
        "Vehicle glass, looked through", "assumed",
        "soda-lime glass of green tint, 4 to 5 mm; what it mirrors and lets through is not in this"
        " number",
        flat(.003), gloss=(1.52, 0.01), transmittance=0.75,
    ),
    "glass-window": Anchored(
        "Window of a building by day, seen from outside", "assumed",
        "dark room behind clear glass; what the glass mirrors is in its gloss",
        ((380, .030), (550, .040), (850, .040), (1100, .035)), gloss=(1.52, 0.01),
    ),
    "glass-pane": Anchored(
        "Pane of a window, looked through", "assumed",
        "two sheets of clear float glass of 4 mm let through .82 together (from memory); what they"
        " mirror is told as one coat",
        flat(.003), gloss=(1.52, 0.01), transmittance=0.82,
    ),
    "plastic-white": Anchored(
        "White plastic", "assumed", "titanium dioxide in plastic, as white paint",
        MATERIALS["paint-white"].anchors, gloss=(1.5, 0.2),
    ),
    "plastic-grey": Anchored(
        "Grey plastic", "assumed", "carbon black and titanium dioxide (level chosen by us)",
        ((380, .14), (420, .24), (550, .26), (850, .26), (1100, .25)), gloss=(1.5, 0.25),
    ),
    "wood": Anchored(
        "Planed pine wood", "assumed",
        "rises to a pale near infrared, weak water band near 970 nm (from memory)",
        ((380, .16), (450, .26), (550, .43), (650, .57), (750, .67), (850, .72), (940, .72),
         (970, .70), (1100, .74)), gloss=(1.5, 0.5),
    ),
    "cardboard": Anchored(
        "Brown corrugated cardboard", "assumed",
        "unbleached fibre: rises steadily into the near infrared (from memory)",
        ((380, .100), (450, .150), (550, .270), (650, .390), (750, .490), (850, .560), (940, .590),
         (1100, .620)),
    ),
    "paper-white": Anchored(
        "White office paper", "assumed",
        "bleached fibre with filler; brightener fluorescence left out (from memory)",
        ((380, .30), (400, .55), (420, .74), (450, .82), (550, .85), (650, .86), (850, .86),
         (940, .85), (1100, .83)),
    ),
    "ink-carbon": Anchored(
        "Black print of toner or carbon ink", "assumed",
        "carbon black, dark in the near infrared too (.04-.06, from memory)",
        ((380, .035), (550, .035), (850, .045), (1100, .050)),
    ),
    "ink-dye-black": Anchored(
        "Black print of dye ink on white paper", "assumed",
        "dyes clear beyond about 750 nm, so the print fades under infrared light (from memory)",
        ((380, .045), (550, .045), (680, .060), (720, .170), (760, .400), (800, .600), (850, .730),
         (940, .800), (1100, .800)),
    ),
    "tape-brown": Anchored(
        "Brown packing tape", "assumed", "tinted film over cardboard (level chosen by us)",
        ((380, .060), (450, .090), (550, .180), (650, .290), (750, .400), (850, .470),
         (1100, .540)), gloss=(1.5, 0.1),
    ),
    "foam-white": Anchored(
        "White polystyrene foam", "assumed", "scatters nearly everything (from memory)",
        ((380, .80), (450, .88), (550, .90), (850, .90), (940, .89), (1100, .87)),
    ),
    "tile-roof": Anchored(
        "Red clay roof tile", "assumed", "iron oxide as in brick, weathered (from memory)",
        ((380, .050), (450, .065), (550, .110), (600, .200), (650, .260), (750, .330), (850, .340),
         (940, .360), (1100, .400)),
    ),
    "plaster-white": Anchored(
        "White plaster wall", "assumed", "lime and white sand (from memory)",
        ((380, .45), (420, .62), (450, .68), (550, .73), (650, .76), (850, .77), (1100, .76)),
    ),
    "lamp-red": Anchored(
        "Rear lamp that is off: red cover over a reflector", "assumed",
        "red plastic, edge near 600 nm, clear beyond (level chosen by us)",
        ((380, .020), (550, .022), (580, .035), (600, .075), (630, .120), (700, .140), (850, .150),
         (1100, .150)), gloss=(1.5, 0.02),
    ),
    "lamp-amber": Anchored(
        "Indicator lamp that is off: amber cover over a reflector", "assumed",
        "amber plastic, edge near 550 nm, clear beyond (level chosen by us)",
        ((380, .020), (500, .025), (530, .050), (560, .110), (600, .140), (850, .150),
         (1100, .150)),
        gloss=(1.5, 0.02),
    ),
}  # fmt: skip
