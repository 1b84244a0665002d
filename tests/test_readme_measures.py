"""The measures and their intervals recomputed from the words of README's section for those who study takes.

Nothing of the package computes a measure here: the take's pairs are read from the scorecard's own list of cycles, and
everything else is done with numpy and scipy as README says it.
"""

import math

import numpy as np
import pytest
from scipy import linalg, optimize, stats

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.score.card import judge

GAINS = (0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1)
USUAL = (0.01, 0.015, 0.025, 0.14, 0.32, 0.29, 0.13, 0.07)


def perform(*, cues, observed_by="tap", drill="clubs_mills_two", cycles=48):
    """A take of two hands with a missed first moment of a cycle and another missed one."""
    from dataclasses import replace

    plan = coach.lay(coach.Request(drill, tempo_bpm=100, cycles=cycles))
    moments = plan.moments
    plan = replace(plan, moments=replace(moments, cue=cues(moments.cycle)))
    generator = np.random.default_rng(4)
    wander = np.zeros(cycles + 1)
    for k in range(1, cycles + 1):
        wander[k] = 0.6 * wander[k - 1] + generator.normal(0, 0.02)
    late = wander[moments.cycle] + generator.normal(0, 0.012, len(moments)) - 0.01
    right = moments.of_hand("right")
    anchor = next(k for k in right.tolist() if moments.cycle[k] == 20)
    kept = np.array([k not in (anchor, int(right[37])) for k in range(len(moments))])
    times = (moments.time + late)[kept]
    hands = [hand for hand, here in zip(moments.hand, kept.tolist(), strict=True) if here]
    return plan, judge(Take(plan, Onsets.unsorted(times.tolist(), hands), observed_by=observed_by)).to_dict()


@pytest.fixture(scope="module")
def faded():
    """Cues stop half way; nobody taps without a cue for 30 periods."""
    return perform(cues=lambda cycle: cycle < 30)


@pytest.fixture(scope="module")
def free():
    return perform(cues=lambda cycle: cycle < 0)


def tables(plan, card):
    """Asynchronies in s by hand, a row a cycle; and the asked times."""
    late = {hand: np.full((plan.cycles, 0), np.nan) for hand in plan.hands}
    asked = {}
    for hand in plan.hands:
        rows = [cycle for cycle in card["cycles"] if cycle["hand"] == hand]
        values = [[np.nan if m["async_ms"] is None else m["async_ms"] / 1000 for m in row["moments"]] for row in rows]
        late[hand] = np.array(values)
        mine = plan.moments.of_hand(hand)
        asked[hand] = plan.moments.time[mine].reshape(late[hand].shape)
    return late, asked


def ratios_of(late, asked):
    """Periods and ratios of a hand; the last cycle has none."""
    anchors = asked[:, 0] + late[:, 0]
    return np.diff(anchors), np.diff(anchors) / np.diff(asked[:, 0])


def clock_autocovariance(kept, wander, n):
    """By brute force: the response of the clock's lateness to one error, summed over a long past."""
    long = 3000
    response, error, late = np.zeros(long + n), 1.0, 0.0
    for k in range(long + n):
        late = kept * late + error
        error *= wander
        response[k] = late
    return np.array([response[: long + n - k] @ response[k:] for k in range(n)])


def half_width(x, w, d, *, cued=True):
    """README: everybody of the grid, by generalised least squares and a mixture of Student's t."""
    known = np.flatnonzero(~np.isnan(x))
    x, w = np.interp(np.arange(known[0], known[-1] + 1), known, x[known]), w[known[0] : known[-1] + 1]
    n = len(x)
    assert n < 96, "one piece"
    lines = np.vander(np.arange(n) / n, d + 1)
    fits, errors = [], []
    for gain, usual in zip(GAINS, USUAL, strict=True):
        if gain == 0 if d == 0 else gain > 0 and not cued:
            continue
        for wander, wanders in ((0, 0.35), (0.6, 0.65)) if d else ((0, 0.5), (0.6, 0.5)):
            for movement in (0, 0.25, 0.5, 0.75):
                if gain == 0:  # a walk from a start that the line takes out
                    steps = linalg.toeplitz(wander ** np.arange(n, dtype=float))
                    start = np.tril(np.ones((n, n)))
                    clock = start @ steps @ start.T
                    clock /= steps[0, 0]
                else:
                    of = clock_autocovariance(1 - gain, wander, n + 1)
                    clock = linalg.toeplitz(of[:n]) / (2 * (of[0] - of[1]))
                v = (1 - movement) * clock + movement / 2 * np.eye(n)
                inverse = np.linalg.inv(v)
                fitted = lines @ np.linalg.solve(lines.T @ inverse @ lines, lines.T @ inverse @ x)
                square = (x - fitted) @ inverse @ (x - fitted) / (n - d - 1)
                logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(lines.T @ inverse @ lines)[1]
                fits.append(math.log(usual * wanders) - logs / 2 - (n - d - 1) / 2 * math.log(square))
                errors.append(math.sqrt(square * (w @ v @ w)))
    share = np.exp(np.array(fits) - max(fits))
    share /= share.sum()
    t = stats.t(n - d - 1)
    return (1 + (1.2 / n if d else 10 / n**2)) * optimize.brentq(
        lambda h: share @ (2 * t.cdf(h / np.array(errors)) - 1) - 0.95, 0, 50 * max(errors), xtol=1e-14
    )


