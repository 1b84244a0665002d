"""The options of ``score`` to a take on its clock: every way in, and the ones that do not go together."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tempo_coach import coach
from tempo_coach.cli import build_parser
from tempo_coach.cli.many_files import take_one
from tempo_coach.cli.score import find_take
from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import resample
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.pattern.plan.plan_file import plan_to_dict
from tempo_coach.report.words.errors import hint_of, message_of
from tests.generators import contacts, movement

#: A cycle of two counts lasts 0.6 s.
PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=200, cycles=12, lead_in_counts=4))
LIKE_PLAN = ("--drill", "clubs_mills", "--tempo", "200", "--cycles", "12", "--lead-in", "4")
FIRST = float(PLAN.moments.time[0])
BEFORE, LATE = 0.8, 0.03
BEGUN = "2031-05-04T18:15:02"


def find(*words: object) -> tuple[coach.Placed, str, dict[str, object]]:
    return find_take(take_one(build_parser().parse_args(["score", *map(str, words)]), "sound"))


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "mein Plan 音.json"
    path.write_text(json.dumps(plan_to_dict(PLAN)), encoding="utf-8")
    return path


@pytest.fixture
def table(tmp_path: Path) -> Path:
    rows = (f"{time + LATE:.6f},{hand}\n" for time, hand in zip(PLAN.moments.time, PLAN.moments.hand, strict=True))
    path = tmp_path / "my onsets é.csv"
    path.write_text("time,hand\n" + "".join(rows))
    return path


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "my take.take.jsonl"
    writer = TakeWriter(path, PLAN, observed_by="tap", begun=BEGUN, player="silent clock")
    for time, hand in zip(PLAN.moments.time, PLAN.moments.hand, strict=True):
        writer.onset(hand, stamp=float(time) + 100, time=float(time) + LATE)
    writer.close()
    return path


def late(placed: coach.Placed) -> np.ndarray:
    assert placed.take.onsets.hand == PLAN.moments.hand
    return placed.take.onsets.time - PLAN.moments.time


def test_a_table_is_put_beside_a_plan_from_its_file_or_from_the_options(plan: Path, table: Path) -> None:
    placed, begun, setup = find("--plan", plan, table)
    assert (placed.absolute, placed.confidence, begun, setup) == (True, None, "", {})
    assert placed.take.observed_by == "file"
    np.testing.assert_allclose(late(placed), LATE, atol=1e-6)
    assert plan_to_dict(placed.take.plan) == plan_to_dict(PLAN)
    by_options, _, _ = find(*LIKE_PLAN, table)
    assert plan_to_dict(by_options.take.plan) == plan_to_dict(PLAN)
    np.testing.assert_array_equal(late(by_options), late(placed))


def test_a_take_brings_its_plan_its_beginning_and_its_setup(take: Path, table: Path) -> None:
    placed, begun, setup = find("--take", take)
    assert (placed.absolute, placed.take.observed_by, begun) == (True, "tap", BEGUN)
    assert setup == {"player": "silent clock", "file": str(take.resolve())}
    np.testing.assert_allclose(late(placed), LATE)
    # with a table it gives the plan and the time alone
    beside, begun, setup = find("--take", take, table)
    assert (beside.take.observed_by, begun, setup["file"]) == ("file", BEGUN, str(take.resolve()))


def write_trace(path: Path, *, dates: bool = False) -> Path:
    """A sensor's table of two clubs in mills, the first low point at 0.3 s, with seconds or with dates."""
    made = movement.mills(3, n=13, noise=0.0, jitter=0.0).trace
    stamps = [f"2031-05-04T18:15:{10 + t:09.6f}Z" if dates else f"{t:.3f}" for t in made.time]
    rows = (",".join([stamp, *(f"{v:.5f}" for v in row)]) for stamp, row in zip(stamps, made.values, strict=True))
    head = "time,right_x_m,right_y_m,left_x_m,left_y_m"
    path.write_text("\n".join([head, *rows]) + "\n")
    return path


def test_a_trace_is_placed_by_its_fit_a_clap_or_its_dates(plan: Path, tmp_path: Path) -> None:
    trace = write_trace(tmp_path / "my trace.csv")
    fitted, begun, _ = find("--plan", plan, trace)
    assert (fitted.absolute, begun, fitted.take.observed_by) == (False, "", "sensor")
    assert fitted.confidence is not None
    placed, _, _ = find("--plan", plan, trace, "--clap", "0.3", FIRST + LATE)
    assert (placed.absolute, placed.confidence) == (True, None)
    np.testing.assert_allclose(late(placed), LATE, atol=0.001)
    dated = write_trace(tmp_path / "with dates.csv", dates=True)
    # the take's 0 is when the trace's 0.3 s is its first moment and a little more
    started = f"2031-05-04T18:15:{10.3 - FIRST - LATE:09.6f}Z"
    placed, begun, _ = find("--plan", plan, dated, "--started", started)
    assert begun == started
    np.testing.assert_allclose(late(placed), LATE, atol=0.001)


