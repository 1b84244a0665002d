"""Long tables: a column that names the sensor, point, member or axis of its row."""

import numpy as np

from tempo_coach.observe.trace.long_table import find_keys, spread
from tests.refused import refused

T = np.arange(20) / 10


def test_a_column_of_names_is_a_key_and_a_number_of_the_row_is_none() -> None:
    table = np.column_stack([T, np.arange(20), np.arange(20) % 2, np.full(20, np.nan)])
    assert find_keys(["time", "id", "sensor", "point"], table, {3: ["a", "b"] * 10}) == [2, 3]
    assert find_keys(["time", "id", "sensor", "point"], table, {3: ["a"] * 20}) == [2]
    assert find_keys(["time", "id", "x", "label"], table, {3: ["rest", "move"] * 10}) == []
    assert find_keys(["time", "id", "x", "mark"], table, {3: ["a", "b"] * 10}) == []


def test_readings_stand_at_the_stamps_of_the_sensor_with_the_most() -> None:
    time = np.concatenate([T, T[:15:2] + 0.03])
    table = np.column_stack([time, np.full(28, np.nan), 2 * time])
    found = spread(time, ["time", "sensor", "x"], table, {1: ["a"] * 20 + ["b"] * 8}, [1], [1, 2], rate_hz=None)
    assert found.names == ["a x", "b x"]
    np.testing.assert_array_equal(found.time, T)
    np.testing.assert_allclose(found.table[:, 0], 2 * T)
    inside = (T > 0.03) & (T < 1.43)
    np.testing.assert_allclose(found.table[inside, 1], 2 * T[inside])
    assert np.isnan(found.table[~inside, 1]).all()


def test_what_was_not_read_for_long_stays_empty() -> None:
    own = np.delete(T, np.arange(5, 12))
    time = np.concatenate([T, own])
    found = spread(
        time,
        ["t", "id", "x"],
        np.column_stack([time, time, time]),
        {1: ["a"] * 20 + ["b"] * 13},
        [1],
        [2],
        rate_hz=None,
    )
    np.testing.assert_array_equal(np.flatnonzero(np.isnan(found.table[:, 1])), np.arange(5, 12))


def test_more_sensors_than_any_record_has_are_refused() -> None:
    table = np.column_stack([np.arange(4000.0), np.arange(4000) % 2000, np.arange(4000)])
    texts = {1: [f"p{k % 2000}" for k in range(4000)]}
    with refused("found 2000"):
        spread(table[:, 0], ["time", "point", "x"], table, texts, [1], [2], rate_hz=None)
    with refused("no readings"):
        spread(table[:, 0], ["time", "point"], table[:, :2], texts, [1], [1], rate_hz=None)
