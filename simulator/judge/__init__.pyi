from .colour_difference import (
    ciede2000 as ciede2000,
    lab_of_linear as lab_of_linear,
    lab_of_reflectance as lab_of_reflectance,
    lab_of_xyz as lab_of_xyz,
)
from .colour_naming import (
    name_shares as name_shares,
    right_names as right_names,
)
from .cycles import (
    eye_threshold as eye_threshold,
    metric_50 as metric_50,
    task_probability as task_probability,
)
from .density import (
    density_class as density_class,
    density_class_2025 as density_class_2025,
)
from .eye import (
    contrast_sensitivity as contrast_sensitivity,
)
from .impairments import (
    IMPAIRMENTS as IMPAIRMENTS,
    Impairment as Impairment,
)
from .lighting import (
    Contribution as Contribution,
    contributions as contributions,
    totals as totals,
)
from .limits import (
    shapley_shares as shapley_shares,
)
from .named_figures import (
    FIGURES as FIGURES,
    Figure as Figure,
)
from .picture_figures import (
    noise_levels as noise_levels,
    visual_noise as visual_noise,
)
from .result import (
    ColourSeen as ColourSeen,
    Exposure as Exposure,
    Geometry as Geometry,
    Limit as Limit,
    RemedyPart as RemedyPart,
    RemedyRow as RemedyRow,
    Sensitivity as Sensitivity,
    Sentences as Sentences,
    Signal as Signal,
    Stream as Stream,
    TargetBrief as TargetBrief,
    TargetSeen as TargetSeen,
    Task as Task,
    Verdict as Verdict,
)
from .trials import (
    jeffreys_interval as jeffreys_interval,
)
from .verdict import (
    verdict_word as verdict_word,
)
