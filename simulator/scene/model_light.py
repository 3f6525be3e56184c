"""What a scene file says of its lights: sky, sun and moon, lamps, illuminators."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from simulator.fields import Angle, BeamAngle, Beside, FileModel, Fraction, Name, Point, written
from simulator.light.spectrum_kinds import spectrum_help


def _iso(given: Any) -> Any:
    """Dates and times that TOML knows as such, as text."""
    if isinstance(given, dt.date | dt.time) and not isinstance(given, dt.datetime):
        return given.isoformat()
    return given


SpectrumName = Annotated[str, Beside("spectrum", ".csv"), Field(json_schema_extra=spectrum_help)]
"""Text that names a spectrum of one of the kinds of `light.spectrum_kinds`."""
Altitude = Annotated[float, Field(ge=-90.0, le=90.0)]
"""Height above the horizon, without refraction [deg]."""
Day = Annotated[str, BeforeValidator(_iso), Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]
"""Date, year-month-day."""
Clock = Annotated[str, BeforeValidator(_iso), Field(pattern=r"^\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?$")]
"""Time of the day, hours:minutes."""

_AT = ("date", "time", "latitude_deg", "longitude_deg")
_ONLY_AT = (*_AT, "utc_offset_h", "camera_bearing_deg")
_YEARS = (1900, 2100)
"""Years that the places of sun and moon are good for (chosen by us)."""
_AMOUNT = ("spectrum", "sun_share")
_MOON = ("moon_altitude_deg", "moon_azimuth_deg", "moon_phase_deg")
_SUN_AND_MOON = ("sun_altitude_deg", "sun_azimuth_deg", *_MOON)


class NaturalLight(FileModel):
    """Light of sky, sun and moon, in exactly one of three ways.

    By amount: `illuminance_lux` with its spectrum and the sun's share. By altitude:
    `sun_altitude_deg` (and the moon's, if one stands in the sky). By date: `date`, `time`,
    `latitude_deg` and `longitude_deg`, from which sun and moon follow. The last two ways take
    `cloud_cover` and `skyglow_lux` and find amounts, directions and spectra themselves.
    """

    illuminance_lux: Annotated[float, Field(ge=0.0, le=200_000.0)] | None = None
    """Illuminance on level ground, sun and sky together [lx]."""
    spectrum: str = "daylight"
    """Name of a spectrum, see `nightproof list`; with `illuminance_lux` only."""
    sun_share: Fraction = 0.0
    """Share of `illuminance_lux` which comes straight from the sun."""
    sun_altitude_deg: Altitude | None = None
    """Height of the sun above the horizon, below 0 in twilight and night [deg]; with
    `illuminance_lux` from 1 degree on, 45 if not written."""
    sun_azimuth_deg: Angle = 135.0
    """Where the sun stands: 0 ahead of the camera, 90 to its right, 180 behind it [deg]."""
    moon_altitude_deg: Altitude | None = None
    """Height of the moon above the horizon [deg]; without it no moon."""
    moon_azimuth_deg: Angle = 45.0
    """Where the moon stands, as `sun_azimuth_deg` [deg]."""
    moon_phase_deg: Annotated[float, Field(ge=0.0, le=180.0)] | None = None
    """Phase angle of the moon: 0 full, 90 half, 180 new [deg]; full if not written."""
    date: Day | None = None
    """Date at the place, year-month-day."""
    time: Clock | None = None
    """Local time at the place, hours:minutes."""
    latitude_deg: Annotated[float, Field(ge=-90.0, le=90.0)] | None = None
    """Latitude, north positive [deg]."""
    longitude_deg: Annotated[float, Field(ge=-180.0, le=180.0)] | None = None
    """Longitude, east positive [deg]."""
    utc_offset_h: Annotated[float, Field(ge=-14.0, le=15.0)] | None = None
    """Local time minus universal time, daylight saving included [h]; from the longitude, to the
    whole hour, if not written."""
    camera_bearing_deg: Angle | None = None
    """Compass bearing of the y axis, away from the camera: 0 north, 90 east [deg]; north if not
    written."""
    cloud_cover: Fraction = 0.0
    """Covered share of the sky; with sun and moon by altitude or date."""
    skyglow_lux: Annotated[float, Field(ge=0.0, le=10.0)] = 0.0
    """Light of a town thrown back by the sky, on level ground, as it is under this sky [lx]."""
    skyglow_spectrum: str = "led-4000k"
    """Name of its spectrum."""

    @model_validator(mode="after")
    def _one_way(self) -> NaturalLight:
        by_date = written(self, _ONLY_AT)
        if by_date:
            missing = [name for name in _AT if getattr(self, name) is None]
            if missing:
                raise ValueError(f"{missing[0]} is missing: a date needs {', '.join(_AT)}")
            clash = written(self, ("illuminance_lux", *_AMOUNT, *_SUN_AND_MOON))
            if clash:
                raise ValueError(
                    f"{clash[0]} and {by_date[0]} exclude each other: the date tells the light"
                )
            self.local_time()
            return self
        if self.illuminance_lux is None:
            if self.sun_altitude_deg is None:
                raise ValueError(
                    "give exactly one of illuminance_lux; sun_altitude_deg; or date, time,"
                    " latitude_deg and longitude_deg"
                )
            alone = written(self, _MOON)
            if alone and self.moon_altitude_deg is None:
                raise ValueError(f"{alone[0]} needs moon_altitude_deg")
            if clash := written(self, _AMOUNT):
                raise ValueError(
                    f"{clash[0]} goes with illuminance_lux; the sun's altitude tells it"
                )
            return self
        if self.sun_altitude_deg is not None and self.sun_altitude_deg < 1.0:
            raise ValueError(
                "sun_altitude_deg must be 1 or more beside illuminance_lux; leave illuminance_lux"
                " out to have the light of a lower sun"
            )
        if clash := written(self, (*_MOON, "cloud_cover", "skyglow_lux")):
            raise ValueError(
                f"{clash[0]} and illuminance_lux exclude each other: illuminance_lux holds all"
            )
        return self

    def local_time(self) -> dt.datetime:
        """The moment, with its offset from universal time; needs date, time and longitude."""
        assert self.date is not None and self.time is not None and self.longitude_deg is not None
        try:
            day = dt.date.fromisoformat(self.date)
        except ValueError:
            raise ValueError("date: there is no such day") from None
        padded = self.time if self.time[1] != ":" else f"0{self.time}"
        try:
            clock = dt.time.fromisoformat(padded)
        except ValueError:
            raise ValueError("time: there is no such time of the day") from None
        if not _YEARS[0] <= day.year <= _YEARS[1]:
            raise ValueError(f"date: the year must be from {_YEARS[0]} to {_YEARS[1]}")
        return dt.datetime.combine(day, clock, dt.timezone(dt.timedelta(hours=self.offset_h)))

    @property
    def offset_h(self) -> float:
        """Local time minus universal time [h]."""
        if self.utc_offset_h is not None:
            return self.utc_offset_h
        return float(round((self.longitude_deg or 0.0) / 15.0))


_LAMP_AMOUNTS = ("intensity_cd", "luminous_flux_lm", "photometry")


class Lamp(FileModel):
    """A lamp of visible light.

    How strong it is, is told in exactly one way: `intensity_cd` or `luminous_flux_lm` with a round
    beam of `beam_deg`, or a photometric file.
    """

    name: Name
    """Name by which keys and results call it."""
    spectrum: SpectrumName
    """Spectrum of the lamp."""
    intensity_cd: Annotated[float, Field(ge=0.0, le=1e7)] | None = None
    """Luminous intensity on the beam axis [cd]."""
    luminous_flux_lm: Annotated[float, Field(ge=0.0, le=1e7)] | None = None
    """Luminous flux of the whole beam [lm]; a beam of cos^m shape is assumed."""
    beam_deg: BeamAngle = 120.0
    """Full angle at half the peak intensity [deg]; not with a photometric file."""
    photometry: Annotated[str, Field(min_length=1), Beside("photometric file")] | None = None
    """IES LM-63 file (type A, B or C) beside the scene file, or its text."""
    c0_azimuth_deg: Angle = 90.0
    """Where C = 0 of the photometric file points: 0 away from the camera, 90 to its right [deg].
    Types A and B have their H to the right of the beam instead, unless that is plumb."""
    dimming: Fraction = 1.0
    """Share of the full light that the lamp gives."""
    flicker_depth: Fraction | None = None
    """Modulation of the light at twice the mains frequency, (max - min)/(max + min); usual for its
    spectrum if not written."""
    mains_hz: Literal[50, 60] = 50
    """Mains frequency [Hz]."""
    phase_deg: Angle = 0.0
    """Phase of the flicker at time 0 [deg]; lamps on another mains phase differ by 120 degrees."""
    position_m: Point
    """World position [m]."""
    aim_m: Point
    """World point on the beam axis [m]."""
    diameter_m: Annotated[float, Field(gt=0.0, le=5.0)] = 0.2
    """Diameter of the bright face, as the camera sees it and as shadows are soft by it [m]."""
    on: bool = True
    """Whether it gives light."""

    @model_validator(mode="after")
    def _one_amount(self) -> Lamp:
        if len(written(self, _LAMP_AMOUNTS)) != 1:
            raise ValueError(f"give exactly one of {', '.join(_LAMP_AMOUNTS)}")
        if self.photometry is not None and written(self, ("beam_deg",)):
            raise ValueError("beam_deg and photometry exclude each other: the file tells the beam")
        _check_place(self)
        return self


_LIGHT_AMOUNTS = ("radiant_intensity_w_per_sr", "intensity_cd", "luminous_flux_lm", "efficiency")


class Illuminator(FileModel):
    """An infrared or white illuminator.

    `use` names a file of profiles/lights/; its values stand here unless written again. Its colour
    is a `wavelength_nm` or a `spectrum`; how strong it is, is told in exactly one way:
    `radiant_intensity_w_per_sr` (with a wavelength), `intensity_cd` or `luminous_flux_lm` (with a
    spectrum), or `electrical_power_w` and `efficiency`. Give either `position_m` or
    `beside_camera_m`.
    """

    name: Name
    """Name by which keys and results call it."""
    use: str | None = None
    """Name of a light profile whose values fill what is not written here."""
    title: str = ""
    """What it is, in a line."""
    wavelength_nm: Annotated[float, Field(ge=400.0, le=1050.0)] | None = None
    """Peak wavelength [nm]."""
    bandwidth_nm: Annotated[float, Field(ge=1.0, le=200.0)] = 35.0
    """Full width at half maximum of the spectrum around `wavelength_nm` [nm]."""
    spectrum: SpectrumName | None = None
    """Spectrum of the illuminator."""
    radiant_intensity_w_per_sr: Annotated[float, Field(ge=0.0, le=10_000.0)] | None = None
    """Radiant intensity on the beam axis [W/sr]."""
    intensity_cd: Annotated[float, Field(ge=0.0, le=1e7)] | None = None
    """Luminous intensity on the beam axis [cd]."""
    luminous_flux_lm: Annotated[float, Field(ge=0.0, le=1e7)] | None = None
    """Luminous flux of the whole beam [lm]."""
    efficiency: Annotated[float, Field(gt=0.0, le=1.0)] | None = None
    """Light that leaves the lamp over `electrical_power_w`, watt for watt."""
    beam_deg: BeamAngle
    """Full angle at half the peak intensity [deg]."""
    beam_shape: Literal["cosine", "flat"] = "cosine"
    """"cosine": I0 cos^m, brightest on the axis. "flat": even inside the beam, with a soft edge."""
    emitter_width_m: Annotated[float, Field(gt=0.0, le=2.0)] = 0.05
    """Width of the emitting face [m], for the softness of shadows and the eye-safety caution."""
    electrical_power_w: Annotated[float, Field(gt=0.0, le=5000.0)] | None = None
    """Electrical power drawn [W]."""
    dimming: Fraction = 1.0
    """Share of the full light that the lamp gives."""
    position_m: Point | None = None
    """World position [m]."""
    beside_camera_m: Point | None = None
    """Position from the lens: right, forward, up [m]."""
    aim_m: Point
    """World point on the beam axis [m]."""
    on: bool = True
    """Whether it gives light."""

    @model_validator(mode="after")
    def _consistent(self) -> Illuminator:
        if (self.position_m is None) == (self.beside_camera_m is None):
            raise ValueError("give exactly one of position_m and beside_camera_m")
        if (self.wavelength_nm is None) == (self.spectrum is None):
            raise ValueError("give exactly one of wavelength_nm and spectrum")
        amounts = written(self, _LIGHT_AMOUNTS)
        if len(amounts) != 1:
            raise ValueError(f"give exactly one of {', '.join(_LIGHT_AMOUNTS)}")
        if amounts[0] == "efficiency" and self.electrical_power_w is None:
            raise ValueError("efficiency needs electrical_power_w")
        if amounts[0] == "radiant_intensity_w_per_sr" and self.wavelength_nm is None:
            raise ValueError(
                "radiant_intensity_w_per_sr goes with wavelength_nm; with a spectrum give"
                " intensity_cd, luminous_flux_lm, or electrical_power_w and efficiency"
            )
        if amounts[0] in ("intensity_cd", "luminous_flux_lm") and self.spectrum is None:
            raise ValueError(
                f"{amounts[0]} goes with a spectrum; with wavelength_nm give"
                " radiant_intensity_w_per_sr, or electrical_power_w and efficiency"
            )
        if self.beam_shape == "flat" and self.beam_deg < 4.0:
            raise ValueError("beam_deg must be 4 or more with the beam_shape flat")
        if self.position_m is not None:
            _check_place(self)
        return self


def _check_place(light: Lamp | Illuminator) -> None:
    """Refuse a place under the ground, and an aim that is the place of the light itself."""
    if light.position_m is not None and light.position_m[2] < 0.0:
        raise ValueError("position_m must not lie below the ground, at height 0")
    if light.position_m == light.aim_m:
        raise ValueError("aim_m must differ from position_m")
