from . import bench as bench, camera as camera, judge as judge, light as light, scene as scene
from .api.again import Again as Again, rerun as rerun
from .api.budgeting import Budget as Budget, budget as budget
from .api.comparison import Comparison as Comparison, compare as compare
from .api.documents import document as document
from .api.film import Film as Film, film as film
from .api.lamp import Lighting as Lighting, NoLampNeeded as NoLampNeeded, lighting as lighting
from .api.light_level import LightLevels as LightLevels, light_levels as light_levels
from .api.measuring import Measurement as Measurement, measure as measure
from .api.new import (
    NewCamera as NewCamera,
    NewScene as NewScene,
    new_camera as new_camera,
    new_scene as new_scene,
)
from .api.prediction import Prediction as Prediction, predict as predict
from .api.quickly import Quick as Quick, quick as quick
from .api.shown import Picture as Picture
from .api.site_plan import SitePlan as SitePlan, show as show
from .api.specifying import Specification as Specification, specify as specify
from .api.surveying import Survey as Survey, survey as survey
from .api.sweeping import Sweep as Sweep, sweep as sweep
from .api.teaching import Lesson as Lesson, lesson as lesson, lesson_names as lesson_names
from .api.year import Calendar as Calendar, calendar as calendar
from .camera.load import Camera as Camera
from .errors import (
    FileFormatError as FileFormatError,
    GeometryError as GeometryError,
    InputError as InputError,
    NameNotFoundError as NameNotFoundError,
    NightproofError as NightproofError,
    NoLightError as NoLightError,
    OutputError as OutputError,
)
from .judge.result import Verdict as Verdict
from .scene.load import Scene as Scene
from .studies.session import Session as Session, open_session as open_session

__version__: str
