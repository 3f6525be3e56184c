from .beams import (
    beam_exponent as beam_exponent,
    beam_flux as beam_flux,
    headlamp_intensity_cd as headlamp_intensity_cd,
    point_irradiance as point_irradiance,
    relative_intensity as relative_intensity,
)
from .darkness import (
    Darkness as Darkness,
    hours_dark as hours_dark,
)
from .eye_safety import (
    EyeSafety as EyeSafety,
    assess_infrared as assess_infrared,
    axial_irradiance_w_m2 as axial_irradiance_w_m2,
    cornea_limit_w_m2 as cornea_limit_w_m2,
    cornea_time_s as cornea_time_s,
    hazard_distance_m as hazard_distance_m,
    retina_weight as retina_weight,
)
from .flicker import (
    mean_over_exposure as mean_over_exposure,
)
from .lamp_spectra import (
    white_led as white_led,
)
from .luminaire import (
    PhotometricFile as PhotometricFile,
)
from .natural import (
    NaturalPart as NaturalPart,
    NaturalState as NaturalState,
    natural_illuminance_lux as natural_illuminance_lux,
    natural_light as natural_light,
    sky_state as sky_state,
)
from .photometric_file import (
    parse_photometric_file as parse_photometric_file,
    read_photometric_file as read_photometric_file,
)
from .photometry import (
    illuminance_lux as illuminance_lux,
    luminous_efficacy as luminous_efficacy,
    luminous_efficiency as luminous_efficiency,
    photon_irradiance as photon_irradiance,
)
from .sky_spectra import (
    clear_sky_power as clear_sky_power,
    direct_power as direct_power,
    direct_share as direct_share,
    moon_spectra as moon_spectra,
    sky_spectrum as sky_spectrum,
    sun_spectrum as sun_spectrum,
)
from .sources import (
    LightSource as LightSource,
)
from .spectra import (
    Spectrum as Spectrum,
    blackbody_power as blackbody_power,
    filtered as filtered,
    gaussian_emitter as gaussian_emitter,
    spectrum as spectrum,
    spectrum_names as spectrum_names,
)
from .spectrum_kinds import (
    lamp_spectrum as lamp_spectrum,
)
from .sun_moon import (
    SkyPosition as SkyPosition,
    air_mass as air_mass,
    cloud_factor as cloud_factor,
    moon_illuminance_lux as moon_illuminance_lux,
    night_sky_illuminance_lux as night_sky_illuminance_lux,
    sky_position as sky_position,
    sun_illuminance_lux as sun_illuminance_lux,
)
from .webs import (
    flat_beam as flat_beam,
    web_intensity as web_intensity,
)
