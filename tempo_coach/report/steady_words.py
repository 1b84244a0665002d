"""What steady means, in one sentence, wherever it is shown."""

from tempo_coach.score.steadiness import LIMIT, MOST_MISSED

STEADY_IN_WORDS = (
    f"Steady: from each moment to the same one of the next cycle she is off by {100 * LIMIT:g} % of the cycle or less "
    f"(SD), misses at most one moment in {1 / MOST_MISSED:.0f}, and keeps the tempo."
)
