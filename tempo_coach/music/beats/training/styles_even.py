"""The lines of each style, first part: in four and two."""

from tempo_coach.music.beats.training.style import Style

_E4 = "x.o.x.o.x.o.x.o."  # eighths in four
_S4 = "xoooxoooxoooxooo"
_POP_COMP = (
    "h---------------",
    "X.x.x.x.X.x.x.x.",
    "..x...x...x...x.",
    "X..x..x.X..x..x.",
    "a.a.a.a.a.a.a.a.",
    "aaaaaaaaaaaaaaaa",
)
_POP_BASS = (
    "R-------R-------",
    "R.R.R.R.R.R.R.R.",
    "R--R--R-R--R--5-",
    "R...5...R...5...",
    "R-..R...8-..5...",
    "..R...R...R...R.",
)

EVEN: dict[str, Style] = {
    "pop": Style(
        4,
        4,
        (78, 130),
        _POP_BASS,
        _POP_COMP,
        (
            {"kick": "x.......x.......", "snare": "....x.......x...", "hat": _E4},
            {"kick": "x..x....x.x.....", "snare": "....x.......x...", "hat": _S4},
            {"kick": "x.....x.x.......", "clap": "....x.......x...", "hat": _E4, "shaker": _S4},
        ),
        weight=2.0,
    ),
    "rock": Style(
        4,
        4,
        (100, 176),
        _POP_BASS,
        ("X.x.x.x.X.x.x.x.", "h-------h-------", "X..X..X.X..X..X."),
        (
            {"kick": "x.......x.x.....", "snare": "....x.......x...", "hat": _E4},
            {"kick": "x.x...x.x.x.....", "snare": "....x.......x...", "ride": "x.x.x.x.x.x.x.x."},
            {
                "kick": "x.....x...x.....",
                "snare": "....x.......x..o",
                "crash": "x...............",
                "tom": "..............??",
            },
        ),
    ),
    "four": Style(
        4,
        4,
        (108, 136),
        ("..R...R...R...R.", "R.8.R.8.R.8.R.8.", "R..R..R.R..R..R."),
        ("..X...X...X...X.", "X..X..X...X..X..", "aaaaaaaaaaaaaaaa", "h---------------"),
        (
            {"kick": "x...x...x...x...", "clap": "....x.......x...", "open": "..x...x...x...x.", "hat": _S4},
            {"kick": "x...x...x...x...", "snare": "....x.......x...", "hat": _E4, "cow": "?.?.?.?.?.?.?.?."},
            {"kick": "x...x...x...x..?", "open": "..x...x...x...x."},
        ),
        bands=("machine", "pop", "machine"),
        weight=1.5,
    ),
    "slowhats": Style(
        4,
        4,
        (62, 88),
        ("R-----R---R-----", "R---------......", "R--R------R-----"),
        ("h---------------", "a...a...a...a...", "x.....x...x....."),
        (
            {"kick": "x.....x...x.....", "snare": "........x.......", "hat": "xoxoxoxoxoxoxoxo"},
            {"kick": "x..x......x.....", "clap": "....x.......x...", "hat": "x.o.x.ooxoo.x.o."},
        ),
        bands=("machine", "pop"),
    ),
    "funk": Style(
        4,
        4,
        (88, 118),
        ("R..R..8.R.5.R..8", "R.R...R..R.5.8.."),
        ("..x..x..x..x..x.", "x.xx.xx.x.xx.xx."),
        (
            {"kick": "x..x..x...x..?..", "snare": "....x..o.o..x...", "hat": _S4},
            {"kick": "x.x.......xx....", "snare": "....x..o....x..o", "hat": _S4, "cow": "x...x...x...x..."},
        ),
        swing=(0.5, 0.57),
    ),
    "swing": Style(
        4,
        2,
        (112, 220),
        ("R.w.5.w.", "R.w.w.w.", "R.5.R.5."),
        ("..x...x.", "...x...x", "x.....x.", "x..x...."),
        (
            {"ride": "x.xxx.xx", "hat": "..x...x.", "kick": "o.o.o.o.", "snare": "?..?..?."},
            {"ride": "x.x.x.xx", "hat": "..x...x.", "snare": "..o...o."},
            {"brush": "x.xox.xo", "hat": "..x...x."},
        ),
        swing=(0.58, 0.7),
        bands=("jazz",),
        density=(0.3, 0.7),
        weight=1.4,
    ),
    "jazzwaltz": Style(
        3,
        2,
        (110, 190),
        ("R.....", "R.w.w.", "R..5.."),
        ("..x.x.", "..xx..", ".x..x."),
        (
            {"ride": "x.xxx.", "hat": "..x...", "kick": "o....."},
            {"brush": "x.xox.", "hat": "..x.x."},
        ),
        swing=(0.56, 0.68),
        bands=("jazz",),
        density=(0.3, 0.7),
    ),
    "bossa": Style(
        4,
        4,
        (62, 84),
        ("R-----5-R-----5-", "R--R--5-5--5--R-"),
        ("x..x...x..x...x.", "..x..x.x..x..x.."),
        (
            {"kick": "x..xx..xx..xx..x", "rim": "x..x..x...x..x..", "hat": _S4},
            {"rim": "x..x..x...x..x..", "shaker": _S4},
        ),
        bands=("jazz", "pop"),
    ),
    "samba": Style(
        2,
        4,
        (84, 116),
        ("o...R...", "R--5R--5", "R..R5..5"),
        ("x.x..x.x", ".x.xx.x.", "x..x..x."),
        (
            {"surdo": "o...x...", "shaker": "xooxxoox", "snare": "x.oxxo.x", "cow": "x.x..x.x"},
            {"kick": "x..xx..x", "rim": "x.x..x.x", "hat": "oxoxoxox"},
        ),
        bands=("folk", "pop", "brass"),
    ),
    "tango": Style(
        4,
        4,
        (108, 138),
        ("R...5...R...5...", "R...R...R...R...", "R.......R.....5."),
        ("X...x...X...x...", "x...x...x...x.xx", "X.....x.x...x...", "X..x..x.X...x..."),
        ({"snare": "?...............", "rim": "................"},),
        bands=("folk", "strings", "piano", "orchestra"),
        density=(0.3, 0.65),
        free=0.45,
        weight=1.4,
    ),
    "habanera": Style(
        2,
        4,
        (54, 84),
        ("R--5R-5-", "R--R5-5-", "R--8R-8-"),
        ("..x...x.", "a..aa.a.", "x..xx.x."),
        (
            {"kick": "x..xx.x.", "rim": "....x...", "shaker": "xoxoxoxo"},
            {"tamb": "x..xx.x."},
        ),
        bands=("folk", "orchestra", "pop"),
        free=0.4,
    ),
    "polka": Style(
        2,
        4,
        (104, 140),
        ("R...5...", "R...3..."),
        ("..x...x.", "..X...xx"),
        (
            {"kick": "x...x...", "snare": "..x...x."},
            {"kick": "x...x...", "snare": "..x...xx", "crash": "?......."},
        ),
        bands=("folk", "brass", "orchestra"),
        density=(0.4, 0.8),
    ),
    "march": Style(
        4,
        4,
        (92, 132),
        ("R...5...R...5...", "R.......5......."),
        ("..x...x...x...x.", "X...x...X...x...", "x..xx...x..xx..."),
        (
            {"kick": "x.......x.......", "snare": "x..xx.x.x..xx.xx"},
            {"kick": "x...x...x...x...", "snare": "..x...x...x.xxx.", "crash": "x..............."},
            {"timp": "x.......x.....??"},
        ),
        bands=("brass", "orchestra"),
    ),
}
