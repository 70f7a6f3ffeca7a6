"""Runs the command line: ``python -m handsfree``."""

import sys

from handsfree.commands.main import main

sys.exit(main())