def test_the_table_is_named_in_what_a_trace_cannot_answer(plan: Path, tmp_path: Path) -> None:
    path = tmp_path / "still.csv"
    path.write_text("time,x_m,y_m\n" + "".join(f"{k / 50:.2f},0.001,{0.001 * (k % 2):.3f}\n" for k in range(200)))
    with pytest.raises(CoachError) as caught:
        find("--plan", plan, path, "--clap", "0.3", "1")
    assert caught.value.where == str(path)


@pytest.mark.parametrize("text", ["yesterday", "12.5"])
def test_a_beginning_that_is_no_date_is_said(plan: Path, tmp_path: Path, text: str) -> None:
    with pytest.raises(CoachError) as caught:
        find("--plan", plan, write_trace(tmp_path / "trace.csv"), "--started", text)
    assert message_of(caught.value) == f"expected a date and time, got {text}"
    assert (caught.value.where, hint_of(caught.value)) == ("--started", "write it like 2031-05-04T18:15:02.250")


def test_marks_are_placed_by_a_clap_their_pictures_counted_or_timed(plan: Path, tmp_path: Path) -> None:
    pairs = list(zip(PLAN.moments.time, PLAN.moments.hand, strict=True))
    marks = tmp_path / "my marks.csv"
    marks.write_text("frame,hand\n" + "".join(f"{(time + BEFORE + LATE) * 100:.0f},{hand}\n" for time, hand in pairs))
    placed, _, _ = find("--plan", plan, "--marks", marks, "--fps", "100", "--clap", BEFORE, "0")
    assert (placed.absolute, placed.take.observed_by) == (True, "film")
    # a uniform step of 10 ms has an SD of 10 ms / √12
    assert placed.take.noise_floor_ms == pytest.approx(10 / np.sqrt(12), abs=0.01)
    np.testing.assert_allclose(late(placed), LATE, atol=1e-6)
    # slowed down four times: a second of film is a quarter of one of life, from the clap on
    rows = (f"{BEFORE + 4 * (time + LATE):.6f},{hand}\n" for time, hand in pairs)
    marks.write_text("time,hand\n" + "".join(rows))
    slow, _, _ = find("--plan", plan, "--marks", marks, "--slowed", "4", "--clap", BEFORE, "0")
    np.testing.assert_allclose(late(slow), LATE, atol=1e-6)
    with pytest.raises(CoachError) as caught:
        find("--plan", plan, "--marks", marks)
    assert message_of(caught.value) == "nothing says where on the music the marks lie"
    assert (caught.value.where, hint_of(caught.value)) == ("--marks", "give --film FILE, or --clap")


def test_claps_are_heard_in_a_recording(plan: Path, tmp_path: Path) -> None:
    played = resample(coach.cue_sound(PLAN), contacts.RATE_HZ).mono()
    heard = contacts.record("clap", played, PLAN.moments.time + LATE, 3, before=BEFORE).recording
    path = tmp_path / "my claps é.wav"
    soundfile.write(path, heard, contacts.RATE_HZ)
    placed, _, _ = find("--plan", plan, "--sound", path, "--kind", "clap", "--clap", BEFORE, "0")
    assert (placed.absolute, placed.take.observed_by) == (True, "clap")
    assert np.median(late(placed)) == pytest.approx(LATE, abs=0.002)
    with pytest.raises(CoachError) as caught:
        find("--plan", plan, "--sound", path, "--quiet", "1-2", "--sample", "from one on")
    assert message_of(caught.value) == "expected a stretch such as 12.0-13.5, got from one on"
    assert caught.value.where == "--sample"


@pytest.mark.parametrize(
    ("words", "where", "message", "hint"),
    [
        ((), "score", "expected a table of onsets", "name the CSV file, or give --sound, --film or --take"),
        (("t.csv", "--film", "f"), "--film", "expected a table or a film, got both", "leave one of them out"),
        (("t.csv", "--marks", "m"), "--film", "expected a table or a film, got both", "leave one of them out"),
        (("t.csv", "--sound", "s"), "--sound", "expected a recording alone", "leave the table or the film out"),
        (("--film", "f", "--sound", "s"), "--sound", "expected a recording alone", "leave the table or the film out"),
        (("--marks", "m", "--sound", "s"), "--sound", "expected a recording alone", "leave the table or the film out"),
        (
            ("--film", "f", "--marks", "m", "--kind", "clap"),
            "--kind",
            "expected marks or a sound, got both",
            "leave one of them out",
        ),
        *(
            (
                ("t.csv", f"--{name}", value),
                f"--{name}",
                "nothing is there to be listened to",
                "give --sound FILE, or --film FILE with --kind",
            )
            for name, value in (("kind", "clap"), ("of", "left"), ("quiet", "0-1"), ("sample", "0-1"))
        ),
    ],
)
def test_options_that_do_not_go_together_are_said_before_anything_is_read(
    words: tuple[str, ...], where: str, message: str, hint: str
) -> None:
    with pytest.raises(CoachError) as caught:
        find("--plan", "nowhere.json", *words)
    assert (caught.value.where, message_of(caught.value), hint_of(caught.value)) == (where, message, hint)


def test_files_that_are_not_there_are_named(plan: Path, table: Path, tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    for words in (("--plan", gone, table), ("--take", gone), ("--plan", plan, gone), ("--plan", plan, "--sound", gone)):
        with pytest.raises(CoachError) as caught:
            find(*words)
        assert caught.value.where == str(gone)