def correlation(x):
    rest = x - x.mean()
    r = (rest[1:] * rest[:-1]).sum() / (len(x) - 1) / (rest**2).mean()
    return float(np.clip(r + (1 + 3 * r) / len(x), -0.85, 0.85))


def of_root(value, u, r):
    n = len(u)
    e = 0.5 * np.std(u, ddof=1) / math.sqrt(n) / u.mean() * math.sqrt((1 + r**2) / (1 - r**2))
    return [value * math.exp(-2 * e), value * math.exp((3.8 + 8 / n) * e)]


def by_cycle(columns):
    """Mean over all that is known of each cycle; cycles without anything are left out."""
    every = np.hstack(columns)
    return np.nanmean(every[(~np.isnan(every)).any(axis=1)], axis=1)


def test_bias_and_spread(faded):
    plan, card = faded
    late, _ = tables(plan, card)
    values = np.concatenate([table[~np.isnan(table)] for table in late.values()]) * 1000
    assert (card["bias_ms"], card["n"]) == (pytest.approx(values.mean()), len(values))
    assert card["spread_ms"] == pytest.approx(np.std(values, ddof=1))
    x = by_cycle([1000 * (table - np.nanmean(table, axis=0)) for table in late.values()])
    half = half_width(x, np.full(len(x), 1 / len(x)), 0)
    assert card["detail"]["ci95"]["bias_ms"] == pytest.approx([values.mean() - half, values.mean() + half])
    u = by_cycle([(1000 * table - values.mean()) ** 2 for table in late.values()])
    assert card["detail"]["ci95"]["spread_ms"] == pytest.approx(of_root(card["spread_ms"], u, correlation(x)))


@pytest.mark.parametrize("which", ["faded", "free"])
def test_periods_and_drift_of_two_hands(which, request):
    plan, card = request.getfixturevalue(which)
    late, asked = tables(plan, card)
    both = {hand: ratios_of(late[hand], asked[hand]) for hand in plan.hands}
    ratios = np.column_stack([ratio for _, ratio in both.values()])
    periods = np.column_stack([period for period, _ in both.values()]) * 1000
    every, known = ratios[~np.isnan(ratios)], ~np.isnan(ratios).all(axis=1)
    assert np.isnan(ratios).sum() == 2  # beside the missed first moment there is none
    assert card["period_ratio_mean"] == pytest.approx(every.mean())
    assert card["period_mean_ms"] == pytest.approx(np.nanmean(periods))
    assert card["period_cv_pct"] == pytest.approx(100 * np.std(every, ddof=1) / every.mean())
    assert card["period_sd_ms"] == pytest.approx(np.nanstd(periods, ddof=1))
    r = correlation(np.nanmean(ratios[known], axis=1))
    for name, values in (("period_cv_pct", ratios), ("period_sd_ms", periods)):
        u = by_cycle([(values - np.nanmean(values)) ** 2])
        assert card["detail"]["ci95"][name] == pytest.approx(of_root(card[name], u, r))
    ways = [np.diff(asked[hand] + late[hand], axis=0) / np.diff(asked[hand], axis=0) for hand in plan.hands]
    ways = np.concatenate([each[~np.isnan(each)] for each in ways])
    off = np.clip(100 * (ways - np.median(ways)), -9, 9)
    assert card["scatter_pct"] == pytest.approx(math.sqrt((off**2).sum() / (len(off) - 1)))
    steps = 100 * np.diff(ratios, axis=0)
    assert card["period_rmssd_pct"] == pytest.approx(math.sqrt(np.nanmean(steps**2)))
    interval = of_root(card["period_rmssd_pct"], by_cycle([steps**2]), correlation(by_cycle([steps])))
    assert card["detail"]["ci95"]["period_rmssd_pct"] == pytest.approx(interval)

    # the drift: the first two cycles without a cue are left out where there were cues before
    kept = np.flatnonzero(known)
    kept = kept[~np.isin(kept, [30, 31])] if which == "faded" else kept
    y = 100 * np.nanmean(ratios, axis=1)[kept]
    slopes = [(y[j] - y[i]) / (kept[j] - kept[i]) for i in range(len(y)) for j in range(i + 1, len(y))]
    assert card["drift_pct_per_cycle"] == pytest.approx(np.median(slopes))

    over = {hand: np.diff(asked[hand][:, 0]) for hand in plan.hands}
    x = np.nanmean([late[hand][:, 0] / np.append(over[hand], np.median(over[hand])) for hand in plan.hands], axis=0)
    cued = which == "faded"
    moves = np.zeros((len(x) - 1, len(x)))
    for k in range(len(x) - 1):
        moves[k, k : k + 2] = -1, 1
    half = half_width(x, moves.mean(axis=0), 1, cued=cued)
    for name in ("period_ratio_mean", "period_mean_ms"):
        share = half / card["period_ratio_mean"]
        assert card["detail"]["ci95"][name] == pytest.approx([card[name] * (1 - share), card[name] * (1 + share)])
    apart = kept - kept.mean()
    wider = math.sqrt(1 + len(kept) / 70)
    half = 100 * wider * half_width(x, (apart / (apart**2).sum()) @ moves[kept], 2, cued=cued)
    slope = card["drift_pct_per_cycle"]
    assert card["detail"]["ci95"]["drift_pct_per_cycle"] == pytest.approx([slope - half, slope + half])


