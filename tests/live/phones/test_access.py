"""Who gets in: one phone a token, a secret each, and limits that a flood runs against."""

from tempo_coach.live.phones.access import MESSAGES, MOST_PHONES, TAPS, Bucket, Door, Limits


def test_a_token_opens_once_and_the_next_one_is_another():
    door = Door()
    token = door.token
    number, secret = door.join(token)
    assert door.whose(secret) == number and door.token != token
    assert door.join(token) is None
    assert door.join(door.token)[1] != secret


def test_whoever_guesses_gets_nothing_and_locks_nobody_out():
    door = Door()
    assert not any(door.join(guess) for guess in (*map(str, range(1000)), "", "\ud800", "é", door.token + "a"))
    assert not any(door.whose(f"1.{k}") for k in range(1000))
    assert door.join(door.token) is not None


def test_no_more_phones_than_a_session_takes():
    door = Door()
    assert all(door.join(door.token) for _ in range(MOST_PHONES))
    assert door.join(door.token) is None
    door.shut(1)
    assert door.join(door.token) is not None


def test_secrets_of_nobody():
    door = Door()
    _, secret = door.join(door.token)
    for given in ("", "1.", "x", "1" * 9, "²." + secret, secret[:-1], secret + "a", "é" * 30, "1.\ud800"):
        assert door.whose(given) is None
    door.shut(1)
    assert door.whose(secret) is None


def test_a_flood_passes_at_the_rate_of_its_limit():
    limits = Limits()
    passed = sum(limits.messages.take(k / 1000) for k in range(10_000))
    assert passed <= MESSAGES[1] + 10 * MESSAGES[0] + 1
    assert not Bucket(1.0, 5.0).take(0.0, 6.0)
    taps = sum(limits.taps.take(k / 1000) for k in range(20_000))
    assert taps <= TAPS[1] + 20 * TAPS[0] + 1
