"""``python -m travel``."""

from travel.cli import main

if __name__ == "__main__":
    main()
