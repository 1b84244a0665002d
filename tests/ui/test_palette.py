"""The colours: told apart from their ground by what WCAG asks for, and the ones that the environment asks for."""

from __future__ import annotations

import dataclasses

import pytest
from rich.color import ColorSystem
from rich.style import Style

from tempo_coach.ui.palette import DARK, PLAIN, Palette, find_palette

#: WCAG 2.1, 1.4.3 (text) and 1.4.11 (what has to be seen to be understood, and is no text).
FOR_TEXT, FOR_DRAWING = 4.5, 3.0
DRAWN = ("done", "coming")


def contrast(style: str, system: ColorSystem = ColorSystem.TRUECOLOR) -> float:
    """Contrast ratio of a style's two colours, as a terminal has them, after WCAG 2.1's definitions."""
    parsed = Style.parse(style)
    assert parsed.color is not None and parsed.bgcolor is not None
    ink, ground = parsed.color.downgrade(system), parsed.bgcolor.downgrade(system)

    def luminance(colour: tuple[int, int, int]) -> float:
        linear = [s / 12.92 if s <= 0.03928 else ((s + 0.055) / 1.055) ** 2.4 for s in (each / 255 for each in colour)]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted(
        (luminance(tuple(ink.get_truecolor())), luminance(tuple(ground.get_truecolor()))), reverse=True
    )
    return (light + 0.05) / (dark + 0.05)


def styles(palette: Palette) -> list[tuple[str, str]]:
    flat = []
    for field in dataclasses.fields(palette):
        value = getattr(palette, field.name)
        if field.name != "card":
            flat += [(field.name, each) for each in (value if isinstance(value, tuple) else (value,))]
    return flat


@pytest.mark.parametrize("palette", [Palette(), DARK], ids=["light", "dark"])
@pytest.mark.parametrize("system", [ColorSystem.TRUECOLOR, ColorSystem.EIGHT_BIT], ids=["all colours", "256"])
def test_everything_stands_out_from_its_ground(palette: Palette, system: ColorSystem) -> None:
    """Also where a terminal knows 256 colours and takes the nearest; of 16 each terminal has its own."""
    for name, style in styles(palette):
        found = contrast(style, system)
        assert found >= (FOR_DRAWING if name in DRAWN else FOR_TEXT), f"{name}: {found:.2f}"


def test_black_on_white_is_21_to_1() -> None:
    assert contrast("#000000 on #FFFFFF") == pytest.approx(21.0)


@pytest.mark.parametrize(
    ("environment", "palette"),
    [
        ({}, Palette()),
        ({"TEMPO_COACH_CARD": "dark"}, DARK),
        ({"TEMPO_COACH_CARD": "light", "COLORFGBG": "15;0"}, Palette()),
        ({"COLORFGBG": "15;0"}, DARK),
        ({"COLORFGBG": "0;default;15"}, Palette()),
        ({"COLORFGBG": "nonsense"}, Palette()),
        ({"NO_COLOR": "1", "TEMPO_COACH_CARD": "dark"}, PLAIN),
        ({"NO_COLOR": ""}, Palette()),
    ],
)
def test_what_the_environment_asks_for(
    environment: dict[str, str], palette: Palette, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("NO_COLOR", "TEMPO_COACH_CARD", "COLORFGBG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert find_palette() == palette
