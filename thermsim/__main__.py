"""``python -m thermsim``."""

import sys

from thermsim.cli import main

sys.exit(main())
