"""What the README tells people to type is what works."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from tempo_coach import coach
from tempo_coach.cli import build_parser, main
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.pattern.plan.plan_file import plan_to_dict
from tests.generators import workplace as workplace_of

README = Path(__file__).parent.parent / "README.md"
#: They open a screen and wait for a person, or make 80 s of film: their options are checked.
NOT_RUN = {"practise", "counts", "calibrate", "countfilm"}


def commands() -> list[list[str]]:
    """Every command of the README, the two that set up a virtual environment aside, in its order."""
    text = README.read_text(encoding="utf-8")
    blocks = "\n".join(re.findall(r"```(?:sh|text)?\n(.*?)```", text, re.DOTALL))
    found = re.findall(r"^(tempo-coach [^#\n]*)", blocks, re.MULTILINE) + re.findall(r"`(tempo-coach [^`]*)`", text)
    return [shlex.split(each)[1:] for each in found]


@pytest.fixture(scope="module")
def workplace(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the files that the README speaks of: music, a routine, a sensor's table, claps; all invented."""
    folder = tmp_path_factory.mktemp("readme")
    workplace_of.fill(folder)
    return folder


def test_every_command_of_the_readme_runs_in_its_order(workplace, monkeypatch, capsys):
    monkeypatch.chdir(workplace)
    ran = 0
    for words in commands():
        if words[0] in NOT_RUN or "--live" in words:
            build_parser().parse_args(words)
            continue
        if words[-1] == "--help":
            with pytest.raises(SystemExit) as left:
                main(words)
            assert left.value.code == 0
            continue
        if "--sound" in words:
            workplace_of.record_claps(Path("plan.json"), Path("gym.wav"))
        elif words[0] == "score":
            moments = json.loads(Path(words[words.index("--plan") + 1]).read_text())["moments"]
            Path("onsets.csv").write_text("time,hand\n" + "".join(f"{m['time']},{m['hand']}\n" for m in moments))
        assert main(words) == 0, (words, capsys.readouterr().err)
        ran += 1
    assert ran >= 5


def test_the_two_commands_set_up_everything_themselves():
    text = README.read_text(encoding="utf-8")
    demo, gate = re.findall(r"^python3 -m venv \.venv && (.*)$", text, re.MULTILINE)
    assert demo.endswith(".venv/bin/tempo-coach demo")
    assert gate.endswith(".venv/bin/python -m tests")
    run = (README.parent / ".ci" / "run").read_text(encoding="utf-8")
    places = [run.find(f"{part}\n") for part in gate.split(" && ")]
    assert -1 < places[0] < places[1], "the gate installs and calls the tests as the README does"


def test_what_can_be_told_is_said_for_every_drill_and_adds_up():
    """The figures are those of ``python -m tests.benchmarks promises``; that they are, no test can see in its time."""
    text = README.read_text(encoding="utf-8")
    told = re.findall(r"^  \| (\w+) \| (\d+) \| (\d+) \| (\d+) \|$", text, re.MULTILINE)
    assert [row[0] for row in told] == sorted(path.stem for path in list_drills())
    takes = int(re.search(r"(\d+) of a drill, of 16 cycles", text)[1])
    long, late, best = (sum(int(row[k]) for row in told) for k in (1, 2, 3))
    said = re.sub(r"\s+", " ", text)
    whole = takes * len(told)
    assert f"was told at its place in {long} of {whole}," in said
    assert f"at most) in {late}, a missed moment in " in said
    assert late <= best <= whole
    assert all(int(number) <= takes for row in told for number in row[1:])


def test_the_job_stands_in_one_paragraph_at_the_top():
    title, job, *_ = README.read_text(encoding="utf-8").split("\n\n")
    assert title == "# tempo_coach"
    assert "counts of eight" in job and "which cycle broke" in job


@pytest.mark.parametrize("command", ["score", "group"])
def test_every_number_of_the_json_is_defined(command, tmp_path, capsys):
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=8))
    (tmp_path / "plan.json").write_text(json.dumps(plan_to_dict(plan)), encoding="utf-8")
    done = zip(plan.moments.time.tolist(), plan.moments.hand, strict=True)
    rows = [
        f"{time},{hand},{who}" for time, hand in done for who in (("Ada", "Bea") if command == "group" else ("Ada",))
    ]
    (tmp_path / "onsets.csv").write_text("\n".join(["time,hand,member", *rows]))
    assert main([command, str(tmp_path / "onsets.csv"), "--plan", str(tmp_path / "plan.json"), "--json"]) == 0
    section = README.read_text(encoding="utf-8").split("### For whoever studies takes")[1].split("\n## ")[0]
    assert set(json.loads(capsys.readouterr().out)) - set(re.findall(r"`(\w+)`", section)) == set()
