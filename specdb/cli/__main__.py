"""``python -m specdb.cli``: the command where no script is installed."""

from specdb.cli.main import main

main()
