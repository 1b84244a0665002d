"""A practice that nobody taps: what the microphone took beside the cues becomes the take."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.cli import main
from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.form import make_form
from tempo_coach.coach.practising.overheard import keep_recording, overhear
from tempo_coach.coach.practising.practice import FinishedTake
from tempo_coach.coach.practising.start import prepare_from_form
from tempo_coach.live.audio.silent import SilentClock
from tempo_coach.live.inputs.microphone import Recorded
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import read_sound
from tempo_coach.observe.observers import SOUNDS
from tempo_coach.observe.take.take_file import make_take, read_take, read_take_file
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.reasons import Reason, Why
from tests.generators import contacts

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.live.audio.playback import Player
    from tempo_coach.pattern.plan.plan import Plan

LATE = 0.02
LOST = ((9.0, 9.5),)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return coach.lay(coach.Request("clubs_mills", tempo_bpm=66, cycles=6))


@pytest.fixture(scope="module")
def played(plan: Plan) -> Sound:
    return coach.cue_sound(plan)


@pytest.fixture(scope="module")
def recording(plan: Plan, played: Sound) -> Sound:
    """The cues through a room, and a clap 20 ms behind each moment."""
    made = contacts.record("clap", played.samples, plan.moments.time + LATE, seed=4, before=0.0)
    return Sound(made.recording[:, None], contacts.RATE_HZ)


def practised(plan: Plan, folder: Path) -> FinishedTake:
    """A take that nobody tapped, in its file, with half a second of lost sound."""
    writer = TakeWriter(folder / "mine.take.jsonl", plan, observed_by="clap", begun="2026-01-02T10:00:00+01:00")
    writer.finish([], how="passage", unmeasurable=LOST)
    take = make_take(plan, [], observed_by="clap", stopped=None, unmeasurable=LOST)
    return FinishedTake(take, coach.judge_take(take), writer.path)


def test_claps_beside_the_cues_become_the_take_in_a_file_of_its_own(
    plan: Plan, played: Sound, recording: Sound, tmp_path: Path
) -> None:
    before = practised(plan, tmp_path)
    done = overhear(recording, played, before, kind="clap", path=tmp_path / "mine.wav")
    assert done.told == () and done.take.unmeasurable == LOST
    assert done.card.value("bias_ms") == pytest.approx(1000 * LATE, abs=2)
    assert not len(done.card.missed) and done.take.observed_by == "clap"
    assert done.path is not None and done.path.name == "mine_clap.take.jsonl"
    again = read_take(done.path)
    np.testing.assert_allclose(again.onsets.time, done.take.onsets.time, atol=1e-4)
    assert again.unmeasurable == LOST and again.noise_floor_ms == done.take.noise_floor_ms
    assert read_take_file(done.path).begun == "2026-01-02T10:00:00+01:00"
    assert len(read_take(tmp_path / "mine.take.jsonl").onsets) == 0


def test_where_nothing_is_heard_the_take_stays_and_the_reason_is_said(
    plan: Plan, played: Sound, tmp_path: Path
) -> None:
    silence = Sound(np.zeros((len(played.samples), 1), np.float32), played.rate_hz)
    before = practised(plan, tmp_path)
    done = overhear(silence, played, before, kind="contact", path=tmp_path / "mine.wav")
    assert done.take is before.take and "no contact is heard" in tell(*done.told)
    assert not (tmp_path / "mine_clap.take.jsonl").exists()


def test_without_a_microphone_the_take_says_that_nothing_was_recorded(
    plan: Plan, played: Sound, tmp_path: Path
) -> None:
    done = keep_recording(played, SilentClock(), practised(plan, tmp_path), kind="clap")
    assert done.told == (Reason(Why.NOTHING_RECORDED),) and not list(tmp_path.glob("*.wav"))


def heard_by(samples: np.ndarray, rate_hz: int, early: float) -> Player:
    """A player whose microphone took these samples, the first of them so many seconds before the take."""
    from tempo_coach.live.audio import engine

    class Heard(engine.Engine):
        def __init__(self) -> None:
            pass

        @property
        def recorded(self) -> tuple[Recorded, ...]:
            return (Recorded(samples, rate_hz, -round(early * rate_hz)),)

        @property
        def reported_loop(self) -> float:
            return 0.0

    return Heard()


def test_the_recording_lies_on_the_take_clock_and_is_heard(
    plan: Plan, played: Sound, recording: Sound, tmp_path: Path
) -> None:
    """The stream began a quarter of a second before the take, and the way through the air took 45 ms."""
    early, loop = 0.25, 0.045
    ahead = np.zeros(round((early + loop) * played.rate_hz), np.float32)
    samples = np.concatenate([ahead, recording.samples[:, 0]])
    done = keep_recording(played, heard_by(samples, played.rate_hz, early), practised(plan, tmp_path), kind="clap")
    assert done.told == () and done.card.value("bias_ms") == pytest.approx(1000 * LATE, abs=2)
    assert read_sound(tmp_path / "mine.wav").duration == pytest.approx(played.duration, abs=0.01)


def test_a_wireless_loudspeaker_that_changes_its_delay_in_mid_take_is_told_and_put_right(
    plan: Plan, played: Sound, recording: Sound, tmp_path: Path
) -> None:
    rate_hz, changed, by = played.rate_hz, 7.0, 0.06
    at = round(changed * rate_hz)
    way = np.zeros(round(0.2 * rate_hz), np.float32)
    later = np.zeros(round(by * rate_hz), np.float32)
    samples = np.concatenate([way, recording.samples[:at, 0], later, recording.samples[at:, 0]])
    done = keep_recording(played, heard_by(samples, rate_hz, 0.0), practised(plan, tmp_path), kind="clap")
    (told,) = done.told
    assert isinstance(told, Reason) and told.code is Why.LOOP_CHANGED
    assert told.args[0] == pytest.approx(1000 * by, abs=2)
    assert "from loudspeaker to microphone changed" in tell(told)
    assert done.card.value("bias_ms") == pytest.approx(1000 * LATE, abs=2)
    assert any(start <= changed <= end for start, end in done.take.unmeasurable)


def test_a_loudspeaker_that_plays_at_another_rate_from_some_moment_on_is_told_and_nothing_of_it_is_judged(
    plan: Plan, played: Sound, recording: Sound, tmp_path: Path
) -> None:
    rate_hz, since, slower = played.rate_hz, 9.0, 44.1 / 48
    at = round(since * rate_hz)
    rest = recording.samples[at:, 0]
    stretched = np.interp(np.arange(0, rest.size, slower), np.arange(rest.size), rest).astype(np.float32)
    samples = np.concatenate([recording.samples[:at, 0], stretched])
    done = keep_recording(played, heard_by(samples, rate_hz, 0.0), practised(plan, tmp_path), kind="clap")
    (told,) = done.told
    assert isinstance(told, Reason) and told.code is Why.OTHER_RATE_HEARD
    assert f"played {round(slower * rate_hz)} samples a second for {rate_hz}" in tell(told)
    assert any(start <= since and end >= plan.duration for start, end in done.take.unmeasurable)
    assert np.isnan(done.card.asynchrony[plan.moments.time >= since]).all()


def test_the_set_up_opens_a_microphone_where_it_observes() -> None:
    form = make_form(("clubs_mills",), device="none")
    heard = form.put(replace(form.line("observer"), value="the microphone: her voice"))
    context = prepare_from_form(heard)
    assert context.record is not None and context.observed_by == "voice" and prepare_from_form(form).record is None


def test_a_kind_of_sound_that_nobody_knows_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["practise", "clubs_mills", "--kind", "whistle"])
    assert left.value.code == 2
    assert f"there is no 'whistle' here, but {', '.join(SOUNDS)}." in capsys.readouterr().err
