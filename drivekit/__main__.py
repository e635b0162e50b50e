"""``python -m drivekit`` is the command ``drivekit``."""

import sys

from drivekit.cli import main

sys.exit(main())
