"""Every way of going wrong in every drill in which it makes sense: is the first finding right, and as sure as it says?

Takes are drawn by :mod:`tests.benchmarks.judging`, at a spread of 2 to 3 % and with faults that a test that is told
everything cannot overlook; right is what was done, and what cannot be told from it in that drill
(:mod:`tests.benchmarks.alike`). The last rows set confidence beside truth, with takes of up to 5 % as well.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.astray import WAYS
from tests.benchmarks.bench_verdict import worst
from tests.benchmarks.judging import JUDGING, SPREADS, Draw
from tests.benchmarks.seen import PLAIN_BY_CHANCE, TAKES, Seen, see_way, share_found
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

LENGTHS = (8, 16, 32)
RIGHT, RIGHT_IN_WORST = 0.95, (0.80, 0.90)
BINS = (0.5, 0.7, 0.85, 0.95, 1.0)
#: How far the share that is right may lie from the confidence that was told.
CALIBRATED = 0.05


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    takes = max(TAKES // 20, 1)
    natural: list[Seen] = []
    for way in WAYS:
        for cycles in LENGTHS:
            seen = see_way(way, takes, Draw(JUDGING, lengths=(cycles,), spreads=SPREADS[:1]))
            natural += seen
            if not seen:
                continue
            yield Row(f"{way}, {cycles} cycles", share_found(seen), "", floor=RIGHT, better="high")
            floor, aim = RIGHT_IN_WORST
            yield worst(f"  worst, of {len({each.drill for each in seen})}", seen, share_found, floor=floor, aim=aim)
            normal = [each for each in seen if each.who.family != "heavy"]
            yield Row(f"  without heavy tails, of {len(normal)}", share_found(normal), "", better="high")
            wrong = [each for each in seen if not each.found]
            if way == "even" and wrong:
                there = sum(each.plain for each in wrong) / len(wrong)
                yield Row(
                    f"  of {len(wrong)} wrong, what is told is there by {PLAIN_BY_CHANCE:g} SDs or more", there, ""
                )
    yield Row("named as alike what is not", float(np.mean([each.too_much for each in natural])), "")
    uneven = [each for way in WAYS for each in see_way(way, takes, Draw(JUDGING, spreads=SPREADS[1:]))]
    yield from calibration([*natural, *uneven])


def calibration(seen: list[Seen]) -> Iterator[Row]:
    """Confidence of the first finding beside the share that is right."""
    for low, high in pairwise(BINS):
        part = [each for each in seen if low < each.confidence <= high]
        if not part:
            continue
        told, right = float(np.mean([each.confidence for each in part])), share_found(part)
        yield Row(f"right of {len(part)} told at {low:g} to {high:g}, mean {told:.3f}", right, "", better="high")
        yield Row("  off by", abs(right - told), "", floor=CALIBRATED)
