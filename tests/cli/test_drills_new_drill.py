"""A new drill on the command line: the least is asked, every mistake is said."""

import pytest

from tempo_coach.cli import build_parser
from tempo_coach.pattern.drill.drill_file import read_drill
from tests.refused import refused


def run(*options):
    args = build_parser(["drills"]).parse_args(["drills", "new", *map(str, options)])
    return args.run(args)


LEAST = ["--apparatus", "rope", "--counts", 4, "--circles", "low 1, rise, high 2, fall"]


def test_the_least_writes_a_file_and_draws_it(tmp_path, capsys):
    file = tmp_path / "my_eight.toml"
    assert run(file.with_suffix(""), *LEAST) == 0
    drawn = capsys.readouterr().out
    assert drawn.startswith("my eight  (rope, a cycle of 4 counts)")
    assert f"written to {file}" in drawn
    assert len(read_drill(file).pattern.hands[0].moments) == 3


def test_a_file_is_not_overwritten_unless_asked(tmp_path):
    file = tmp_path / "mine.toml"
    run(file, *LEAST)
    before = file.read_text()
    with refused("not overwritten"):
        run(file, *LEAST, "--title", "Another")
    assert file.read_text() == before
    run(file, *LEAST, "--title", "Another", "--hands", "right, left", "--lag", 2, "--force")
    assert read_drill(file).pattern.hand_names == ("right", "left")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ([], "expected a name, --apparatus, --counts, --circles too"),
        (["mine", "--apparatus", "rope"], "expected --counts, --circles too. for example: tempo-coach drills new"),
        (["mine", "--apparatus", "ropes", *LEAST[2:]], "--apparatus: .*did you mean rope"),
        (["mine", *LEAST[:4], "--circles", "low 1, low 2"], "--circles: expected each phase once"),
        (["mine", *LEAST, "--hands", "right,right"], "--hands: expected each hand once"),
    ],
)
def test_mistakes_are_said_with_their_option(tmp_path, monkeypatch, options, said):
    monkeypatch.chdir(tmp_path)
    with refused(said):
        run(*options)
    assert list(tmp_path.iterdir()) == []
