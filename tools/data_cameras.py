"""Anchors of the camera tables: silicon, colour filters, infrared-cut filter, and sheeting.

(wavelength [nm], value), joined by PCHIP in `make_data.py`. All are archetypes of no product.
"""

from __future__ import annotations

RED_FILTER = (
    (380, .08), (400, .06), (450, .030), (500, .030), (540, .040), (570, .15), (585, .45),
    (600, .74), (620, .87), (650, .91), (700, .93), (800, .95), (850, .95), (1100, .95),
)  # fmt: skip
GREEN_FILTER = (
    (380, .05), (400, .05), (440, .06), (470, .22), (490, .50), (510, .76), (530, .86),
    (545, .86), (570, .72), (590, .44), (610, .20), (640, .10), (660, .09), (700, .15),
    (740, .35), (780, .62), (820, .83), (850, .90), (900, .93), (1100, .94),
)  # fmt: skip
BLUE_FILTER = (
    (380, .45), (400, .65), (430, .82), (450, .86), (470, .83), (500, .52), (520, .25),
    (540, .09), (560, .040), (600, .030), (650, .030), (700, .040), (730, .08), (760, .28),
    (800, .72), (820, .86), (850, .92), (900, .94), (1100, .94),
)  # fmt: skip

REASON = (
    "silicon efficiency times colour filters, both archetypes; filters: red, green and blue dyes do"
    " not block the near infrared, channels equal within 5-10 percent at 850 nm (from memory)"
)

SILICON = {
    "cmos-standard": (
        "Ordinary silicon CMOS with colour filters",
        "silicon: .5-.65 at 450, .65-.8 at 550, .55-.7 at 650, .15-.25 at 850, .05-.10 at 940 nm"
        " (from memory; 3 um of silicon absorb .148 at 850 nm)",
        ((380, .35), (450, .60), (500, .70), (550, .74), (600, .71), (650, .64), (700, .53),
         (750, .41), (800, .30), (850, .205), (900, .125), (940, .075), (1000, .030), (1050, .010),
         (1100, .002)),
    ),
    "cmos-near-infrared-enhanced": (
        "Silicon CMOS with thick or light-trapping silicon and colour filters",
        "silicon: .30-.45 at 850, .15-.30 at 940 nm (from memory); light trapping reaches above"
        " .30 at 850 nm on 3 um silicon (Yokogawa et al., Sci. Rep. 2017)",
        ((380, .40), (450, .66), (500, .76), (550, .80), (600, .79), (650, .75), (700, .69),
         (750, .59), (800, .49), (850, .385), (900, .285), (940, .21), (1000, .090), (1050, .030),
         (1100, .006)),
    ),
    "cmos-small-pixel": (
        "Small-pixel silicon CMOS with colour filters",
        "silicon: as ordinary, a little lower for shallow silicon and crosstalk (assumed); 3 um of"
        " silicon absorb .148 at 850 nm (absorption depth 18.7 um, Green 2008, from memory)",
        ((380, .30), (450, .55), (500, .63), (550, .66), (600, .62), (650, .55), (700, .44),
         (750, .33), (800, .24), (850, .165), (900, .10), (940, .060), (1000, .022), (1050, .007),
         (1100, .001)),
    ),
    "ccd-analogue": (
        "Analogue-era interline CCD with colour filters",
        "silicon: peak near .45 with microlenses, overflow drain takes away the deep charge, so"
        " about .09 at 850 nm (from memory); such cameras often had complementary filters, red,"
        " green and blue are taken here",
        ((380, .22), (450, .40), (500, .46), (550, .45), (600, .39), (650, .32), (700, .25),
         (750, .19), (800, .135), (850, .090), (900, .052), (940, .032), (1000, .011), (1050, .003),
         (1100, .0005)),
    ),
}  # fmt: skip

INFRARED_CUT = (
    (380, .55), (400, .85), (420, .94), (440, .95), (620, .95), (635, .945), (645, .84), (655, .63),
    (661, .50), (670, .29), (680, .13), (690, .055), (700, .022), (712, .008), (725, .004),
    (760, .003), (1100, .003),
)  # fmt: skip

SHEETING = {
    "type-i": (
        "White sheeting with enclosed glass beads, ASTM D4956 type I (minimum values)",
        "ASTM D4956:2001 type I white, minimum R_A as quoted on a public page on sign sheeting",
        ((0.2, 70, 30), (0.5, 30, 15)),
    ),
    "type-iii": (
        "White sheeting with encapsulated glass beads, ASTM D4956 type III (minimum values)",
        "ASTM D4956:2001 type III white, minimum R_A as quoted on a public page on sign sheeting;"
        " the value at .5/+30 deg from memory",
        ((0.1, 300, 180), (0.2, 250, 150), (0.5, 95, 65)),
    ),
    "plate-white": (
        "White sheeting of a number plate (archetype)",
        "ASTM D4956:2001 type II white (enclosed beads, minimum R_A as quoted on a public page);"
        " taken for plates because its 140 lies beside the 150 that BS AU 145d is quoted with"
        " (units there assumed cd/lx/m2)",
        ((0.2, 140, 60), (0.5, 50, 28)),
    ),
    "plate-yellow": (
        "Yellow sheeting of a number plate (archetype)",
        "ASTM D4956:2001 type II yellow (minimum R_A as quoted on a public page), as for"
        " plate-white; for visible light, and too low in the near infrared, where the yellow layer"
        " is clear",
        ((0.2, 100, 36), (0.5, 33, 20)),
    ),
}
