"""``python -m analysis``."""

from __future__ import annotations

import sys

from analysis.cli import main

sys.exit(main(sys.argv[1:]))
