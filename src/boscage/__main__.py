"""`python -m boscage`."""

import sys

from boscage.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
