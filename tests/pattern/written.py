"""A routine's file as a coach may write it, with remarks between the lines."""

WRITTEN = """\
# The spring routine. An invented one.
title = "Ball, spring"   # she may rename it
apparatus = "ball"

[music]
file = "ball.wav"        # from the old disc
sha256 = "00"
tempo_bpm = 118

[movement]
first = { eight = 1, count = 3 }   # she waits two counts
last = { eight = 12, count = "8" }

# by hand, in May
[[correction]]
do = "one"
at = 12.4                # the drum enters

[[correction]]
do = "pause"
at = 30
to = 33.5
# the long one

[[lay]]
drill = "ball_bounces"
eight = 3                # and again later

[[moment]]
what = "toss"
eight = 5
count = "7&"
hand = "right"

[[steps]]
start = { eight = 8 }
end = { eight = 11, count = "1" }

[[remark]]
eight = 4
text = "chin up"
"""
