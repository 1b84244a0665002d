"""Music, plan and cue sounds mixed to one sound: what is heard live and what is exported are the same samples.

How loud a cue is: in the octave around its own pitch, its loudest 10 ms stand ``CUE_OVER_MUSIC_DB`` over the music
around it, because a sound is masked by what lies near it in pitch and time and hardly by the rest. It is never
quieter than ``QUIETEST_CUE`` nor louder than its file. The music is then lowered together with the cues, never one
against the other, by as much as the loudest sample needs to stay below full scale.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import Sound, resample
from tempo_coach.music.files.sound_file import read_sound
from tempo_coach.pattern.plan.cues import COUNT_SOUND, NUMBERS, ONE_SOUND, SAY
from tempo_coach.resources import find_shared

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from tempo_coach.live.mixing.spoken import Word
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

    Samples = NDArray[np.float32]

#: A tone is heard in music from about -4 dB of its critical band on; 15 dB over a whole octave makes it plain at once.
CUE_OVER_MUSIC_DB = 15.0
#: Share of full scale that a cue reaches even in silence.
QUIETEST_CUE = 0.25
#: Seconds of music on either side of a cue that its level is taken from: what masks lies within a fifth of a second.
AROUND = 0.2
#: Highest sample that a mix may have: headroom for the small overshoots of lossy files.
CEILING = 0.97
#: Seconds after the end of the passage in which the last cue rings out and the music fades.
TAIL = 0.5
#: How far the sounds of left and right stand from the middle, 0 to 1.
WIDTH = 0.6
#: A spoken count ends this long before the next one is felt, which begins to sound about then; with a fade (s).
BEFORE_NEXT_WORD = 0.09
FADE = 0.02
#: Seconds that no cue is longer than.
LONGEST_CUE = 3.0
#: Seconds of sound that are made at once: half an hour, a training, is .7 GB in stereo.
LONGEST = 1800.0
#: Seconds over which a cue's loudest part is taken.
LOUDEST = 0.010
#: Rate where no music says one.
RATE_HZ = 48_000


def load_cue_sounds(rate_hz: int) -> dict[str, Sound]:
    """Return the cue sounds that come with the program, by name, at a sample rate."""
    folder = find_shared("sounds")
    return {path.stem: resample(read_sound(path), rate_hz) for path in sorted(folder.glob("*.wav"))}


def cut_passage(plan: Plan, music: Sound) -> Sound:
    """Return the part of the music that a plan plays, at its original speed.

    What lies before the music's first sample or after its last is silence.

    Returns
    -------
    Sound
        ``(duration + TAIL) * speed`` seconds.
    """
    _check_length(plan)
    (piece,) = plan.pieces
    length = round((plan.duration + TAIL) * piece.speed * music.rate_hz)
    first = round(piece.music_start * music.rate_hz)
    passage = np.zeros((length, music.channels), np.float32)
    start, end = max(first, 0), min(first + length, len(music.samples))
    if start < end:
        passage[start - first : end - first] = music.samples[start:end]
    fade = min(round(TAIL * piece.speed * music.rate_hz), length)
    if fade:
        passage[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)[:, np.newaxis]
    return Sound(passage, music.rate_hz)


def mix(
    plan: Plan,
    passage: Sound | None,
    sounds: Mapping[str, Sound],
    *,
    words: Mapping[str, Word] | None = None,
    rate_hz: int = RATE_HZ,
) -> Sound:
    """Return the sound of a plan; sample 0 is 0 on the take clock.

    Parameters
    ----------
    plan : Plan
    passage : Sound or None
        The music on the take clock: cut, and already stretched where the plan's speed is not 1.
    sounds : mapping of name to Sound
        At the rate of the mix; the first channel is used.
    words : mapping of word to Word, optional
        For counts that are spoken, at the same rate. A count whose word is missing is clicked.
    rate_hz : int
        Of the mix, where there is no passage; a passage is at that rate already.

    Returns
    -------
    Sound
        Stereo. A cue's first sample is at ``round(time * rate_hz)``; of a spoken count it is the sample on which the
        word is felt to begin.

    Raises
    ------
    CoachError
        If a cue sound is missing, or it is longer than :data:`LONGEST`.
    ValueError
        If rates differ.
    """
    if passage is not None and passage.rate_hz != rate_hz:
        raise ValueError(f"passage: expected {rate_hz} Hz, got {passage.rate_hz}")
    _check_length(plan)
    length = round((plan.duration + TAIL) * rate_hz)
    music = np.zeros((length, 2), np.float32)
    if passage is not None:
        both = _as_stereo(passage.samples)[:length]
        music[: len(both)] = both
    cues = np.zeros_like(music)
    for name in sorted(set(plan.cues.sound)):
        wave, lead = _find_wave(name, sounds, words or {}, rate_hz)
        times = plan.cues.time[np.array(plan.cues.sound) == name]
        places = np.round(times * rate_hz).astype(np.int64)
        levels = _levels(wave, places, music, rate_hz) if passage is not None else np.ones(len(places))
        sides = _sides(plan, name)
        for place, level, room in zip(places, levels, _room_until_next_word(plan, name, times), strict=True):
            heard = _cut(wave, lead + round(room * rate_hz), rate_hz)[max(lead - place, 0) :]
            part = cues[max(place - lead, 0) :][: len(heard)]
            part += (heard[: len(part), np.newaxis] * sides * np.float32(level)).astype(np.float32)
    music += cues
    loudest = max(float(music.max(initial=0.0)), -float(music.min(initial=0.0)))
    if loudest > CEILING:
        music *= np.float32(CEILING / loudest)
    music.flags.writeable = False  # so that it is not copied
    return Sound(music, rate_hz)


def _check_length(plan: Plan) -> None:
    if plan.duration > LONGEST:
        raise CoachError("mix.too_long", where=plan.drill, minutes=plan.duration / 60, most_minutes=LONGEST / 60)


def _find_wave(name: str, sounds: Mapping[str, Sound], words: Mapping[str, Word], rate_hz: int) -> tuple[Samples, int]:
    """Return the samples of a cue, and how many of them precede the moment that it marks."""
    lead = 0
    if name.startswith(SAY):
        word = words.get(name.removeprefix(SAY))
        if word is not None:
            sound, lead = word
            sounds = {name: sound}
        else:
            name = ONE_SOUND if name == SAY + NUMBERS[0] else COUNT_SOUND
    found = sounds.get(name)
    if found is None:
        raise CoachError("cue_sound.missing", name=name)
    if found.rate_hz != rate_hz:
        raise ValueError(f"{name}: expected {rate_hz} Hz, got {found.rate_hz}")
    return found.samples[:, 0], lead


def _room_until_next_word(plan: Plan, name: str, times: Floats) -> Floats:
    """Return the seconds from each cue to the spoken count after it; a click needs no room."""
    if not name.startswith(SAY):
        return np.full(len(times), LONGEST_CUE)
    spoken = plan.cues.time[[sound.startswith(SAY) for sound in plan.cues.sound]]
    behind = np.searchsorted(spoken, times, side="right")
    following = np.append(spoken, np.inf)[behind]
    return np.clip(following - times - BEFORE_NEXT_WORD, 0.0, LONGEST_CUE)


def _cut(wave: Samples, length: int, rate_hz: int) -> Samples:
    """Return a wave truncated to a length, with a fade where something is cut off."""
    if length >= len(wave):
        return wave
    short = wave[:length].copy()
    fade = min(round(FADE * rate_hz), length)
    if fade:
        short[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
    return short


def _as_stereo(samples: Samples) -> Samples:
    if samples.shape[1] == 2:
        return samples
    if samples.shape[1] == 1:
        return np.repeat(samples, 2, axis=1)
    return np.repeat(samples.mean(axis=1, keepdims=True), 2, axis=1)


def _sides(plan: Plan, name: str) -> NDArray[np.float32]:
    """Return the gains of the left and the right channel: cues of the left hand come from the left."""
    hands = {"first_hand": 0, "second_hand": 1}
    place = 0.0
    if name in hands and len(plan.hands) > hands[name]:
        place = {"left": -WIDTH, "right": WIDTH}.get(plan.hands[hands[name]], 0.0)
    return np.array([min(1.0, 1.0 - place), min(1.0, 1.0 + place)], dtype=np.float32)


def _levels(wave: Samples, places: NDArray[np.int64], music: Samples, rate_hz: int) -> NDArray[np.float64]:
    """Return the gain of each cue that makes it stand out from the music around it in its own octave."""
    octave = _octave_of(wave, rate_hz)
    power = _in_band(music.mean(axis=1), octave, rate_hz) ** 2
    total = np.concatenate([[0.0], np.cumsum(power, dtype=np.float64)])
    around = round(AROUND * rate_hz)
    left, right = np.clip(places - around, 0, len(power)), np.clip(places + around, 1, len(power))
    music_rms = np.sqrt((total[right] - total[left]) / np.maximum(right - left, 1))
    own = np.concatenate([[0.0], np.cumsum(_in_band(wave, octave, rate_hz) ** 2)])
    length = min(max(round(LOUDEST * rate_hz), 1), len(wave))
    own_rms = float(np.sqrt((own[length:] - own[:-length]).max() / length))
    wanted = music_rms * 10 ** (CUE_OVER_MUSIC_DB / 20) / own_rms
    peak = float(np.abs(wave).max())
    levels: NDArray[np.float64] = np.clip(wanted, QUIETEST_CUE / peak, 1.0 / peak)
    return levels


def _octave_of(wave: Samples, rate_hz: int) -> tuple[float, float]:
    spectrum = np.abs(np.fft.rfft(wave))
    centre = max(float(np.argmax(spectrum)) * rate_hz / len(wave), 100.0)
    return centre / np.sqrt(2), min(centre * np.sqrt(2), 0.45 * rate_hz)


def _in_band(wave: Samples, band: tuple[float, float], rate_hz: int) -> NDArray[np.float64]:
    from scipy.signal import butter, sosfilt

    sections = butter(2, band, btype="bandpass", fs=rate_hz, output="sos")
    filtered: NDArray[np.float64] = sosfilt(sections, wave.astype(np.float64))
    return filtered
