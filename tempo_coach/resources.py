"""Where the files that come with the program are: sounds and drills.

In a wheel they lie inside the package; in a checkout they lie at the top of the repository. Nobody else has to know.
"""

from pathlib import Path

from tempo_coach.errors import CoachError

_PACKAGE = Path(__file__).parent


def find_shared(folder: str) -> Path:
    """Return the folder of that name that came with the program.

    Parameters
    ----------
    folder : str
        ``"sounds"`` or ``"drills"``.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    CoachError
        If the installation is incomplete.
    """
    for place in (_PACKAGE / "_shared" / folder, _PACKAGE.parent / folder):
        if place.is_dir():
            return place
    raise CoachError(
        f"the folder of {folder} that belongs to the program is missing",
        where=str(_PACKAGE),
        hint="install tempo_coach again",
    )
