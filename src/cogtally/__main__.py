"""Start the command line with `python -m cogtally`.

All else is left to `cli.main`.
"""

from __future__ import annotations

from cogtally.cli.main import main

if __name__ == "__main__":
    main()
