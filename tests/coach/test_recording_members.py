"""A group of whatever there is: recordings, numbers of the history, tables and folders in one card."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import soundfile

from tempo_coach import coach
from tempo_coach.coach import archiving, judging, placing, recording_members
from tempo_coach.errors import CoachError
from tempo_coach.history.performances import find_performances
from tempo_coach.history.takes import History
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.sound.sound_take import HeardTake
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.observe.trace.trace_take import keep_moments
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.pattern.plan.plan import Music, Plan
from tempo_coach.report.words.errors import say_error
from tempo_coach.resources import content_hash
from tempo_coach.score.pairing.hand import follow_hands
from tests.generators.hall_group import COUNTS, RATE_HZ, HallGroup, record_group
from tests.refused import into, refused

if TYPE_CHECKING:
    from pathlib import Path


def lay(group: HallGroup, folder: Path) -> Plan:
    path = folder / "music.wav"
    soundfile.write(path, group.music, RATE_HZ)
    counts = CountMap(np.arange(COUNTS + 1) * 60 / group.tempo_bpm)
    return lay_every_count(counts, end=1.0, music=Music(str(path), content_hash(path)))


@pytest.fixture(scope="module")
def group() -> HallGroup:
    return record_group(2, members=3)


def test_recordings_a_table_and_a_take_of_the_history_make_one_group(tmp_path: Path, group: HallGroup) -> None:
    plan = lay(group, tmp_path)
    times = plan.moments.time[:COUNTS] + group.asynchronies
    folder = tmp_path / "phones"
    folder.mkdir()
    soundfile.write(folder / "Ada.wav", group.recordings["Ada"], RATE_HZ)
    table = tmp_path / "bea.csv"
    table.write_text("Zeit [ms];Hand\n" + "".join(f"{1000 * t:.2f};body\n" for t in times[1]), encoding="utf-8")
    history = tmp_path / "history.sqlite"
    archiving.keep_take(
        Take(plan, Onsets(times[2], ("body",) * COUNTS)), athlete="Cyl", begun="2031-05-04T18:00:00+00:00", file=history
    )
    silent = tmp_path / "silent.wav"
    soundfile.write(silent, 0.01 * np.random.default_rng(1).standard_normal(20 * RATE_HZ), RATE_HZ)
    said: list[str] = []
    judged = coach.judge_members(
        [str(folder), f"Bea={table}", "Cyl:last", f"Dora={silent}"],
        lay_plan=lambda _: plan,
        listening=coach.RecordingOptions("clap"),
        history=history,
        warn=into(said),
    )
    card = judged.card
    assert [(m.member, m.observed_by) for m in card.members] == [("Ada", "clap"), ("Bea", "file"), ("Cyl", "file")]
    # Ada's phone lies up to a metre from her hands: 3 ms
    assert card.members[0].bias == pytest.approx(group.asynchronies[0].mean(), abs=0.006)
    for row, member in enumerate(card.members[1:], 1):
        assert member.bias == pytest.approx(group.asynchronies[row].mean(), abs=1e-4)
    # nobody said where Ada stood: 14 m are 41 ms, half of them in the middle of her and another one
    assert [round(1000 * m.unsure) for m in card.members] == [41, 20, 20]
    assert [each for each in said if each.startswith("Dora is left out: ")]
    # kept as a group, with the takes that the history has not yet
    assert archiving.keep_group(judged, team="trio", begun="2031-05-05T18:00", file=history) == 1
    with History(history, read_only=True) as kept:
        assert [(a.name, a.takes) for a in kept.athletes()] == [("Ada", 1), ("Bea", 1), ("Cyl", 1)]
        (performance,) = find_performances(kept, "trio")
    assert [m.member for m in performance.members] == ["Ada", "Bea", "Cyl"]


def test_a_phone_that_begins_late_makes_nobody_absent(tmp_path: Path) -> None:
    late = record_group(6, members=3, late=False)
    member = max(late.begins, key=lambda name: late.begins[name])
    plan = lay(late, tmp_path)
    for name, wave in late.recordings.items():
        soundfile.write(tmp_path / f"{name}.wav", wave, RATE_HZ)
    sources = [f"{name}={tmp_path / name}.wav" for name in late.recordings]
    card = coach.judge_members(sources, lay_plan=lambda _: plan, listening=coach.RecordingOptions("clap")).card
    assert late.begins[member] == 8.0
    assert {m.member: m.n for m in card.members}[member] < COUNTS - 8
    assert not [one for one in card.left if one.member == member]


def test_the_first_clap_of_a_phone_that_began_late_may_come_early(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a neighbour's clap in her phone besides: the pairing needs the first one to know where she is
    whole = lay_every_count(CountMap(np.arange(33) * 0.5), end=15.6)
    heard = replace(whole, moments=keep_moments(whole.moments, np.arange(14, 32)))
    claps = np.concatenate([heard.moments.time, [10.1]])
    claps[0] -= 0.008
    take = Take(heard, Onsets.unsorted(claps, ["body"] * claps.size), observed_by="clap")
    monkeypatch.setattr(placing, "place_sound", lambda *_, **__: HeardTake(take, np.zeros(claps.size)))
    found, _ = recording_members._hear("ada.wav", whole, coach.RecordingOptions("clap"), nearest=False)
    assert isinstance(found, HeardTake)
    (body,), _ = follow_hands(found.take)
    assert body.observed[14:].ravel() == pytest.approx(np.sort(claps[:-1]))
    assert body.extra.tolist() == [10.1]
    assert not body.missed.size
    assert not body.before.size


def test_a_recording_without_music_to_put_it_on_is_refused_in_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, np.zeros(RATE_HZ), RATE_HZ)
    with refused("no music is named"):
        coach.judge_members([f"Ada={path}", f"Bea={path}"], lay_plan=lambda _: None, own_clock=True)  # type: ignore[arg-type, return-value]


def test_the_one_recording_among_tables_may_be_without_the_music(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = lay_every_count(CountMap.steady(120), end=15.9, tempo_bpm=120)

    def find_no_music(*_: object, **__: object) -> None:
        raise CoachError("recording.no_first_clap", where="c.wav", kind="clap")

    monkeypatch.setattr(placing, "place_sound", find_no_music)
    (tmp_path / "c.wav").write_bytes(b"RIFF")
    sources = [f"Cyl={tmp_path / 'c.wav'}"]
    for name in ("Ada", "Bea"):
        table = tmp_path / f"{name}.csv"
        table.write_text("time\n" + "".join(f"{t}\n" for t in plan.moments.time))
        sources.append(f"{name}={table}")
    said: list[str] = []
    card = coach.judge_members(sources, lay_plan=lambda _: plan, warn=into(said)).card
    assert [m.member for m in card.members] == ["Ada", "Bea"]
    assert len(said) == 1 and said[0].startswith("Cyl is left out: ")
    # two have to be left, and somebody to be told
    for few, warn in ((sources[:2], into(said)), (sources, None)):
        with refused("expected a clap that all heard"):
            coach.judge_members(few, lay_plan=lambda _: plan, warn=warn)


def test_counts_are_those_that_the_members_do(tmp_path: Path) -> None:
    sources = []
    for late, name in enumerate(("Ada", "Bea", "Cyl")):
        table = tmp_path / f"{name}.csv"
        table.write_text("time\n" + "".join(f"{t}\n" for t in 0.01 * late + 0.48 * np.arange(48)))
        sources.append(str(table))
    asked: list[float] = []

    def lay_at_tempo(tempo_bpm: float) -> Plan:
        asked.append(tempo_bpm)
        return lay_every_count(CountMap.steady(tempo_bpm), end=22.7, tempo_bpm=tempo_bpm)

    said: list[str] = []
    card = coach.judge_members(
        sources, lay_plan=lambda _: lay_at_tempo(62.5), lay_at_tempo=lay_at_tempo, warn=into(said)
    ).card
    assert asked == pytest.approx([62.5, 125])
    assert [(m.n, round(1000 * m.bias)) for m in card.members] == [(48, 0), (48, 10), (48, 20)]
    assert len(said) == 1 and "most of the group moved at 125" in said[0]


def test_where_a_recording_was_not_listened_to_nobody_was_away() -> None:
    # heard on count 1, 3, 5 of the finer plan, from its third eight to its fifth
    coarse = lay_every_count(CountMap(8.0 + np.arange(17.0)), end=23.0)
    finer = lay_every_count(CountMap.steady(120), end=27.9, tempo_bpm=120)
    claps = coarse.moments.time[0] + 0.5 * np.arange(31)
    onsets = Onsets(claps, ("body",) * claps.size)
    heard = judging._onto_finer(Take(coarse, onsets, observed_by="clap"), finer)
    times = finer.moments.time
    outside = np.any([(times >= start) & (times <= end) for start, end in heard.unmeasurable], axis=0)
    assert times[~outside] == pytest.approx(claps)
    assert not judging._onto_finer(Take(coarse, onsets), finer).unmeasurable


def test_an_athlete_without_a_take_is_said(tmp_path: Path, group: HallGroup) -> None:
    history = tmp_path / "history.sqlite"
    plan = lay(group, tmp_path)
    onsets = Onsets(plan.moments.time, ("body",) * len(plan.moments))
    archiving.keep_take(Take(plan, onsets), athlete="Cyl", begun="2031-05-04T18:00:00+00:00", file=history)
    with pytest.raises(CoachError) as caught:
        coach.judge_members(["Cyl:last", "Eva:last"], history=history)
    assert say_error(caught.value).count("Eva") == 1


def test_without_music_one_clap_before_all_else_sets_the_clocks(tmp_path: Path) -> None:
    group = record_group(3, members=3, first_clap=True, late=False)
    for member, wave in group.recordings.items():
        soundfile.write(tmp_path / f"{member}.wav", wave, RATE_HZ)
    card = coach.judge_members(
        [str(tmp_path)],
        lay_plan=lambda end: lay_every_count(CountMap.steady(group.tempo_bpm), end=end, tempo_bpm=group.tempo_bpm),
        own_clock=True,
        listening=coach.RecordingOptions("clap", first_clap=True),
    ).card
    asked = group.asynchronies.mean(axis=1)
    # the clap comes from 3 to 8 m away: 15 ms between two phones at most
    for member, truth in zip(card.members, asked - asked.mean(), strict=True):
        assert member.offset == pytest.approx(truth, abs=0.012)
        assert member.observed_by == "clap" and round(1000 * member.unsure) == 41 and member.n >= COUNTS - 2
    assert np.isnan(card.members[0].bias) and card.reference == "nothing"


def test_a_recording_in_which_nobody_claps_is_refused_in_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, 0.01 * np.random.default_rng(1).standard_normal(5 * RATE_HZ), RATE_HZ)
    with refused("expected a clap that all heard"):
        coach.judge_members(
            [f"Ada={path}", f"Bea={path}"],
            lay_plan=lambda end: lay_every_count(CountMap.steady(120), end=end, tempo_bpm=120),
            own_clock=True,
            listening=coach.RecordingOptions(first_clap=True),
        )
