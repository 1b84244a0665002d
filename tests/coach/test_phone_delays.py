"""Delays of phones: measured once, kept by make and model, taken out of what is placed by the sound."""

from dataclasses import replace

import pytest

from tempo_coach.cli import main
from tempo_coach.coach.phone_delays import FILE_NAME, PhoneDelay, known_delay, measure_phone, place_picture
from tempo_coach.observe.film.film_take import DELAYS, align_by_clap
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.reasons import Why
from tests.generators import met
from tests.refused import refused

PHONE = {"com.android.manufacturer": "Acme", "com.android.model": 'Pocket "7"'}


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    film = met.make(4, ball=True, delay=0.07, size=(320, 180), shake=1.5)
    return met.write(film, tmp_path_factory.mktemp("met") / "met.mp4", metadata=PHONE)


def test_what_was_measured_is_kept_for_the_phone_and_taken_out_of_its_films(path, tmp_path):
    film = look_at_film(path)
    assert film.phone == 'Acme Pocket "7"'
    assert known_delay(film, folder=tmp_path) is None
    measured = measure_phone(film, folder=tmp_path)
    kept = known_delay(film, folder=tmp_path)
    assert kept == pytest.approx(measured, abs=1e-4)
    heard = replace(align_by_clap(film, (1.0, 0.0)), heard=1.0)
    placed, said = place_picture(heard, film, folder=tmp_path)
    assert placed.line.to_second(1.0 + kept.delay) == pytest.approx(0)
    assert said.code is Why.PHONE_DELAY
    # a clap that was seen is of the picture already; of another phone nothing is known
    assert place_picture(align_by_clap(film, (1.0, 0.0)), film, folder=tmp_path)[1] == DELAYS
    assert place_picture(heard, replace(film, phone="Other"), folder=tmp_path) == (heard, DELAYS)
    assert measure_phone(replace(film, phone=""), folder=tmp_path / "none") and not (tmp_path / "none").exists()


def test_a_file_that_is_not_as_it_was_written_is_said(path, tmp_path):
    for text in ("[[phone]]\nname = 1", "phone = 3", "[[phone]]\nname = 'a'\nbehind_ms = 1e9\nerror_ms = 1", "["):
        (tmp_path / FILE_NAME).write_text(text)
        with refused("tables with name, behind_ms and error_ms"):
            known_delay(look_at_film(path), folder=tmp_path)


def test_the_command_says_the_delay(path, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("tempo_coach.coach.phone_delays.data_folder", lambda: tmp_path)
    assert main(["film", str(path), "--clap-seen"]) == 0
    said = capsys.readouterr().out
    assert "behind its sound" in said and "kept for its phone" in said
    assert PhoneDelay(0.07, 0.01).delay == pytest.approx(known_delay(look_at_film(path)).delay, abs=0.02)
