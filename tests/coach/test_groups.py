"""What is asked of a group: options that are for nobody, what does not go together, one recording of all in turn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach.groups import GroupRequest, judge_group
from tempo_coach.errors import WrongUsage
from tempo_coach.reasons import Reason, Why
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.reasons import Note

NAMES = ("Ada", "Bea", "Cyl", "Dora", "Eva")  # invented


def write(path: Path, times: np.ndarray) -> str:
    path.write_text("time\n" + "".join(f"{t:.4f}\n" for t in times))
    return str(path)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        (coach.RecordingOptions("clap"), "--kind: no member is given by a recording or film; leave it out"),
        (coach.RecordingOptions(film=True), "--film: no member is given by a film; leave it out"),
        (coach.RecordingOptions(first_clap=True), "--first-clap: no member is given by a recording or film"),
    ],
)
def test_an_option_that_is_for_nobody_is_refused(tmp_path: Path, how: coach.RecordingOptions, words: str) -> None:
    sources = tuple(write(tmp_path / f"{name}.csv", np.arange(16) * 0.5) for name in NAMES)
    assert judge_group(GroupRequest(sources, tempo_bpm=120)).card.members
    with refused(words):
        judge_group(GroupRequest(sources, tempo_bpm=120, listening=how))
    with refused("--unit: no member is given by a table of readings"):
        judge_group(GroupRequest(sources, tempo_bpm=120, units={"acceleration": "g"}))


def test_what_does_not_go_together_is_refused() -> None:
    with refused("--plan: expected a plan or a drill, found both", error=WrongUsage):
        judge_group(GroupRequest(("a.csv",), plan="plan.json", drill=coach.Request("clubs_mills")))
    clap = coach.RecordingOptions(first_clap=True)
    for asked in (GroupRequest(("a.wav",), music="m.wav", listening=clap), GroupRequest(("a.wav",), routine="r.toml")):
        with refused("--first-clap: expected one clap or music", error=WrongUsage):
            judge_group(GroupRequest(**{**asked.__dict__, "listening": clap}))


def test_one_file_of_all_in_turn_is_told_apart_by_their_order(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    on = np.array([k for k in range(64) if k % 8 < 5])
    times = 3.0 + on * 0.5 + 0.07 * (on % 8 == 2) + 0.008 * rng.standard_normal(len(on))
    file = write(tmp_path / "all.csv", times)
    card = judge_group(GroupRequest((f"{','.join(NAMES)}={file}",), tempo_bpm=120)).card
    assert card.reasons["turns"].code is Why.IN_TURN and card.reasons["turns"].args == (NAMES, 8)
    offsets = {m.member: round(1000 * m.steady) for m in card.members}
    assert offsets == pytest.approx({"Ada": 0, "Bea": 0, "Cyl": 70, "Dora": 0, "Eva": 0}, abs=12)
    with refused("expected each member once, found 'Ada' again"):
        judge_group(GroupRequest((f"Ada,Bea,Ada={file}",), tempo_bpm=120))
    with refused("expected each member once, found 'Bea' again"):
        judge_group(GroupRequest((f"Ada,Bea={file}", f"Bea={file}"), tempo_bpm=120))
    with refused("expected a member, found"):
        judge_group(GroupRequest((f"Ada,,Bea={file}",), tempo_bpm=120))


def test_progress_goes_up_to_the_end_while_members_are_heard(tmp_path: Path) -> None:
    import soundfile

    from tests.generators.hall_group import RATE_HZ, record_group

    group = record_group(3, members=2, first_clap=True)
    sources = []
    for member, wave in group.recordings.items():
        soundfile.write(tmp_path / f"{member}.wav", wave, RATE_HZ)
        sources.append(str(tmp_path / f"{member}.wav"))
    told: list[float] = []
    asked = GroupRequest(
        tuple(sources), tempo_bpm=round(group.tempo_bpm), listening=coach.RecordingOptions("clap", first_clap=True)
    )
    judge_group(asked, progress=told.append)
    assert told == sorted(told) and told[-1] == 1.0


def test_who_cannot_be_read_is_left_out_and_the_others_are_judged(tmp_path: Path) -> None:
    files = [write(tmp_path / f"{name}.csv", np.arange(16) * 0.5) for name in NAMES[:3]]
    wordy = tmp_path / "Dora.csv"
    wordy.write_text("time\n0.5\nsoon\n")
    gone = str(tmp_path / "Eva.csv")
    told: list[Note] = []
    of_all = {"Ada": 1.0, "Dora": 2.0, "Eva": 3.0}  # what is said of her is for nobody, and no mistake
    asked = GroupRequest((*files, str(wordy), gone), tempo_bpm=120, metres=of_all, later={"Eva": 0.0})
    card = judge_group(asked, warn=told.append).card
    assert [member.member for member in card.members] == ["Ada", "Bea", "Cyl"]
    left = [note.args for note in told if isinstance(note, Reason) and note.code is Why.MEMBER_LEFT_OUT]
    assert [(member, error.where) for member, error in left] == [("Dora", f"{wordy}:3"), ("Eva", gone)]
    with refused("Eva.csv: expected a take or a table, but there is no such file"):
        judge_group(GroupRequest((files[0], gone), tempo_bpm=120), warn=told.append)  # one alone is no group
    with refused("--place: expected a member .*, found Fay"):
        judge_group(GroupRequest((*files[:2], gone), tempo_bpm=120, metres={"Fay": 1.0}), warn=told.append)
