"""The drills as a table in Markdown."""

from tempo_coach.pattern.drill.drill import Drill
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern
from tempo_coach.report.pages.library import library_table


def drill(trains="", kinds=("circle",)):
    moments = tuple(Moment(k / 4, f"m{k}", kind) for k, kind in enumerate(kinds))
    return Drill(
        "made_up",
        "Made up",
        "rope",
        Pattern(2.5, (), (Hand("right", moments), Hand("left", moments[:1]))),
        trains=trains,
    )


def row_of(made):
    return library_table([made]).splitlines()[2]


def test_no_drill_is_a_head_alone():
    head, line = library_table([]).splitlines()
    assert head == "| drill | apparatus | cycle | in each cycle | beats a minute | what it trains |"
    assert line == "| --- | --- | --- | --- | --- | --- |"


def test_kinds_are_counted_in_their_order_with_their_plurals():
    kinds = ("catch", "circle", "catch", "pass", "pass", "circle", "pull")
    made = drill("even circles", kinds)
    slow, fast = made.practice.tempi_bpm
    assert row_of(made) == (
        "| `made_up` | rope | 2.5 counts | right: 2 catches, 2 circles, 2 passes, 1 pull; left: 1 catch | "
        f"{made.practice.tempo_bpm:g} ({slow:g} to {fast:g}) | even circles |"
    )


def test_words_of_several_lines_and_with_a_bar_stay_in_their_cell():
    assert row_of(drill("even | circles\n  and then\nthe toss\n")).endswith("| even \\| circles and then the toss |")
    assert library_table([drill("a\nb"), drill()]).count("\n") == 4
