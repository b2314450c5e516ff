"""Run the command line as ``python -m mebuki``."""

from mebuki.cli.main import main

if __name__ == "__main__":
    main()
