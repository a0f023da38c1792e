"""How long parts last: lives that ended, lives that go on, parts met when they were already old.

A part that still serves, or was taken off sound, is censored: it lasted at least so long. A part
that was in service when its record began entered late: it could not have been seen to fail
before. Both are counted for what they are, and neither may be left out.

The likelihood is that of a process whose rate is log-linear in the logarithm of age,

    rate(u) = k u^(shape - 1),  k = shape / scale^shape,

so that with M(u) parts under watch at age u and failures at t_1 ... t_r

    log L = r log k + (shape - 1) sum log t_i - k A(shape),  A = integral of M(u) u^(shape - 1) du.

k is known given the shape, k = r/A, and what is left is concave in the shape, with late entry
and without, because log A is a cumulant function. So there is one root at most, a bracket always
holds it, and whether there is one can be told beforehand. The region of likelihood about it has
an edge in closed form, and every interval here is read off that edge.
"""

from rehang.calc.life._edge import Edge, Interval
from rehang.calc.life.fitting import Weibull, weibull
from rehang.calc.life.lasting import Lasting, weibull_hours, weibull_lasting

__all__ = [
    "Edge",
    "Interval",
    "Lasting",
    "Weibull",
    "weibull",
    "weibull_hours",
    "weibull_lasting",
]
