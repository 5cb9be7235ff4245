"""``python -m linkage`` and the command ``throttle-linkage``."""

from linkage.cli import main

__all__ = ["main"]

if __name__ == "__main__":
    main()
