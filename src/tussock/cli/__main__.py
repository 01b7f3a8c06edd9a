"""``python -m tussock.cli``: the same as ``tussock``."""

import sys

from tussock.cli import main

sys.exit(main())
