import json

from tempo_coach.cli import main


def test_the_list_has_what_a_program_needs(capsys):
    assert main(["drills", "--json"]) == 0
    drills = json.loads(capsys.readouterr().out)
    assert {"rope_figure_eight", "rope_figure_eight_observed", "clubs_mills", "clubs_mills_carried"} <= {
        drill["name"] for drill in drills
    }
    assert all({"name", "title", "apparatus", "cycle_counts"} <= set(drill) for drill in drills)


def test_the_list_in_words_has_a_line_for_each(capsys):
    assert main(["drills"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.startswith("clubs_mills ") and "2 counts" in line for line in lines)


def test_a_drill_is_drawn_with_its_phases_and_circles(capsys):
    assert main(["drills", "show", "rope_figure_eight"]) == 0
    drawn = capsys.readouterr().out.splitlines()
    phases = next(line for line in drawn if line.startswith("phases"))
    right = next(line for line in drawn if line.startswith("right"))
    assert [name for name in ("low", "rise", "high", "fall") if name in phases] == ["low", "rise", "high", "fall"]
    high = (phases.index("│high"), phases.index("│fall"))
    marks = [k for k, character in enumerate(right) if character == "●"]
    assert len(marks) == 3
    assert marks[0] < phases.index("│rise")
    assert high[0] < marks[1] < marks[2] < high[1]
    assert max(map(len, drawn)) <= 80


def test_an_unknown_drill_is_said_with_the_near_miss(capsys):
    assert main(["drills", "show", "rope_figure_eigth"]) == 1
    assert "did you mean rope_figure_eight" in capsys.readouterr().err
    assert main(["drills", "show"]) == 1


def test_the_mirrored_drill_comes_of_itself(capsys):
    def hands(*options):
        assert main(["drills", "show", "clubs_mills", "--json", *options]) == 0
        return {hand["name"]: hand["moments"] for hand in json.loads(capsys.readouterr().out)["hands"]}

    plain, mirrored = hands(), hands("--mirrored")
    assert plain["right"] != plain["left"]
    assert mirrored == {"left": plain["right"], "right": plain["left"]}


def test_the_table_has_a_row_for_each_drill(capsys):
    assert main(["drills", "--json"]) == 0
    names = [drill["name"] for drill in json.loads(capsys.readouterr().out)]
    assert main(["drills", "--table"]) == 0
    rows = capsys.readouterr().out.splitlines()[2:]
    assert [row.split("`")[1] for row in rows] == names
