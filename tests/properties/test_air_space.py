"""All the air that can be written down: a number, or one sentence that says why there is none."""

import math
from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from rehang.trade.run.air import DayAir, check_conditions, day_air, worth_of
from rehang.trade.terms.errors import BadInput

degrees = st.one_of(
    st.integers(-70, 70).map("{} C".format),
    st.integers(-80, 150).map("{} F".format),
    st.integers(1, 60).map("\N{MINUS SIGN}{} C".format),
)
setting = st.one_of(
    st.integers(850, 1100).map("{} hPa".format),
    st.floats(25, 33).map("{:.2f}".format),
    st.just("1013"),
)
height = st.one_of(st.integers(-600, 6000).map("{} m".format), st.integers(-1500, 19000).map(str))
weather = st.fixed_dictionaries(
    {"oat": degrees, "altimeter": setting, "elevation": height}, optional={"dew_point": degrees}
)
bound = st.one_of(st.none(), st.integers(0, 6000))


@given(given=weather, speed=st.integers(0, 6000), lower=bound, upper=bound, u=st.floats(0, 500))
def test_every_air_and_speed_is_a_number_or_a_sentence(given, speed, lower, upper, u):
    try:
        check_conditions(given)
        air = day_air(SimpleNamespace(engine={}), given)
    except BadInput as reason:
        refusal = reason.sentence
    else:
        refusal = ""
    if refusal:
        assert refusal.endswith(".")
        assert " K " not in refusal
        return
    if isinstance(air, str):
        assert air.startswith("What the air is worth is not")
        return
    assert isinstance(air, DayAir)
    limit = SimpleNamespace(lower=lower, upper=upper)
    found = worth_of(float(speed), limit, air, u_speed=u)
    assert found.sentence.endswith(".")
    assert all(math.isfinite(one) for one in (found.off, found.by_air, found.left))
