"""``python -m vlm`` does what the command ``foldspan`` does."""

import sys

from vlm.cli.start import main

if __name__ == "__main__":
    sys.exit(main())
