"""Who gets in: one phone a token, a secret each, and limits that a flood runs against."""

from tempo_coach.live.phones.access import MESSAGES, MOST_PHONES, WRONG, Bucket, Door, Limits


def test_a_token_opens_once_and_the_next_one_is_another():
    door = Door()
    token = door.token
    number, secret = door.join(token, 0.0)
    assert door.whose(secret, 0.0) == number and door.token != token
    assert door.join(token, 1.0) is None
    assert door.join(door.token, 1.0)[1] != secret


def test_guessing_is_slowed_and_then_even_the_right_token_waits():
    door = Door()
    assert not any(door.join(f"guess {k}", 0.0) for k in range(int(WRONG[1])))
    assert door.join(door.token, 0.0) is None
    assert door.join(door.token, 2.0) is not None


def test_no_more_phones_than_a_session_takes():
    door = Door()
    assert all(door.join(door.token, float(k)) for k in range(MOST_PHONES))
    assert door.join(door.token, 99.0) is None
    door.shut(1)
    assert door.join(door.token, 100.0) is not None


def test_secrets_of_nobody():
    door = Door()
    _, secret = door.join(door.token, 0.0)
    for given in ("", "1.", "x", "1" * 9, "²." + secret, secret[:-1], secret + "a", "é" * 30):
        assert door.whose(given, 0.0) is None
    door.shut(1)
    assert door.whose(secret, 0.0) is None


def test_a_flood_passes_at_the_rate_of_its_limit():
    limits = Limits()
    passed = sum(limits.messages.take(k / 1000) for k in range(10_000))
    assert passed <= MESSAGES[1] + 10 * MESSAGES[0] + 1
    assert not Bucket(1.0, 5.0).take(0.0, 6.0)
