"""A stream of Lab Streaming Layer: a steady beat of onsets, hand after hand, as a button would send them."""

import argparse
import time


def main() -> None:
    """Send until it is stopped, or so many onsets."""
    from pylsl import IRREGULAR_RATE, StreamInfo, StreamOutlet, local_clock

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name")
    parser.add_argument("--hands", default="right,left")
    parser.add_argument("--every", type=float, default=0.6, metavar="S")
    parser.add_argument("--onsets", type=int, default=1000)
    args = parser.parse_args()
    outlet = StreamOutlet(StreamInfo(args.name, "Markers", 1, IRREGULAR_RATE, "string", f"invented {args.name}"))
    hands = args.hands.split(",")
    begun = time.monotonic()
    for k in range(args.onsets):
        time.sleep(max(begun + k * args.every - time.monotonic(), 0))
        outlet.push_sample([hands[k % len(hands)]], local_clock())


if __name__ == "__main__":
    main()
