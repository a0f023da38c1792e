"""Units as types: a signature says what each argument and each result is in.

Three names for each unit. The plural is what is given: a number, or an array of any shape that
broadcasts with the others. The singular is one number and no array. ``Out`` is what comes back:
a float where floats went in, else an array. Where a calculation holds in any unit, the first
value's is the caller's to choose and all that go with it are in the same.
"""

from __future__ import annotations

from typing import Annotated

from numpy.typing import ArrayLike

from rehang.calc._inputs import FloatOrArray

# Numbers without a unit: ratios, shares, factors, probabilities, counts.
Ratios = Annotated[ArrayLike, "-"]
Ratio = Annotated[float, "-"]
RatiosOut = Annotated[FloatOrArray, "-"]
Count = Annotated[int, "-"]
Index = Annotated[int, "-"]
# One or zero, or true and false.
Marks = Annotated[ArrayLike, "yes or no"]

# Any unit, and the same one.
Values = Annotated[ArrayLike, "any unit"]
SameUnits = Annotated[ArrayLike, "the same unit"]
SameUnit = Annotated[float, "the same unit"]
SameUnitsOut = Annotated[FloatOrArray, "the same unit"]
Variances = Annotated[ArrayLike, "the same unit, squared"]
Variance = Annotated[float, "the same unit, squared"]

# Pressure: absolute, or as a gauge shows it.
Pascals = Annotated[ArrayLike, "Pa"]
PascalsOut = Annotated[FloatOrArray, "Pa"]
GaugePascals = Annotated[ArrayLike, "Pa above ambient"]
GaugePascalsOut = Annotated[FloatOrArray, "Pa above ambient"]

# The rest of the SI.
Kelvins = Annotated[ArrayLike, "K"]
KelvinsOut = Annotated[FloatOrArray, "K"]
DensitiesOut = Annotated[FloatOrArray, "kg/m3"]
Metres = Annotated[ArrayLike, "m"]
MetresOut = Annotated[FloatOrArray, "m"]
SquareMetres = Annotated[ArrayLike, "m2"]
SquareMetresOut = Annotated[FloatOrArray, "m2"]
NewtonMetres = Annotated[ArrayLike, "N m"]
NewtonMetresOut = Annotated[FloatOrArray, "N m"]
Radians = Annotated[ArrayLike, "rad"]
Radian = Annotated[float, "rad"]
Ohms = Annotated[ArrayLike, "ohm"]
OhmsOut = Annotated[FloatOrArray, "ohm"]
VoltsOut = Annotated[FloatOrArray, "V"]
Second = Annotated[float, "s"]
Seconds = Annotated[ArrayLike, "s"]

# Running time of an engine, which the trade counts in hours; and moments of a plan.
RunningHours = Annotated[ArrayLike, "h"]
RunningHour = Annotated[float, "h"]
Moment = Annotated[int, "time unit"]
Span = Annotated[int, "time unit"]
TimeUnits = Annotated[float, "time unit"]

# Oil: one unit of volume and one of concentration throughout.
Volumes = Annotated[ArrayLike, "unit of volume"]
Volume = Annotated[float, "unit of volume"]
VolumesPerHour = Annotated[ArrayLike, "volume per hour"]
VolumePerHour = Annotated[float, "volume per hour"]
Concentrations = Annotated[ArrayLike, "unit of concentration"]
ConcentrationsOut = Annotated[FloatOrArray, "unit of concentration"]
MetalPerHour = Annotated[ArrayLike, "concentration times volume per hour"]
MetalPerHourOut = Annotated[FloatOrArray, "concentration times volume per hour"]
MetalOut = Annotated[FloatOrArray, "concentration times volume"]
