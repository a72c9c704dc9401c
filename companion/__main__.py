"""``python -m companion``: the same as the command ``companion``."""

import sys

from companion.cli import main

sys.exit(main())
