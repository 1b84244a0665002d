"""What was chosen for a film is there again, wherever the film lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.coach.film_choices import FILE_NAME, MOST_FILMS, fingerprint, keep_film, recall_film

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_a_film_is_known_by_its_content(tmp_path: Path) -> None:
    film, other = tmp_path / "a.mp4", tmp_path / "b.mp4"
    film.write_bytes(b"x" * 3_000_000 + b"1")
    other.write_bytes(b"x" * 3_000_000 + b"2")
    keep_film(film, {"hand right": "red"}, folder=tmp_path)
    keep_film(other, {"hand right": "blue", "without": "1-2"}, folder=tmp_path)
    moved = film.rename(tmp_path / "moved.mp4")
    assert recall_film(moved, folder=tmp_path) == {"hand right": "red"}
    assert recall_film(other, folder=tmp_path) == {"hand right": "blue", "without": "1-2"}
    keep_film(moved, {"hand right": "green"}, folder=tmp_path)
    assert recall_film(moved, folder=tmp_path) == {"hand right": "green"}


def test_what_cannot_be_read_has_no_choices_and_is_no_trouble(tmp_path: Path) -> None:
    film = tmp_path / "a.mp4"
    assert fingerprint(film) == "" and recall_film(film, folder=tmp_path) == {}
    keep_film(film, {"hand right": "red"}, folder=tmp_path)
    assert not (tmp_path / FILE_NAME).exists()
    film.write_bytes(b"film")
    for text in ("{", "[1]", '{"a": 1}'):
        (tmp_path / FILE_NAME).write_text(text)
        assert recall_film(film, folder=tmp_path) == {}
    blocked = tmp_path / "a file"
    blocked.write_text("")
    keep_film(film, {"hand right": "red"}, folder=blocked)
    assert recall_film(film, folder=blocked) == {}


def test_the_latest_films_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempo_coach.coach.film_choices.MOST_FILMS", 3)
    assert MOST_FILMS >= 100
    films = []
    for number in range(5):
        films.append(tmp_path / f"{number}.mp4")
        films[-1].write_bytes(f"film {number}".encode())
        keep_film(films[-1], {"number": str(number)}, folder=tmp_path)
    assert [bool(recall_film(film, folder=tmp_path)) for film in films] == [False, False, True, True, True]
