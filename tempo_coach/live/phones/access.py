"""Access to the server: a token admits one phone, each has a secret, and each has limits. Pure.

A token stands in the code that is shown. It is exchanged once for a secret and is dead from then on; another one is
shown. A secret is not valid before somebody at the terminal has confirmed the phone.
"""

from __future__ import annotations

import hmac
import math
import secrets
from dataclasses import dataclass, field

#: Bytes of a token and of a secret: too many to be guessed, at any rate that a network carries (72 bits at 10,000 a
#: second: 10 thousand million years). So guesses lock nobody out, which a stranger could do on purpose.
TOKEN_BYTES, SECRET_BYTES = 9, 24
#: Most phones of a session, those that were refused left out.
MOST_PHONES = 12
#: Messages a second of one phone, and how many at once.
MESSAGES = (30.0, 90.0)
#: Taps, marks and presses of the remote a second, and how many at once: ten minutes without a network at 10 a second.
TAPS = (25.0, 6000.0)
#: Rows a second of one phone, and how many at once: ten minutes without a network at 60 a second.
ROWS = (400.0, 40_000.0)


@dataclass
class Bucket:
    """Token bucket: a rate, and a burst.

    Examples
    --------
    >>> bucket = Bucket(rate=1.0, most=2.0)
    >>> [bucket.take(0.0) for _ in range(3)], bucket.take(1.0)
    ([True, True, False], True)
    """

    rate: float
    most: float
    left: float = math.nan
    since: float = -math.inf

    def take(self, now: float, count: float = 1.0) -> bool:
        """Return whether that many may pass now."""
        grown = self.most if math.isnan(self.left) else self.left + self.rate * max(now - self.since, 0.0)
        self.left, self.since = min(grown, self.most), now
        if count > self.left:
            return False
        self.left -= count
        return True


@dataclass
class Limits:
    """Remaining limits of one phone."""

    messages: Bucket = field(default_factory=lambda: Bucket(*MESSAGES))
    rows: Bucket = field(default_factory=lambda: Bucket(*ROWS))
    taps: Bucket = field(default_factory=lambda: Bucket(*TAPS))


class Door:
    """Exchanges tokens for secrets, and maps secrets to phones.

    Attributes
    ----------
    token : str
        The one that opens now.
    """

    def __init__(self) -> None:
        self.token = secrets.token_urlsafe(TOKEN_BYTES)
        self._secrets: dict[int, str] = {}
        self._last = 0

    def join(self, token: str) -> tuple[int, str] | None:
        """Return a phone's number and secret for the current token; None for another one, or when all have joined."""
        if len(self._secrets) >= MOST_PHONES or not _same(token, self.token):
            return None
        self.token = secrets.token_urlsafe(TOKEN_BYTES)
        self._last += 1
        secret = f"{self._last}.{secrets.token_urlsafe(SECRET_BYTES)}"
        self._secrets[self._last] = secret
        return self._last, secret

    def whose(self, secret: str) -> int | None:
        """Return the number of the phone with a secret; None without one."""
        number = secret.partition(".")[0]
        mine = self._secrets.get(int(number)) if number.isascii() and number.isdigit() and len(number) < 6 else None
        return int(number) if mine is not None and _same(secret, mine) else None

    def shut(self, phone: int) -> None:
        """Revoke a secret."""
        self._secrets.pop(phone, None)


def _same(given: str, known: str) -> bool:
    """Compare in constant time; the given value may be anything."""
    return hmac.compare_digest(given.encode("utf-8", "surrogatepass"), known.encode())
