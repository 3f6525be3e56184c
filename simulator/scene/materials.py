"""Materials: spectral reflectance of surfaces, and retroreflective sheeting."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from simulator import data
from simulator.errors import FileFormatError, InputError
from simulator.units import FloatArray, Image

OBSERVATION_STEP_DEG: Final[float] = 0.05
OBSERVATION_MAX_DEG: Final[float] = 10.0
ENTRANCE_STEP_DEG: Final[float] = 2.0
ENTRANCE_MAX_DEG: Final[float] = 80.0
"""Sampling of `Sheeting.dense_table` [deg]."""

_TAIL_DEG: Final[float] = 1.0
"""Observation angle beyond which R_A falls with the square of the angle (assumed) [deg]."""


SIGN_PREFIX: Final[str] = "sign-"
"""Materials whose header tells the R_A of their colour over that of white."""


DIRT = "soil"
"""Material of what soils plates and paint."""


@dataclass(frozen=True)
class Gloss:
    """A smooth or rough clear coat that mirrors.

    Attributes
    ----------
    index
        Refractive index n; head on the coat mirrors ((n - 1)/(n + 1))^2. Metals are told by the
        index that mirrors as much.
    roughness
        Width alpha of the GGX distribution of its facets (Walter et al. 2007), 0 to 1.
    """

    index: float
    roughness: float


@dataclass(frozen=True)
class Material:
    """A surface.

    Attributes
    ----------
    name
        Name, as `material` takes it.
    reflectance
        Diffuse (Lambertian) spectral reflectance, shape (721,), 0 to 1, read-only.
    sheeting
        Name of the retroreflective sheeting it is made of, or None.
    status
        How sure the numbers are (measured, datasheet, computed, assumed), with the reason.
    origin
        Where they come from.
    gloss
        Its clear coat, or None for a matt surface.
    sheeting_colour
        Colour of the layer over white sheeting, or None: "red" on sheeting "type-iii" retroreflects
        as sheeting "type-iii-red".
    transmittance
        Share of light that a pane of it lets through at every wavelength, 0 for what is opaque;
        only bodies are looked through.
    soiling
        Share of the surface that opaque dirt hides.

    Examples
    --------
    >>> white = material("sign-white")
    >>> bool(white.scaled(0.5).reflectance[170] < white.reflectance[170])
    True
    """

    name: str
    reflectance: FloatArray
    sheeting: str | None
    status: str
    origin: str
    gloss: Gloss | None = None
    sheeting_colour: str | None = None
    transmittance: float = 0.0
    soiling: float = 0.0

    def soiled(self, share: float) -> Material:
        """The same surface under dirt that hides a share of it: what it scatters is the mean of
        both by area, and only what is clean sends light back to where it came from.

        Examples
        --------
        >>> paint = material("paint-white")
        >>> dull = paint.soiled(0.5).reflectance
        >>> bool((dull < paint.reflectance)[170]), bool((dull > 0.2)[170])
        (True, True)
        """
        if share == 0.0:
            return self
        reflectance = (1.0 - share) * self.reflectance + share * material(DIRT).reflectance
        reflectance.setflags(write=False)
        return replace(self, reflectance=reflectance, soiling=share)

    def scaled(self, factor: float) -> Material:
        """The same surface with its diffuse reflectance times `factor` (cut at .999).

        For drawn relief and folds of a flat card, which receive less light than the card.
        """
        if factor == 1.0:
            return self
        reflectance = np.minimum(self.reflectance * factor, 0.999)
        reflectance.setflags(write=False)
        return replace(self, name=f"{self.name} x {factor:g}", reflectance=reflectance)


def is_shade_of(shown: Material, name_or_text: str) -> bool:
    """Whether a material of a world is one that a scene names, in any shade of it."""
    name = material(name_or_text).name
    return shown.name == name or shown.name.startswith(f"{name} x ")


def material_names() -> list[str]:
    """Sorted names of the bundled materials.

    Returns
    -------
    list of str
        What `material` takes.

    References
    ----------
    Tables bundled with the package; the header of each tells its origin and status.

    Examples
    --------
    >>> "asphalt" in material_names()
    True
    """
    return data.names("reflectance")


@lru_cache
def material(name_or_text: str) -> Material:
    """A material by its bundled name, or from the text of a table, which has several lines.

    Parameters
    ----------
    name_or_text
        One of `material_names()`, or the text of a table as `material_of_text` takes it.

    Returns
    -------
    Material
        Spectral reflectance, coat and origin.

    Raises
    ------
    NameNotFoundError
        If there is no such material; the nearest names are told.
    FileFormatError
        For a text that is not the table of a material.

    References
    ----------
    Header of the table; `Material.origin` and `Material.status` repeat it.

    Examples
    --------
    >>> asphalt = material("asphalt")
    >>> asphalt.reflectance.shape, round(float(asphalt.reflectance[550 - 380]), 3)
    ((721,), 0.072)
    """
    if "\n" in name_or_text:
        return material_of_text(name_or_text)
    if name_or_text not in material_names():
        raise data.not_found("material", name_or_text, material_names())
    return _material(data.read_table("reflectance", name_or_text))


def material_of_text(text: str, file: object = None) -> Material:
    """A material from the text of a table, in the format of the bundled ones.

    Parameters
    ----------
    text
        Header lines (title, origin, status, units, range), then the columns wavelength_nm (380 to
        1100 nm, rising) and reflectance (0 to 1).
    file
        Where it comes from, for errors.

    Raises
    ------
    FileFormatError
        For anything else than that.
    """
    where = None if file is None else str(file)
    table = data.parse_table("own material", text, where)
    if list(table.columns) != ["wavelength_nm", "reflectance"]:
        raise FileFormatError(
            "The columns of a material are wavelength_nm and reflectance.",
            file=where,
            given=", ".join(table.columns),
            allowed="wavelength_nm,reflectance",
        )
    if np.any((table.columns["reflectance"] < 0.0) | (table.columns["reflectance"] > 1.0)):
        raise FileFormatError(
            "A reflectance is out of range.",
            file=where,
            given=float(table.columns["reflectance"].max()),
            allowed="0 to 1; write 8 % as 0.08",
        )
    for key, known in (("sheeting", sheeting_names()), ("sheeting_colour", sheeting_colours())):
        if (given := table.header.get(key)) is not None and given not in known:
            raise FileFormatError(
                f"There is no such {key.replace('_', ' ')}.",
                file=where,
                key=key,
                given=given,
                allowed=", ".join(known),
            )
    try:
        digest = hashlib.sha256(text.encode()).hexdigest()
        return replace(_material(table), name=f"{table.header['title']} [{digest[:6]}]")
    except InputError as error:
        raise error.but(file=error.file or where) from None
    except (KeyError, ValueError) as error:
        raise FileFormatError(
            "gloss_index and gloss_roughness must both be numbers.", file=where, given=str(error)
        ) from None


def _material(table: data.Table) -> Material:
    reflectance = table.on_grid("reflectance")
    reflectance.setflags(write=False)
    return Material(
        name=table.name,
        reflectance=reflectance,
        sheeting=table.header.get("sheeting"),
        status=table.header["status"],
        origin=table.header["origin"],
        gloss=_gloss(table.header),
        sheeting_colour=table.header.get("sheeting_colour"),
        transmittance=float(table.header.get("transmittance", 0.0)),
    )


def _gloss(header: dict[str, str]) -> Gloss | None:
    if "gloss_index" not in header:
        return None
    return Gloss(float(header["gloss_index"]), float(header["gloss_roughness"]))


@dataclass(frozen=True)
class Sheeting:
    """Retroreflective sheeting by its coefficient of retroreflection R_A.

    Luminance towards the camera is L = R_A(observation, entrance) x E, E being the illuminance
    perpendicular to the light (ASTM E809/E810). R_A is taken as the same at every wavelength
    (assumed); a coloured sheeting returns its colour only through the tabulated R_A.

    Attributes
    ----------
    name
        Name, as `sheeting` takes it.
    observation_deg
        Tabulated observation angles [deg], shape (A,), rising.
    entrance_deg
        Tabulated entrance angles [deg], shape (2,).
    table
        R_A [cd lx^-1 m^-2], shape (A, 2).
    status, origin
        How sure the table is, and where it comes from.

    Examples
    --------
    >>> [round(float(sheeting("type-iii").coefficient(a, 4.0))) for a in (0.1, 0.2, 0.5)]
    [300, 250, 95]
    """

    name: str
    observation_deg: FloatArray
    entrance_deg: FloatArray
    table: FloatArray
    status: str
    origin: str

    def coefficient(
        self, observation_deg: FloatArray | float, entrance_deg: FloatArray | float
    ) -> FloatArray:
        """Coefficient of retroreflection R_A [cd lx^-1 m^-2].

        ln R_A is linear in the observation angle between tabulated angles, and linear in the
        square of the entrance angle. Outside the table (assumed): constant below the smallest
        tabulated angles, which understates a source very close to the lens; above the largest
        observation angle the last slope in ln R_A of the smaller entrance angle goes on to
        1 deg, from where R_A falls as 1/angle^2; above the larger entrance angle the slope in
        its square goes on, the same for all observation angles (mean of the tabulated rows),
        and nothing returns from 90 deg on.

        Parameters
        ----------
        observation_deg
            Angle at the target between lamp and lens [deg].
        entrance_deg
            Angle between the light and the surface normal [deg]. Shapes broadcast; signs are
            ignored.

        Returns
        -------
        R_A, broadcast shape.
        """
        observation = np.abs(np.asarray(observation_deg, dtype=np.float64))
        entrance = np.abs(np.asarray(entrance_deg, dtype=np.float64))
        angles, log_table = self.observation_deg, np.log(self.table)
        near, far = (np.interp(observation, angles, log_table[:, i]) for i in (0, 1))
        # share of the way between the two tabulated entrance angles, and what lies beyond
        first, last = self.entrance_deg**2
        share = np.clip((entrance**2 - first) / (last - first), 0.0, None)
        log_value = near + (far - near) * np.minimum(share, 1.0)
        fall = np.mean(log_table[:, 1] - log_table[:, 0])
        log_value = log_value + fall * np.clip(share - 1.0, 0.0, None)
        slope = (log_table[-1, 0] - log_table[-2, 0]) / (angles[-1] - angles[-2])
        beyond = np.clip(np.minimum(observation, _TAIL_DEG) - angles[-1], 0.0, None)
        tail = (_TAIL_DEG / np.maximum(observation, _TAIL_DEG)) ** 2
        value = np.exp(log_value + slope * beyond) * tail
        return np.asarray(np.where(entrance < 90.0, value, 0.0))

    def dense_table(self) -> Image:
        """R_A on a regular grid for a kernel, float32, shape (201, 41).

        Rows: observation 0 to 10 deg in steps of 0.05; columns: entrance 0 to 80 in steps of 2.
        """
        rows = round(OBSERVATION_MAX_DEG / OBSERVATION_STEP_DEG) + 1
        columns = round(ENTRANCE_MAX_DEG / ENTRANCE_STEP_DEG) + 1
        observation = np.linspace(0.0, OBSERVATION_MAX_DEG, rows)
        entrance = np.linspace(0.0, ENTRANCE_MAX_DEG, columns)
        return self.coefficient(observation[:, None], entrance[None, :]).astype(np.float32)


def sheeting_names() -> list[str]:
    """Sorted names of the bundled sheetings.

    Returns
    -------
    list of str
        What `sheeting` takes, alone or with "-" and a colour.

    References
    ----------
    Tables bundled with the package; the header of each tells its origin and status.

    Examples
    --------
    >>> "type-iii" in sheeting_names()
    True
    """
    return data.names("sheeting")


def sheeting_colours() -> list[str]:
    """Sorted colours that a white sheeting can carry, as in "type-iii-red"."""
    return sorted(
        name.removeprefix(SIGN_PREFIX)
        for name in material_names()
        if name.startswith(SIGN_PREFIX) and material(name).sheeting_colour is not None
    )


@lru_cache
def sheeting(name: str) -> Sheeting:
    """A bundled retroreflective sheeting, or a bundled one with a colour ("type-xi-blue").

    The colour multiplies R_A at every angle by its published ratio to white (type III at .2/-4
    degrees, header of the material "sign-<colour>"); other classes are taken to have the same
    ratio (assumed).

    Parameters
    ----------
    name
        One of `sheeting_names()`, or one with "-" and a colour.

    Returns
    -------
    Sheeting
        Coefficient of retroreflection R_A by observation and entrance angle.

    Raises
    ------
    NameNotFoundError
        If there is no such sheeting; the nearest names are told.

    References
    ----------
    ASTM D4956 (types and least R_A), as the header of each table quotes it; ASTM E810 (angles).

    Examples
    --------
    >>> [round(float(sheeting(n).coefficient(0.2, -4.0))) for n in ("type-iii", "type-iii-red")]
    [250, 45]
    """
    if name not in sheeting_names():
        white, _, colour = name.rpartition("-")
        if white in sheeting_names() and colour in sheeting_colours():
            header = data.read_table("reflectance", f"{SIGN_PREFIX}{colour}").header
            base = sheeting(white)
            ratio = float(header["sheeting_ratio"])
            return replace(base, name=name, table=base.table * ratio)
        raise data.not_found("sheeting", name, sheeting_names())
    table = data.read_table("sheeting", name)
    columns = dict(table.columns)
    observation = columns.pop("observation_deg")
    entrance = np.array([float(key.split("_")[1]) for key in columns])
    return Sheeting(
        name=name,
        observation_deg=observation,
        entrance_deg=entrance,
        table=np.stack(list(columns.values()), axis=1),
        status=table.header["status"],
        origin=table.header["origin"],
    )
