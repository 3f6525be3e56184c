from .air import (
    extinction_per_m as extinction_per_m,
    phase_function as phase_function,
    rain_extinction_per_m as rain_extinction_per_m,
    wavelength_exponent as wavelength_exponent,
)
from .build import (
    build_world as build_world,
)
from .geometry import (
    Card as Card,
    View as View,
    facing_normal as facing_normal,
    heading_velocity as heading_velocity,
    thin_lens_image_distance as thin_lens_image_distance,
)
from .load import (
    Scene as Scene,
)
from .materials import (
    Material as Material,
    Sheeting as Sheeting,
    material as material,
    material_names as material_names,
    sheeting as sheeting,
    sheeting_names as sheeting_names,
)
from .model import (
    SceneModel as SceneModel,
    Station as Station,
    Task as Task,
)
from .model_air import (
    AirModel as AirModel,
)
from .model_light import (
    Illuminator as Illuminator,
    Lamp as Lamp,
    NaturalLight as NaturalLight,
)
from .model_targets import (
    ColourChart as ColourChart,
    EdgeChart as EdgeChart,
    Face as Face,
    GreyChart as GreyChart,
    Parcel as Parcel,
    Person as Person,
    ResolutionChart as ResolutionChart,
    Sign as Sign,
    StarChart as StarChart,
)
from .model_things import (
    Gate as Gate,
    Ground as Ground,
    Opening as Opening,
    Photograph as Photograph,
    Plate as Plate,
    VehicleFront as VehicleFront,
    VehicleRear as VehicleRear,
    VehicleSide as VehicleSide,
    Wall as Wall,
)
from .targets.plate import (
    design_names as design_names,
    plate_design as plate_design,
)
from .world import (
    Backlight as Backlight,
    World as World,
)
