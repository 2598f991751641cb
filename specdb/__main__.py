"""``python -m specdb`` is the command."""

from specdb.cli.main import main

if __name__ == "__main__":
    main()
