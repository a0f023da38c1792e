"""What holds for all inputs of `rehang.calc.wear`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.stats import multivariate_normal, norm

from bench.mixed import mixed_model
from bench.shops import Shops, coverage, false_alarms
from rehang.calc.errors import OutOfRange
from rehang.calc.wear import apart, fit, fleet, jump, meter_difference
from rehang.calc.wear._readings import checked, reduce
from rehang.calc.wear.forecast import _below_given

seeds = st.integers(0, 2**32 - 1)


def unbalanced(rng, groups=8, slope_sd=0.5):
    """Groups of 1 to 6 values at hours of their own."""
    sizes = rng.integers(1, 7, groups)
    sizes[:3] = 5
    group = np.repeat(np.arange(groups), sizes)
    x = rng.uniform(0, 10, len(group))
    own = rng.standard_normal((2, groups)) * [[2.0], [slope_sd]]
    known = rng.uniform(0.05, 1.0, len(group))
    noise = rng.standard_normal(len(group)) * np.sqrt(0.3 + known)
    return group, x, 5 + own[0, group] + (1 + own[1, group]) * x + noise, known


def dense(group, x, y, between, residual, method="REML"):
    """The criterion by the whole covariance matrix, another way to the same number."""
    z = np.column_stack([np.ones(len(x)), x])
    same = group[:, np.newaxis] == group
    v = same * (z @ between @ z.T) + np.diag(residual * np.ones(len(x)))
    inverse = np.linalg.inv(v)
    information = z.T @ inverse @ z
    beta = np.linalg.solve(information, z.T @ inverse @ y)
    rest = y - z @ beta
    result = np.linalg.slogdet(v)[1] + rest @ inverse @ rest
    left = len(y)
    if method == "REML":
        result += np.linalg.slogdet(information)[1]
        left -= 2
    return result + left * np.log(2 * np.pi), beta, np.linalg.inv(information)


KINDS = [
    pytest.param({}, id="both"),
    pytest.param({"method": "ML"}, id="ML"),
    pytest.param({"random": "intercept"}, id="intercept"),
    pytest.param({"random": "slope"}, id="slope"),
    pytest.param({"variances": True}, id="known variances"),
    pytest.param({"variances": True, "residual": False}, id="known alone"),
    pytest.param({"variances": True, "random": "slope", "method": "ML"}, id="all of it"),
]


@pytest.mark.parametrize("kind", KINDS)
def test_mixed_model_is_at_the_lowest_point_of_the_whole_matrix(kind):
    for seed in range(6):
        rng = np.random.default_rng(seed)
        group, x, y, known = unbalanced(rng)
        options = dict(kind)
        added = known if options.pop("variances", False) else 0.0
        found = mixed_model(
            group.tolist(), x, y, variances=added if kind.get("variances") else None, **options
        )
        method = kind.get("method", "REML")
        residual = found.residual_sd**2 + added
        here, beta, covariance = dense(group, x, y, found.between, residual, method)
        assert found.criterion == approx(here, abs=1e-6)
        assert found.coefficients == approx(beta, rel=1e-6)
        assert found.covariance == approx(covariance, rel=1e-6)
        free = found.between != 0
        for _ in range(20):
            step = 0.05 * rng.standard_normal((2, 2))
            turned = (np.eye(2) + step) @ found.between @ (np.eye(2) + step).T
            other = found.residual_sd**2 * np.exp(0.05 * rng.standard_normal())
            if not free.all():
                turned = np.where(free, turned, 0.0)
            nearby = dense(group, x, y, turned, other + added, method)[0]
            assert nearby > here - 1e-6


@given(seeds, st.floats(0.01, 100), st.floats(-50, 50), st.floats(0.01, 100))
@settings(max_examples=25)
def test_mixed_model_does_not_depend_on_units_or_origin(seed, times, shift, height):
    group, x, y, _ = unbalanced(np.random.default_rng(seed))
    here = mixed_model(group.tolist(), x, y)
    there = mixed_model(group.tolist(), times * x + shift, height * y)
    assert there.coefficients[1] * times / height == approx(here.coefficients[1], rel=1e-4)
    assert there.residual_sd / height == approx(here.residual_sd, rel=1e-3)
    # n - 2 values carry the height, and |X'V^-1 X| the width, twice.
    moved = 2 * (len(y) - 2) * np.log(height) + 2 * np.log(times)
    assert there.criterion - moved == approx(here.criterion, abs=1e-5)


@given(seeds)
@settings(max_examples=25)
def test_order_of_readings_does_not_matter_to_a_mixed_model(seed):
    rng = np.random.default_rng(seed)
    group, x, y, known = unbalanced(rng)
    order = rng.permutation(len(y))
    here = mixed_model(group.tolist(), x, y, variances=known, residual=False)
    there = mixed_model(
        group[order].tolist(), x[order], y[order], variances=known[order], residual=False
    )
    assert there.criterion == approx(here.criterion, abs=1e-6)
    assert there.coefficients == approx(here.coefficients, rel=1e-4)


# ---------------------------------------------------------------- growth


@given(seeds, st.floats(0, 2), st.floats(0, 0.1))
@settings(max_examples=25)
def test_filter_says_what_the_whole_covariance_matrix_says(seed, strays, wanders):
    # Another way to the same numbers: generalised least squares with the matrix written out.
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 8))
    hours = np.cumsum(rng.uniform(1, 100, n)) - 1
    values, own, load = rng.standard_normal(n), rng.uniform(0.01, 1, n), rng.uniform(0.1, 1, n)
    data = checked(["K"] * n, hours, values, own, None, "linear", False, ["M"] * n, load)
    found = reduce(data, np.array([strays]), np.array([wanders]))
    t = hours - hours[0]
    v = np.diag(strays + own) + wanders * np.minimum.outer(t, t)
    inverse, one = np.linalg.inv(v), np.ones(n)
    weight = one @ inverse @ one
    left = inverse - np.outer(inverse @ one, one @ inverse) / weight
    columns = np.array([t / data.width, load, values])
    assert found.sums.total[0][np.ix_([0, 2, 3], [0, 2, 3])] == approx(
        columns @ left @ columns.T, rel=1e-6, abs=1e-9
    )
    assert found.sums.logs[0] == approx(np.linalg.slogdet(v)[1] + np.log(weight), abs=1e-8)
    # The level at the last reading: the one all share, and the walk as far as it is known.
    walk = wanders * t
    shared = one @ inverse @ values / weight
    assert found.levels[0, 0] == approx(
        shared + walk @ inverse @ (values - shared), rel=1e-6, abs=1e-9
    )
    gain = (1 - walk @ inverse @ one) ** 2 / weight
    spread = wanders * t[-1] - walk @ inverse @ walk + gain
    assert found.level_variances[0, 0] == approx(spread, rel=1e-6, abs=1e-9)


def test_error_of_a_meter_is_in_all_of_its_readings_alike():
    # New parts are known to have 100; a meter that reads 3 high says 93 and 83 for 90 and 80.
    rng = np.random.default_rng(3)
    names = [f"P{p}" for p in range(8) for _ in range(4)]
    hours = np.tile([0.0, 100, 200, 300], 8)
    true = 100 - 0.1 * hours
    read = true + (hours > 0) * 3 + (hours > 0) * 0.1 * rng.standard_normal(32)
    meters = np.where(hours > 0, "M", "").tolist()
    own = np.where(hours > 0, 0.01, 0.0)
    shared = np.where(hours > 0, 3.0, 0.0)
    found = fit(names, hours, read, own, meters=meters, shared=shared, wander=True)
    ahead = found.at("P1", 100)
    # The value itself and what the meter will read of it.
    assert ahead.median == approx(60, abs=0.6)
    assert found.at("P1", 100, meter="M", shared=3.0).median == approx(63, abs=0.3)
    low, high = found.at("P1", 100, strays=False).interval()
    assert low < 60 < high
    # Another meter of the same worth shares nothing with it.
    other = found.at("P1", 100, meter="N", shared=3.0)
    assert other.median == approx(60, abs=0.6)
    assert other.sd > 3


def test_error_of_a_meter_that_nothing_tells_of_is_what_it_is_good_to():
    # With one meter and no known value it moves no reading of it, and the value by all of it.
    names, hours = ["K1"] * 4, [0.0, 100, 200, 300]
    values, own = [16.0, 17.1, 17.9, 19.0], [0.01] * 4
    found = fit(names, hours, values, own, meters=["M"] * 4, shared=[3.0] * 4)
    plain = fit(names, hours, values, own).at("K1", 100)
    same_meter = found.at("K1", 100, meter="M", shared=3.0)
    assert (same_meter.median, same_meter.sd) == approx((plain.median, plain.sd), rel=1e-6)
    assert found.at("K1", 100).sd == approx(np.hypot(3.0, plain.sd), rel=1e-6)


def test_value_that_is_known_does_not_stray():
    hours, values, own = [0.0, 100, 200], [100.0, 91, 80.5], [0.0, 1, 1]
    known, read = (
        checked(["K"] * 3, hours, values, own, None, "linear", False, [first, "M", "M"], None)
        for first in ("", "N")
    )
    one = np.ones(1)
    # By hand: variances 0, 2 and 2 about the known start, where a reading has 1, 2 and 2 about it.
    t = np.array([0, 0.5, 1])
    assert reduce(known, one).sums.total[0, 0, 0] == approx((t**2 / 2).sum(), rel=1e-12)
    w = np.array([1, 0.5, 0.5])
    about = t - w @ t / w.sum()
    assert reduce(read, one).sums.total[0, 0, 0] == approx(w @ about**2, rel=1e-12)


def test_what_was_just_set_is_known_to_its_meter():
    growth, _ = shop(3, direction="up", wander=True)
    start = growth.at("P1", 0, set_to=7.0, set_variance=0.01)
    assert start.sd == approx(0.1, rel=1e-9)
    later = growth.at("P1", 50, set_to=7.0, set_variance=0.01)
    assert later.sd > start.sd


def test_many_parts_with_levels_far_apart_are_a_mixed_model():
    # Where levels are far apart, a level that is free and one that is random come to the same.
    rng = np.random.default_rng(11)
    part = np.repeat(np.arange(80), 6)
    hours = np.tile(np.arange(6) * 100.0, 80) + rng.uniform(0, 30, 480)
    rates = 0.01 + 0.004 * rng.standard_normal(80)
    levels = 500 * rng.standard_normal(80)
    values = levels[part] + rates[part] * hours + 0.3 * rng.standard_normal(480)
    # From the first reading on, as the fit counts: the rate does not depend on it.
    found = fit([f"P{p}" for p in part], hours, values)
    model = mixed_model(part.tolist(), hours, values)
    assert found.mean_rate == approx(model.coefficients[1], rel=2e-3)
    assert found.part_sd == approx(model.group_sds[1], rel=0.03)
    assert found.residual_sd == approx(model.residual_sd, rel=0.01)
    own = [found.rate(f"P{p}")[0] for p in range(80)]
    assert own == approx(model.coefficients[1] + model.effects[:, 1], abs=1e-4)


CONDITIONS = [(0.3, 1.0, 0.6), (-1.5, -0.7, 0.2), (0.0, 2.5, -0.95), (2.0, -2.0, 0.999)]


@pytest.mark.parametrize(("z", "cut", "rho"), CONDITIONS)
def test_one_direction_is_a_conditional_normal(z, cut, rho):
    # Another way: the bivariate normal of scipy. P(U < z, W > -cut) over P(W > -cut).
    joint = multivariate_normal(cov=[[1, -rho], [-rho, 1]]).cdf([z, cut])
    got = _below_given(np.array([z]), np.array([cut]), np.array([rho]))
    assert got == approx([joint / norm.cdf(cut)], abs=1e-5)


def test_one_direction_is_a_conditional_normal_far_out():
    # Both ways meet where one takes over from the other.
    z = np.linspace(-4, 4, 17)
    for rho in (-0.9, -0.3, 0.0, 0.5, 0.97):
        near = _below_given(z, np.full(17, -3 + 1e-9), np.full(17, rho))
        far = _below_given(z, np.full(17, -3 - 1e-9), np.full(17, rho))
        assert near == approx(far, abs=2e-5)


def test_forecast_in_one_direction_against_drawing_it():
    # Three readings that barely rise: half of what the line allows is a fall, which cannot be.
    growth = fit(["K1"] * 3, [0, 100, 200], [16, 16.02, 16.1], [0.01] * 3, direction="up")
    found = growth.at("K1", 150, meter_variance=0.04)
    rng = np.random.default_rng(2)
    n = 200_000
    node = rng.choice(len(found.weights), size=n, p=found.weights)
    s, g = found.sds[node, 0], found.growth_sds[node, 0]
    grown = found.growths[node, 0] + g * norm.ppf(
        norm.cdf(-found.growths[node, 0] / g) + rng.random(n) * norm.cdf(found.growths[node, 0] / g)
    )
    slope = found.covariances[node, 0] / g**2
    rest = np.sqrt(s**2 - slope**2 * g**2)
    value = found.means[node, 0] + slope * (grown - found.growths[node, 0])
    value = value + rest * rng.standard_normal(n)
    for limit in (15.8, 16.1, 16.3, 17.0):
        assert found.chance_below(limit) == approx((value < limit).mean(), abs=0.005)
    assert found.median == approx(np.median(value), abs=0.005)


@given(seeds, st.sampled_from(["either", "up"]), st.booleans())
@settings(max_examples=20, deadline=None)
def test_forecast_holds_together(seed, direction, quickening):
    growth, ahead = shop(seed, direction=direction, quickening=quickening)
    found = growth.at("P2", ahead, meter_variance=0.01)
    low, middle, high = (found.quantile(p) for p in (0.05, 0.5, 0.95))
    assert low < middle < high
    assert found.chance_below(high) == approx(0.95, abs=1e-6)
    # The ends of 0.9 are asked for at (1 - 0.9) / 2, which is not 0.05 to the last digit.
    assert found.interval(0.9) == approx((low, high), rel=1e-9)
    assert found.chance_inside(low, high) == approx(0.9, abs=1e-6)
    assert found.chance_inside(-np.inf, np.inf) == approx(1, abs=1e-12)
    # A wider limit is never less likely to be kept, a poorer meter never reads more closely.
    assert found.chance_inside(low - 1, high + 1) >= found.chance_inside(low, high)
    assert growth.at("P2", ahead, meter_variance=1.0).sd > found.sd
    # What the part is set to is where it starts from.
    start = growth.at("P2", 0.0, set_to=7.0, set_variance=0.01)
    assert start.median == approx(7.0, abs=1e-9)


def shop(seed, **options):
    rng = np.random.default_rng(seed)
    names = [f"P{p}" for p in range(1, 7) for _ in range(4)]
    hours = np.tile(np.cumsum(rng.uniform(70, 130, 4)), 6)
    rates = np.repeat(np.abs(0.01 + 0.004 * rng.standard_normal(6)), 4)
    values = 4 + rates * hours + 0.15 * rng.standard_normal(24)
    return fit(names, hours, values, [0.01] * 24, **options), 100.0


@given(seeds, st.floats(0.01, 100), st.floats(0.01, 100))
@settings(max_examples=20, deadline=None)
def test_growth_does_not_depend_on_units(seed, times, height):
    rng = np.random.default_rng(seed)
    names = [f"P{p}" for p in range(6) for _ in range(4)]
    hours = np.tile(np.cumsum(rng.uniform(70, 130, 4)), 6)
    values = 4 + 0.01 * hours + 0.3 * rng.standard_normal(24)
    here = fit(names, hours, values, [0.01] * 24)
    there = fit(names, hours * times, values * height, [0.01 * height**2] * 24)
    limit = 5.2
    assert there.at("P3", 100 * times).chance_below(limit * height) == approx(
        here.at("P3", 100).chance_below(limit), abs=1e-6
    )


@given(seeds, st.floats(-40, 40))
@settings(max_examples=15, deadline=None)
def test_level_after_a_restart_says_nothing_of_the_rate(seed, moved):
    rng = np.random.default_rng(seed)
    names = [f"P{p}" for p in range(4) for _ in range(4)]
    hours = [0.0, 100, 100, 200] * 4
    anew = [False, False, True, False] * 4
    values = 16 + rng.uniform(0, 2, 16)
    here = fit(names, hours, values, [0.05] * 16, restarts=anew)
    values[2:4] += moved
    there = fit(names, hours, values, [0.05] * 16, restarts=anew)
    assert there.rate("P0") == approx(here.rate("P0"), rel=1e-6, abs=1e-12)
    assert there.at("P0", 50).median - moved == approx(here.at("P0", 50).median, abs=1e-6)


def test_falling_is_rising_upside_down():
    hours, up = [0, 100, 200, 0, 100, 200], np.array([16, 17.1, 18, 16, 16.4, 17.0])
    rising = fit("aaabbb", hours, up, [0.01] * 6, direction="up").at("a", 80)
    falling = fit("aaabbb", hours, -up, [0.01] * 6, direction="down").at("a", 80)
    assert falling.quantile(0.3) == approx(-rising.quantile(0.7), abs=1e-8)
    assert falling.mean == approx(-rising.mean, rel=1e-9)


def test_log_scale_is_the_fit_of_logarithms():
    ohms = np.array([1010, 1350, 2100, 980, 1020, 1090.0])
    by_log = fit("aaabbb", [0, 100, 200] * 2, ohms, (0.02 * ohms) ** 2, scale="log")
    plain = fit("aaabbb", [0, 100, 200] * 2, np.log(ohms), [0.0004] * 6)
    assert by_log.at("a", 100).quantile(0.9) == approx(
        np.exp(plain.at("a", 100).quantile(0.9)), rel=1e-9
    )
    assert by_log.at("a", 100).chance_below(0.0) == 0
    assert by_log.at("a", 1, set_to=1000.0, set_variance=400.0).median == approx(1000, rel=0.02)


def test_quickening_is_found_where_it_is():
    # Truth: 0.01 per h at first, and 0.0001 per h more with each hour for the first part only.
    rng = np.random.default_rng(4)
    hours = np.arange(0, 700, 100.0)
    parts = [f"P{p}" for p in range(6) for _ in hours]
    true = [0.01 * hours + (0.0001 * (p == 0)) * hours**2 / 2 for p in range(6)]
    values = np.concatenate(true) + 0.05 * rng.standard_normal(len(parts))
    with_it = fit(parts, np.tile(hours, 6), values, [0.0025] * len(parts), quickening=True)
    rate, sd = with_it.rate("P0")
    assert rate == approx(0.01 + 0.0001 * 600, abs=4 * sd)
    assert sd < 0.003
    # At 700 h it stands at 7 + 24.5; a straight line is far below.
    assert with_it.at("P0", 100).median == approx(31.5, abs=0.3)
    straight = fit(parts, np.tile(hours, 6), values, [0.0025] * len(parts))
    assert straight.at("P0", 100).median < 29
    assert with_it.at("P3", 100).median == approx(7.0, abs=0.3)


def test_parts_lend_each_other_what_they_know():
    # Seven steady parts and one with two readings: its own rate is drawn towards theirs.
    rng = np.random.default_rng(8)
    names = [f"P{p}" for p in range(7) for _ in range(5)] + ["N", "N"]
    hours = [*np.tile(np.arange(5) * 100.0, 7), 0.0, 100.0]
    rates = 0.01 + 0.001 * rng.standard_normal(7)
    values = np.concatenate([16 + r * np.arange(5) * 100 for r in rates])
    values = [*(values + 0.2 * rng.standard_normal(35)), 16.0, 18.0]
    found = fit(names, hours, values, [0.04] * 37)
    assert 0.010 < found.rate("N")[0] < 0.016
    # A part that was read once is forecast at the rate of the set, less sharply than another.
    with_new = fit([*names, "Q"], [*hours, 0.0], [*values, 16.0], [0.04] * 38)
    assert with_new.rate("Q")[0] == approx(with_new.mean_rate, rel=1e-9)
    assert with_new.rate("Q")[1] > with_new.rate("P3")[1]


def test_earlier_sets_tell_a_part_with_one_reading():
    early, _ = shop(1)
    later, _ = shop(2)
    prior = fleet([early, later])
    found = fit(["K1"], [0], [16.0], [0.01], prior=prior)
    assert found.rate("K1")[0] == approx(float(prior.means[0]), rel=1e-6)
    assert found.at("K1", 100).median == approx(16 + 100 * float(prior.means[0]), abs=0.05)
    # A prior that knows everything is obeyed, one that knows nothing is not heard.
    names, hours, values = ["K1"] * 4, [0, 100, 200, 300], [16, 18.1, 19.8, 22]
    sure = replace(prior, variances=np.array([1e-12]), told=())
    assert fit(names, hours, values, [0.01] * 4, prior=sure).rate("K1")[0] == approx(
        float(prior.means[0]), rel=1e-2
    )
    blank = replace(prior, variances=np.array([1e6]), told=())
    alone = fit(names, hours, values, [0.01] * 4)
    assert fit(names, hours, values, [0.01] * 4, prior=blank).rate("K1")[0] == approx(
        alone.rate("K1")[0], rel=1e-4
    )


def test_what_a_set_lends_is_its_restricted_likelihood():
    # Another way to the same numbers: the whole covariance matrix of its readings, written out.
    rng = np.random.default_rng(5)
    hours = np.concatenate([np.cumsum(rng.uniform(20, 200, 4)) - 20 for _ in range(3)])
    part = np.repeat(np.arange(3), 4)
    values = 4 + 0.01 * hours + 0.3 * rng.standard_normal(12)
    own = rng.uniform(0.005, 0.02, 12)
    told = fit([f"P{p}" for p in part], hours, values, own, wander=True).told
    t = hours - np.repeat(hours[::4], 4)
    same = part[:, np.newaxis] == part
    x = np.column_stack([part[:, np.newaxis] == np.arange(3), t])

    def by_matrix(residual, lasting, tau2, interval):
        v = np.diag(own + (1 - lasting) * residual) + same * (
            lasting * residual / interval * np.minimum.outer(t, t) + tau2 * np.outer(t, t)
        )
        inverse = np.linalg.inv(v)
        information = x.T @ inverse @ x
        rest = values - x @ np.linalg.solve(information, x.T @ inverse @ values)
        logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]
        return -(logs + rest @ inverse @ rest) / 2

    nodes = [(2, 0, 3), (8, 1, 9), (5, 2, 6), (11, 2, 13)]
    logs = [
        (told.residuals[i], told.shares[s], told.ratios[0][k] + told.scales[0, i, s])
        for i, s, k in nodes
    ]
    dense = np.array([by_matrix(np.exp(r), s, np.exp(tau), told.interval) for r, s, tau in logs])
    grid = np.array([told.log_likelihood[node] for node in nodes])
    assert grid - grid[0] == approx(dense - dense[0], abs=1e-6)
    residual, lasting, tau = np.array(logs).T
    asked = told.at(residual, lasting, tau[:, np.newaxis], told.interval)
    assert asked == approx(grid, abs=1e-9)
    # To a set read half as often the same walk is twice as much; what comes back is what it was.
    twice = residual + np.log(1 + lasting)
    asked = told.at(twice, lasting, tau[:, np.newaxis], 2 * told.interval)
    assert asked[[0, 2, 3]] == approx(grid[[0, 2, 3]], abs=1e-9)
    # Beyond the grid it is that of its edge.
    far = told.at(np.array([-np.inf]), np.zeros(1), np.array([[-np.inf]]), told.interval)
    assert far == approx(told.log_likelihood[0, 0, 0], abs=1e-9)


def test_other_sets_tell_what_lasts_from_what_comes_back():
    # Of four readings each nobody can tell; of three sets with twelve each it is told. By truth.
    rng = np.random.default_rng(6)

    def readings(openings, lasting):
        steps = 0.3 * rng.standard_normal((8, openings))
        beyond = np.cumsum(steps, axis=1) if lasting else steps
        hours = 100.0 * np.arange(openings)
        values = 4 + 0.01 * hours + beyond + 0.1 * rng.standard_normal((8, openings))
        names = [f"P{p}" for p in range(8) for _ in range(openings)]
        return names, np.tile(hours, 8), values.ravel(), [0.01] * 8 * openings

    def weight_of_all_lasting(growth):
        return growth.weights[growth.strays.variances < 1e-9].sum()

    few = readings(4, lasting=True)
    alone = weight_of_all_lasting(fit(*few, wander=True))
    lent = {
        lasting: fleet([fit(*readings(12, lasting), wander=True) for _ in range(3)])
        for lasting in (False, True)
    }
    after = {
        lasting: weight_of_all_lasting(fit(*few, wander=True, prior=one))
        for lasting, one in lent.items()
    }
    assert 0.3 < alone < 0.95
    assert after[True] > 0.99
    assert after[False] < 0.01


def test_hours_until_is_where_the_chance_is():
    growth, _ = shop(3, direction="up")
    limit = growth.at("P1", 0).median + 1.0
    for probability in (0.05, 0.5):
        hours = growth.hours_until("P1", limit, probability)
        assert 1 - growth.at("P1", hours).chance_below(limit) == approx(probability, abs=2e-3)
    assert growth.hours_until("P1", limit, 0.05) < growth.hours_until("P1", limit, 0.5)
    assert growth.hours_until("P1", limit + 100, 0.05, horizon=200) is None
    assert growth.hours_until("P1", 0.0, 0.05) == 0
    assert growth.hours_until("P1", 0.0, 0.05, side="below") is None


# ---------------------------------------------------------------- few data, odd data

NOT_KNOWN = (
    "No part was read at two different hours since it was last set, and there is no earlier set "
    "to learn from: how fast the parts wear is not known yet."
)


@pytest.mark.parametrize("hours", [[100.0], [100.0, 100.0, 100.0]])
def test_one_reading_gives_no_rate_and_says_so(hours):
    growth = fit(["K1"] * len(hours), hours, [16.0 + h for h in range(len(hours))], direction="up")
    assert not growth.known
    assert growth.notes == (NOT_KNOWN,)
    with pytest.raises(OutOfRange, match=r"how fast the parts wear is not known yet\."):
        growth.at("K1", 100)


def test_two_readings_of_one_part_rest_on_the_meter():
    # Worked by hand: the line through both; at twice the distance 4 v and v of the way back, and
    # v again for the next reading: 5 v + v.
    growth = fit(["K1"] * 2, [0, 100], [16, 17], [0.01] * 2)
    found = growth.at("K1", 100, meter_variance=0.01)
    assert (found.mean, found.sd) == approx((18.0, np.sqrt(0.06)), rel=1e-9)
    assert growth.notes == (
        "There are no more readings than the line needs: how far values stray from it is taken to "
        "be the meter's alone.",
    )
    with pytest.raises(OutOfRange, match="no meter variance: nothing says how far"):
        fit(["K1"] * 2, [0, 100], [16, 17]).at("K1", 100)


def test_equal_readings_of_a_meter_that_is_known():
    found = fit(["K1"] * 3, [0, 100, 200], [16] * 3, [0.01] * 3, direction="up").at("K1", 100)
    low, high = found.interval()
    assert 15.6 < low < 16.1 < high < 17
    assert found.mean > 16


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        pytest.param(
            {"hours": [0, 300, 200]},
            r"Hours run backwards for part K1: 200 stands after 300\. Put its readings",
            id="backwards",
        ),
        pytest.param({"values": [16] * 3}, r"are equal or lie on a line exactly", id="equal"),
        pytest.param({"values": [16, 17, 18]}, r"lie on a line exactly", id="exact"),
        pytest.param({"values": [16, np.inf, 18]}, r"must be a finite number", id="open"),
        pytest.param({"values": [1, 0, 2], "scale": "log"}, r"must be above 0: got 0", id="log"),
        pytest.param({"hours": [0, 1]}, r"Give one part, one hour", id="lengths"),
        pytest.param({"quickening": True, "hours": [0, 0, 1]}, r"three different hours", id="q"),
        pytest.param({"variances": [-1] * 3}, r"variance must be at least 0", id="variance"),
    ],
)
def test_refused(given, sentence):
    arguments = {"hours": [0, 100, 200], "values": [16, 17, 18.1]} | given
    with pytest.raises(OutOfRange, match=sentence):
        fit(["K1"] * 3, arguments.pop("hours"), arguments.pop("values"), **arguments)


def test_no_reading_at_all_and_a_part_that_is_not_there():
    with pytest.raises(OutOfRange, match=r"There is no reading to fit\."):
        fit([], [], [])
    growth, _ = shop(1)
    with pytest.raises(OutOfRange, match=r"There is no reading of part K9"):
        growth.at("K9", 100)
    with pytest.raises(OutOfRange, match=r"The hours ahead must be at least 0: got -1\."):
        growth.at("P1", -1)


def test_priors_of_another_kind_are_refused():
    prior = fleet([shop(1)[0]])
    with pytest.raises(OutOfRange, match=r"The prior is on a linear scale and the fit on a log"):
        fit(["K1"], [0], [16.0], [0.01], prior=prior, scale="log")
    with pytest.raises(OutOfRange, match=r"must both have quickening, or neither\."):
        fit(["K1"], [0], [16.0], [0.01], prior=prior, quickening=True)
    with pytest.raises(OutOfRange, match=r"at least one earlier set in which a rate is known\."):
        fleet([fit(["K1"], [0], [16.0])])


# ---------------------------------------------------------------- what stands out


def test_jump_is_judged_by_its_own_ends():
    growth, ahead = shop(5)
    foretold = growth.at("P1", ahead, meter_variance=0.01)
    here = jump(foretold, 5.0, false_alarm=0.05)
    for value, called in [(here.low - 0.01, True), (here.expected, False), (here.high + 1, True)]:
        assert jump(foretold, value, false_alarm=0.05).is_jump is called
    up = jump(foretold, here.low - 5, side="above", false_alarm=0.05)
    assert (up.is_jump, up.low) == (False, -np.inf)
    with pytest.raises(OutOfRange, match=r"must be between 0 and 1: got 0\."):
        jump(foretold, 5.0, false_alarm=0)


def test_meter_difference_with_known_variances():
    # Worked by hand: three pairs, each difference with variance 0.01 + 0.03; their mean / 3.
    found = meter_difference(
        "aabbcc", [False, True] * 3, [10, 11, 12, 13.3, 9, 9.8], variances=[0.01, 0.03] * 3
    )
    assert found.difference == approx((1 + 1.3 + 0.8) / 3, rel=1e-12)
    assert found.sd == approx(np.sqrt(0.04 / 3), rel=1e-12)
    assert found.probability == approx(2 * norm.cdf(-found.difference / found.sd), rel=1e-9)
    # Both may be 0.5 off: 1.033 is 0.033 more than they may read apart.
    near = meter_difference(
        "aabbcc",
        [False, True] * 3,
        [10, 11, 12, 13.3, 9, 9.8],
        variances=[0.01, 0.03] * 3,
        allowed=1.0,
    )
    assert near.probability == approx(2 * norm.cdf(-(found.difference - 1) / found.sd), rel=1e-9)
    assert (found.differs, near.differs) == (True, False)
    with pytest.raises(OutOfRange, match=r"No item was read both with this meter and"):
        meter_difference("aabb", [True, True, False, False], [1, 2, 3, 4.5])
    with pytest.raises(OutOfRange, match=r"There are no readings to spare"):
        meter_difference("aa", [True, False], [1, 2])
    with pytest.raises(OutOfRange, match=r"Give one item, one meter, one value"):
        meter_difference("aa", [True], [1, 2])


def test_whole_numbers_that_are_nearly_all_equal_are_not_apart():
    assert not apart([76, 76, 76, 75], meter_variance=1.0).is_apart
    assert apart([76, 76, 76, 75]).is_apart  # without a meter, equal means equal
    assert apart([5.0, 5.0, 5.0]).probability == 1
    with pytest.raises(OutOfRange, match=r"takes three values or more: got 2\."):
        apart([1, 2])


# ---------------------------------------------------------------- simulated shops

SHOPS = [
    pytest.param(Shops(), id="usual"),
    pytest.param(Shops(openings=(3, 3)), id="three readings"),
    pytest.param(Shops(rate_sd=0.0), id="parts alike"),
    pytest.param(Shops(resets=True, direction="up"), id="gaps"),
    pytest.param(Shops(scale="log", direction="up"), id="resistance"),
    pytest.param(Shops(quickening=True, quickening_sd=0.2, openings=(4, 6)), id="quickening"),
    pytest.param(Shops(bias=1.0, anchored=True, direction="down"), id="biased"),
    pytest.param(Shops(wander_sd=0.3, residual_sd=0.0, direction="up"), id="wandering"),
    pytest.param(Shops(uneven=True, direction="up"), id="uneven"),
    pytest.param(Shops(skewed=True, direction="up"), id="skewed"),
    pytest.param(Shops(residual_sd=0.0), id="nothing beyond the meter"),
]


@pytest.mark.parametrize("like", SHOPS)
def test_intervals_hold_what_they_say(like):
    # 60 shops of 8: binomial sd sqrt(0.9 x 0.1 / 480) = 0.0137, somewhat more for parts that
    # share a fit, so by shops: 0.013 to 0.021. Three of 0.018 and no more; 1,000 shops in bench.
    found = coverage(np.random.default_rng(20261021), 60, like)
    assert found.share == approx(0.9, abs=0.054)
    assert found.share_sd < 0.023


def test_intervals_hold_where_other_engines_lend():
    # 15 shops of 3 engines of 8 parts: by shops, sd about 0.02. Three of it.
    like = Shops(wander_sd=0.3, residual_sd=0.0, direction="up", engines=3)
    found = coverage(np.random.default_rng(20261021), 15, like)
    assert found.forecasts == 360
    assert found.share == approx(0.9, abs=0.06)


def test_false_alarms_come_as_often_as_stated():
    # 60 shops: jumps 480 times, sd about 0.012; the others 60 times, sd sqrt(0.05 x 0.95/60).
    found = false_alarms(np.random.default_rng(20261021), 60)
    assert found.jumps == approx(0.05, abs=0.036)
    assert found.meters == approx(0.05, abs=3 * 0.028)
    assert found.apart == approx(0.05, abs=3 * 0.028)


def test_meters_that_keep_what_they_are_good_to_are_not_called_different():
    # Two biased meters differ by more than nothing in nearly every shop, and that is no fault.
    found = false_alarms(np.random.default_rng(20261021), 60, Shops(bias=1.0, anchored=True))
    assert found.meters <= 0.05 + 3 * 0.028


def test_one_shop_is_no_share():
    with pytest.raises(OutOfRange, match=r"at least two shops: got 1\."):
        coverage(np.random.default_rng(1), 1)
    with pytest.raises(OutOfRange, match=r"at least two shops: got 1\."):
        false_alarms(np.random.default_rng(1), 1)
    with pytest.raises(OutOfRange, match=r"The level must be between 0 and 1"):
        coverage(np.random.default_rng(1), 2, level=1.0)
