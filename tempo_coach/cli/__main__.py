"""``python -m tempo_coach.cli`` is ``tempo-coach``."""

import sys

from tempo_coach.cli import main

sys.exit(main())