def test_lag_one(faded):
    plan, card = faded
    late, _ = tables(plan, card)
    p, s = np.zeros(plan.cycles), np.zeros(plan.cycles)
    for table in late.values():
        rest = (table - np.nanmean(table, axis=0)).ravel()
        number = np.arange(len(rest))
        known = ~np.isnan(rest)
        rest = rest - np.polyval(np.polyfit(number[known], rest[known], 1), number)
        cycle = np.repeat(np.arange(plan.cycles), table.shape[1])
        for k in number[known]:
            s[cycle[k]] += rest[k] ** 2
            if k and known[k - 1]:
                p[cycle[k]] += rest[k] * rest[k - 1]
    value, n = p.sum() / s.sum(), plan.cycles
    assert card["lag1_asynchrony"] == pytest.approx(value)
    r = correlation(by_cycle([1000 * (table - np.nanmean(table, axis=0)) for table in late.values()]))
    e = math.sqrt(n / (n - 1) * ((p - value * s) ** 2).sum()) / s.sum() / (1 - value**2)
    reach = (2 + 4 / n) * e * math.sqrt((1 + r**2) / (1 - r**2))
    ends = [math.tanh(math.atanh(value) - reach), math.tanh(math.atanh(value) + reach)]
    assert card["detail"]["ci95"]["lag1_asynchrony"] == pytest.approx(ends)


def test_lag_between_hands(faded):
    plan, card = faded
    late, asked = tables(plan, card)
    lag = next(lag for lag in card["lags"] if lag["of"] == "left")
    times = {hand: asked[hand] + late[hand] for hand in plan.hands}
    column = [m["label"] for m in next(c for c in card["cycles"] if c["hand"] == "left")["moments"]].index(lag["label"])
    right = times["right"][:, column]
    period = np.append(np.diff(right), np.nan)
    period[np.isnan(period)] = np.append(np.nan, np.diff(right))[np.isnan(period)]
    errors = np.radians((times["left"][:, column] - right) / period * 360 - lag["asked_deg"])
    errors = errors[~np.isnan(errors)]
    mean = np.exp(1j * errors).mean()
    assert lag["deg"] == pytest.approx(lag["asked_deg"] + math.degrees(np.angle(mean)))
    assert (lag["R"], lag["n"]) == (pytest.approx(abs(mean)), len(errors))
    periods, _ = ratios_of(late["right"], asked["right"])
    assert lag["ms"] == pytest.approx(lag["deg"] / 360 * np.nanmean(periods) * 1000)


