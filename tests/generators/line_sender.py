"""A sender of lines: a steady beat of onsets, hand after hand, as a board on a cable would print them."""

import argparse
import os
import time


def main() -> None:
    """Print until it is stopped, or so many onsets."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hands", default="right,left")
    parser.add_argument("--every", type=float, default=0.6, metavar="S")
    parser.add_argument("--onsets", type=int, default=1000)
    args = parser.parse_args()
    hands = args.hands.split(",")
    begun = time.monotonic()
    for k in range(args.onsets):
        time.sleep(max(begun + k * args.every - time.monotonic(), 0))
        try:
            print(f"{time.monotonic() - begun:.6f},{hands[k % len(hands)]}", flush=True)
        except BrokenPipeError:  # nobody listens any more
            os._exit(0)


if __name__ == "__main__":
    main()
