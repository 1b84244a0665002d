"""Open Sound Control: what an independent sender sends is taken with its hand, whatever else comes is not."""

import socket
from time import perf_counter, sleep

import pytest

pytest.importorskip("pythonosc")

from pythonosc.osc_bundle_builder import IMMEDIATELY, OscBundleBuilder
from pythonosc.osc_message_builder import OscMessageBuilder
from pythonosc.udp_client import SimpleUDPClient

from tempo_coach import coach
from tempo_coach.live.inputs.osc import OscListener, hand_of, read_addresses
from tests import HANG

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))


def test_messages_are_onsets_of_the_hands_that_they_name():
    listener = OscListener("127.0.0.1", 0)
    client = SimpleUDPClient("127.0.0.1", listener.port)
    try:
        client.send_message("/pad/left", 1)  # before a take it is none of it
        sleep(0.05)
        listener.poll()
        listener.begin(PLAN, perf_counter() + 2.0)
        sent = []
        for hand in ("right", "left", "nobody", "Right"):
            sent.append(perf_counter())
            client.send_message(f"/pad/{hand}", 1.0)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as stranger:
            for raw in (b"", b"/", b"#bundle", b"x" * 3000, b"/a\x00\x00,f\x00\x00"):
                stranger.sendto(raw, ("127.0.0.1", listener.port))
        news, end = [], perf_counter() + HANG
        while len(news) < 3 and perf_counter() < end:
            news += listener.poll()
            sleep(0.01)
        assert [each.hand for each in news] == ["right", "left", "right"]
        assert all(each.stamp >= stamp for each, stamp in zip(news, (sent[0], sent[1], sent[3]), strict=True))
        listener.end(perf_counter())
        assert [hand for _, hand in listener.collected().onsets] == ["right", "left", "right"]
    finally:
        listener.close()
        client._sock.close()


def test_a_bundle_holds_several_and_noise_holds_none():
    bundle = OscBundleBuilder(IMMEDIATELY)
    for address in ("/a/right", "/a/left"):
        bundle.add_content(OscMessageBuilder(address).build())
    assert read_addresses(bundle.build().dgram) == ["/a/right", "/a/left"]
    assert read_addresses(b"\xff" * 40) == []


def test_with_one_hand_any_address_will_do():
    assert hand_of("/accelerometer/x", ("rope",)) == "rope" and hand_of("/x", ("right", "left")) is None
