"""All styles by name."""

from tests.benchmarks.beat_network.style import BANDS, Style
from tests.benchmarks.beat_network.styles_even import EVEN
from tests.benchmarks.beat_network.styles_other import OTHER

__all__ = ["BANDS", "STYLES", "Style"]

STYLES: dict[str, Style] = {**EVEN, **OTHER}
