from .colour_chart import (
    ChartColours as ChartColours,
    photograph_chart as photograph_chart,
)
from .dynamic_range import (
    DynamicRange as DynamicRange,
    measure_dynamic_range as measure_dynamic_range,
)
from .trails import (
    Trail as Trail,
    measure_trail as measure_trail,
)
