"""``python -m wickstats``."""

from wickstats.cli.app import main

if __name__ == "__main__":
    main()
