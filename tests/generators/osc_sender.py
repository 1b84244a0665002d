"""A sender of Open Sound Control: a steady beat of taps, hand after hand, as a pad would send them."""

import argparse
import time


def main() -> None:
    """Send until it is stopped, or so many taps."""
    from pythonosc.udp_client import SimpleUDPClient

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("port", type=int)
    parser.add_argument("--hands", default="right,left")
    parser.add_argument("--every", type=float, default=0.6, metavar="S")
    parser.add_argument("--taps", type=int, default=1000)
    args = parser.parse_args()
    client, hands = SimpleUDPClient("127.0.0.1", args.port), args.hands.split(",")
    begun = time.monotonic()
    for k in range(args.taps):
        time.sleep(max(begun + k * args.every - time.monotonic(), 0))
        client.send_message(f"/pad/{hands[k % len(hands)]}", 1.0)


if __name__ == "__main__":
    main()
