from .auto_exposure import (
    settle_exposure as settle_exposure,
)
from .colour_matrix import (
    chart_linear_rgb as chart_linear_rgb,
    chart_reflectance as chart_reflectance,
    colour_matching_functions as colour_matching_functions,
    solve_colour_matrix as solve_colour_matrix,
)
from .day_night import (
    ModePath as ModePath,
    choose_mode as choose_mode,
    estimated_illuminance as estimated_illuminance,
    mode_path as mode_path,
)
from .exposure import (
    ExposureState as ExposureState,
    longest_shutter_s as longest_shutter_s,
    settle as settle,
)
from .in_scene import (
    CameraInScene as CameraInScene,
    place_camera as place_camera,
)
from .lens import (
    box_otf as box_otf,
    defocus_blur_m as defocus_blur_m,
    defocus_otf as defocus_otf,
    diffraction_mtf as diffraction_mtf,
    gaussian_mtf as gaussian_mtf,
    lens_factor as lens_factor,
    magnification as magnification,
)
from .load import (
    Camera as Camera,
)
from .metering import (
    metered_level as metered_level,
    metering_weights as metering_weights,
    wanted_product as wanted_product,
)
from .model import (
    CameraModel as CameraModel,
)
from .model_exposure import (
    DayNight as DayNight,
    Exposure as Exposure,
    WideRange as WideRange,
)
from .model_lens import (
    Cover as Cover,
    Lens as Lens,
)
from .model_processing import (
    Processing as Processing,
    Stream as Stream,
)
from .model_sensor import (
    Sensor as Sensor,
)
from .pipeline import (
    shoot as shoot,
)
from .response import (
    coefficients as coefficients,
    infrared_cut_filter as infrared_cut_filter,
    lens_transmittance as lens_transmittance,
    mean_wavelength_nm as mean_wavelength_nm,
    quantum_efficiency as quantum_efficiency,
    quantum_efficiency_names as quantum_efficiency_names,
)
from .rolling import (
    line_time_s as line_time_s,
)
from .sensor import (
    expose as expose,
)
from .sensor_readout import (
    Readout as Readout,
    dark_electrons_per_s as dark_electrons_per_s,
    full_well_e as full_well_e,
    noise_electrons as noise_electrons,
    read_noise_e as read_noise_e,
    readout as readout,
)
from .stream import (
    Coded as Coded,
    mean_rate_kbit_s as mean_rate_kbit_s,
    steady_quantiser as steady_quantiser,
)
from .wide_range import (
    compressed as compressed,
    expanded as expanded,
    shutters_s as shutters_s,
)
