"""Classes of lamps that dealers offer: powers, beams, and what is assumed of each.

Common practice, no source; from memory of what is usual for surveillance lighting.
"""

from __future__ import annotations

TITLE = "Classes of lamps that dealers offer, generic"
ORIGIN = (
    "common practice, no source; from memory of what is usual for surveillance lighting: powers,"
    " beams of 10 to 120 degrees, light out over power in as of the bundled archetypes (driver,"
    " emitter and optics; narrow optics lose 15 % more), light left at the end of the stated life"
    " (L70), dimmer down to 20 %"
)
UNITS = (
    "peak_nm in nm (0: white, 4000 K); electrical_power_w in W; beam_deg in degrees, full angle at"
    " half the peak; output_per_watt in W/W, in lm/W for white; tolerance, light_left,"
    " least_setting as shares; emitter_width_m in m"
)
RANGE = "each row is one class; light in between is had by its dimmer, from least_setting to 1"
COLUMNS = (
    "peak_nm", "electrical_power_w", "beam_deg", "output_per_watt", "tolerance", "light_left",
    "emitter_width_m", "least_setting",
)  # fmt: skip
NARROW_DEG, NARROW_SHARE = 12.0, 0.85
TOLERANCE, LIGHT_LEFT, LEAST_SETTING = 0.25, 0.7, 0.2
OUTPUT_PER_WATT = {850.0: 0.20, 940.0: 0.18, 0.0: 110.0}
INFRARED = (
    (3.0, (60, 90), 0.02),
    (8.0, (30, 60, 90), 0.05),
    (15.0, (10, 20, 30, 60, 90, 120), 0.08),
    (30.0, (10, 20, 30, 60, 90, 120), 0.12),
    (60.0, (10, 20, 30, 60, 120), 0.20),
)
"""Power [W], beams [deg] and width of the shining face [m]."""
WHITE = (
    (4.0, (40,), 0.02),
    (10.0, (30, 60, 90, 120), 0.08),
    (20.0, (30, 60, 90, 120), 0.12),
    (30.0, (20, 60, 90, 120), 0.15),
    (50.0, (20, 60, 90, 120), 0.20),
    (100.0, (20, 60, 90, 120), 0.28),
)


def lamp_rows() -> list[tuple[float, ...]]:
    """Rows of the table, in the order of `COLUMNS`."""
    out: list[tuple[float, ...]] = []
    for peak_nm, output in OUTPUT_PER_WATT.items():
        for power_w, beams, width_m in INFRARED if peak_nm else WHITE:
            for beam in beams:
                narrow = NARROW_SHARE if beam <= NARROW_DEG else 1.0
                out.append((
                    peak_nm, power_w, float(beam), output * narrow, TOLERANCE, LIGHT_LEFT, width_m,
                    LEAST_SETTING,
                ))  # fmt: skip
    return out
