"""How parts wear: fits with parts that differ, forecasts, and what stands out.

`fit` is the wear of the parts of one set: the level restarts whenever the part is set anew, the
rate stays the part's own, and parts lend each other what they know of rates. A forecast from it
is a mixture over the variances that the data allow, not one best guess of them, so that its
intervals hold what they say with eight parts and three readings each. `fleet` hands on what one
set says to the next; `jump`, `meter_difference` and `apart` say what stands out.
"""

from rehang.calc.wear._lent import Fleet, Told
from rehang.calc.wear._scale import Direction, Scale
from rehang.calc.wear.alarms import Apart, Difference, Jump, apart, jump, meter_difference
from rehang.calc.wear.fitting import fit
from rehang.calc.wear.fleets import fleet
from rehang.calc.wear.forecast import Forecast
from rehang.calc.wear.growth import Growth

__all__ = [
    "Apart",
    "Difference",
    "Direction",
    "Fleet",
    "Forecast",
    "Growth",
    "Jump",
    "Scale",
    "Told",
    "apart",
    "fit",
    "fleet",
    "jump",
    "meter_difference",
]
