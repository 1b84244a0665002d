"""What was chosen is there again, per person; files that can be offered."""

from __future__ import annotations

import os

from tempo_coach.coach.choices import MOST_FILES, Recalled, offer_music, recall, remember_choice
from tempo_coach.coach.practising.form import make_form
from tempo_coach.history.roster import Person, file_of, find_person, people_folder, save_person


def test_what_somebody_chose_is_hers_alone(tmp_path):
    history = tmp_path / "history.sqlite"
    form = make_form(["clubs_mills", "rope_figure_eight"]).with_chosen(
        {"drill": "rope_figure_eight", "tempo": "92", "takes": "3", "device": "speakers", "athlete": "Bea"}
    )
    assert form.value("athlete") == "" and form.value("device") == "speakers"
    remember_choice(history, "Ada", form.chosen, keys="fj", drill="rope_figure_eight")
    assert (
        make_form(["clubs_mills", "rope_figure_eight"]).with_chosen(recall(history, "Ada").lines).chosen == form.chosen
    )
    assert recall(history, "Bea") == Recalled()
    person = find_person(people_folder(history), "Ada")
    assert (person.keys, person.tempi, person.device) == ("fj", {"rope_figure_eight": 92.0}, "speakers")
    remember_choice(history, "Ada", form.chosen)  # a take that nobody tapped leaves her keys
    assert find_person(people_folder(history), "Ada").keys == "fj"


def test_whoever_leads_with_her_left_does_drills_the_other_way_round(tmp_path):
    history = tmp_path / "history.sqlite"
    save_person(people_folder(history), Person("Ada", hand="left"))
    form = make_form(["clubs_mills"]).with_chosen(recall(history, "Ada").lines)
    assert form.request().mirrored
    remember_choice(history, "Ada", {**form.chosen, "hands": "as taught"})
    assert not make_form(["clubs_mills"]).with_chosen(recall(history, "Ada").lines).request().mirrored  # chosen so


def test_what_is_no_choice_any_more_is_left_as_usual(tmp_path):
    form = make_form(["clubs_mills"])
    assert form.with_chosen({"drill": "gone", "cues": "loud", "nothing": "x"}) == form
    history = tmp_path / "history.sqlite"
    people_folder(history).mkdir()
    file_of(people_folder(history), "Ada").write_text("name = ")
    assert recall(history, "Ada") == Recalled()


def test_what_one_person_chose_goes_with_her_and_what_was_changed_since_stays():
    # a file may have what is no line of the set-up
    hers = Recalled({"drill": "b", "takes": "3", "rest": "40", "gone": "x"}, {"b": 92.0})
    form, hers = hers.put_tempo(make_form(["a", "b"]).with_chosen(hers.lines), "b")
    assert form.value("tempo") == "92"
    left = hers.taken_out_of(form.with_chosen({"rest": "50"}))
    assert [left.value(key) for key in ("drill", "takes", "rest", "tempo")] == ["b", "", "50", ""]
    typed = form.with_chosen({"tempo": "100"})
    assert hers.put_tempo(typed, "a") == (typed, hers)
    assert hers.put_tempo(form.with_chosen({"music": "a.wav"}), "b")[0].value("tempo") == ""


def test_lines_that_mean_nothing_are_idle():
    form = make_form(["clubs_mills"])
    assert form.idle == {"from_eight", "speed", "rest"}
    assert form.with_chosen({"music": "a.wav", "takes": "2"}).idle == frozenset()
    assert form.with_chosen({"rest": "30"}).idle == {"from_eight", "speed"}  # what was chosen is seen


def test_music_that_was_used_comes_first_then_the_newest(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    here, music = tmp_path / "here", tmp_path / "home" / "Music"
    for folder in (here, music):
        folder.mkdir(parents=True)
    for age, path in enumerate((music / "new.MP3", here / "older.wav", music / "used.flac", here / "table.csv")):
        path.write_bytes(b"")
        os.utime(path, (1e9 - age, 1e9 - age))
    history = tmp_path / "history.sqlite"
    remember_choice(history, "Ada", {"music": str(music / "used.flac")})
    remember_choice(history, "Bea", {"music": str(tmp_path / "gone.wav")})
    found = offer_music(history, here=here)
    assert found == (str(music / "used.flac"), str(music / "new.MP3"), str(here / "older.wav"))
    library = tmp_path / "routines"
    library.mkdir()
    (library / "ball.toml").write_text('title = "Ball"\n[music]\nfile = "ball.mp3"\n')
    (library / "drill.toml").write_text('title = "A drill"\n')
    assert offer_music(history, here=here)[1:2] == (str(library / "ball.toml"),)
    assert str(library / "drill.toml") not in offer_music(history, here=here)
    for number in range(30):
        (here / f"{number}.wav").write_bytes(b"")
    assert len(offer_music(history, here=here)) == MOST_FILES