@pytest.mark.parametrize("drill", ["clubs_mills_two", "ribbon_snakes"])
@pytest.mark.parametrize("cycles", [6, 20])
def test_the_intervals_of_lags(drill, cycles):
    plan = coach.lay(coach.Request(drill, tempo_bpm=100, cycles=cycles))
    late = np.random.default_rng(cycles).normal(0, 0.012, len(plan.moments))
    times = (plan.moments.time + late).tolist()
    card = judge(Take(plan, Onsets.unsorted(times, plan.moments.hand), observed_by="file")).to_dict()
    first = plan.hands[0]
    assert card["lags"]
    for lag in card["lags"]:
        rows = [row for row in card["cycles"] if row["hand"] == lag["of"]]
        k = [m["label"] for m in rows[0]["moments"]].index(lag["label"])
        column = 0 if lag["of"] == first else k  # of one hand: its own first moment
        done, asked = {}, {}
        for hand in {lag["of"], first}:
            mine = plan.moments.of_hand(hand)
            asked[hand] = plan.moments.time[mine].reshape(cycles, -1)
            done[hand] = asked[hand] + late[mine].reshape(cycles, -1)
        reference = done[first][:, column]
        period = np.append(np.diff(reference), reference[-1] - reference[-2])
        errors = (done[lag["of"]][:, k] - reference) / period * 360 - lag["asked_deg"]
        n, rest = cycles, errors - errors.mean()
        wider = 1.0
        if n >= 8:
            r = (rest[1:] * rest[:-1]).sum() / (rest**2).sum()
            wider = (1 + 2 * max(r + (1 + 3 * r) / n, 0)) * (stats.t(n - 1).ppf(0.975) / stats.norm.ppf(0.975)) ** 2
        worth, length, c = n / wider, abs(np.exp(1j * np.radians(errors)).mean()), stats.chi2(1).ppf(0.95)
        assert length > 0.9
        q = worth**2 - (worth**2 - (worth * length) ** 2) * math.exp(c / worth)
        half = math.degrees(math.acos(math.sqrt(q) / (worth * length)))
        assert lag["ci95_deg"] == pytest.approx([lag["deg"] - half, lag["deg"] + half])


def test_the_biases_of_parts(faded):
    plan, card = faded
    late, _ = tables(plan, card)
    for hand, part in zip(plan.hands, card["detail"]["by"]["hand"], strict=True):
        values = 1000 * late[hand]
        x = by_cycle([values])
        half = half_width(x, np.full(len(x), 1 / len(x)), 0)
        mean = np.nanmean(values)
        assert part["bias_ms"] == pytest.approx(mean)
        assert part["ci95_ms"] == pytest.approx([mean - half, mean + half])


def test_clock_and_movement(free):
    plan, card = free
    late, asked = tables(plan, card)
    chosen = max(plan.hands, key=lambda hand: int((~np.isnan(ratios_of(late[hand], asked[hand])[1])).sum()))
    periods, ratios = ratios_of(late[chosen], asked[chosen])
    x = ratios * np.nanmean(periods / ratios) * 1000
    assert not np.isnan(x).any()
    expected, found, forms, left = np.zeros((2, 2)), np.zeros(2), [], []
    for part in np.array_split(x, len(x) // 30):
        n = len(part)
        design = np.column_stack([np.ones(n), np.arange(n)])
        p = np.eye(n) - design @ np.linalg.inv(design.T @ design) @ design.T
        a = 0.5 * (np.eye(n, k=1) + np.eye(n, k=-1))
        k = 2 * np.eye(n) - 2 * a
        expected += [[np.trace(p), np.trace(p @ k)], [np.trace(p @ a @ p), np.trace(p @ a @ p @ k)]]
        rest = p @ part
        found += [rest @ rest, rest[1:] @ rest[:-1]]
        left += rest.tolist()
        forms.append((p, p @ a @ p, k))
    inverse = np.linalg.inv(expected)
    variances = inverse @ found
    left = np.array(left)
    k4 = max((left**4).mean() / (left**2).mean() ** 2 - 3, 0)
    for which, name in enumerate(("clock", "motor")):
        assert card[f"{name}_variance_ms2"] == pytest.approx(variances[which])
        assert card[f"{name}_sd_ms"] == pytest.approx(math.sqrt(max(variances[which], 0)))
        z = stats.t(len(x) - 2).ppf(0.975)

        def cumulants(c, m, which=which):
            second = third = 0.0
            for p, products, k in forms:
                qv = (inverse[which, 0] * p + inverse[which, 1] * products) @ (c * np.eye(len(p)) + m * k)
                second += 2 * np.trace(qv @ qv)
                third += 8 * np.trace(qv @ qv @ qv)
            return second, third

        def off(value, sign, which=which, z=z, cumulants=cumulants):
            other = max((found[0] - expected[0, which] * value) / expected[0, 1 - which], 0)
            second, third = cumulants(*((value, other) if which == 0 else (other, value)))
            quantile = sign * z + third / second**1.5 * (z**2 - 1) / 6
            sd = math.sqrt(second + k4 * cumulants(*np.maximum(variances, 0))[0])
            return variances[which] - value - quantile * sd

        high = optimize.brentq(lambda value: off(value, -1), max(variances[which], 0), 1e5)
        low = optimize.brentq(lambda value: off(value, 1), 0, variances[which]) if off(0.0, 1) > 0 else 0.0
        assert card["detail"]["ci95"][f"{name}_variance_ms2"] == pytest.approx([low, high], rel=1e-6)
        assert card["detail"]["ci95"][f"{name}_sd_ms"] == pytest.approx([math.sqrt(low), math.sqrt(high)], rel=1e-6)
