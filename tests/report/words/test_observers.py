"""Words for the ways of observing: every way has some, and no two are chosen by the same."""

from tempo_coach.observe.observers import OBSERVERS, SOUNDS
from tempo_coach.report.words.observers import WORDS, list_choices, say_live, say_observer, say_recorded


def test_every_way_of_observing_has_words_and_every_word_a_way():
    assert set(WORDS) == set(OBSERVERS)
    assert all(bool(words.live) == bool(words.recorded) == (key in SOUNDS) for key, words in WORDS.items())


def test_all_that_can_be_waited_for_can_be_chosen_and_nothing_twice():
    choices = list_choices()
    assert set(choices.values()) == set(OBSERVERS) - {
        "file",
        "worn phone",
        "sender",
        "midi",
        "lsl",
    }  # what is told by roles, or by options
    assert next(iter(choices.values())) == "tap"
    assert list(choices.values())[-len(SOUNDS) :] == sorted(SOUNDS)


def test_help_names_every_kind_of_sound():
    assert all(words.live in say_live() and words.recorded in say_recorded() for words in map(WORDS.get, SOUNDS))


def test_a_way_that_only_a_newer_version_knows_is_said_by_its_key():
    assert say_observer("smell") == "smell"
