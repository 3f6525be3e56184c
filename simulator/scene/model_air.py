"""What a scene file says of the air."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from simulator.fields import FileModel


class AirModel(FileModel):
    """Haze or fog between things; without this table the air is clear."""

    visibility_m: Annotated[float, Field(ge=10.0, le=100_000.0)]
    """Meteorological visibility, at a contrast threshold of 2 %, for green light [m]."""
    kind: Literal["haze", "fog"] = "haze"
    """"haze": extinction by wavelength after Kim (none under 500 m); "fog": the same for all."""

    def told(self) -> str:
        """What was assumed, as a sentence."""
        return (
            f"Air: {self.kind} of {self.visibility_m:g} m visibility, even everywhere; single"
            " scattering, no shadows in the air, no rain."
        )
