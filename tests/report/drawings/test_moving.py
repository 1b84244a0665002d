"""Films of pictures with sound: read back with the pictures at their times and the sound as long as it was."""

import numpy as np
import pytest

from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import read_sound
from tempo_coach.report.drawings.moving import LONGEST, write_film


def test_pictures_come_at_their_times_and_the_sound_is_whole(tmp_path):
    av = pytest.importorskip("av")
    rate_hz = 44_100
    click = np.zeros((3 * rate_hz, 2))
    click[rate_hz : rate_hz + 400] = np.sin(np.arange(400) * 0.3)[:, None]
    shades = {0.0: 40, 1.0: 200, 1.3: 90, 2.75: 250}
    pictures = [(time, np.full((90, 160, 3), shade, np.uint8)) for time, shade in shades.items()]
    path = tmp_path / "film.mp4"
    write_film(path, pictures, Sound(click, rate_hz), title="Ball, invented", where="film.mp4")
    with av.open(str(path)) as film:
        assert film.metadata["title"] == "Ball, invented"
        seen = [(frame.time, float(frame.to_ndarray(format="gray").mean())) for frame in film.decode(video=0)]
        assert film.streams.video[0].codec_context.name == "h264"
        assert film.streams.audio[0].codec_context.name == "aac"
    assert max(np.diff([time for time, _ in seen])) <= LONGEST + 0.01 and seen[-1][0] == pytest.approx(3.0, abs=0.05)
    for time, level in seen:
        shade = shades[max(each for each in shades if each <= time + 0.001)]
        assert level == pytest.approx(shade, abs=25)
    for time in shades:
        assert min(abs(time - each) for each, _ in seen) < 0.001
    heard = read_sound(path)
    assert abs(len(heard.samples) - len(click)) <= 1024
    assert np.abs(heard.samples[:, 0]).argmax() / rate_hz == pytest.approx(1.005, abs=0.01)
