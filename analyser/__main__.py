"""``python -m analyser`` is the same program as the console script ``analyser``."""

from analyser.cli import main

if __name__ == "__main__":
    main()
