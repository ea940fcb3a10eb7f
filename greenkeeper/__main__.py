"""`python -m greenkeeper`: the same as the `greenkeeper` command."""

import sys

from greenkeeper.commands import main

if __name__ == "__main__":
    sys.exit(main())
