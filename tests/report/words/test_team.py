"""A group over time in words: what the figures say, and no more."""

from __future__ import annotations

import math

from tempo_coach.history.performances import GroupPerformance, MemberFigures
from tempo_coach.report.words.team import format_team, team_to_dict


def performance(
    day: int, width: float, eva: float, *, drill: str = "mills", away: int = 0, known: bool = True
) -> GroupPerformance:
    figures = (
        MemberFigures("Ada", 3.0, -4.0, 12.0, 48, 0),
        MemberFigures("Eva", 60.0, eva if known else math.nan, 14.0, 48, away),
    )  # invented
    return GroupPerformance(
        day, "juniors", f"2031-05-{day:02d}T18:00:00", drill, drill.title(), 96, 0.9, width, 9.0, figures
    )


def test_a_group_that_gets_closer_is_told_so_and_who_came_nearer() -> None:
    told = format_team([performance(day, 120.0 - 8 * day, 90.0 - 7 * day, away=day == 2) for day in range(1, 11)])
    assert "getting closer together" in told
    eva = next(line for line in told.splitlines() if "Eva:" in line)
    assert "nearer than before" in told and "left the others in 1 of 10 performances" in " ".join(told.split())
    assert eva.strip().startswith("Eva: +")
    assert max(map(len, told.splitlines())) <= 80


def test_a_group_that_does_not_change_is_not_said_to() -> None:
    widths = (80.0, 71.0, 84.0, 76.0, 79.0, 73.0, 82.0, 75.0)
    told = format_team([performance(day, width, 20.0) for day, width in enumerate(widths, 1)])
    assert "no change beyond chance" in told and "nearer" not in told


def test_each_drill_has_its_own_figures_and_what_is_not_known_is_null() -> None:
    both = [performance(1, 80.0, 20.0), performance(2, 200.0, 20.0, drill="snakes", known=False)]
    assert "80 ms" in format_team(both) and "200 ms" in format_team(both)
    assert "Eva: not known" in format_team(both)
    said = team_to_dict(both)
    assert [one["drill"] for one in said["progress"]] == ["mills", "snakes"]  # type: ignore[index, attr-defined]
    assert said["performances"][1]["members"][1]["offset_ms"] is None  # type: ignore[index]
    assert said["progress"][1]["members"]["Eva"]["offset_ms"] is None  # type: ignore[index]
